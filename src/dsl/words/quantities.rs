//! Numbers with a unit, and published figures of the trade.

use rhai::plugin::*;

use crate::dsl::column::Quantity;
use crate::dsl::ops::{Outcome, complain};
use crate::dsl::unit_slips;
use crate::units::Unit;

pub fn number(d: &Dynamic) -> Option<f64> {
    d.as_float()
        .ok()
        .or_else(|| d.as_int().ok().map(|i| i as f64))
        .or_else(|| d.clone().try_cast::<Quantity>().map(|q| q.value))
}

fn of_list(list: &[Dynamic], f: fn(&[f64]) -> Option<f64>) -> Outcome<Dynamic> {
    let numbers: Vec<f64> = list.iter().filter_map(number).collect();
    if numbers.len() != list.len() {
        return complain("a list of numbers or quantities is wanted");
    }
    let Some(value) = f(&numbers) else {
        return complain("the list is empty");
    };
    let unit = list
        .first()
        .and_then(|d| d.clone().try_cast::<Quantity>())
        .map(|q| q.unit);
    Ok(unit.map_or(Dynamic::from(value), |unit| {
        Dynamic::from(Quantity { value, unit })
    }))
}

fn written(value: f64, unit: &str) -> Outcome<Quantity> {
    match Unit::parse(unit) {
        Some(w) => Ok(Quantity {
            value: w.to_standard(value),
            unit: w.unit,
        }),
        None => complain(unit_slips::unknown(unit)),
    }
}

/// Package.
#[export_module]
pub mod words {
    use super::{number, of_list, written};
    use crate::dsl::column::Quantity;
    use crate::dsl::ops::{Outcome, complain};
    use crate::dsl::unit_slips;
    use crate::findings::mark;
    use crate::stats;
    use crate::units::Unit;
    use rhai::Array;

    /// A number with its unit: `quantity(12.6, "V")`, `quantity(120, "degF difference")`.
    #[rhai_fn(name = "quantity", return_raw)]
    pub fn quantity_float(value: f64, unit: &str) -> Outcome<Quantity> {
        written(value, unit)
    }
    /// The same for a whole number.
    #[rhai_fn(name = "quantity", return_raw)]
    pub fn quantity_int(value: i64, unit: &str) -> Outcome<Quantity> {
        written(value as f64, unit)
    }
    /// The bare number in the standard unit.
    #[rhai_fn(get = "value", pure)]
    pub fn value(q: &mut Quantity) -> f64 {
        q.value
    }
    /// The bare number in another unit of the same kind: `q.as_number("min")`.
    #[rhai_fn(return_raw, pure)]
    pub fn as_number(q: &mut Quantity, unit: &str) -> Outcome<f64> {
        match Unit::parse(unit) {
            Some(w) if w.unit.difference() == q.unit.difference() => Ok(w.from_standard(q.value)),
            _ => complain(unit_slips::unfit(q.unit, unit)),
        }
    }
    /// Without its sign.
    #[rhai_fn(name = "abs", pure)]
    pub fn abs(q: &mut Quantity) -> Quantity {
        Quantity {
            value: q.value.abs(),
            unit: q.unit,
        }
    }
    /// For sentences: the figure shows in the reader's unit.
    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn to_string(q: &mut Quantity) -> String {
        mark(q.value, q.unit)
    }
    /// For sentences: the figure shows in the reader's unit.
    #[rhai_fn(name = "+")]
    pub fn after_text(text: &str, q: Quantity) -> String {
        format!("{text}{}", mark(q.value, q.unit))
    }
    /// For sentences.
    #[rhai_fn(name = "+")]
    pub fn before_text(q: Quantity, text: &str) -> String {
        format!("{}{text}", mark(q.value, q.unit))
    }
    /// Straight-line interpolation in a table of pairs with ascending first figures; held at both ends.
    /// `interpolate([[11.89, 0], [12.65, 100]], 12.4)`.
    #[rhai_fn(return_raw)]
    pub fn interpolate(pairs: Array, x: f64) -> Outcome<f64> {
        let mut table = Vec::with_capacity(pairs.len());
        for pair in pairs {
            let pair = pair.into_array().unwrap_or_default();
            let numbers: Vec<f64> = pair.iter().filter_map(number).collect();
            let [a, b] = numbers[..] else {
                return complain("interpolate wants a list of pairs of numbers");
            };
            table.push((a, b));
        }
        match stats::interpolate(&table, x) {
            Some(y) => Ok(y),
            None => complain("interpolate wants at least one pair"),
        }
    }
    /// Chance of so many events or more where so many are expected (Poisson).
    pub fn chance_of(events: f64, expected: f64) -> f64 {
        stats::poisson_at_least(events, expected)
    }
    /// Chance that so many or more of so many events fall to one side where each does with chance `share` (binomial): with
    /// the share of the exposure, the exact test between two rates.
    pub fn chance_of_share(events: f64, of: f64, share: f64) -> f64 {
        stats::binomial_at_least(events, of, share)
    }
    /// Median of a list of numbers, or of quantities of one unit.
    #[rhai_fn(name = "median_of", return_raw)]
    pub fn median_of(list: Array) -> Outcome<Dynamic> {
        of_list(&list, stats::median)
    }
    /// Median absolute deviation of a list, scaled to a standard deviation (factor 1.4826).
    #[rhai_fn(name = "mad_of", return_raw)]
    pub fn mad_of(list: Array) -> Outcome<Dynamic> {
        let spread = of_list(&list, stats::mad)?;
        Ok(match spread.clone().try_cast::<Quantity>() {
            Some(q) => Dynamic::from(Quantity {
                value: q.value,
                unit: q.unit.difference(),
            }),
            None => spread,
        })
    }
    /// Pressure of the air at a height above the sea in m by the U.S. Standard Atmosphere 1976; weather moves it by 3 or 4 kPa.
    pub fn air_at_height(metres: f64) -> Quantity {
        Quantity {
            value: crate::units::air_at_height_kpa(metres),
            unit: Unit::standard("kPa"),
        }
    }
    /// Height above the sea, m, of a pressure in kPa by the U.S. Standard Atmosphere 1976.
    #[rhai_fn(return_raw)]
    pub fn height_of_air(pressure: Quantity) -> Outcome<f64> {
        if pressure.unit != Unit::standard("kPa") || pressure.value <= 0.0 {
            return complain("height_of_air wants a pressure over zero");
        }
        Ok(crate::units::height_of_air_m(pressure.value))
    }
}
