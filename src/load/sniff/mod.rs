//! Guesses how a log is written from its head, and keeps in plain sentences what speaks for each guess.
//!
//! Only the head is looked at; the table pass reports every row that turns out otherwise.

mod clock_column;
mod decimal;
mod grid;
mod header;

use super::cells::LogMarks;
use super::clock::{Clock, ClockStyle};
use super::dialect::{Dialect, Encoding, Forced, Heading};
use super::error::LoadError;
use super::fields::{Shape, record};
use super::file::{Source, words};
use super::problems::{ProblemKind, Problems};
use super::words::{ClockName, clock_name, name_and_unit};
use grid::{Class, Grid};

/// Head sizes tried in turn: the second is for logs with a very long preamble.
const HEADS: [usize; 2] = [1 << 16, 1 << 22];
/// Delimiters tried, the less common in text first, so that they win a tie.
const DELIMITERS: [u8; 4] = [b'\t', b';', b'|', b','];
/// So many rows must agree before they outvote the names row on the number of fields.
const ROWS_THAT_OUTVOTE: usize = 3;

/// What the table pass needs to know of a log.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    pub shape: Shape,
    pub marks: LogMarks,
    pub encoding: Encoding,
    /// Fields of a whole row, a trailing empty one not counted.
    pub fields: usize,
    /// Whether a last row of full width without a line end must be cut short all the same.
    pub whole_rows_end: bool,
    /// First byte of the data, and its line counted from 1.
    pub data_start: usize,
    pub data_line: usize,
    /// Names and units as written, to know them again further down.
    pub header_texts: Vec<Vec<u8>>,
    pub header_cells: Vec<Vec<String>>,
}

/// All that was found out.
#[derive(Debug)]
pub(crate) struct Sniffed {
    pub dialect: Dialect,
    pub headings: Vec<Heading>,
    pub layout: Layout,
    /// Where headings and rows do not fit each other.
    pub remarks: Problems,
}

/// Entries of the sheet as the bytes they stand for.
struct Wanted {
    delimiter: Option<u8>,
    decimal: Option<u8>,
}

/// Looks at the head of a log.
pub(crate) fn sniff(source: &Source, forced: &Forced) -> Result<Sniffed, LoadError> {
    let wanted = check_forced(source, forced)?;
    let text = source.head();
    for size in HEADS {
        let (head, terminator) = head(text, size);
        let delimiters: &[u8] = wanted
            .delimiter
            .as_ref()
            .map_or(&DELIMITERS, std::slice::from_ref);
        let grids = delimiters.iter().map(|delimiter| {
            let delimiter = *delimiter;
            Grid::new(
                head,
                Shape {
                    delimiter,
                    terminator,
                },
            )
        });
        let best = grids.reduce(|best, grid| {
            let better = (grid.score, grid.width) > (best.score, best.width);
            if better { grid } else { best }
        });
        let Some(grid) = best else { continue };
        let Some(first_data) = grid.first_clean_row() else {
            if head.len() < text.len() {
                continue;
            }
            return Err(without_data(source, head, terminator));
        };
        return describe(source, forced, &wanted, &grid, first_data);
    }
    Err(LoadError::AllText {
        file: source.name.clone(),
    })
}

/// Refuses entries of the sheet that cannot be meant.
fn check_forced(source: &Source, forced: &Forced) -> Result<Wanted, LoadError> {
    let refuse = |entry, value: String, wanted| {
        Err(LoadError::BadForced {
            file: source.name.clone(),
            entry,
            value,
            wanted,
        })
    };
    let mut wanted = Wanted {
        delimiter: None,
        decimal: None,
    };
    if let Some(delimiter) = forced.delimiter {
        let usable = delimiter.is_ascii()
            && !delimiter.is_ascii_alphanumeric()
            && !"\"\r\n.-+".contains(delimiter);
        match u8::try_from(delimiter) {
            Ok(byte) if usable => wanted.delimiter = Some(byte),
            _ => {
                let advice = "it is one character such as `,`, `;`, `|` or a tab";
                return refuse("delimiter", format!("{delimiter:?}"), advice);
            }
        }
    }
    if let Some(decimal) = forced.decimal {
        match decimal {
            '.' => wanted.decimal = Some(b'.'),
            ',' => wanted.decimal = Some(b','),
            _ => return refuse("decimal", format!("{decimal:?}"), "it is `.` or `,`"),
        }
    }
    match forced.sample_hz {
        Some(hz) if !(hz.is_finite() && hz > 0.0) => refuse(
            "sample_hz",
            hz.to_string(),
            "it is rows a second, over zero",
        ),
        _ => Ok(wanted),
    }
}

/// The first lines, whole ones, and what ends a line in this file.
fn head(text: &[u8], size: usize) -> (&[u8], u8) {
    let look = &text[..text.len().min(size)];
    let terminator = if look.contains(&b'\n') || !look.contains(&b'\r') {
        b'\n'
    } else {
        b'\r'
    };
    if look.len() == text.len() {
        return (look, terminator);
    }
    let end = memchr::memrchr(terminator, look).map_or(look.len(), |n| n + 1);
    (&look[..end], terminator)
}

/// No row of numbers anywhere: is it a log that never began, or no log?
fn without_data(source: &Source, head: &[u8], terminator: u8) -> LoadError {
    let file = source.name.clone();
    for delimiter in DELIMITERS {
        let grid = Grid::new(
            head,
            Shape {
                delimiter,
                terminator,
            },
        );
        let filled: Vec<_> = grid.rows.iter().filter(|row| !row.is_blank()).collect();
        for row in filled.iter().skip(filled.len().saturating_sub(2)) {
            let cells = header::cells(row, source.encoding);
            let clock = |cell: &String| clock_name(&name_and_unit(cell).0) == ClockName::Exact;
            let short = cells.iter().all(|cell| cell.len() <= 40);
            let names = cells.iter().any(clock) || filled.len() == 1;
            if cells.len() >= 2 && short && names {
                return LoadError::HeaderOnly {
                    file,
                    line: row.line,
                };
            }
        }
    }
    LoadError::AllText { file }
}

/// Puts together all that the chosen grid says.
fn describe(
    source: &Source,
    forced: &Forced,
    wanted: &Wanted,
    grid: &Grid,
    first_data: usize,
) -> Result<Sniffed, LoadError> {
    let rows = &grid.rows;
    let Some(found) = header::find(grid, first_data, source.encoding) else {
        return Err(LoadError::NoNames {
            file: source.name.clone(),
            line: rows[first_data].line,
        });
    };
    let names = header::cells(&rows[found.names], source.encoding);
    let units = found
        .units
        .map(|at| header::cells(&rows[at], source.encoding));
    let mut remarks = Problems::default();
    let names_line = rows[found.names].line;
    let fields = count_fields(grid, &names, names_line, &mut remarks);
    let last = |row: &grid::Row| row.classes.last() == Some(&Class::Empty);
    let trailing = grid.width == fields + 1 && grid.usual_rows().all(last);
    let headings = header::headings(
        &names,
        units.as_deref().unwrap_or_default(),
        fields.max(names.len()),
    );

    let mut evidence = vec![format!("Letters are read as {}.", source.encoding.name())];
    if source.padding > 0 {
        evidence.push(format!(
            "The file ends in {} zero bytes of padding, which are left out.",
            source.padding
        ));
    }
    evidence.push(delimiter_evidence(grid, wanted));
    let usual = decimal::decide(
        source,
        grid,
        wanted.decimal,
        rows[first_data].next,
        &mut evidence,
    );
    let odd = match wanted.decimal {
        Some(_) => Vec::new(),
        None => decimal::odd_columns(grid, usual, &mut evidence),
    };
    let marks = LogMarks { usual, odd };
    evidence.push(format!(
        "Line {names_line} names the channels: the row of distinct words above the numbers."
    ));
    let units_line = found.units.map(|at| rows[at].line);
    if let Some(line) = units_line {
        evidence.push(format!(
            "Line {line} gives the units: most of its words are units."
        ));
    }
    let clock = decide_clock(forced, grid, &headings, &marks, &mut evidence);

    let last_header = found
        .units
        .map_or(found.names, |units| units.max(found.names));
    let headers = [Some(found.names), found.units];
    let headers = headers.into_iter().flatten();
    let preamble = rows[..last_header].iter().enumerate();
    let preamble =
        preamble.filter(|(at, row)| !headers.clone().any(|h| h == *at) && !row.is_blank());
    let preamble =
        preamble.map(|(_, row)| (row.line, words(row.text, source.encoding).trim().to_owned()));
    let first_line = rows[last_header + 1..]
        .iter()
        .find(|row| row.is_data_like());
    Ok(Sniffed {
        layout: Layout {
            shape: grid.shape,
            marks,
            encoding: source.encoding,
            fields,
            whole_rows_end: trailing || source.padding > 0,
            data_start: rows[last_header].next,
            data_line: rows
                .get(last_header + 1)
                .map_or(names_line + 1, |row| row.line),
            header_texts: headers.clone().map(|at| rows[at].text.to_vec()).collect(),
            header_cells: std::iter::once(names.clone()).chain(units).collect(),
        },
        dialect: Dialect {
            delimiter: char::from(grid.shape.delimiter),
            decimal: char::from(usual.decimal),
            encoding: source.encoding,
            names_line,
            units_line,
            first_data_line: first_line.map_or(rows[first_data].line, |row| row.line),
            fields,
            trailing_delimiter: trailing,
            preamble: preamble.collect(),
            clock,
            evidence,
        },
        headings,
        remarks,
    })
}

/// How many fields a whole row has: as many as names, unless the rows agree on another number.
fn count_fields(grid: &Grid, names: &[String], line: usize, remarks: &mut Problems) -> usize {
    let (headed, width) = (names.len(), grid.width);
    let beyond = |row: &grid::Row| row.filled_width() > headed;
    let unnamed = width > headed && grid.usual_rows().any(beyond);
    if headed == width || (width > headed && !unnamed) || grid.data_rows.1 < ROWS_THAT_OUTVOTE {
        return headed;
    }
    // Rows of the named width among the others: then those are whole and the usual ones are torn.
    if grid
        .rows
        .iter()
        .any(|row| row.is_data_like() && row.fields.len() == headed)
    {
        return headed;
    }
    remarks.note(ProblemKind::Heading, line, None, || {
        format!("{headed} channels are named where the rows have {width} fields")
    });
    width
}

fn delimiter_evidence(grid: &Grid, wanted: &Wanted) -> String {
    let shown = match grid.shape.delimiter {
        b'\t' => "a tab".to_owned(),
        other => format!("`{}`", char::from(other)),
    };
    if wanted.delimiter.is_some() {
        return format!("Fields are parted by {shown}: the build sheet says so.");
    }
    let (rows, usual) = grid.data_rows;
    let width = grid.width;
    format!(
        "Fields are parted by {shown}: {usual} of {rows} rows of numbers looked at then have {width} fields."
    )
}

fn decide_clock(
    forced: &Forced,
    grid: &Grid,
    headings: &[Heading],
    marks: &LogMarks,
    evidence: &mut Vec<String>,
) -> Option<Clock> {
    let found = clock_column::find(grid, headings, marks);
    if let Some(hz) = forced.sample_hz {
        evidence.push(format!(
            "Times are counted off at {hz} rows a second: the build sheet says so."
        ));
    }
    if let Some(found) = found {
        evidence.extend(found.evidence);
        return Some(Clock {
            column: Some(found.column),
            style: found.style,
            from_first: found.from_first,
            forced_hz: forced.sample_hz,
        });
    }
    evidence.push("No column could be the clock, by its heading or its course.".to_owned());
    forced.sample_hz.map(|hz| Clock {
        column: None,
        style: ClockStyle::FromSampleRate,
        from_first: false,
        forced_hz: Some(hz),
    })
}

/// The end of the first `rows` records of the data, for a look at a few rows only.
pub(crate) fn end_of_rows(data: &[u8], shape: Shape, rows: usize) -> usize {
    let mut at = 0;
    for _ in 0..rows {
        if at >= data.len() {
            break;
        }
        at = record(data, at, shape, true).next;
    }
    at
}
