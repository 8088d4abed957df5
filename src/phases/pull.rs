//! Throttle and speed rising under load.

use super::signal::Signal;
use super::{Inputs, LoadFrom, Phases};
use crate::span::Spans;

/// A change of speed that tells one reading from the next, rpm.
pub(super) const STEP_RPM: f64 = 20.0;
/// Speed rises faster than this, rpm/s, until it falls under the second.
const RISE: (f64, f64) = (100.0, 60.0);
/// For at least so long, s.
const LEAST_S: f64 = 0.8;
/// Throttle over this share of its travel, until under the second.
const THROTTLE: (f64, f64) = (0.70, 0.65);
/// MAP over this share of the air pressure, until under the second.
const MAP: (f64, f64) = (0.85, 0.80);
/// Speed is differentiated over at least this, s.
const WINDOW_S: f64 = 0.4;
/// Dropouts shorter than this do not split a pull, s.
const JOIN_S: f64 = 0.15;
/// While the engine runs up after firing the manifold is still full of air, s.
pub(super) const RUN_UP_S: f64 = 2.0;

pub(super) fn find(inputs: &Inputs<'_>, phases: &Phases) -> Spans {
    let Some(rpm) = &inputs.rpm else {
        return Spans::default();
    };
    let window = WINDOW_S.max(2.0 * rpm.stands_s(STEP_RPM));
    let rising = rpm.rate(window).above(RISE.0, RISE.1);
    let throttle = phases.throttle.and_then(|t| {
        Some(Signal::of(inputs.rec, "tps")?.above(t.at(THROTTLE.0), t.at(THROTTLE.1)))
    });
    // Where MAP stands high at idle it says nothing of load.
    let by_map = phases
        .load
        .as_ref()
        .is_some_and(|l| l.from == LoadFrom::Map);
    let full = phases
        .baro_kpa
        .filter(|_| by_map)
        .and_then(|b| Some(Signal::of(inputs.rec, "map")?.above(b.0 * MAP.0, b.0 * MAP.1)));
    let loaded = throttle.unwrap_or_default().or(&full.unwrap_or_default());
    let running = phases.known("running").except(&run_up(phases, RUN_UP_S));
    loaded
        .and(&running)
        .except(&phases.known("overrun"))
        .and(&rising)
        .joined(JOIN_S)
        .and(&inputs.covered)
        .at_least(LEAST_S)
}

/// The first seconds after each start that the log shows.
pub(super) fn run_up(phases: &Phases, seconds: f64) -> Spans {
    let cranking = phases.known("cranking");
    let starts = phases
        .known("running")
        .list()
        .iter()
        .filter(|r| {
            phases.first_fire_s == Some(r.from_s)
                || cranking
                    .list()
                    .iter()
                    .any(|c| (r.from_s - c.to_s).abs() < 1e-6)
        })
        .map(|r| crate::span::Span {
            from_s: r.from_s,
            to_s: r.to_s.min(r.from_s + seconds),
        })
        .collect();
    Spans::new(starts)
}
