//! Where the throttle rests, where it ends, and when the driver has it shut.

use super::Inputs;
use super::signal::Signal;
use crate::span::Spans;
use crate::stats::quantile;

/// Over this the engine is surely past any starter, whatever its idle, rpm (common practice).
const PAST_STARTER_RPM: f64 = 450.0;
/// A reading that never comes under this is no throttle at rest, %.
const REST_MOST: f64 = 40.0;
/// The throttle has been seen open where it moved so far from rest, %.
const SEEN_OPEN: f64 = 50.0;

/// Ends of the throttle's travel, in % as logged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Throttle {
    /// Reading of the closed throttle, %; 17 is common.
    pub closed: f64,
    /// Reading of the open throttle, %: the largest seen if it moved far, else 100.
    pub open: f64,
}

impl Throttle {
    /// The reading at a share of the travel, 0 to 1.
    pub fn at(self, share: f64) -> f64 {
        self.closed + share * (self.open - self.closed)
    }
}

/// A pedal or a blade, with its travel.
#[derive(Clone)]
pub(super) struct Demand {
    signal: Signal,
    travel: Throttle,
}

impl Demand {
    /// Where it rests and ends.
    pub fn travel(&self) -> Throttle {
        self.travel
    }
    /// Shut, with a little slack: at or under `enter` of the travel, until over `leave`.
    pub fn shut(&self, enter: f64, leave: f64) -> Spans {
        self.signal
            .below(self.travel.at(enter), self.travel.at(leave))
    }
    /// Opened beyond that share of the travel.
    pub fn open(&self, share: f64) -> Spans {
        self.signal
            .above(self.travel.at(share), self.travel.at(share * 0.8))
    }
}

/// A pedal or a blade by its name. `None` where it was not logged, or was never near a rest.
pub(super) fn of(inputs: &Inputs<'_>, name: &str) -> Option<Demand> {
    let signal = Signal::of(inputs.rec, name)?;
    let travel = travel(inputs, &signal)?;
    Some(Demand { signal, travel })
}

/// What the driver asks for: the pedal where it is logged and alive, since blades driven by a motor open by themselves to
/// hold a cold idle; else the blade.
pub(super) fn demand(pedal: Option<Demand>, blade: Option<Demand>) -> Option<Demand> {
    let moved = |d: &Demand| {
        d.signal
            .values
            .iter()
            .fold(0.0f64, |m, v| m.max(v - d.travel.closed))
    };
    match (pedal, blade) {
        // A pedal that never moves while the blade opens wide is a dead channel.
        (Some(pedal), Some(blade)) if moved(&pedal) < 2.0 && moved(&blade) > 15.0 => Some(blade),
        (Some(pedal), _) => Some(pedal),
        (None, blade) => blade,
    }
}

fn travel(inputs: &Inputs<'_>, signal: &Signal) -> Option<Throttle> {
    let running = inputs
        .rpm
        .as_ref()
        .map(|r| r.spans(|v| v > PAST_STARTER_RPM));
    let values = running
        .map(|r| signal.values_in(&r))
        .filter(|v| !v.is_empty());
    // At rest with the key on some blades stand open a little, so a running engine shows the rest best.
    let values = values.as_deref().unwrap_or(&signal.values);
    let closed = quantile(values, 0.01)?;
    let closed = if closed > REST_MOST {
        quantile(&signal.values, 0.01)?
    } else {
        closed
    };
    if closed > REST_MOST {
        return None;
    }
    let most = quantile(&signal.values, 0.999)?;
    let open = if most - closed > SEEN_OPEN {
        most
    } else {
        100.0
    };
    Some(Throttle { closed, open })
}
