//! One test binary: each further one would link the libraries again.

#[path = "../simulator/mod.rs"]
mod simulator;

mod bad_input;
mod checks;
mod cli;
mod docs;
mod layering;
mod open_data;
mod rates;
mod samples;
mod sandbox;
mod support;
mod trade;
