//! How far long work has come: one line on stderr where a person watches, gone when the work is done.

use std::io::{self, IsTerminal, Write};
use std::path::Path;
use std::sync::{Mutex, MutexGuard};
use std::time::{Duration, Instant};

use crate::load;

/// Work that is done before this shows nothing.
const PATIENCE: Duration = Duration::from_millis(500);
/// The line is written anew this often.
const BEAT: Duration = Duration::from_millis(150);

/// The one line.
struct Line {
    words: String,
    /// Bytes of logs that had been read when these words began.
    read: u64,
    since: Instant,
    shown: bool,
}

static LINE: Mutex<Option<Line>> = Mutex::new(None);

fn line() -> MutexGuard<'static, Option<Line>> {
    // A line half changed is still a line.
    LINE.lock()
        .unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// Shown while it lives.
pub struct Progress(());

impl Progress {
    /// Begins to show, where stderr is a terminal that can take a line back.
    pub fn begin() -> Progress {
        let dumb = std::env::var_os("TERM").is_none_or(|t| t.is_empty() || t == "dumb");
        if io::stderr().is_terminal() && !dumb {
            *line() = Some(Line {
                words: String::new(),
                read: load::bytes_read(),
                since: Instant::now(),
                shown: false,
            });
            // Without a thread for it nothing is shown, and the work goes on.
            let _ = std::thread::Builder::new()
                .name("progress".into())
                .spawn(show);
        }
        Progress(())
    }

    /// Says what is being done: `doing` to the log of that number, from 0, of so many.
    pub fn now(&self, doing: &str, log: &Path, number: usize, of: usize) {
        if let Some(line) = line().as_mut() {
            let name = log.file_name().unwrap_or(log.as_os_str());
            let name: String = name
                .to_string_lossy()
                .chars()
                .filter(|c| !c.is_control())
                .collect();
            let place = if of > 1 {
                format!(" ({} of {of})", number + 1)
            } else {
                String::new()
            };
            line.words = format!("{doing} {name}{place}");
            line.read = load::bytes_read();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        let mut line = line();
        wipe(&mut line);
        *line = None;
    }
}

/// Takes the line back, so that something else can be said; it comes again.
pub fn clear() {
    wipe(&mut line());
}

fn wipe(line: &mut Option<Line>) {
    if let Some(line) = line.as_mut().filter(|l| l.shown) {
        // Where stderr is closed there is nobody to tell.
        let _ = write!(io::stderr(), "\r\x1b[K");
        line.shown = false;
    }
}

fn show() {
    loop {
        std::thread::sleep(BEAT);
        let mut line = line();
        let Some(line) = line.as_mut() else { return };
        let took = line.since.elapsed();
        if took < PATIENCE || line.words.is_empty() {
            continue;
        }
        let read = load::bytes_read().saturating_sub(line.read) / 1_000_000;
        let read = if read > 0 {
            format!(", {read} MB read")
        } else {
            String::new()
        };
        let words = format!("{}{read}, {} s", line.words, took.as_secs());
        let width = terminal_size::terminal_size().map_or(80, |(w, _)| usize::from(w.0));
        let words = fitting(&words, width.saturating_sub(1));
        let _ = write!(io::stderr(), "\r{words}\x1b[K");
        line.shown = true;
    }
}

/// As much from the start as fits so many columns: a line that wraps could not be taken back.
fn fitting(words: &str, width: usize) -> String {
    let mut out = String::new();
    for c in words.chars() {
        out.push(c);
        if textwrap::core::display_width(&out) > width {
            out.pop();
            break;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::fitting;

    #[test]
    fn a_line_never_wraps() {
        assert_eq!(fitting("reading run.csv", 7), "reading");
        assert_eq!(fitting("\u{8d70}\u{884c}.csv", 3), "\u{8d70}");
        assert_eq!(fitting("short", 79), "short");
    }
}
