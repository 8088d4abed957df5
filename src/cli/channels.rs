//! `plugread channels`: what was understood of a file.

use std::fmt::Write as _;

use super::args::ChannelsArgs;
use super::{End, Refusal, out, read_sheet};
use crate::recording::{Recording, dictionary};
use crate::{load, pipeline};

pub fn run(args: &ChannelsArgs) -> Result<End, Refusal> {
    let sheet = read_sheet(args.sheet.as_deref())?;
    let log = load::open(&args.log, &pipeline::forced(&sheet))?;
    let rec = Recording::read(&log, &sheet, |_| true)?;
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}: {} rows in use, {:.1} s, {:.4} rows a second",
        rec.path,
        rec.rows,
        rec.duration_s(),
        rec.sample_hz()
    );
    let _ = writeln!(text, "\nHow it was read");
    for line in &rec.evidence {
        let _ = writeln!(text, "{}", wrapped(line, "  - "));
    }
    let _ = writeln!(text, "\nColumns that have a standard name");
    let wide = |f: fn(&crate::recording::Understood) -> usize, least: usize| {
        rec.understood.iter().map(f).max().unwrap_or(0).max(least)
    };
    let (name_w, column_w) = (
        wide(|u| u.name.chars().count(), 4).min(24),
        wide(|u| u.column.chars().count(), 6).min(34),
    );
    let _ = writeln!(
        text,
        "  {:name_w$}  {:column_w$}  {:>10}  {:>9}  reads from / to",
        "name", "column", "unit", "every"
    );
    for u in &rec.understood {
        let unit = match &u.column_unit {
            Some(said) if *said != u.unit && !u.unit.is_empty() => format!("{said}>{}", u.unit),
            _ => u.unit.clone(),
        };
        let (every, range) = rec.channel(&u.name).map_or_else(Default::default, |c| {
            let (low, high) = c
                .series
                .values
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |a, v| {
                    (a.0.min(*v), a.1.max(*v))
                });
            let range = if low <= high {
                format!("{low:.4} / {high:.4}")
            } else {
                "never".to_string()
            };
            (format!("{:.3} s", c.interval_s()), range)
        });
        let _ = writeln!(
            text,
            "  {:name_w$}  {:column_w$}  {unit:>10}  {every:>9}  {range}",
            u.name, u.column
        );
        if let Some(note) = &u.note {
            let _ = writeln!(text, "{}", wrapped(note, "      "));
        }
    }
    let _ = writeln!(text, "\nColumns without one, left as they are");
    if rec.unmapped.is_empty() {
        let _ = writeln!(text, "  none");
    }
    for (header, why) in &rec.unmapped {
        let why = why.as_ref().map_or(String::new(), |w| format!(": {w}"));
        let _ = writeln!(text, "{}", wrapped(&format!("{header}{why}"), "  - "));
    }
    if !rec.problems.is_empty() {
        let _ = writeln!(text, "\nWhat could not be used");
        for (line, what) in &rec.problems {
            let place = if *line > 0 {
                format!("line {line}: ")
            } else {
                String::new()
            };
            let _ = writeln!(text, "{}", wrapped(&format!("{place}{what}"), "  - "));
        }
    }
    if !rec.questions.is_empty() {
        let _ = writeln!(text, "\nQuestions");
        for question in &rec.questions {
            let _ = writeln!(text, "{}", wrapped(question, "  - "));
        }
    }
    let unread = dictionary::entries()
        .iter()
        .filter(|e| !e.family)
        .filter(|e| rec.channel(&e.name).is_none() && e.name != "time")
        .map(|e| e.name.as_str());
    let _ = writeln!(text, "\nStandard names that this log does not have");
    let _ = writeln!(
        text,
        "{}",
        wrapped(&unread.collect::<Vec<_>>().join(", "), "  ")
    );
    out::write(None, text.as_bytes())?;
    Ok(End::Quiet)
}

fn wrapped(text: &str, indent: &str) -> String {
    let rest = " ".repeat(indent.chars().count());
    textwrap::fill(
        text,
        textwrap::Options::new(80)
            .initial_indent(indent)
            .subsequent_indent(&rest),
    )
}
