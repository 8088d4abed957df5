//! Computations of the trade, as scripts call them. Where the language has no unit (ohm, mm2, cc, g, Hz) a bare number stands
//! for it and the name of the parameter says which.

use rhai::plugin::*;

use crate::dsl::column::{Column, Quantity};
use crate::dsl::lazy::Shape;
use crate::dsl::ops::{Outcome, complain};
use crate::units::Unit;

/// The value of a quantity that has to be in this unit.
fn of(q: Quantity, unit: &str, what: &str) -> Outcome<f64> {
    if q.unit == Unit::standard(unit) {
        Ok(q.value)
    } else {
        complain(format!(
            "{what} wants a figure in {unit}, not in {}",
            q.unit.key()
        ))
    }
}

fn give(value: Option<f64>, unit: &str, what: &str) -> Outcome<Quantity> {
    match value {
        Some(value) if value.is_finite() => Ok(Quantity {
            value,
            unit: Unit::standard(unit),
        }),
        _ => complain(format!("{what} has no answer for these figures")),
    }
}

fn bare(value: Option<f64>, what: &str) -> Outcome<f64> {
    match value {
        Some(value) if value.is_finite() => Ok(value),
        _ => complain(format!("{what} has no answer for these figures")),
    }
}

/// A column made of two others, by a function of both values.
fn joined(a: &Column, b: &Column, unit: Unit, f: fn(f64, f64) -> Option<f64>) -> Column {
    a.with(
        a.lazy
            .both(&b.lazy, Shape::Any, move |x, y| f(x, y).unwrap_or(f64::NAN)),
        unit,
    )
}

fn columns_in(what: &str, pairs: &[(&Column, &str)]) -> Outcome<()> {
    for (column, unit) in pairs {
        if column.unit != Unit::standard(unit) {
            return complain(format!(
                "{what} wants {} in {unit}, not in {}",
                column.name,
                column.unit.key()
            ));
        }
    }
    Ok(())
}

/// Package.
#[export_module]
pub mod words {
    use super::{bare, columns_in, give, joined, of};
    use crate::dsl::column::{Column, Quantity};
    use crate::dsl::ops::{Outcome, complain};
    use crate::stats;
    use crate::trade::thermistor::SteinhartHart;
    use crate::trade::{air, battery, coolant, fuel, knock, thermistor, thermocouple, wire};
    use crate::units::Unit;
    use rhai::{Array, Map};

    /// Voltage of a type K thermocouple at a temperature (NIST ITS-90), its terminals at 0 degC.
    #[rhai_fn(return_raw)]
    pub fn thermocouple_voltage(temperature: Quantity) -> Outcome<Quantity> {
        let t = of(temperature, "degC", "thermocouple_voltage")?;
        give(
            thermocouple::millivolts(t).map(|mv| mv / 1000.0),
            "V",
            "thermocouple_voltage",
        )
    }
    /// Temperature of a type K thermocouple that shows a voltage with its terminals at a temperature (NIST ITS-90).
    #[rhai_fn(return_raw)]
    pub fn thermocouple_temperature(shown: Quantity, terminals: Quantity) -> Outcome<Quantity> {
        let mv = 1000.0 * of(shown, "V", "thermocouple_temperature")?;
        let at = of(terminals, "degC", "thermocouple_temperature")?;
        give(
            thermocouple::celsius(mv, at),
            "degC",
            "thermocouple_temperature",
        )
    }
    /// Tolerance of new class 2 type K wire at a temperature (IEC 60584): two healthy probes may differ by twice that.
    #[rhai_fn(return_raw)]
    pub fn thermocouple_tolerance(temperature: Quantity) -> Outcome<Quantity> {
        let t = of(temperature, "degC", "thermocouple_tolerance")?;
        give(
            Some(thermocouple::class_2_tolerance(t)),
            "degC difference",
            "thermocouple_tolerance",
        )
    }
    /// Temperature of an NTC sensor by its beta (K) and its resistance at 25 degC (ohm).
    #[rhai_fn(return_raw)]
    pub fn ntc_temperature(ohms: f64, ohms_25: f64, beta: f64) -> Outcome<Quantity> {
        give(
            thermistor::beta_celsius(ohms, ohms_25, beta),
            "degC",
            "ntc_temperature",
        )
    }
    /// Resistance in ohm of an NTC sensor by its beta (K) and its resistance at 25 degC (ohm).
    #[rhai_fn(return_raw)]
    pub fn ntc_ohms(temperature: Quantity, ohms_25: f64, beta: f64) -> Outcome<f64> {
        let t = of(temperature, "degC", "ntc_ohms")?;
        bare(thermistor::beta_ohms(t, ohms_25, beta), "ntc_ohms")
    }
    /// Temperature of an NTC sensor by Steinhart and Hart, from three points of its data sheet:
    /// `ntc_by_points(3603.0, [[0, 32650], [25, 10000], [100, 680]])`, points as degC and ohm.
    #[rhai_fn(return_raw)]
    pub fn ntc_by_points(ohms: f64, points: Array) -> Outcome<Quantity> {
        let mut read = Vec::with_capacity(3);
        for point in points {
            let numbers: Vec<f64> = point
                .into_array()
                .unwrap_or_default()
                .iter()
                .filter_map(super::super::quantities::number)
                .collect();
            let [t, r] = numbers[..] else {
                return complain(
                    "ntc_by_points wants points of a temperature in degC and a resistance in ohm",
                );
            };
            read.push((t, r));
        }
        let Ok(three) = <[(f64, f64); 3]>::try_from(read) else {
            return complain("ntc_by_points wants three points");
        };
        let curve = SteinhartHart::through(three);
        give(curve.and_then(|c| c.celsius(ohms)), "degC", "ntc_by_points")
    }
    /// Charge of a flooded lead-acid battery of so many cells after hours of rest, by a table credited to the BCI; a battery
    /// moves by 0.2 mV a cell with each degC from 26.7. Held at 0 and 100 %.
    #[rhai_fn(return_raw)]
    pub fn charge_at_rest(volts: Quantity, cells: i64, temperature: Quantity) -> Outcome<Quantity> {
        let (v, t) = (
            of(volts, "V", "charge_at_rest")?,
            of(temperature, "degC", "charge_at_rest")?,
        );
        give(
            battery::charge_at_rest(v, cells as f64, t),
            "%",
            "charge_at_rest",
        )
    }
    /// Rest voltage of so many flooded lead-acid cells at a charge: the other way round.
    #[rhai_fn(return_raw)]
    pub fn rest_voltage(charge: Quantity, cells: i64, temperature: Quantity) -> Outcome<Quantity> {
        let (c, t) = (
            of(charge, "%", "rest_voltage")?,
            of(temperature, "degC", "rest_voltage")?,
        );
        give(
            battery::volts_at_rest(c, cells as f64, t),
            "V",
            "rest_voltage",
        )
    }
    /// Time for which a battery of so many Ah at its rated hours (20 as a rule) gives a current, by Peukert's law in the form
    /// `H (C / (I H))^k`; 1.1 to 1.3 is the exponent of lead-acid, 1.05 of lithium.
    #[rhai_fn(return_raw)]
    pub fn battery_lasts(
        current: Quantity,
        amp_hours: f64,
        rated_hours: f64,
        exponent: f64,
    ) -> Outcome<Quantity> {
        let amps = of(current, "A", "battery_lasts")?;
        let hours = battery::peukert_hours(amps, amp_hours, rated_hours, exponent);
        give(hours.map(|h| h * 3600.0), "s", "battery_lasts")
    }
    /// Peukert's exponent from two discharges, each a current and the time it took.
    #[rhai_fn(return_raw)]
    pub fn peukert_exponent(
        amps_1: Quantity,
        time_1: Quantity,
        amps_2: Quantity,
        time_2: Quantity,
    ) -> Outcome<f64> {
        let what = "peukert_exponent";
        let a = (of(amps_1, "A", what)?, of(time_1, "s", what)?);
        let b = (of(amps_2, "A", what)?, of(time_2, "s", what)?);
        bare(battery::peukert_exponent(a, b), what)
    }
    /// What a regulator set to a voltage at 25 degC has to hold at another temperature: 3 mV a cell less for each degC more.
    #[rhai_fn(return_raw)]
    pub fn charge_voltage_at(
        volts_25: Quantity,
        cells: i64,
        temperature: Quantity,
    ) -> Outcome<Quantity> {
        let (v, t) = (
            of(volts_25, "V", "charge_voltage_at")?,
            of(temperature, "degC", "charge_voltage_at")?,
        );
        give(
            Some(battery::charge_volts(v, cells as f64, t)),
            "V",
            "charge_voltage_at",
        )
    }
    /// Cross-section in mm2 of a wire by its American gauge number (ASTM B258).
    pub fn awg_mm2(gauge: i64) -> f64 {
        wire::awg_mm2(gauge as f64)
    }
    /// Resistance, in V/A, of so many metres (out and back together) of copper wire of a cross-section: times a current it
    /// is the voltage lost.
    #[rhai_fn(return_raw)]
    pub fn wire_resistance(mm2: f64, metres: f64, temperature: Quantity) -> Outcome<Quantity> {
        let t = of(temperature, "degC", "wire_resistance")?;
        give(wire::ohms(mm2, metres, t), "V/A", "wire_resistance")
    }
    /// Air by mass that a fuel C H O N burns with nothing left over, by its atoms: `stoich_of_formula(2.0, 6.0, 1.0, 0.0)` is
    /// ethanol's 9.0.
    #[rhai_fn(return_raw)]
    pub fn stoich_of_formula(c: f64, h: f64, o: f64, n: f64) -> Outcome<f64> {
        bare(fuel::stoich_of_formula(c, h, o, n), "stoich_of_formula")
    }
    /// A mixture by parts of volume: `fuel_mixture(#{ gasoline: 15, ethanol: 85 })` gives `#{ stoich, density }`, air by mass
    /// for one part by mass, and kg/m3 at 20 degC. It knows gasoline, ethanol, methanol, nitromethane, iso-octane, toluene.
    #[rhai_fn(return_raw)]
    pub fn fuel_mixture(parts: Map) -> Outcome<Map> {
        let mut list = Vec::with_capacity(parts.len());
        for (name, part) in parts {
            let (Some(liquid), Some(part)) =
                (fuel::liquid(&name), super::super::quantities::number(&part))
            else {
                let known: Vec<&str> = fuel::LIQUIDS.iter().map(|l| l.name).collect();
                return complain(format!(
                    "fuel_mixture wants parts by number of {}; `{name}` is none of them",
                    known.join(", ")
                ));
            };
            list.push((liquid, part));
        }
        let Some(mixture) = fuel::mixture(&list) else {
            return complain("fuel_mixture wants at least one part over zero");
        };
        let mut map = Map::new();
        map.insert("stoich".into(), mixture.stoich.into());
        map.insert("density".into(), mixture.density.into());
        Ok(map)
    }
    /// Flow of an injector (any unit) rated at one differential pressure when it works at another: with the square root.
    #[rhai_fn(return_raw)]
    pub fn flow_at(rated_flow: f64, rated_pressure: Quantity, pressure: Quantity) -> Outcome<f64> {
        let (rated, now) = (
            of(rated_pressure, "kPa", "flow_at")?,
            of(pressure, "kPa", "flow_at")?,
        );
        bare(fuel::flow_at(rated_flow, rated, now), "flow_at")
    }
    /// Frequency in Hz of the ring of knock in a bore (mm) at a speed of sound in the burnt gas (900 to 1000 m/s), for a mode
    /// from 1 (Draper): a band around it, not a line.
    #[rhai_fn(return_raw)]
    pub fn knock_frequency(bore_mm: f64, sound_m_s: f64, mode: i64) -> Outcome<f64> {
        let mode = usize::try_from(mode).unwrap_or(0);
        bare(
            knock::frequency(bore_mm, sound_m_s, mode),
            "knock_frequency",
        )
    }
    /// Density of air in kg/m3 at an absolute pressure and a temperature.
    #[rhai_fn(name = "air_density", return_raw)]
    pub fn air_density_of(pressure: Quantity, temperature: Quantity) -> Outcome<f64> {
        let (p, t) = (
            of(pressure, "kPa", "air_density")?,
            of(temperature, "degC", "air_density")?,
        );
        bare(air::density(p, t), "air_density")
    }
    /// The same over time, of an absolute pressure and a temperature: bare numbers in kg/m3. Times a cylinder's litres and its
    /// volumetric efficiency it is the air of one cycle in g.
    #[rhai_fn(name = "air_density", return_raw)]
    pub fn air_density(pressure: Column, temperature: Column) -> Outcome<Column> {
        columns_in("air_density", &[(&pressure, "kPa"), (&temperature, "degC")])?;
        Ok(joined(&pressure, &temperature, Unit::NONE, air::density))
    }
    /// Air in g that a cylinder (cc) takes in a cycle at a volumetric efficiency (0.85, not 85), an absolute manifold pressure
    /// and a charge temperature.
    #[rhai_fn(return_raw)]
    pub fn air_charge(
        efficiency: f64,
        pressure: Quantity,
        temperature: Quantity,
        cylinder_cc: f64,
    ) -> Outcome<f64> {
        let (p, t) = (
            of(pressure, "kPa", "air_charge")?,
            of(temperature, "degC", "air_charge")?,
        );
        bare(
            air::charge_grams(efficiency, p, t, cylinder_cc),
            "air_charge",
        )
    }
    /// Speed of sound in air in m/s.
    #[rhai_fn(return_raw)]
    pub fn speed_of_sound(temperature: Quantity) -> Outcome<f64> {
        bare(
            air::speed_of_sound(of(temperature, "degC", "speed_of_sound")?),
            "speed_of_sound",
        )
    }
    /// Temperature of air compressed to so many times its pressure by a compressor of an efficiency (0.7, not 70).
    #[rhai_fn(return_raw)]
    pub fn compressed_temperature(
        temperature: Quantity,
        ratio: f64,
        efficiency: f64,
    ) -> Outcome<Quantity> {
        let t = of(temperature, "degC", "compressed_temperature")?;
        give(
            air::compressed_celsius(t, ratio, efficiency),
            "degC",
            "compressed_temperature",
        )
    }
    /// Boiling point at an absolute pressure of water (IAPWS) with a share of ethylene glycol by volume (0.5, not 50).
    #[rhai_fn(return_raw)]
    pub fn boiling_point(pressure: Quantity, glycol: f64) -> Outcome<Quantity> {
        give(
            coolant::boiling_celsius(of(pressure, "kPa", "boiling_point")?, glycol),
            "degC",
            "boiling_point",
        )
    }
    /// Exact 95 % interval of a number of events (Garwood): `#{ low, high }`; divide by the exposure for a rate.
    pub fn interval_of_count(events: f64) -> Map {
        ends(stats::poisson_interval(events, 0.95))
    }
    /// 95 % interval of a share, so many of so many (Wilson): `#{ low, high }`, each 0 to 1.
    #[rhai_fn(return_raw)]
    pub fn interval_of_share(events: f64, of: f64) -> Outcome<Map> {
        match stats::wilson_interval(events, of, 0.95) {
            Some(found) => Ok(ends(found)),
            None => complain("interval_of_share wants so many of at least so many"),
        }
    }
    fn ends((low, high): (f64, f64)) -> Map {
        let mut map = Map::new();
        map.insert("low".into(), low.into());
        map.insert("high".into(), high.into());
        map
    }
}
