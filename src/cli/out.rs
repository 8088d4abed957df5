//! Where output goes, and how it may look there.

use std::io::{self, IsTerminal, Write};
use std::path::Path;

use super::{Refusal, progress};
use crate::reports::{Look, Shapes};
use crate::whole;

/// The look of a view on standard output: the terminal's width, colour only there and only where NO_COLOR does not
/// forbid it, and drawn shapes only where the terminal speaks UTF-8.
pub fn look(to_file: bool) -> Look {
    let terminal = io::stdout().is_terminal() && !to_file;
    let width = if terminal {
        terminal_size::terminal_size().map_or(80, |(w, _)| usize::from(w.0))
    } else {
        80
    };
    let colour = terminal
        && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
        && std::env::var_os("TERM").is_none_or(|t| t != "dumb");
    Look {
        width: width.clamp(Look::NARROWEST, 140),
        colour,
        shapes: shapes(terminal),
        pretty: true,
    }
}

/// Columns of the terminal on standard output; `None` where there is none.
pub fn terminal_width() -> Option<usize> {
    let (width, _) = terminal_size::terminal_size().filter(|_| io::stdout().is_terminal())?;
    Some(usize::from(width.0))
}

fn shapes(terminal: bool) -> Shapes {
    let says_utf8 = |name: &str| {
        std::env::var(name).is_ok_and(|v| v.to_lowercase().replace('-', "").contains("utf8"))
    };
    // The first of these that is set decides, as everywhere on POSIX.
    let set = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .find(|n| std::env::var(n).is_ok_and(|v| !v.is_empty()));
    if terminal && !set.is_some_and(says_utf8) && !cfg!(windows) {
        Shapes::Ascii
    } else {
        Shapes::Drawn
    }
}

/// Refuses, before any work is done, a place that cannot take a file, and to write over a file that was read: a log cannot
/// be had again.
pub fn spare_inputs(out: Option<&Path>, inputs: &[&Path]) -> Result<(), Refusal> {
    let Some(out) = out else { return Ok(()) };
    if let Err(why) = whole::could_be(out) {
        return Err(Refusal(format!(
            "{} could not be written: {why}",
            out.display()
        )));
    }
    let Ok(real) = out.canonicalize() else {
        return Ok(());
    };
    let same = |input: &&&Path| input.canonicalize().is_ok_and(|i| i == real);
    match inputs.iter().find(same) {
        Some(input) => Err(Refusal(format!(
            "{} is read here and would be written over; name another file with --out",
            input.display()
        ))),
        None => Ok(()),
    }
}

/// Writes a whole file, or to standard output. A closed pipe is no error: the reader had enough.
pub fn write(out: Option<&Path>, bytes: &[u8]) -> Result<(), Refusal> {
    if let Some(path) = out {
        let written = whole::write(path, bytes);
        return written
            .map_err(|e| Refusal(format!("{} could not be written: {e}", path.display())));
    }
    progress::clear();
    let written = io::stdout().lock().write_all(bytes);
    match written.and_then(|()| io::stdout().flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Err(Refusal(format!("the output could not be written: {e}")))
        }
        _ => Ok(()),
    }
}

/// A sentence on stderr.
pub fn complain(text: &str) {
    progress::clear();
    // Where stderr is closed there is nobody to tell.
    let _ = writeln!(io::stderr(), "{}", text.trim_end());
}
