//! The command line: arguments in, exit code out. 0 nothing warned, 1 something warned, 2 could not be read or bad usage.

mod args;
mod channels;
mod checks;
mod convert;
mod interrupt;
#[cfg(feature = "notebook")]
mod kernel;
mod logs;
mod new_check;
#[cfg(feature = "notebook")]
mod notebook;
mod out;
mod plot;
mod progress;
mod review;
mod sheet;

use std::path::Path;
use std::process::ExitCode;

use clap::Parser;

use args::{Args, Verb};

/// Why a verb could not do its work; the text is for the person, on stderr.
#[derive(Debug)]
pub struct Refusal(String);

impl<E: std::error::Error> From<E> for Refusal {
    fn from(error: E) -> Refusal {
        Refusal(error.to_string())
    }
}

/// How a verb ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// Nothing warned.
    Quiet = 0,
    /// Something warned.
    Warned = 1,
    /// Something could not be read.
    Unread = 2,
}

/// Runs the command line of this process.
pub fn run() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(error) => {
            let code = if error.use_stderr() { 2 } else { 0 };
            // Help that cannot be printed helps nobody; there is no one left to tell.
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    // The kernel has a use of its own for signals.
    match &args.verb {
        #[cfg(feature = "notebook")]
        Verb::Kernel(_) => {}
        _ => interrupt::watch(),
    }
    let outcome = match args.verb {
        Verb::Review(a) => review::run(&a),
        Verb::Channels(a) => channels::run(&a),
        Verb::Sheet(a) => sheet::run(&a),
        Verb::Checks(a) => checks::run(&a),
        Verb::Convert(a) => convert::run(&a),
        Verb::Plot(a) => plot::run(&a),
        #[cfg(feature = "notebook")]
        Verb::Kernel(a) => kernel::run(a),
        #[cfg(feature = "notebook")]
        Verb::Notebook(a) => notebook::run(&a),
    };
    match outcome {
        Ok(end) => ExitCode::from(end as u8),
        Err(Refusal(text)) => {
            out::complain(&text);
            ExitCode::from(2)
        }
    }
}

/// The sheet of a path, or the empty one.
fn read_sheet(path: Option<&Path>) -> Result<crate::sheet::Sheet, Refusal> {
    Ok(path
        .map(crate::sheet::read)
        .transpose()?
        .unwrap_or_default())
}
