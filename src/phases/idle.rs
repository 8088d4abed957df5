//! Idling, and how fast this engine idles.

use super::signal::Signal;
use super::throttle::Demand;
use super::{Inputs, Phases, Sourced, overrun};
use crate::span::Spans;
use crate::stats::quantile;

/// Used only to tell running from cranking where neither sheet nor log says how fast it idles, rpm (common practice).
const UNKNOWN_RPM: f64 = 900.0;
/// Slower than this is a starter, rpm.
const SLOWEST_RPM: f64 = 450.0;
/// No engine is believed to idle faster, rpm; less is believed where no throttle tells idle from cruising.
const FASTEST_RPM: f64 = 2500.0;
const FASTEST_BLIND_RPM: f64 = 1500.0;
/// To count as holding its speed: within so much of the middle, or so many rpm, over so many seconds.
const HOLD: (f64, f64, f64) = (0.15, 150.0, 2.0);
/// So much of it must be there, s.
const ENOUGH_S: f64 = 3.0;
/// Idle reaches up to this share of idle speed, and ends over the second.
const BAND: (f64, f64) = (1.3, 1.45);
/// A speed that holds by itself while the car stands is idle up to this share; a cold engine idles faster still.
const BAND_STANDING: f64 = 2.0;
const BAND_COLD: f64 = 3.2;
/// Throttle at idle: a stop screw or a motor may hold it open by a little.
const SHUT: (f64, f64) = (0.06, 0.08);
/// At least so long, s.
const LEAST_S: f64 = 1.5;
/// Slower than this the car stands, km/h.
const STANDS_KMH: f64 = 3.0;

/// Idle speed of the sheet, else of the log: the slow end of the speeds that hold with the throttle shut.
pub(super) fn idle_rpm(inputs: &Inputs<'_>, demand: Option<&Demand>) -> Option<Sourced> {
    if let Some(rpm) = inputs.facts.idle_rpm.filter(|r| *r > 0.0) {
        return Some((rpm, "the sheet"));
    }
    let rpm = inputs.rpm.as_ref()?;
    let fast = rpm.spans(|v| v >= SLOWEST_RPM);
    let mut where_ = inputs.held_speed(rpm).and(&fast);
    if let Some(d) = demand {
        where_ = where_.and(&d.shut(SHUT.0, SHUT.1));
    }
    if let Some(standing) = standing(inputs) {
        where_ = where_.and(&standing);
    }
    if where_.total() < ENOUGH_S {
        return None;
    }
    let most = if demand.is_some() {
        FASTEST_RPM
    } else {
        FASTEST_BLIND_RPM
    };
    quantile(&rpm.values_in(&where_), 0.25)
        .filter(|r| *r <= most)
        .map(|r| (r, "the log"))
}

/// The idle speed in use for thresholds, rpm.
pub(super) fn reference(phases: &Phases) -> f64 {
    phases.idle_rpm.map_or(UNKNOWN_RPM, |i| i.0)
}

/// Where speed holds; `even` is the speed without its lope.
pub(super) fn steady_speed(even: &Signal) -> Spans {
    even.holding(HOLD.2, |middle| (middle * HOLD.0).max(HOLD.1))
}

fn standing(inputs: &Inputs<'_>) -> Option<Spans> {
    Some(Signal::of(inputs.rec, "speed")?.spans(|v| v <= STANDS_KMH))
}

/// Idle that holds its speed, with the car standing where its speed is known.
pub(super) fn at_rest(inputs: &Inputs<'_>, phases: &Phases) -> Spans {
    let idle = match &inputs.rpm {
        Some(rpm) => phases.known("idle").and(inputs.held_speed(rpm)),
        None => Spans::default(),
    };
    standing(inputs).map_or_else(|| idle.clone(), |s| idle.and(&s))
}

/// Idle spans, by speed and throttle.
pub(super) fn find(inputs: &Inputs<'_>, demand: Option<&Demand>, phases: &mut Phases) {
    let (Some(rpm), Some((idle, _))) = (&inputs.rpm, phases.idle_rpm) else {
        return;
    };
    let running = phases.known("running");
    let slow = rpm.below(idle * BAND.0, idle * BAND.1);
    let near = demand.map_or_else(|| slow.clone(), |d| slow.and(&d.shut(SHUT.0, SHUT.1)));
    let mut spans = near.and(&running);
    if let Some(d) = demand {
        let holds = inputs
            .held_speed(rpm)
            .and(&d.shut(overrun::SHUT.0, overrun::SHUT.1))
            .and(&running);
        let still = standing(inputs);
        let under = |share: f64| rpm.spans(|v| v <= (share * idle).min(FASTEST_RPM));
        if let Some(still) = &still {
            spans = spans.or(&holds.and(still).and(&under(BAND_STANDING)));
        }
        let cold = super::running::cold(inputs).and(still.as_ref().unwrap_or(&inputs.covered));
        spans = spans.or(&holds.and(&cold).and(&under(BAND_COLD)));
    }
    phases.set("idle", spans.at_least(LEAST_S));
}
