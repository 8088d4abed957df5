//! How many rows a second there are, as a line before the data says.

use crate::load::words::words_of;

/// A rate that a line names.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Rate {
    /// Rows a second.
    pub hz: f64,
    /// The line, counted from 1, and its text.
    pub line: usize,
    pub text: String,
}

/// Words that say that a rate is the one at which rows are written.
const ROWS: [&str; 22] = [
    "sample",
    "samples",
    "sampling",
    "sampled",
    "samplerate",
    "log",
    "logs",
    "logged",
    "logging",
    "logger",
    "record",
    "recorded",
    "recording",
    "rows",
    "row",
    "data",
    "acquisition",
    "scan",
    "abtastrate",
    "abtastfrequenz",
    "amostragem",
    "muestreo",
];
/// Words for how often something happens.
const OFTEN: [&str; 10] = [
    "rate",
    "frequency",
    "freq",
    "samplerate",
    "abtastrate",
    "abtastfrequenz",
    "taxa",
    "frecuencia",
    "hz",
    "khz",
];
/// Words for the time between two rows.
const BETWEEN: [&str; 7] = [
    "interval",
    "period",
    "step",
    "delta",
    "dt",
    "spacing",
    "intervall",
];
/// Words that may stand beside those. Any other (`EGT rate`, `filter frequency`) makes it the rate of something else.
const BESIDE: [&str; 20] = [
    "the", "at", "of", "in", "is", "was", "with", "a", "to", "file", "main", "base", "default",
    "s", "ms", "us", "sec", "seconds", "de", "time",
];

pub(super) fn has(words: &[String], list: &[&str]) -> bool {
    words.iter().any(|word| list.contains(&word.as_str()))
}

/// The rates that the lines name, each of them once.
pub(super) fn rates(lines: &[(usize, String)]) -> Vec<Rate> {
    let mut found: Vec<Rate> = Vec::new();
    for (line, text) in lines {
        let Some(hz) = rate(text).filter(|hz| (1e-3..=1e6).contains(hz)) else {
            continue;
        };
        if !found.iter().any(|other| (other.hz - hz).abs() <= 1e-9 * hz) {
            found.push(Rate {
                hz,
                line: *line,
                text: text.clone(),
            });
        }
    }
    found
}

/// The rate that one line names, in rows a second.
fn rate(text: &str) -> Option<f64> {
    let start = text.find(|c: char| c.is_ascii_digit())?;
    let (before, rest) = text.split_at(start);
    let end = rest
        .find(|c: char| !c.is_ascii_digit() && c != '.')
        .unwrap_or(rest.len());
    let mut number = rest[..end].trim_end_matches('.').to_owned();
    let mut behind = &rest[end..];
    // A decimal comma: digits right behind it, and not in groups of three.
    if let Some(tail) = behind.strip_prefix(',')
        && !number.contains('.')
    {
        let digits = tail
            .find(|c: char| !c.is_ascii_digit())
            .unwrap_or(tail.len());
        let unit_follows = tail[digits..]
            .trim_start()
            .starts_with(|c: char| c.is_alphabetic());
        if digits > 0 && (unit_follows || number == "0") {
            number = format!("{number}.{}", &tail[..digits]);
            behind = &tail[digits..];
        }
    }
    let number: f64 = number.parse().ok().filter(|n| *n > 0.0)?;
    let key = words_of(before);
    let unit = unit_behind(behind).or_else(|| unit_in_key(before));
    let known = |word: &String| {
        [&ROWS[..], &OFTEN, &BETWEEN, &BESIDE]
            .iter()
            .any(|list| list.contains(&word.as_str()))
    };
    if !key.iter().all(known) {
        return None;
    }
    let (rows, often, between) = (has(&key, &ROWS), has(&key, &OFTEN), has(&key, &BETWEEN));
    // "Sample time" is a period; "log time" is how long the log lasts.
    let sample_time = has(&key, &["time"]) && has(&key, &["sample", "sampling"]);
    match unit {
        Some(Unit::Often(factor)) if rows || often => Some(number * factor),
        Some(Unit::Often(factor)) if key.is_empty() => {
            let words = words_of(behind);
            (has(&words, &ROWS) || has(&words, &["rate"])).then_some(number * factor)
        }
        Some(Unit::Apart(seconds)) if between || sample_time => Some(1.0 / (number * seconds)),
        None if rows && often => Some(number),
        _ => None,
    }
}

/// What a number before it counts.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Unit {
    /// Times a second, times this.
    Often(f64),
    /// So many seconds from one to the next.
    Apart(f64),
}

fn unit_of(word: &str) -> Option<Unit> {
    Some(match word {
        "hz" | "hertz" | "sps" | "1/s" | "/s" | "samples/s" | "rows/s" | "samples/sec"
        | "rows/sec" => Unit::Often(1.0),
        "khz" => Unit::Often(1000.0),
        "s" | "sec" | "second" | "seconds" => Unit::Apart(1.0),
        "ms" | "msec" | "millisecond" | "milliseconds" => Unit::Apart(1e-3),
        "us" | "µs" | "μs" | "usec" | "microseconds" => Unit::Apart(1e-6),
        _ => return None,
    })
}

/// The unit right behind a number, perhaps in a field of its own.
fn unit_behind(text: &str) -> Option<Unit> {
    let text = text
        .trim_start_matches([' ', '\t', ',', ';', '|', '"', '[', '('])
        .to_lowercase();
    for (many, unit) in [
        ("samples per second", 1.0),
        ("rows per second", 1.0),
        ("per second", 1.0),
    ] {
        if text.starts_with(many) {
            return Some(Unit::Often(unit));
        }
    }
    let end = text.find(|c: char| !c.is_alphabetic() && c != '/' && c != '1');
    unit_of(&text[..end.unwrap_or(text.len())])
}

/// A unit in brackets, or behind the last blank, of the words before a number: `Sample interval (ms)`.
fn unit_in_key(text: &str) -> Option<Unit> {
    let text = text.to_lowercase();
    let text = text.trim_end_matches(|c: char| !c.is_alphanumeric());
    let start = text.rfind(|c: char| !c.is_alphanumeric() && c != '/');
    let word = start.map_or(text, |at| {
        text[at..].trim_start_matches(|c: char| !c.is_alphanumeric())
    });
    unit_of(word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_as_they_are_written() {
        for (text, hz) in [
            ("Sample Rate: 100 Hz", Some(100.0)),
            ("# Sample rate = 100Hz", Some(100.0)),
            ("SampleRate;50;;;", Some(50.0)),
            ("\"Sampling Frequency\",\"12.5\",\"Hz\",,", Some(12.5)),
            ("Logging rate (Hz),20,,", Some(20.0)),
            ("Sample interval (ms): 10", Some(100.0)),
            ("Interval: 20 ms", Some(50.0)),
            ("Sample period\t0.01\ts", Some(100.0)),
            ("Sample time: 0,5 s", Some(2.0)),
            ("# logged at 100 Hz by the box", Some(100.0)),
            ("100 samples per second", Some(100.0)),
            ("Abtastrate: 1 kHz", Some(1000.0)),
            ("Rate,100 Hz", Some(100.0)),
            ("Sample rate: 10, filter: off", Some(10.0)),
            ("Rate,100", None),
            ("Interval: 20", None),
            ("EGT rate: 10 Hz", None),
            ("CAN rate: 500 kHz", None),
            ("Filter frequency: 6500 Hz", None),
            ("Log time: 600 s", None),
            ("Idle speed: 900 rpm", None),
            ("Sample rate: 0 Hz", None),
            ("Sample rate: high", None),
        ] {
            let got = rate(text);
            let same = match (got, hz) {
                (Some(got), Some(hz)) => (got - hz).abs() < 1e-9 * hz,
                (got, hz) => got == hz,
            };
            assert!(same, "{text}: {got:?}");
        }
    }
}
