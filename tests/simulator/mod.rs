//! A physical model of the demo car, which writes logs whose truth is known.
//!
//! It serves the tests and the demo and is no part of the program. The car is a
//! hill-climb special with a restored straight six on E85: crank, manifold, wall film,
//! battery, oil, heat and probes are states stepped in time, and a fault is a changed
//! part (a resistance, a flow, a lag), never a painted column. The same case gives the same log.

#![allow(
    dead_code,
    reason = "included by an example and by tests, neither of which uses all of it"
)]

pub mod air;
pub mod car;
#[cfg(test)]
mod checks;
pub mod combustion;
pub mod controller;
pub mod course;
pub mod crank;
pub mod dice;
pub mod driver;
pub mod electric;
pub mod engine;
pub mod exhaust;
pub mod faults;
pub mod heat;
pub mod log;
pub mod logger;
pub mod nuisance;
pub mod oil;
pub mod physics;
pub mod samples;
pub mod trigger;
pub mod truth;
pub mod world;

pub use engine::Engine;
pub use faults::{Fault, FaultKind, all_faults};
pub use log::Log;
pub use nuisance::Nuisance;
pub use truth::Truth;

/// What is driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The first start after the build: cold, in the yard, four to six minutes.
    FirstStart,
    /// Warm, up the hill and back.
    HillRun,
    /// Warm, idling where it stands. Without a fan even a healthy car heats up steadily.
    Standstill,
}

impl Kind {
    /// All kinds, with the names used on the command line.
    pub const ALL: [(Kind, &'static str); 3] = [
        (Kind::FirstStart, "first-start"),
        (Kind::HillRun, "hill-run"),
        (Kind::Standstill, "standstill"),
    ];
}

/// One case to simulate.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// What is driven.
    pub kind: Kind,
    /// What is broken, if anything.
    pub fault: Option<Fault>,
    /// Weather, scatter, driver, noise.
    pub seed: u64,
    /// The engine.
    pub engine: &'static Engine,
    /// What is odd about car, day or logger without anything being wrong.
    pub nuisance: Option<Nuisance>,
}

impl Case {
    /// The demo car on a day like any other.
    pub fn new(kind: Kind, fault: Option<Fault>, seed: u64) -> Self {
        Self {
            kind,
            fault,
            seed,
            engine: &engine::HILL_SPECIAL,
            nuisance: None,
        }
    }

    /// The build sheet (TOML).
    pub fn sheet(&self) -> String {
        let text = self.engine.sheet;
        self.nuisance.map_or(text.to_owned(), |n| n.sheet(text))
    }

    /// What is really wrong; `None` for a healthy car.
    pub fn truth(&self) -> Option<Truth> {
        self.fault.as_ref().map(truth::of)
    }
}

/// Runs a case and returns its log.
pub fn simulate(case: &Case) -> Log {
    logger::record(case)
}

/// The build sheet of the demo car (TOML).
pub fn build_sheet() -> &'static str {
    engine::HILL_SPECIAL.sheet
}
