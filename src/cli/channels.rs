//! `plugread channels`: what was understood of a file, column by column.

use std::fmt::Write as _;

use super::args::ChannelsArgs;
use super::{End, Refusal, out, read_sheet};
use crate::load::Log;
use crate::pipeline;
use crate::recording::{Channel, Pace, Recording, Understood, UnitFrom, dictionary};
use crate::sheet::SheetError;

/// Width of the sentences.
const WIDTH: usize = 88;
/// Headings and names up to this long stand in the table's columns; longer ones push the rest of their line.
const NAME_WIDE: usize = 18;
const COLUMN_WIDE: usize = 34;

/// A channel with a number in fewer rows than this share has rows of its own.
const FULL: f64 = 0.8;

pub fn run(args: &ChannelsArgs) -> Result<End, Refusal> {
    let sheet = read_sheet(args.sheet.as_deref())?;
    let wrong = crate::recording::wrong_units(&sheet);
    if let Some(wrong) = wrong.into_iter().reduce(SheetError::and) {
        return Err(wrong.into());
    }
    let log = pipeline::open(&args.log, &sheet)?;
    let rec = Recording::read(log.as_ref(), &sheet, |_| true)?;
    let mut text = String::new();
    head(&mut text, &rec, log.as_ref());
    table(&mut text, &rec);
    rest(&mut text, &rec);
    out::write(None, text.as_bytes())?;
    Ok(End::Quiet)
}

/// The file as a whole.
fn head(text: &mut String, rec: &Recording, log: &dyn Log) {
    let _ = writeln!(
        text,
        "{}: {} rows in use, {} s, {} rows a second",
        rec.path,
        rec.rows,
        figure(rec.duration_s()),
        figure(rec.sample_hz())
    );
    let clock = log.clock_column();
    let columns = log.headings().len();
    let counted = [
        (usize::from(clock.is_some()), "the clock"),
        (rec.understood.len(), "with a standard name"),
        (rec.unmapped.len(), "without one"),
    ];
    let parts: Vec<String> = (counted.iter())
        .filter(|part| part.0 > 0)
        .map(|(n, what)| format!("{n} {what}"))
        .collect();
    let _ = writeln!(text, "{columns} columns: {}", parts.join(", "));
    let _ = writeln!(text, "\nHow it was read");
    for line in &rec.evidence {
        let _ = writeln!(text, "{}", wrapped(line, "  - "));
    }
}

/// One line of the table, as text.
struct Line {
    name: String,
    column: String,
    cells: [String; 7],
    note: Option<String>,
}

const TITLES: [&str; 7] = ["unit", "by", "rate", "first", "last", "lowest", "highest"];

/// The columns that have a standard name.
fn table(text: &mut String, rec: &Recording) {
    let lines: Vec<Line> = rec.understood.iter().map(|u| line(rec, u)).collect();
    let wide = |of: &dyn Fn(&Line) -> usize, least: usize, most: usize| {
        lines
            .iter()
            .map(of)
            .filter(|w| *w <= most)
            .max()
            .unwrap_or(0)
            .max(least)
    };
    let name_w = wide(&|l| l.name.chars().count(), 4, NAME_WIDE);
    let column_w = wide(&|l| l.column.chars().count(), 6, COLUMN_WIDE);
    let cell_w: Vec<usize> = (0..TITLES.len())
        .map(|i| wide(&|l| l.cells[i].chars().count(), TITLES[i].len(), 40))
        .collect();
    // On a narrow terminal the range tells more than where it began and ended.
    let whole = 4 + name_w + column_w + cell_w.iter().map(|w| w + 2).sum::<usize>();
    let narrow = out::terminal_width().is_some_and(|w| w < whole);
    let _ = writeln!(text, "\nColumns that have a standard name");
    let mut row = |name: &str, column: &str, cells: &[String]| {
        let mut out = format!("  {name:name_w$}  {column:column_w$}");
        for (i, cell) in cells.iter().enumerate() {
            if narrow && ["first", "last"].contains(&TITLES[i]) {
                continue;
            }
            let w = cell_w[i];
            // Words stand left, figures right.
            let _ = if i < 3 {
                write!(out, "  {cell:w$}")
            } else {
                write!(out, "  {cell:>w$}")
            };
        }
        let _ = writeln!(text, "{}", out.trim_end());
    };
    row("name", "column", &TITLES.map(str::to_owned));
    let mut noted: Vec<(String, Vec<&str>)> = Vec::new();
    for l in &lines {
        row(&l.name, &l.column, &l.cells);
        let Some(note) = &l.note else {
            continue;
        };
        match noted.iter_mut().find(|n| n.0 == *note) {
            Some(n) => n.1.push(&l.name),
            None => noted.push((note.clone(), vec![&l.name])),
        }
    }
    for (note, names) in noted {
        let _ = writeln!(
            text,
            "{}",
            wrapped(&format!("{}: {note}", names.join(", ")), "  - ")
        );
    }
    for (cell, shown, means) in [
        (
            1,
            "inferred",
            "the heading says no unit, and the numbers leave no other reading",
        ),
        (
            1,
            "custom",
            "the heading says no unit, and the channel has but one usual one",
        ),
        (
            1,
            "nobody",
            "the heading says no unit: read in the standard one",
        ),
        (
            2,
            "held",
            "the rows between two readings repeat the last one",
        ),
        (
            2,
            "in turn",
            "read one column after the other; the rows between repeat the last reading",
        ),
        (2, "still", "never changes, so its rate does not show"),
        (2, "seldom moves", "changes too seldom to show its rate"),
    ] {
        if lines.iter().any(|l| l.cells[cell].ends_with(shown)) {
            let _ = writeln!(text, "{}", wrapped(&format!("{shown}: {means}"), "    "));
        }
    }
}

fn line(rec: &Recording, u: &Understood) -> Line {
    let channel = rec.channel(&u.name);
    let values = channel.map_or(&[][..], |c| &c.series.values[..]);
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |a, v| {
            (a.0.min(*v), a.1.max(*v))
        });
    let some = |v: Option<f64>| v.filter(|v| v.is_finite()).map_or_else(String::new, figure);
    let unit = match (u.read_in.as_str(), u.unit.as_str()) {
        ("", "") => "-".to_owned(),
        (read, own) if read == own => own.to_owned(),
        (read, "") => read.to_owned(),
        (read, own) => format!("{read} > {own}"),
    };
    let by = match u.unit_from {
        UnitFrom::Heading => "heading",
        UnitFrom::Sheet => "sheet",
        UnitFrom::Numbers => "inferred",
        UnitFrom::Nobody if customary(u) => "custom",
        UnitFrom::Nobody => "nobody",
    };
    let rate = match channel {
        None => "not read".to_owned(),
        Some(c) if c.series.is_empty() => "no readings".to_owned(),
        Some(c) => rate(rec, c),
    };
    // The table says it already.
    let note = u
        .note
        .clone()
        .filter(|n| !n.starts_with("no unit in the heading: read as") || n.contains(';'));
    Line {
        name: u.name.clone(),
        column: u.column.clone(),
        cells: [
            unit,
            if u.unit.is_empty() {
                "-".to_owned()
            } else {
                by.to_owned()
            },
            rate,
            some(values.first().copied()),
            some(values.last().copied()),
            some(Some(low)),
            some(Some(high)),
        ],
        note,
    }
}

/// True where a heading without a unit can only mean one.
fn customary(u: &Understood) -> bool {
    dictionary::entry(&u.name).is_some_and(|e| e.unit_if_absent.is_some())
}

/// How often a channel brings a reading of its own.
fn rate(rec: &Recording, channel: &Channel) -> String {
    let in_turn = rec
        .in_turn
        .as_ref()
        .is_some_and(|t| t.names.contains(&channel.name));
    let blanks = (channel.series.len() as f64) < FULL * rec.time.len() as f64;
    let how = match channel.pace() {
        _ if in_turn => " in turn",
        Pace::Repeated | Pace::Beside => " held",
        Pace::Still if !blanks => return "still".to_owned(),
        Pace::Unclear if !blanks => return "seldom moves".to_owned(),
        Pace::Own | Pace::Still | Pace::Unclear => "",
    };
    let s = channel.interval_s();
    if s >= 1.05 {
        format!("{} s{how}", figure((s * 100.0).round() / 100.0))
    } else {
        format!("{} Hz{how}", figure((10.0 / s).round() / 10.0))
    }
}

/// What has no standard name, what could not be used, what is to be asked.
fn rest(text: &mut String, rec: &Recording) {
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
    let list = unread.collect::<Vec<_>>().join(", ");
    let _ = writeln!(text, "{}", wrapped(&list, "  "));
}

/// A figure without more digits than tell something.
fn figure(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        s if s >= 1000.0 => 0,
        s if s >= 100.0 => 1,
        s if s >= 1.0 => 2,
        _ => 3,
    };
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    };
    if text == "-0" { "0".to_owned() } else { text }
}

fn wrapped(text: &str, indent: &str) -> String {
    let rest = " ".repeat(indent.chars().count());
    textwrap::fill(
        text,
        textwrap::Options::new(WIDTH)
            .initial_indent(indent)
            .subsequent_indent(&rest),
    )
}
