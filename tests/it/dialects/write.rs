//! A writer of logs in any style. It is the tests' own and knows nothing of how the program reads.

use std::fmt::Write as _;

use super::run::{Col, HZ, Run};
use super::style::{Extra, Letters, Quotes, Stamp, Style, Units};

/// A written log.
#[derive(Clone, Debug)]
pub struct Written {
    /// As letters.
    pub text: String,
    /// As bytes, before any packing.
    pub bytes: Vec<u8>,
    /// Lines that no row can be made of, counted from 1.
    pub lost: Vec<usize>,
    /// Line of the first row of data.
    pub data_line: usize,
}

/// Writes a run in a style.
pub fn write(run: &Run, style: &Style) -> Written {
    let mut out = Page {
        style,
        text: String::new(),
        line: 1,
    };
    let mut lost = Vec::new();
    for line in &style.preamble {
        out.line_of(line);
    }
    let header = header(run, style);
    for line in &header {
        out.row(line, style.trailing[0]);
    }
    let data_line = out.line;
    let mut seen = 0;
    for row in 0..run.rows {
        for (_, extra) in style.extras.iter().filter(|(at, _)| *at == row) {
            lost.extend(out.extra(extra, run, row, &header));
        }
        for cells in rows(run, style, row, &mut seen) {
            out.row(&cells, style.trailing[1]);
        }
    }
    if let Some(letters) = style.cut {
        let before = out.text.len();
        lost.push(out.line);
        let last = rows(run, style, run.rows - 1, &mut seen)
            .pop()
            .expect("a row");
        out.row(&last, style.trailing[1]);
        out.text.truncate(before + letters);
    }
    for line in &style.footer {
        lost.push(out.line);
        out.line_of(line);
    }
    let text = out.text;
    Written {
        bytes: encode(&text, style.letters),
        text,
        lost,
        data_line,
    }
}

struct Page<'a> {
    style: &'a Style,
    text: String,
    line: usize,
}

impl Page<'_> {
    fn line_of(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push_str(self.style.end);
        self.line += 1;
    }

    fn row(&mut self, cells: &[String], trailing: bool) {
        let quoted: Vec<String> = cells.iter().map(|c| self.quoted(c)).collect();
        let mut line = quoted.join(&self.style.delimiter.to_string());
        if trailing {
            line.push(self.style.delimiter);
        }
        self.line += cells.iter().map(|c| c.matches('\n').count()).sum::<usize>();
        self.line_of(&line);
    }

    fn quoted(&self, cell: &str) -> String {
        let must = cell.contains([self.style.delimiter, '"', '\n']);
        let cell = if must || self.style.quotes == Quotes::All {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_owned()
        };
        format!("{cell:>width$}", width = self.style.pad)
    }

    /// Writes an extra line, and says which lines it cost.
    fn extra(
        &mut self,
        extra: &Extra,
        run: &Run,
        row: usize,
        header: &[Vec<String>],
    ) -> Vec<usize> {
        let at = self.line;
        let cells = || rows(run, self.style, row, &mut 0).pop().expect("a row");
        match extra {
            Extra::Blank(line) | Extra::Text(line) => self.line_of(line),
            Extra::Header => {
                for line in header {
                    self.row(line, self.style.trailing[0]);
                }
            }
            Extra::Torn(kept) => {
                let cells = cells();
                self.row(&cells[..*kept], false);
            }
            Extra::Long(more) => {
                let mut cells = cells();
                cells.push((*more).to_owned());
                self.row(&cells, false);
            }
        }
        (at..self.line).collect()
    }
}

/// The names row, and the units row where there is one.
fn header(run: &Run, style: &Style) -> Vec<Vec<String>> {
    if style.long {
        return vec![
            ["Time (s)", "Channel", "Value", "Unit"]
                .map(str::to_owned)
                .to_vec(),
        ];
    }
    let mut heads: Vec<(String, String)> = run
        .cols
        .iter()
        .map(|c| (c.name.clone(), c.unit.clone()))
        .collect();
    let clock = clock_heads(style);
    heads.splice(style.clock_at..style.clock_at, clock);
    if !style.notes.is_empty() {
        heads.push(("Note".to_owned(), String::new()));
    }
    let names = heads.iter().map(|(name, unit)| match style.units {
        _ if unit.is_empty() => name.clone(),
        Units::Round => format!("{name} ({unit})"),
        Units::Square => format!("{name} [{unit}]"),
        Units::Glued => format!("{}_{unit}", name.replace(' ', "")),
        Units::RowAfter | Units::RowBefore | Units::Absent => name.clone(),
    });
    let names: Vec<String> = names.collect();
    let units: Vec<String> = heads.iter().map(|(_, unit)| unit.clone()).collect();
    match style.units {
        Units::RowAfter => vec![names, units],
        Units::RowBefore => vec![units, names],
        _ => vec![names],
    }
}

fn clock_heads(style: &Style) -> Vec<(String, String)> {
    let (name, unit) = style.clock;
    match style.stamp {
        Stamp::Seconds(..) | Stamp::WholeSeconds => vec![(name.to_owned(), unit.to_owned())],
        Stamp::Ticks(_, unit, _) => vec![(name.to_owned(), unit.to_owned())],
        Stamp::TwoColumns(_) => ["Date", "Time"]
            .map(|n| (n.to_owned(), String::new()))
            .to_vec(),
        Stamp::None => Vec::new(),
        _ => vec![(name.to_owned(), String::new())],
    }
}

/// The lines of one row of the run: one, or in the long form one for each reading.
fn rows(run: &Run, style: &Style, row: usize, seen: &mut usize) -> Vec<Vec<String>> {
    let stamp = stamp(style, row);
    if style.long {
        let read = run.cols.iter().filter_map(|col| {
            let value = written(col, col.cells[row]?, style);
            Some(vec![
                stamp[0].clone(),
                col.name.clone(),
                value,
                col.unit.clone(),
            ])
        });
        return read.collect();
    }
    let cells = run.cols.iter().map(|col| match col.cells[row] {
        Some(value) => written(col, value, style),
        None => {
            *seen += 1;
            style.missing[*seen % style.missing.len()].to_owned()
        }
    });
    let mut cells: Vec<String> = cells.collect();
    cells.splice(style.clock_at..style.clock_at, stamp);
    if !style.notes.is_empty() {
        cells.push(style.notes[row % style.notes.len()].to_owned());
    }
    vec![cells]
}

/// A value as the style writes it.
fn written(col: &Col, value: f64, style: &Style) -> String {
    if let Some(words) = col.words {
        return words[usize::from(value != 0.0)].to_owned();
    }
    let text = (style.number)(&col.printed(value));
    marks(&text, style)
}

/// Puts in the decimal mark and the marks between thousands.
fn marks(text: &str, style: &Style) -> String {
    let (whole, fraction) = text
        .split_once('.')
        .map_or((text, None), |(w, f)| (w, Some(f)));
    let mut out = String::new();
    match style.group {
        Some(mark) if whole.bytes().all(|c| c.is_ascii_digit() || c == b'-') => {
            let digits = whole.trim_start_matches('-');
            out.push_str(&whole[..whole.len() - digits.len()]);
            for (at, c) in digits.chars().enumerate() {
                if at > 0 && (digits.len() - at).is_multiple_of(3) {
                    out.push(mark);
                }
                out.push(c);
            }
        }
        _ => out.push_str(whole),
    }
    if let Some(fraction) = fraction {
        out.push(style.decimal);
        out.push_str(fraction);
    }
    out
}

/// The day on which the invented run was driven, and the one after it.
const DAYS: [&str; 2] = ["2025-06-14", "2025-06-15"];
const DAY_S: u64 = 86_400;

fn stamp(style: &Style, row: usize) -> Vec<String> {
    let ms = (row as f64 * 1000.0 / HZ).round() as u64;
    let of_day = |from: u64| {
        let ms = ms + from * 1000;
        let day = DAYS[usize::try_from(ms / (DAY_S * 1000)).expect("two days")];
        let s = ms / 1000 % DAY_S;
        let text = format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
        (day, text, ms % 1000)
    };
    let own = |text: String| {
        marks(
            &text,
            &Style {
                group: None,
                ..style.clone()
            },
        )
    };
    match style.stamp {
        Stamp::Seconds(decimals, more) => {
            vec![own(format!("{:.decimals$}", row as f64 / HZ + more))]
        }
        Stamp::WholeSeconds => vec![(ms / 1000).to_string()],
        Stamp::Ticks(per_second, _, more) => {
            vec![(ms * per_second / 1000 + more).to_string()]
        }
        Stamp::Clock(from) => {
            let (_, text, ms) = of_day(from);
            vec![own(format!("{text}.{ms:03}"))]
        }
        Stamp::WholeClock(from) => vec![of_day(from).1],
        Stamp::Minutes => {
            let mut text = String::new();
            let _ = write!(
                text,
                "{:02}:{:02}.{:02}",
                ms / 60_000,
                ms / 1000 % 60,
                ms % 1000 / 10
            );
            vec![text]
        }
        Stamp::Dated(between, behind) => {
            let (day, text, ms) = of_day(15 * 3600 + 59 * 60);
            vec![format!(
                "{day}{between}{}{behind}",
                own(format!("{text}.{ms:03}"))
            )]
        }
        Stamp::TwoColumns(from) => {
            let (day, text, ms) = of_day(from);
            vec![day.to_owned(), own(format!("{text}.{ms:03}"))]
        }
        Stamp::None => Vec::new(),
    }
}

/// Letters of Windows-1252 that Latin-1 has not.
const WINDOWS: [(char, u8); 4] = [
    ('\u{20ac}', 0x80),
    ('\u{2013}', 0x96),
    ('\u{2019}', 0x92),
    ('\u{2026}', 0x85),
];

/// Letters to bytes.
pub fn encode(text: &str, letters: Letters) -> Vec<u8> {
    match letters {
        Letters::Utf8(mark) => {
            let mark: &[u8] = if mark { b"\xEF\xBB\xBF" } else { b"" };
            [mark, text.as_bytes()].concat()
        }
        Letters::Utf16(low_first, mark) => {
            let mark = if mark { Some(0xFEFF_u16) } else { None };
            let units = mark.into_iter().chain(text.encode_utf16());
            let bytes = units.flat_map(|u| {
                if low_first {
                    u.to_le_bytes()
                } else {
                    u.to_be_bytes()
                }
            });
            bytes.collect()
        }
        Letters::Western => {
            let byte = |c: char| match u8::try_from(c) {
                Ok(byte) => byte,
                Err(_) => {
                    let found = WINDOWS.iter().find(|w| w.0 == c);
                    found.unwrap_or_else(|| panic!("{c} has no byte")).1
                }
            };
            text.chars().map(byte).collect()
        }
    }
}
