//! Logs put together from the pieces that loggers use, so that most get past the first look.
#![no_main]

mod account;

use arbitrary::Arbitrary;
use libfuzzer_sys::fuzz_target;

#[derive(Arbitrary, Debug)]
enum Cell {
    Number(i16, u8),
    Small(i8),
    Word(u8),
    Quoted(Vec<u8>),
    Stamp(u32, u8),
    Text(String),
}

#[derive(Arbitrary, Debug)]
enum Line {
    Row(Vec<Cell>),
    Regular(u16),
    Blank,
    Header,
    Text(String),
    Torn(Vec<Cell>, u8),
}

#[derive(Arbitrary, Debug)]
struct Log {
    delimiter: u8,
    comma: bool,
    end: u8,
    encoding: u8,
    preamble: Vec<String>,
    names: Vec<u8>,
    units: Option<Vec<u8>>,
    lines: Vec<Line>,
    last_end: bool,
}

const MARKS: [&str; 4] = [",", ";", "\t", "|"];
const ENDS: [&str; 3] = ["\n", "\r\n", "\r"];
const NAMES: [&str; 16] = [
    "Time (s)", "time", "Date", "Timestamp", "RPM", "MAP [kPa]", "EGT1_C", "Lambda", "AFR", "Note", "", "Channel", "Value",
    "Unit", "Knock Cyl 1", "Throttle (%)",
];
const UNITS: [&str; 8] = ["s", "ms", "rpm", "kPa", "degC", "", "-", "%"];
const WORDS: [&str; 16] = [
    "", "NaN", "---", "n/a", "-", "inf", "1.#INF", "on", "OFF", "open", "1,234.5", "1e3", ".5", "+4", "\u{b0}", "x?",
];

fn cell(cell: &Cell, log: &Log) -> String {
    let decimal = if log.comma { "," } else { "." };
    match cell {
        Cell::Number(whole, part) => format!("{whole}{decimal}{part}"),
        Cell::Small(number) => number.to_string(),
        Cell::Word(n) => WORDS[usize::from(*n) % WORDS.len()].to_owned(),
        Cell::Quoted(bytes) => format!("\"{}\"", String::from_utf8_lossy(bytes)),
        Cell::Stamp(ms, form) => {
            let (s, ms) = (ms / 1000, ms % 1000);
            let (h, m, s) = (s / 3600 % 24, s / 60 % 60, s % 60);
            match form % 4 {
                0 => format!("{h:02}:{m:02}:{s:02}{decimal}{ms:03}"),
                1 => format!("2025-06-14T{h:02}:{m:02}:{s:02}.{ms:03}Z"),
                2 => format!("14.06.2025 {h:02}:{m:02}:{s:02}"),
                _ => format!("{m:02}:{s:02}{decimal}{ms:03}"),
            }
        }
        Cell::Text(text) => text.clone(),
    }
}

fn text(log: &Log) -> String {
    let (mark, end) = (MARKS[usize::from(log.delimiter) % 4], ENDS[usize::from(log.end) % 3]);
    let names: Vec<&str> = log.names.iter().map(|n| NAMES[usize::from(*n) % NAMES.len()]).collect();
    let mut out = String::new();
    for line in &log.preamble {
        out.push_str(line);
        out.push_str(end);
    }
    out.push_str(&names.join(mark));
    out.push_str(end);
    if let Some(units) = &log.units {
        let units: Vec<&str> = units.iter().map(|n| UNITS[usize::from(*n) % UNITS.len()]).collect();
        out.push_str(&units.join(mark));
        out.push_str(end);
    }
    let mut row = 0_u32;
    for line in &log.lines {
        let of = |cells: &[Cell]| cells.iter().map(|c| cell(c, log)).collect::<Vec<_>>().join(mark);
        match line {
            Line::Row(cells) => out.push_str(&of(cells)),
            Line::Regular(seed) => {
                let decimal = if log.comma { "," } else { "." };
                let cells = (0..names.len()).map(|n| match n {
                    0 => format!("{}{decimal}{}", row / 10, row % 10),
                    n => format!("{}{decimal}{}", usize::from(*seed) % (90 + n), n % 10),
                });
                out.push_str(&cells.collect::<Vec<_>>().join(mark));
                row += 1;
            }
            Line::Blank => {}
            Line::Header => out.push_str(&names.join(mark)),
            Line::Text(text) => out.push_str(text),
            Line::Torn(cells, keep) => {
                let whole = of(cells);
                let kept: String = whole.chars().take(usize::from(*keep)).collect();
                out.push_str(&kept);
            }
        }
        out.push_str(end);
    }
    if !log.last_end {
        out.truncate(out.trim_end_matches(['\r', '\n']).len());
    }
    out
}

fuzz_target!(|log: Log| {
    let text = text(&log);
    let bytes = match log.encoding % 4 {
        0 | 1 => text.into_bytes(),
        2 => [0xFEFF].into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect(),
        _ => text.chars().map(|c| u8::try_from(c).unwrap_or(b'?')).collect(),
    };
    account::read_all(&bytes);
});
