//! Air pressure of the place and day.

use super::signal::Signal;
use super::{Inputs, Phases, Sourced};
use crate::span::Spans;
use crate::stats::median;
use crate::units::air_at_height_kpa;

/// What can be air where people drive, kPa (reference values, section 2: 65 to 106 over 0 to 3000 m; wider here, for
/// higher roads).
const AIR: std::ops::RangeInclusive<f64> = 55.0..=110.0;
/// The manifold fills within this time of the stop, s (common practice).
const FILLS_S: f64 = 1.0;

/// What is usual in those spans, where it can be air.
fn usual(inputs: &Inputs<'_>, name: &str, within: &Spans) -> Option<f64> {
    let signal = Signal::of(inputs.rec, name)?;
    median(&signal.values_in(within)).filter(|p| AIR.contains(p))
}

/// The logged barometer.
pub(super) fn logged(inputs: &Inputs<'_>) -> Option<Sourced> {
    Some((usual(inputs, "baro", &inputs.covered)?, "logged"))
}

/// Without one: the manifold of a still engine, else the height on the sheet; never an assumed figure.
pub(super) fn told(inputs: &Inputs<'_>, phases: &Phases) -> Option<Sourced> {
    let usual = |name: &str, within: &Spans| usual(inputs, name, within);
    if let Some(p) = usual("map", &phases.known("rest")) {
        return Some((p, "manifold pressure at rest before the start"));
    }
    let stopped = phases.known("after-stop").grown(-FILLS_S, 0.0);
    if let Some(p) = usual("map", &stopped) {
        return Some((p, "manifold pressure after the stop"));
    }
    let height = inputs.facts.altitude_m?;
    Some((
        air_at_height_kpa(height),
        "standard atmosphere at the height on the sheet",
    ))
}

#[cfg(test)]
mod tests {
    use super::air_at_height_kpa;

    /// Reference values, section 2, column kPa (H).
    #[test]
    fn the_published_table() {
        for (height, kpa) in [
            (0.0, 101.325),
            (250.0, 98.358),
            (1000.0, 89.875),
            (2000.0, 79.495),
            (3000.0, 70.109),
        ] {
            assert!((air_at_height_kpa(height) - kpa).abs() < 0.001);
        }
    }
}
