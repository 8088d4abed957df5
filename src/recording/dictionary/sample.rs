//! A look at the numbers of a mapped column: do they look like the unit that they are read in?
//!
//! The answer is a question to the person, never a conversion. Wrong units do not show at rest (zero is zero in psi
//! and in bar), so the high values of the run are judged, not the mean.

use super::Match;
use crate::units::Unit;

/// Fewer readings than this say nothing about a unit.
const ENOUGH: usize = 20;
/// More readings than this are thinned before they are sorted.
const LOOKED_AT: usize = 8_000;

/// The question that the values of a column raise, if any. `values` are as read, after [`Match::written`] and before an
/// air-fuel ratio is divided; missing samples may be NaN.
pub fn sample_check(m: &Match, values: &[f64]) -> Option<String> {
    let known: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    // Some thousands of readings, evenly over the run, tell a unit as well as all of them.
    let stride = known.len().div_ceil(LOOKED_AT).max(1);
    let mut sorted: Vec<f64> = known.into_iter().step_by(stride).collect();
    if sorted.len() < ENOUGH {
        return None;
    }
    sorted.sort_by(f64::total_cmp);
    let middle = share(&sorted, 0.5);
    let high = share(&sorted, 0.95);
    special(m, &sorted, middle, high)
        .or_else(|| other_unit(m, high))
        .or_else(|| out_of_range(m, middle))
}

/// The value under which a share of the sorted readings lies.
fn share(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    let at = (share * last as f64).round() as usize;
    sorted.get(at).copied().unwrap_or(f64::NAN)
}

/// Scales that are no units: 0 to 1 for per cent, air-fuel ratio for lambda, a trim whose neutral is not 0.
fn special(m: &Match, sorted: &[f64], middle: f64, high: f64) -> Option<String> {
    let name = &m.name;
    let highest = sorted.last().copied()?;
    let fraction = m.entry.unit == "%" && m.entry.range[1] >= 100.0;
    if m.entry.unit == "lambda" {
        return lambda(m, middle);
    }
    if name.starts_with("fuel_trim") {
        let neutral = if (0.7..=1.3).contains(&middle) && highest < 2.0 && sorted[0] > 0.3 {
            "1.00"
        } else if (70.0..=130.0).contains(&middle) {
            "100"
        } else {
            return None;
        };
        return Some(format!(
            "`{name}` lies around {}: is {neutral} its neutral, where nothing is corrected?",
            show(middle)
        ));
    }
    // A heading that says % is believed: an engine that only idled hardly opens its throttle.
    if fraction
        && m.written.is_none()
        && highest <= 1.2
        && highest > 0.2
        && sorted[0] >= -0.1
        && distinct(sorted) > 3
    {
        return Some(format!(
            "`{name}` never passes {}: is it logged from 0 to 1 instead of in per cent?",
            show(highest)
        ));
    }
    if name == "map" && high < 250.0 && sorted[0] < 0.0 {
        return Some(format!(
            "`map` goes down to {} kPa, under a perfect vacuum: is it measured over the air instead of absolute?",
            show(sorted[0])
        ));
    }
    None
}

fn lambda(m: &Match, middle: f64) -> Option<String> {
    let name = &m.name;
    if m.afr && middle < 3.0 && middle > 0.3 {
        return Some(format!(
            "`{name}` is headed as an air-fuel ratio but lies around {}: is it lambda already?",
            show(middle)
        ));
    }
    // Narrow sensors give 0 to 1 V, and 0.1 V reads like an impossible lambda.
    if !m.afr && (6.0..30.0).contains(&middle) {
        return Some(format!(
            "`{name}` lies around {}: is it an air-fuel ratio, and which scale does the logger use (fuel.lambda_scale_afr)?",
            show(middle)
        ));
    }
    if !m.afr && (0.0..0.5).contains(&middle) && middle > 0.0 {
        return Some(format!(
            "`{name}` lies around {}: is it the voltage of a narrow-band sensor instead of lambda?",
            show(middle)
        ));
    }
    None
}

/// High values outside of the usual, which another unit would explain.
fn other_unit(m: &Match, high: f64) -> Option<String> {
    let [low, top] = m.entry.usual?;
    if (low..=top).contains(&high) {
        return None;
    }
    let stated = m.written.is_some();
    let [least, most] = m.entry.range;
    // A heading that states its unit is believed as long as the values are possible at all.
    if stated && (least..=most).contains(&high) {
        return None;
    }
    let (s, ms) = (Unit::standard("s"), Unit::standard("ms"));
    let fits: Vec<&str> = m
        .entry
        .may_be
        .iter()
        .filter(|symbol| {
            Unit::parse(symbol).is_some_and(|w| {
                let scale = if w.unit == s && m.entry.unit() == ms {
                    1000.0
                } else {
                    1.0
                };
                let raw = m.written.map_or(high, |own| own.from_standard(high));
                (low..=top).contains(&(w.to_standard(raw) * scale))
            })
        })
        .map(String::as_str)
        .collect();
    if fits.is_empty() {
        return None;
    }
    let said = if stated {
        "the heading says so"
    } else {
        "the heading does not say"
    };
    let carburettor = if m.entry.name == "fuel_pressure" && !stated && high > 15.0 {
        " (20-50 kPa is right for a carburettor)"
    } else {
        ""
    };
    Some(format!(
        "`{}` reaches {} when read in {} ({said}): is it logged in {}?{carburettor}",
        m.name,
        show(high),
        m.entry.unit_words(),
        fits.join(" or ")
    ))
}

fn out_of_range(m: &Match, middle: f64) -> Option<String> {
    let [low, top] = m.entry.range;
    let afr = if m.afr { 14.7 } else { 1.0 };
    let value = middle / afr;
    if (low..=top).contains(&value) {
        return None;
    }
    let unit = m.entry.unit.as_str();
    let gap = if unit.is_empty() { "" } else { " " };
    Some(format!(
        "half of `{}` lies around {}{gap}{unit}, outside of what is possible ({} to {}): is it the right column, and in the right unit?",
        m.name,
        show(value),
        show(low),
        show(top)
    ))
}

fn distinct(sorted: &[f64]) -> usize {
    let steps = sorted.windows(2).filter(|pair| pair[0] != pair[1]);
    1 + steps.count()
}

fn show(value: f64) -> String {
    let size = value.abs();
    let decimals = if value.fract() == 0.0 || size >= 100.0 {
        0
    } else {
        1 + usize::from(size < 10.0)
    };
    format!("{value:.decimals$}")
}
