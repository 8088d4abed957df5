//! Phases: what the engine was doing, as spans of time.
//!
//! Everything rests on the engine speed; throttle, manifold pressure, supply and flags refine it. Labels inside
//! `running` overlap. All lengths are in seconds and no span crosses a gap of the log.

mod baro;
mod cut;
mod idle;
mod load;
mod overrun;
mod pull;
mod running;
mod signal;
mod steady;
#[cfg(test)]
mod tests;
mod throttle;
mod turning;

use std::sync::OnceLock;

use crate::recording::Recording;
use crate::span::{Span, Spans};
pub use load::{Load, LoadFrom};
pub use throttle::Throttle;

use signal::Signal;

/// What the build sheet may say; each entry that is absent is worked out from the log where that can be done.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// Idle speed, rpm.
    pub idle_rpm: Option<f64>,
    /// Speed at which the limiter steps in, rpm.
    pub rev_limit_rpm: Option<f64>,
    /// The load axis, where the sheet fixes it.
    pub load_from: Option<LoadFrom>,
    /// What turns the engine to start it.
    pub start_by: Option<StartBy>,
    /// Height of the place, m.
    pub altitude_m: Option<f64>,
    /// Nominal supply, V.
    pub nominal_v: Option<f64>,
}

/// What turns the engine to start it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StartBy {
    /// An electric starter.
    Starter,
    /// Rollers under the driven wheels.
    Roller,
    /// Pushed or towed.
    Push,
}

/// A figure with where it comes from, in words for the report.
pub type Sourced = (f64, &'static str);

/// The names in use, in the order of a run; the last three are helpers and stay out of [`Phases::list`].
const NAMES: [&str; 14] = [
    "off",
    "key-on",
    "cranking",
    "running",
    "warm-up",
    "idle",
    "steady",
    "pull",
    "overrun",
    "cut",
    "after-stop",
    "turning",
    "rest",
    "priming",
];
const LISTED: usize = 11;

/// The phases of one run, and the figures that were worked out on the way.
#[derive(Clone, Debug, Default)]
pub struct Phases {
    spans: [Spans; NAMES.len()],
    /// Where the throttle rests and ends.
    pub throttle: Option<Throttle>,
    /// The load axis; `None` where neither MAP nor throttle was logged.
    pub load: Option<Load>,
    /// Air pressure, kPa absolute. Never assumed: `None` where nothing tells it.
    pub baro_kpa: Option<Sourced>,
    /// Idle speed, rpm.
    pub idle_rpm: Option<Sourced>,
    /// When the engine first ran by itself, s; `None` where the log begins with it running, or it never did.
    pub first_fire_s: Option<f64>,
    /// Plain sentences on what had to be guessed.
    pub notes: Vec<String>,
}

impl Phases {
    /// The spans of a phase by name; `None` for a name that is not in use.
    pub fn get(&self, name: &str) -> Option<&Spans> {
        let at = NAMES.iter().position(|n| *n == name)?;
        self.spans.get(at)
    }
    /// All names, the helpers included.
    pub fn names() -> &'static [&'static str] {
        &NAMES
    }
    /// Every span of the phases proper, in order of time; at the same time in order of [`Phases::names`].
    pub fn list(&self) -> Vec<(&'static str, Span)> {
        let mut out: Vec<(&'static str, Span)> = NAMES
            .iter()
            .zip(&self.spans)
            .take(LISTED)
            .flat_map(|(name, spans)| spans.list().iter().map(|s| (*name, *s)))
            .collect();
        out.sort_by(|a, b| a.1.from_s.total_cmp(&b.1.from_s));
        out
    }
    /// Steady spans without their first `lag_s` seconds, for quantities that trail speed and load.
    pub fn settled(&self, lag_s: f64) -> Spans {
        self.known("steady").grown(-lag_s, 0.0)
    }
    /// Cut and overrun with so many seconds after each, s: where lambda, knock and EGT say nothing about the mixture.
    pub fn blanked(&self, cut_s: f64, overrun_s: f64) -> Spans {
        let after = |name, seconds| self.known(name).grown(0.0, seconds);
        after("cut", cut_s).or(&after("overrun", overrun_s))
    }
    fn known(&self, name: &str) -> Spans {
        self.get(name).cloned().unwrap_or_default()
    }
    fn set(&mut self, name: &str, spans: Spans) {
        if let Some(at) = NAMES.iter().position(|n| *n == name) {
            self.spans[at] = spans;
        }
    }
}

/// Channels that the finders read, besides the EGT family.
const LOOKS_AT: [&str; 12] = [
    "rpm",
    "tps",
    "pedal",
    "map",
    "baro",
    "battery_v",
    "coolant_temp",
    "oil_temp",
    "starter",
    "fuel_cut",
    "ignition_cut",
    "injector_pulse",
];

/// True where the finders read a channel of that name, so that it has to be parsed.
pub fn looks_at(name: &str) -> bool {
    LOOKS_AT.contains(&name) || name.starts_with("egt_") || name == "speed"
}

/// A lope of 2 Hz and faster is no change of speed: medians over the first, s, then means over the second.
const EVEN_S: (f64, f64) = (0.1, 0.5);

/// What the finders share.
struct Inputs<'a> {
    rec: &'a Recording,
    facts: &'a Facts,
    rpm: Option<Signal>,
    covered: Spans,
    nominal_v: f64,
    /// Made when first asked for.
    even: OnceLock<Signal>,
    held: OnceLock<Spans>,
    heats: OnceLock<Spans>,
    fuel_off: OnceLock<Spans>,
}

impl Inputs<'_> {
    /// Engine speed with its lope averaged out.
    fn even_speed(&self, rpm: &Signal) -> &Signal {
        self.even
            .get_or_init(|| rpm.binned(EVEN_S.0).smoothed(EVEN_S.1))
    }
    /// Where the engine holds a speed.
    fn held_speed(&self, rpm: &Signal) -> &Spans {
        self.held
            .get_or_init(|| idle::steady_speed(self.even_speed(rpm)))
    }
    /// Where any exhaust probe rises as only a fire makes it.
    fn heats(&self) -> &Spans {
        self.heats.get_or_init(|| running::egt_rising(self))
    }
    /// Where fuel is known to be off.
    fn fuel_off(&self) -> &Spans {
        self.fuel_off.get_or_init(|| running::fuel_off(self))
    }
    /// Where an on/off channel is on; empty where it is absent.
    fn flag(&self, name: &str) -> Spans {
        Signal::of(self.rec, name).map_or_else(Spans::default, |s| s.spans(|v| v > 0.5))
    }
}

/// Finds the phases of a run.
pub fn find(rec: &Recording, facts: &Facts) -> Phases {
    let rpm = Signal::of(rec, "rpm");
    let covered = rec.covered();
    let nominal_v = facts.nominal_v.unwrap_or_else(|| turning::nominal_v(rec));
    let inputs = Inputs {
        rec,
        facts,
        rpm,
        covered,
        nominal_v,
        even: OnceLock::new(),
        held: OnceLock::new(),
        heats: OnceLock::new(),
        fuel_off: OnceLock::new(),
    };
    let mut phases = Phases::default();
    if rec.rows == 0 {
        return phases;
    }
    // Idle speed and throttle rest are needed to tell running from cranking, so they come from speed alone first.
    // What takes longest is worked out beside it.
    let ((pedal, blade), (baro, ())) = rayon::join(
        || {
            rayon::join(
                || throttle::of(&inputs, "pedal"),
                || throttle::of(&inputs, "tps"),
            )
        },
        || {
            rayon::join(
                || baro::logged(&inputs),
                || {
                    inputs.heats();
                    inputs.rpm.as_ref().map(|rpm| inputs.held_speed(rpm));
                    inputs.fuel_off();
                },
            )
        },
    );
    phases.throttle = blade.as_ref().map(throttle::Demand::travel);
    let demand = throttle::demand(pedal, blade);
    phases.idle_rpm = idle::idle_rpm(&inputs, demand.as_ref());
    turning::find(&inputs, &mut phases);
    phases.baro_kpa = baro.or_else(|| baro::told(&inputs, &phases));
    idle::find(&inputs, demand.as_ref(), &mut phases);
    phases.load = load::find(&inputs, &phases);
    // These rest on what was found so far and not on each other; so do the two after them.
    let (warm_up, (cut, overrun)) = rayon::join(
        || running::warm_up(&inputs, &phases),
        || {
            rayon::join(
                || cut::find(&inputs, demand.as_ref(), &phases),
                || overrun::find(&inputs, demand.as_ref(), &phases),
            )
        },
    );
    phases.set("warm-up", warm_up);
    phases.set("cut", cut);
    phases.set("overrun", overrun);
    let (steady, pull) = rayon::join(
        || steady::find(&inputs, &phases),
        || pull::find(&inputs, &phases),
    );
    phases.set("steady", steady);
    phases.set("pull", pull);
    phases
}
