//! Writes logs of the simulated car: `simulate FOLDER` makes the demo's sample logs,
//! `simulate --kind NAME [--fault NAME] [--seed N] --out FILE` any single one.

#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a command line of its own"
)]

#[path = "mod.rs"]
mod simulator;

use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match simulator::samples::run(&arguments) {
        Ok(said) => {
            println!("{said}");
            ExitCode::SUCCESS
        }
        Err(problem) => {
            eprintln!("{problem}");
            ExitCode::from(2)
        }
    }
}
