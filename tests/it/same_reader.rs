//! The program's reader against the plain one: the same review, byte for byte.

use std::fmt::Write as _;

use plugread::load::{self, ClockStyle, Forced};
use plugread::pipeline;
use plugread::reports::{Format, Look, render_all};
use plugread::sheet::Sheet;
use rayon::prelude::*;

use crate::dialects::{self, Letters, Pack, Stamp, Style, Units, Variant};
use crate::plain_reader::{self, Facts};
use crate::simulator::samples;
use crate::support::{catalog, demo_sheet, home, open_data};

/// Both reviews as JSON, and the first place where they part.
fn apart(name: &str, bytes: Vec<u8>, text: &str, facts: &Facts, sheet: &Sheet) -> Option<String> {
    let json = |log: &dyn load::Log| {
        let outcome =
            pipeline::review_log(log, sheet, catalog()).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(
            outcome.script_errors.is_empty(),
            "{name}: {:?}",
            outcome.script_errors
        );
        render_all(
            &[outcome.review],
            Format::Json,
            &Look {
                pretty: true,
                ..Look::default()
            },
        )
    };
    let fast = match load::from_bytes(name, bytes, &Forced::default()) {
        Ok(log) => json(&log),
        Err(error) => return Some(format!("{name}: {error}")),
    };
    let plain = json(&plain_reader::read(name, text, facts));
    let mut lines = fast.lines().zip(plain.lines()).enumerate();
    match lines.find(|(_, (a, b))| a != b) {
        Some((n, (a, b))) => Some(format!(
            "{name}: line {} of the JSON is `{}`, and plainly `{}`",
            n + 1,
            a.trim(),
            b.trim()
        )),
        None if fast != plain => Some(format!("{name}: one review is longer than the other")),
        None => None,
    }
}

fn plain_facts() -> Facts {
    Facts {
        delimiter: ',',
        decimal: '.',
        group: None,
        names_line: 1,
        units_line: None,
        data_line: 2,
        clock: Ok((0, ClockStyle::Seconds)),
        from_first: false,
        brackets: ['(', ')'],
        trailing: false,
    }
}

#[test]
fn sample_logs() {
    let faults: Vec<String> = samples::all()
        .par_iter()
        .filter_map(|(file, _)| {
            let bytes = std::fs::read(home().join("sample-logs").join(file)).expect("the sample");
            let text = String::from_utf8(bytes.clone()).expect("text");
            let facts = Facts {
                names_line: 3,
                data_line: 4,
                ..plain_facts()
            };
            apart(file, bytes, &text, &facts, demo_sheet())
        })
        .collect();
    assert!(faults.is_empty(), "{faults:#?}");
}

/// What the author of a variant knows; `None` for those that the plain reader was not made for.
fn facts(variant: &Variant, data_line: usize) -> Option<Facts> {
    let style = &variant.style;
    let clock = match style.stamp {
        Stamp::Seconds(_, 0.0) | Stamp::WholeSeconds => Ok((style.clock_at, ClockStyle::Seconds)),
        Stamp::Ticks(1000, _, 0) => Ok((style.clock_at, ClockStyle::Milliseconds)),
        Stamp::Ticks(1_000_000, _, 0) => Ok((style.clock_at, ClockStyle::Microseconds)),
        Stamp::Clock(_) | Stamp::WholeClock(_) => {
            Ok((style.clock_at, ClockStyle::HoursMinutesSeconds))
        }
        Stamp::Minutes => Ok((style.clock_at, ClockStyle::MinutesSeconds)),
        Stamp::None => Err(dialects::HZ),
        _ => return None,
    };
    if style.long || style.units == Units::Glued || style.group == Some(style.delimiter) {
        return None;
    }
    let (names_line, units_line) = match style.units {
        Units::RowAfter => (data_line - 2, Some(data_line - 1)),
        Units::RowBefore => (data_line - 1, Some(data_line - 2)),
        _ => (data_line - 1, None),
    };
    Some(Facts {
        delimiter: style.delimiter,
        decimal: style.decimal,
        group: style.group,
        names_line,
        units_line,
        data_line,
        clock,
        from_first: matches!(style.stamp, Stamp::Clock(s) | Stamp::WholeClock(s) if s > 0),
        brackets: if style.units == Units::Square {
            ['[', ']']
        } else {
            ['(', ')']
        },
        trailing: style.trailing[1],
    })
}

#[test]
fn dialect_variants() {
    let variants: Vec<Variant> = dialects::all();
    let compared: Vec<Option<String>> = variants
        .par_iter()
        .filter_map(|variant| {
            let written = dialects::write(&variant.run, &variant.style);
            let facts = facts(variant, written.data_line)?;
            let packed = dialects::pack(&written.bytes, variant.pack);
            Some(apart(
                variant.name,
                packed,
                &written.text,
                &facts,
                demo_sheet(),
            ))
        })
        .collect();
    let faults: Vec<&String> = compared.iter().flatten().collect();
    println!("{} of {} variants compared", compared.len(), variants.len());
    assert!(
        compared.len() >= 60,
        "only {} variants are compared",
        compared.len()
    );
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Fifty thousand rows with all that can go wrong in a row, so that many borders between the parts of the reading fall
/// into quoted line ends, torn rows and text.
#[test]
fn long_logs() {
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut dice = move |sides: u64| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 20) % sides
    };
    for (end, mark) in [("\n", ','), ("\r\n", ';'), ("\r", '\t')] {
        let mut text = format!(
            "Run log{end}Time (s){mark}Engine Speed (rpm){mark}Note{mark}MAP (kPa){mark}Battery (V){mark}EGT Cyl 1 (degC){mark}Coolant Temp (degC){end}"
        );
        for row in 0..50_000 {
            let stamp = format!("{:.2}", f64::from(row) * 0.02);
            let note = match dice(30) {
                0 if end != "\r" => "\"two\nlines\"".to_owned(),
                1 => format!("\"a{mark}b, \"\"c\"\"\""),
                2 => "plain".to_owned(),
                _ => String::new(),
            };
            let map = match dice(200) {
                0 => "x?".to_owned(),
                1..20 => String::new(),
                _ => format!("{}.{}", 40 + dice(60), dice(10)),
            };
            let cells = [
                stamp,
                (900 + dice(3000)).to_string(),
                note,
                map,
                format!("13.{:02}", dice(100)),
                (500 + dice(200)).to_string(),
                (60 + dice(30)).to_string(),
            ];
            let line = cells.join(&mark.to_string());
            match dice(400) {
                0 => text.push_str(&cells[..3].join(&mark.to_string())),
                1 => {
                    let _ = write!(text, "{line}{mark}9");
                }
                2 => text.push_str("lap marker"),
                3 => {}
                4 => text.push_str(&line.replacen(&cells[0], "", 1)),
                _ => text.push_str(&line),
            }
            text.push_str(end);
        }
        text.push_str("1000.5");
        let facts = Facts {
            delimiter: mark,
            names_line: 2,
            data_line: 3,
            ..plain_facts()
        };
        let fault = apart(
            "made.csv",
            text.clone().into_bytes(),
            &text,
            &facts,
            demo_sheet(),
        );
        assert_eq!(fault, None);
        let packed = dialects::pack(text.as_bytes(), Pack::Gzip);
        assert_eq!(apart("made.csv", packed, &text, &facts, demo_sheet()), None);
        let wide = dialects::encode(&text, Letters::Utf16(true, true));
        assert_eq!(apart("made.csv", wide, &text, &facts, demo_sheet()), None);
    }
}

/// carOBD dataset: real logs of a healthy car, whose clock shows whole seconds and whose files may end inside a row.
#[test]
fn real_logs() {
    let Some(folder) = open_data() else { return };
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .expect("the folder")
        .map(|e| e.expect("a file").path())
        .collect();
    files.retain(|path| path.extension().is_some_and(|e| e == "csv"));
    assert!(files.len() >= 12, "carOBD: only {} files", files.len());
    let faults: Vec<String> = files
        .par_iter()
        .filter_map(|path| {
            let bytes = std::fs::read(path).expect("the log");
            let text = String::from_utf8(bytes.clone()).expect("text");
            apart(
                &path.to_string_lossy(),
                bytes,
                &text,
                &plain_facts(),
                &Sheet::default(),
            )
        })
        .collect();
    assert!(faults.is_empty(), "{faults:#?}");
}

/// The variants are a fair sample only while the plain style is among them.
#[test]
fn the_plain_style_is_compared() {
    let plain = &dialects::all()[0];
    assert_eq!(plain.style.delimiter, Style::default().delimiter);
    assert!(facts(plain, 2).is_some());
}
