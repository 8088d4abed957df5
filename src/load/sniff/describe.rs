//! Puts together all that the chosen grid says, and why each choice was made.

use std::collections::BTreeMap;
use std::io::Read;

use super::clock_column::{self, Head};
use super::columns::{self, Notes};
use super::forced::{Wanted, refusal};
use super::grid::{Class, Grid, Row};
use super::header::{self, HeaderRows};
use super::headings::{HeaderCells, headings};
use super::long_shape::{self, LongShape};
use super::look::{Look, Piece};
use super::{DELIMITERS, Layout, Sniffed, decimal, rate, started};
use crate::load::dialect::{Dialect, Forced, Heading};
use crate::load::encoding::words;
use crate::load::error::LoadError;
use crate::load::fields::Shape;
use crate::load::file::Source;
use crate::load::problems::{ProblemKind, Problems};
use crate::load::torn::LastCells;

/// So many rows must agree before they outvote the names row on the number of fields.
const ROWS_THAT_OUTVOTE: usize = 3;
/// So many rows that lack cells at their end, and one in so many, are a habit of the logger.
const SHORT_ROWS: usize = 5;
const SHORT_SHARE: usize = 10;
/// Letters of a line that is quoted in a sentence.
const SHOWN: usize = 60;
/// Lines of the preamble that are kept.
const PREAMBLE_LINES: usize = 1000;

/// A second delimiter that explains the head nearly as well: the character, usual rows, and their fields.
type Rival = Option<(u8, usize, usize)>;

/// What is known before the rows are looked at.
pub(super) struct About<'a> {
    source: &'a Source,
    forced: &'a Forced,
    wanted: Wanted,
    terminator: u8,
    /// The first of the lines before the piece at hand, and how many there are.
    passed: &'a [(usize, Vec<u8>)],
    passed_lines: usize,
    /// The delimiter that a `sep=;` in the first line gives.
    said: Option<u8>,
}

impl<'a> About<'a> {
    pub fn new<R: Read>(
        source: &'a Source,
        forced: &'a Forced,
        wanted: Wanted,
        look: &'a Look<R>,
    ) -> Self {
        let (passed, passed_lines) = look.passed();
        let first = passed.first().map(|line| line.1.as_slice());
        let first = first.unwrap_or(&look.piece().bytes);
        Self {
            source,
            forced,
            wanted,
            terminator: look.terminator(),
            passed,
            passed_lines,
            said: said_delimiter(first),
        }
    }

    /// The ways to read a piece, likeliest first: under the delimiter that explains it best; then, if the piece does not
    /// end in the data so found, under any that its last rows speak for.
    pub fn readings<'p>(&self, piece: &'p Piece) -> Vec<(Grid<'p>, Rival)> {
        let only = self.wanted.delimiter.or(self.said);
        let delimiters: &[u8] = only.as_ref().map_or(&DELIMITERS, std::slice::from_ref);
        let names_line = self.wanted.lines.names.unwrap_or(0);
        let mut grids: Vec<Grid> = delimiters
            .iter()
            .map(|delimiter| {
                let shape = Shape {
                    delimiter: *delimiter,
                    terminator: self.terminator,
                };
                Grid::new(&piece.bytes, shape, piece.first_line, names_line)
            })
            .collect();
        let (readings, first) = as_readings(&grids);
        // The first of equals stays the first.
        grids.sort_by(|a, b| (b.score.total_cmp(&a.score)).then(b.width.cmp(&a.width)));
        let best = grids.first().map_or(0.0, |grid| grid.score);
        let rival = grids
            .iter()
            .skip(1)
            .find(|other| other.width >= 2 && other.score * 2.0 >= best)
            .map(|other| (other.shape.delimiter, other.data_rows.1, other.width));
        let done = grids.first().is_none_or(Grid::ends_in_data);
        let mut made = Vec::new();
        for (at, grid) in grids.into_iter().enumerate() {
            if !done {
                let mut last = grid.clone();
                if last.try_last_width() || (at > 0 && last.width >= 2 && last.ends_in_data()) {
                    made.push((last, None));
                }
            }
            if at == 0 {
                made.insert(0, (grid, rival));
            }
        }
        let readings = readings.into_iter().map(|grid| (grid, None));
        match first {
            true => made.splice(0..0, readings.take(1)).for_each(drop),
            // Where commas mark fractions, they part such rows into more or less the right number of fields, too.
            false => made.extend(readings),
        }
        made
    }

    /// Says all that the grid of a piece says. `start`: where the piece starts in the text.
    pub fn describe(
        &self,
        grid: &mut Grid,
        rival: Rival,
        start: usize,
    ) -> Result<Sniffed, LoadError> {
        let (source, wanted) = (self.source, self.wanted);
        let found = header::find(grid, source.encoding, wanted.lines).map_err(|unusable| {
            let value = unusable.line.to_string();
            refusal(&source.name, unusable.entry, value, unusable.wanted)
        })?;
        let Some(found) = found else {
            return Err(LoadError::NoNames {
                file: source.name.clone(),
                line: grid.usual_rows().next().map_or(1, |row| row.line),
            });
        };
        let mut remarks = Problems::default();
        unused_rows(grid, &found, &mut remarks);
        grid.begin_behind(found.last);
        let grid = &*grid;
        let rows = &grid.rows;
        let texts = |at: Option<usize>| {
            at.map_or_else(Vec::new, |at| header::cells(&rows[at], source.encoding))
        };
        let names = texts(Some(found.names));
        let (units, groups, numbers) = (
            texts(found.units),
            texts(found.groups),
            texts(found.numbers),
        );
        let names_line = rows[found.names].line;
        let written = rows[found.names].fields.len();
        let fields = count_fields(grid, names.len(), written, names_line, &mut remarks);
        if wanted.blanks && names.len() != fields.max(grid.width) {
            return Err(LoadError::NamesWithBlanks {
                file: source.name.clone(),
                line: names_line,
                named: names.len(),
                fields: grid.width,
            });
        }
        if commas_do_both(grid, &names, fields) {
            return Err(LoadError::CommasDoBoth {
                file: source.name.clone(),
                line: rows[found.first_data].line,
                named: names.len(),
                fields,
            });
        }
        let last = |row: &Row| row.classes.last() == Some(&Class::Empty);
        let trailing = grid.width == fields + 1 && grid.usual_rows().all(last);

        let mut evidence = Vec::new();
        if let Some(packing) = source.packing.name() {
            evidence.push(format!(
                "The file is packed ({packing}) and was unpacked while it was read."
            ));
        }
        evidence.push(format!("Letters are read as {}.", source.encoding.name()));
        if source.padding > 0 {
            evidence.push(format!(
                "The file ends in {} zero bytes of padding, which are left out.",
                source.padding
            ));
        }
        self.delimiter_evidence(grid, rival, &mut evidence);
        let least_fields = least_fields(grid, names.len(), fields);
        if least_fields < fields {
            evidence.push(format!(
                "Rows have {least_fields} to {fields} fields: cells that are missing at the end of a row are taken for empty ones."
            ));
        }
        let usual = decimal::decide(
            source,
            grid,
            wanted.decimal,
            start + rows[found.first_data].next,
            &mut evidence,
        )?;
        self.header_evidence(grid, &found, &mut evidence);
        let cells = HeaderCells {
            names: &names,
            units: &units,
            groups: &groups,
            numbers: &numbers,
        };
        let mut headings = headings(cells, fields.max(names.len()), &mut evidence);
        let forced = wanted.decimal.is_some();
        let odd = decimal::odd_columns(grid, usual, &headings, forced, &mut evidence);
        let looks = columns::look(
            grid,
            usual,
            &odd,
            source.encoding,
            &mut headings,
            &mut Notes {
                names_line,
                remarks: &mut remarks,
                evidence: &mut evidence,
            },
        );
        let (preamble, lines_before) = self.preamble(grid, &found);
        if lines_before > preamble.len() {
            evidence.push(format!(
                "{lines_before} lines stand before the data; the first {} of them are kept.",
                preamble.len()
            ));
        }
        let rates = rate::rates(&preamble);
        let rate = only_rate(&rates, &mut evidence);
        let started = started::started(&preamble);
        if let Some(started) = &started {
            evidence.push(format!(
                "Line {} says when the log began: {}.",
                started.line, started.text
            ));
        }
        let head = Head {
            file: &source.name,
            encoding: source.encoding,
            grid,
            headings: &headings,
            marks: &looks.marks,
        };
        let decided = clock_column::decide(&head, self.forced, rate, &mut evidence)?;
        let clock = decided.clock;
        let counted = clock.is_some_and(|clock| clock.column.is_none());
        let aside: Vec<usize> = clock.map_or_else(Vec::new, |clock| {
            let fraction = clock.fraction.map(|part| part.0);
            let all = [clock.column, clock.date_column, fraction];
            all.into_iter().flatten().collect()
        });
        let long = clock.filter(|_| !aside.is_empty());
        let long = long.and_then(|clock| long_shape::find(grid, &headings, clock, &aside));
        if let Some(long) = &long {
            long_evidence(
                long,
                &headings,
                &aside,
                names_line,
                &mut evidence,
                &mut remarks,
            );
        }
        let header_cells = std::iter::once(names).chain(found.units.map(|_| units));
        let headers = [Some(found.names), found.units];
        let headers = headers.into_iter().flatten();
        let after = rows.get(found.last + 1);
        Ok(Sniffed {
            layout: Layout {
                shape: grid.shape,
                blanks: wanted.blanks,
                last_cells: last_cells(grid, fields, usual.decimal),
                marks: looks.marks,
                encoding: source.encoding,
                fields,
                least_fields,
                whole_rows_end: trailing || source.padding > 0,
                data_start: start + rows[found.last].next,
                data_line: after.map_or(rows[found.last].line + 1, |row| row.line),
                header_texts: headers.map(|at| rows[at].text.to_vec()).collect(),
                header_cells: header_cells.collect(),
            },
            dialect: Dialect {
                delimiter: match wanted.blanks {
                    true => ' ',
                    false => char::from(grid.shape.delimiter),
                },
                decimal: char::from(usual.decimal),
                encoding: source.encoding,
                names_line,
                units_line: found.units.map(|at| rows[at].line),
                first_data_line: rows[found.first_data].line,
                fields,
                trailing_delimiter: trailing,
                preamble,
                started: started.map(|started| started.text),
                rate_line: rate
                    .filter(|_| counted && self.forced.sample_hz.is_none())
                    .map(|rate| rate.line),
                clock,
                evidence,
            },
            headings,
            remarks,
            switches: looks.switches,
            clockless: decided.clockless,
            long,
        })
    }

    fn delimiter_evidence(&self, grid: &Grid, rival: Rival, evidence: &mut Vec<String>) {
        let shown = match self.wanted.blanks {
            true => "blanks, one or several".to_owned(),
            false => delimiter_shown(grid.shape.delimiter),
        };
        let why = if self.forced.delimiter.is_some() {
            "the build sheet says so".to_owned()
        } else if self.said.is_some() {
            "the first line says so".to_owned()
        } else {
            let ((rows, usual), width) = (grid.data_rows, grid.width);
            format!("{usual} of {rows} rows of numbers looked at then have {width} fields")
        };
        evidence.push(format!("Fields are parted by {shown}: {why}."));
        if let Some((other, rows, width)) = rival {
            evidence.push(format!(
                "Parted by {} instead, {rows} rows would have {width} fields, which fits nearly as well; `delimiter` under `[log]` in the build sheet sets it.",
                delimiter_shown(other)
            ));
        }
    }

    fn header_evidence(&self, grid: &Grid, found: &HeaderRows, evidence: &mut Vec<String>) {
        let line = |at: usize| grid.rows[at].line;
        let names = line(found.names);
        evidence.push(match self.wanted.lines.names {
            Some(_) => format!("Line {names} names the channels: the build sheet says so."),
            None => format!(
                "Line {names} names the channels: the row of distinct words above the numbers."
            ),
        });
        if let Some((at, words, chosen)) = found.rival
            && self.wanted.lines.names.is_none()
        {
            evidence.push(format!(
                "Line {} could name them too, with {words} distinct words where line {names} has {chosen}; `names_line` under `[log]` in the build sheet sets it.",
                line(at)
            ));
        }
        match (found.units, self.wanted.lines.units) {
            (Some(at), Some(_)) => evidence.push(format!(
                "Line {} gives the units: the build sheet says so.",
                line(at)
            )),
            (Some(at), None) => evidence.push(format!(
                "Line {} gives the units: most of its words are units.",
                line(at)
            )),
            (None, Some(_)) => {
                evidence.push("No line gives the units: the build sheet says so.".to_owned());
            }
            (None, None) => {}
        }
        if let Some(at) = found.numbers {
            evidence.push(format!(
                "Line {} only counts the columns, so it is taken for a part of the header and not for data.",
                line(at)
            ));
        }
        let odd = (found.last + 1..found.first_data).find(|at| {
            let row = &grid.rows[*at];
            !row.is_blank() && row.filled_width() * 2 >= grid.width
        });
        if let (Some(at), None) = (odd, self.wanted.lines.units) {
            evidence.push(format!(
                "Line {} holds neither names, units nor numbers and is left out; `units_line` under `[log]` in the build sheet takes it for the units.",
                line(at)
            ));
        }
    }

    /// Lines before the data that are neither names nor units, and how many there are.
    fn preamble(&self, grid: &Grid, found: &HeaderRows) -> (Vec<(usize, String)>, usize) {
        let text = |bytes: &[u8]| words(bytes, self.source.encoding).trim().to_owned();
        let earlier = self.passed.iter().map(|(line, bytes)| (*line, text(bytes)));
        let earlier = earlier.filter(|(_, text)| !text.is_empty());
        let here = grid.rows[..=found.last].iter().enumerate();
        let here = here
            .filter(|(at, row)| *at != found.names && Some(*at) != found.units && !row.is_blank())
            .filter(|(_, row)| self.passed.last().is_none_or(|last| row.line > last.0))
            .map(|(_, row)| (row.line, text(row.text)));
        let mut lines: Vec<(usize, String)> = earlier.chain(here).collect();
        let unseen = self.passed_lines.saturating_sub(self.passed.len());
        let count = lines.len() + unseen;
        // Of a very long one the first lines are kept, and the last ones, which stand nearest to the data.
        if lines.len() > PREAMBLE_LINES {
            lines.truncate(PREAMBLE_LINES);
        }
        (lines, count)
    }
}

/// How the last cells of whole rows are written, the last row left out: it may be the very one that is cut off.
fn last_cells(grid: &Grid, fields: usize, decimal: u8) -> LastCells {
    let above = grid.usual_rows().take(grid.data_rows.1.saturating_sub(1));
    let cells = above.filter_map(|row| row.fields.get(fields.checked_sub(1)?).copied());
    LastCells::new(cells, decimal)
}

/// The grids of a log with one reading a row, the likeliest first, and whether they come before the others: where the rows
/// of numbers do not explain the head.
fn as_readings<'p>(grids: &[Grid<'p>]) -> (Vec<Grid<'p>>, bool) {
    let best = grids.iter().max_by(|a, b| a.score.total_cmp(&b.score));
    let first = best.is_some_and(|best| best.score <= 0.0 || best.leaves_out_many());
    let again = grids.iter().cloned().map(|mut grid| {
        grid.expect_readings();
        grid
    });
    let mut readings: Vec<Grid> = again.filter(|grid| grid.width >= 3).collect();
    readings.sort_by(|a, b| b.score.total_cmp(&a.score));
    (readings, first)
}

/// Says how a log with one row per reading is understood, and which columns then go unused.
fn long_evidence(
    long: &LongShape,
    headings: &[Heading],
    aside: &[usize],
    names_line: usize,
    evidence: &mut Vec<String>,
    remarks: &mut Problems,
) {
    let shown = |at: usize| {
        let name = headings.get(at).map_or("", |heading| heading.name.as_str());
        format!("column {} `{name}`", at + 1)
    };
    let unit = long
        .unit
        .map_or_else(String::new, |unit| format!(", its unit in {}", shown(unit)));
    evidence.push(format!(
        "Each row holds one reading: {} names the channel, and the value stands in {}{unit}.",
        shown(long.channel),
        shown(long.value)
    ));
    let used = |at: &usize| {
        aside.contains(at) || *at == long.channel || *at == long.value || Some(*at) == long.unit
    };
    for at in (0..headings.len()).filter(|at| !used(at)) {
        remarks.note(ProblemKind::Heading, names_line, Some(at + 1), || {
            format!("{} stands beside the readings and is not used", shown(at))
        });
    }
}

/// The rate of the rows, where the lines before the data name only one.
fn only_rate<'r>(rates: &'r [rate::Rate], evidence: &mut Vec<String>) -> Option<&'r rate::Rate> {
    if let [first, second, ..] = rates {
        evidence.push(format!(
            "Line {} says `{}` and line {} says `{}`: two rates, so neither is taken for that of the rows.",
            first.line,
            short(&first.text),
            second.line,
            short(&second.text)
        ));
        return None;
    }
    rates.first()
}

/// A line as it is quoted in a sentence.
pub(super) fn short(text: &str) -> String {
    let text = text.trim_matches(|c: char| c.is_whitespace() || "#,;|\t".contains(c));
    let mut letters = text.chars();
    let mut shown: String = letters.by_ref().take(SHOWN).collect();
    if letters.next().is_some() {
        shown.push_str("...");
    }
    shown
}

fn delimiter_shown(delimiter: u8) -> String {
    match delimiter {
        b'\t' => "a tab".to_owned(),
        b' ' => "a blank".to_owned(),
        other => format!("`{}`", char::from(other)),
    }
}

/// The delimiter that spreadsheets are told in a first line such as `sep=;`.
fn said_delimiter(text: &[u8]) -> Option<u8> {
    let line = text.split(|c| matches!(c, b'\n' | b'\r')).next()?;
    let line = line.trim_ascii_start();
    let line = line.strip_prefix(b"\"").unwrap_or(line);
    let (word, rest) = line.split_at_checked(4)?;
    match rest {
        _ if !word.eq_ignore_ascii_case(b"sep=") => None,
        [b'\t', ..] => Some(b'\t'),
        [c @ (b',' | b';' | b'|'), ..] => Some(*c),
        _ => None,
    }
}

/// How many fields a whole row has: as many as names, unless the rows agree on another number. `written`: fields of the
/// names row, those without a name at its end counted.
fn count_fields(
    grid: &Grid,
    headed: usize,
    written: usize,
    line: usize,
    remarks: &mut Problems,
) -> usize {
    let width = grid.width;
    let beyond = |row: &Row| row.filled_width() > headed;
    let unnamed = width > headed && grid.usual_rows().any(beyond);
    if headed == width || (width > headed && !unnamed) || grid.data_rows.1 < ROWS_THAT_OUTVOTE {
        return headed;
    }
    if unnamed && width <= written {
        return width;
    }
    // Rows of the named width among the others: then those are whole and the usual ones are torn.
    if grid
        .rows
        .iter()
        .any(|row| grid.is_data_like(row) && row.fields.len() == headed)
    {
        return headed;
    }
    remarks.note(ProblemKind::Heading, line, None, || {
        format!("{headed} channels are named where the rows have {width} fields")
    });
    width
}

/// The fewest fields of a whole row. A row that lacks some is torn, unless that is a habit.
fn least_fields(grid: &Grid, named: usize, fields: usize) -> usize {
    let mut widths: BTreeMap<usize, usize> = BTreeMap::new();
    let behind = grid
        .rows
        .iter()
        .filter(|row| grid.is_behind_header(row.line));
    for row in behind.filter(|row| grid.is_data_like(row)) {
        *widths.entry(row.fields.len()).or_default() += 1;
    }
    let all: usize = widths.values().sum();
    // Names and rows must agree on what a whole row is.
    if fields != named || !widths.contains_key(&fields) {
        return fields;
    }
    let is_habit = |rows: usize| rows >= SHORT_ROWS && rows * SHORT_SHARE >= all;
    let short = widths
        .into_iter()
        .filter(|(width, _)| (2..fields).contains(width));
    let mut habits = short.filter(|(_, rows)| is_habit(*rows));
    habits.next().map_or(fields, |(width, _)| width)
}

/// Whether numbers are cut in two because the comma parts the fields and marks the fractions as well: all of them, or those
/// of some columns, each with as many decimals in every row.
fn commas_do_both(grid: &Grid, names: &[String], fields: usize) -> bool {
    if grid.shape.delimiter != b',' || fields <= names.len() || fields > names.len() * 2 {
        return false;
    }
    let column = |at: usize| {
        let cells = grid.usual_rows().filter_map(move |row| row.fields.get(at));
        cells.map(|text| text.trim_ascii())
    };
    let digits = |text: &[u8]| !text.is_empty() && text.iter().all(u8::is_ascii_digit);
    // No whole number is written with a zero in front: `05` is a fraction.
    let leads_with_zero = |text: &[u8]| text.len() >= 2 && text[0] == b'0';
    if fields == names.len() * 2 {
        let fractions = || (1..fields).step_by(2).flat_map(column);
        return fractions().all(digits) && fractions().any(leads_with_zero);
    }
    // Nor are numbers that count or name something now written with one and now without.
    let is_fraction = |at: usize| {
        let wide = column(at).next().map_or(0, <[u8]>::len);
        let all = column(at).all(|text| digits(text) && text.len() == wide);
        all && column(at).any(leads_with_zero) && !column(at).all(leads_with_zero)
    };
    let has_point = || {
        (0..fields)
            .flat_map(column)
            .any(|text| text.contains(&b'.'))
    };
    (1..fields).any(is_fraction) && !has_point()
}

/// Rows of numbers above the names belong to nothing that is read: that is said, with their lines.
fn unused_rows(grid: &Grid, found: &HeaderRows, remarks: &mut Problems) {
    let above: Vec<usize> = grid.rows[..found.names]
        .iter()
        .filter(|row| grid.is_usual(row))
        .map(|row| row.line)
        .collect();
    if let (Some(first), Some(last)) = (above.first(), above.last())
        && above.len() >= ROWS_THAT_OUTVOTE
    {
        let names = grid.rows[found.names].line;
        remarks.note(ProblemKind::Heading, *first, None, || {
            format!(
                "{} rows of numbers up to line {last} stand above the names in line {names} and are not used; `names_line` under `[log]` in the build sheet sets another line",
                above.len()
            )
        });
    }
}
