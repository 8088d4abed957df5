//! Throttle shut, and the car or the flywheel turning the engine faster than idle.

use super::signal::Signal;
use super::throttle::Demand;
use super::{Inputs, Phases, pull};
use crate::span::Spans;

/// Speed over this share of idle and so many rpm more, until under the second share.
const ENTER: (f64, f64) = (1.3, 100.0);
const LEAVE: f64 = 1.2;
/// Throttle within this share of its travel of closed, until over the second.
pub(super) const SHUT: (f64, f64) = (0.03, 0.05);
/// At least so long, s: a lift for a shift is shorter.
const LEAST_S: f64 = 0.3;
/// The flare after firing dies down by itself within this, s.
const FLARE_S: f64 = 3.0;
/// Without a throttle, fuel cut at less than this share of the air pressure is overrun.
const MAP_LOW: f64 = 0.6;

pub(super) fn find(inputs: &Inputs<'_>, demand: Option<&Demand>, phases: &Phases) -> Spans {
    let Some(rpm) = &inputs.rpm else {
        return Spans::default();
    };
    let running = phases.known("running");
    let fuel_cut = inputs.flag("fuel_cut").and(&running);
    let Some(demand) = demand else {
        let low = phases
            .baro_kpa
            .and_then(|b| Some(Signal::of(inputs.rec, "map")?.below(MAP_LOW * b.0, 0.7 * b.0)));
        return low
            .map_or_else(Spans::default, |l| l.and(&fuel_cut))
            .at_least(LEAST_S);
    };
    let released = demand.shut(SHUT.0, SHUT.1).and(&running);
    // A released pedal with the blades held open is a motor keeping the car rolling: it burns fuel.
    let blades = phases
        .throttle
        .and_then(|t| Some(Signal::of(inputs.rec, "tps")?.below(t.at(SHUT.0), t.at(SHUT.1))));
    let shut = blades.map_or_else(|| released.clone(), |b| b.and(&released));
    let idle = super::idle::reference(phases);
    let fast = rpm.above(idle * ENTER.0 + ENTER.1, idle * LEAVE);
    let flare = pull::run_up(phases, FLARE_S);
    let coasting = shut.and(&fast).except(&flare).except(&phases.known("idle"));
    coasting.or(&released.and(&fuel_cut)).at_least(LEAST_S)
}
