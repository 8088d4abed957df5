//! Speed and load held: the spans in which cylinders can be compared.

use super::signal::Signal;
use super::{EVEN_S, Inputs, Phases};
use crate::span::Spans;

/// Held for at least so long, s (common practice, like the bands).
const LEAST_S: f64 = 3.0;
/// Speed within this share either way, or so many rpm if that is more.
const SPEED_SHARE: f64 = 0.03;
const SPEED_RPM: f64 = 60.0;
/// Load within this share of its span either way.
const LOAD_SHARE: f64 = 0.05;

pub(super) fn find(inputs: &Inputs<'_>, phases: &Phases) -> Spans {
    let Some(rpm) = &inputs.rpm else {
        return Spans::default();
    };
    // A reading that stands for seconds must still have been taken three times.
    let window = LEAST_S.max(3.0 * rpm.stands_s(super::pull::STEP_RPM));
    let running = phases.known("running");
    let mut held = inputs
        .even_speed(rpm)
        .holding(window, |middle| 2.0 * (middle * SPEED_SHARE).max(SPEED_RPM));
    if let Some(load) = &phases.load
        && let Some(signal) = Signal::of(inputs.rec, load.channel())
    {
        let width = 2.0 * LOAD_SHARE * load.span();
        held = held.and(
            &signal
                .binned(EVEN_S.0)
                .smoothed(EVEN_S.1)
                .holding(window, |_| width),
        );
    }
    // Cylinders cannot be compared where none of them burns.
    held.and(&running)
        .except(&phases.known("cut"))
        .except(&phases.known("overrun"))
        .at_least(LEAST_S)
}
