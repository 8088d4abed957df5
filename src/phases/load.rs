//! Which channel says how hard the engine works.

use super::signal::Signal;
use super::{Inputs, Phases};
use crate::span::Spans;
use crate::stats::{mad, median, quantile};

/// Idle MAP over this, kPa, or jumping by more than that: individual throttles or a wild cam (common practice). Jumping
/// is scatter about its own mean over some seconds: a fan or a compressor switched on moves an idle's whole level.
const IDLE_MAP_MOST_KPA: f64 = 60.0;
const IDLE_MAP_SCATTER_KPA: f64 = 5.0;
const LEVEL_S: f64 = 5.0;
/// The first seconds of an idle are still settling.
const SETTLE_S: f64 = 2.0;

/// The two quantities that can stand for load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoadFrom {
    /// Manifold pressure, kPa absolute.
    Map,
    /// Throttle, %.
    Tps,
}

/// The load axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Which quantity.
    pub from: LoadFrom,
    /// Lower end: least MAP while running, kPa; or the closed throttle, %.
    pub low: f64,
    /// Upper end: most MAP or the air pressure, kPa; or the open throttle, %.
    pub high: f64,
    /// Why this one, in words.
    pub why: &'static str,
}

impl Load {
    /// Standard name of the channel.
    pub fn channel(&self) -> &'static str {
        match self.from {
            LoadFrom::Map => "map",
            LoadFrom::Tps => "tps",
        }
    }
    /// Distance between the ends, in the channel's unit.
    pub fn span(&self) -> f64 {
        self.high - self.low
    }
}

pub(super) fn find(inputs: &Inputs<'_>, phases: &Phases) -> Option<Load> {
    let running = phases.known("running");
    let by_map = Signal::of(inputs.rec, "map").and_then(|s| by_map(&s, &running, phases));
    let by_tps = phases.throttle.map(|t| Load {
        from: LoadFrom::Tps,
        low: t.closed,
        high: t.open,
        why: "manifold pressure is not logged",
    });
    let Some(by_map) = by_map else { return by_tps };
    let Some(by_tps) = by_tps else {
        return Some(by_map);
    };
    let tps = |why| {
        Some(Load {
            why,
            ..by_tps.clone()
        })
    };
    match inputs.facts.load_from {
        Some(LoadFrom::Tps) => return tps("the sheet says so"),
        Some(LoadFrom::Map) => {
            return Some(Load {
                why: "the sheet says so",
                ..by_map
            });
        }
        None => {}
    }
    let idle = super::idle::at_rest(inputs, phases).grown(-SETTLE_S, 0.0);
    let Some(map) = Signal::of(inputs.rec, "map") else {
        return Some(by_map);
    };
    let at_idle = map.values_in(&idle);
    if median(&at_idle).is_some_and(|m| m > IDLE_MAP_MOST_KPA) {
        return tps("manifold pressure stands high at idle");
    }
    let level = map.smoothed(LEVEL_S).values_in(&idle);
    let about: Vec<f64> = at_idle.iter().zip(level).map(|(v, l)| v - l).collect();
    if mad(&about).is_some_and(|m| m > IDLE_MAP_SCATTER_KPA) {
        return tps("manifold pressure jumps at idle");
    }
    Some(by_map)
}

fn by_map(map: &Signal, running: &Spans, phases: &Phases) -> Option<Load> {
    let values = map.values_in(running);
    let (low, high) = (quantile(&values, 0.02)?, quantile(&values, 0.995)?);
    // A run that never saw full load still has the air pressure as its far end.
    let high = phases.baro_kpa.map_or(high, |b| high.max(b.0));
    (high > low).then_some(Load {
        from: LoadFrom::Map,
        low,
        high,
        why: "manifold pressure",
    })
}
