//! One test binary: each further one would link the libraries again.

#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "tests fail loudly, and say so when they skip"
)]

#[path = "../simulator/mod.rs"]
mod simulator;

#[allow(dead_code, reason = "the bench prints more of it")]
#[path = "../../benches/detection.rs"]
mod detection;

#[path = "../fuzz/fuzz_targets/any_script.rs"]
mod any_script;

mod bad_input;
mod bad_kinds;
mod checks;
mod cli;
mod convert;
mod dialects;
mod docs;
mod field_notes;
mod generated;
mod guide;
mod hostile;
mod interrupted;
mod layering;
mod moving_file;
#[cfg(feature = "notebook")]
mod notebook;
mod notebook_headless;
mod open_data;
mod outputs;
mod overlaid;
mod own_checks;
#[cfg(feature = "notebook")]
mod page;
mod plain_reader;
mod plot;
mod python;
mod rates;
mod regressions;
mod same_reader;
mod samples;
mod sandbox;
mod slips;
mod support;
mod trade;
mod unsaid_units;
mod views;
