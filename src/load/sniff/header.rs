//! Which rows above the data hold the channel names, their units, and what else there may be: groups, numbers, types.

use std::collections::BTreeSet;

use super::grid::{Class, Grid, Row};
use crate::load::dialect::Encoding;
use crate::load::encoding::words;
use crate::load::fields::unquote;
use crate::load::words::{
    ClockName, channel_number, clock_name, is_type, is_unit, name_and_unit, unit_text,
};

/// How many rows above the data are looked at.
const ROWS_ABOVE: usize = 6;
/// Units stand within so many rows of the names.
const UNITS_BESIDE: usize = 3;
/// So many places are looked at where data might begin.
const STARTS: usize = 50;
/// Columns that must be counted through before a row of counting numbers is taken for a header.
const COUNTED: usize = 5;

/// The rows found, as positions in the grid.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct HeaderRows {
    pub names: usize,
    pub units: Option<usize>,
    /// Titles over several columns each.
    pub groups: Option<usize>,
    /// Numbers of channels.
    pub numbers: Option<usize>,
    /// The last row that belongs to the header.
    pub last: usize,
    /// The first row of data.
    pub first_data: usize,
    /// Another row that might hold the names, and its count of distinct words beside that of the names row.
    pub rival: Option<(usize, usize, usize)>,
    /// How good the names are: distinct words, and two for a clock among them.
    quality: usize,
}

/// What a header row may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Words,
    Units,
    Numbers,
    Types,
}

/// A row above the data that belongs to the header.
struct Candidate {
    at: usize,
    cells: Vec<String>,
    kind: Kind,
    quality: usize,
    distinct: usize,
}

impl Candidate {
    fn new(at: usize, row: &Row, encoding: Encoding) -> Self {
        let cells = cells(row, encoding);
        let filled: Vec<&String> = cells.iter().filter(|cell| !cell.is_empty()).collect();
        let share = |test: fn(&str) -> bool, tenths: usize| {
            let count = filled.iter().filter(|cell| test(cell)).count();
            count > 0 && count * 10 >= filled.len() * tenths
        };
        let kind = if share(|cell| channel_number(cell).is_some(), 8) {
            Kind::Numbers
        } else if share(is_type, 8) {
            Kind::Types
        } else if share(is_unit_cell, 6) {
            Kind::Units
        } else {
            Kind::Words
        };
        // Distinct words: a row of types or of group titles repeats the same few. What starts with a digit is a value
        // (`04.05.2024`, `12 degC`), as lines above the log have them.
        let distinct: BTreeSet<&&String> = filled
            .iter()
            .filter(|cell| !is_unit_cell(cell))
            .filter(|cell| !cell.starts_with(|c: char| c.is_ascii_digit()))
            .filter(|cell| super::grid::class(cell.as_bytes()) == Class::Text)
            .collect();
        let distinct = distinct.len();
        let clock = cells
            .iter()
            .any(|cell| clock_name(&name_and_unit(cell).0) == ClockName::Exact);
        Self {
            at,
            kind,
            quality: distinct + 2 * usize::from(clock),
            distinct,
            cells,
        }
    }
}

impl Candidate {
    /// Whether it holds titles over several columns each: empty cells before or between filled ones, or the same word
    /// over and over. Settings (`Driver,somebody`) fill the first cells.
    fn spreads(&self) -> bool {
        let empty = |cell: &String| cell.is_empty();
        self.cells.iter().any(empty) || self.distinct * 2 <= self.cells.len()
    }
}

/// A unit, bare or in brackets.
fn is_unit_cell(cell: &str) -> bool {
    is_unit(cell)
        || cell.starts_with(['(', '[', '{', '<'])
            && unit_text(cell).is_none_or(|unit| is_unit(&unit))
}

/// Units and nothing else, though perhaps not for all columns: those at the end may have none.
fn is_of_units(row: &Row, encoding: Encoding) -> bool {
    let cells = cells(row, encoding);
    let mut filled = cells.iter().filter(|cell| !cell.is_empty());
    filled.clone().count() >= 2 && filled.all(|cell| is_unit_cell(cell))
}

/// The fields of a header row as text, a comment sign before the first one gone.
pub(super) fn cells(row: &Row, encoding: Encoding) -> Vec<String> {
    let texts = row.fields.iter().map(|field| words(field, encoding));
    let mut cells: Vec<String> = texts.map(|text| unquote(&text).into_owned()).collect();
    if let Some(first) = cells.first_mut()
        && let Some(bare) = first.strip_prefix('#')
        && channel_number(first).is_none()
    {
        *first = bare.trim().to_owned();
    }
    while cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
    cells
}

/// What the sheet says of the header: lines counted from 1; a units line of 0 says that there is none.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ForcedLines {
    pub names: Option<usize>,
    pub units: Option<usize>,
}

/// Which entry of the sheet cannot be followed, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Unusable {
    pub entry: &'static str,
    pub line: usize,
    pub wanted: &'static str,
}

/// Finds the header of the log. `Ok(None)`: nothing above the numbers names them.
pub(super) fn find(
    grid: &Grid,
    encoding: Encoding,
    forced: ForcedLines,
) -> Result<Option<HeaderRows>, Unusable> {
    let mut clean = grid.clean_rows();
    // Numbers of the columns above another header row are no data. From the end, so that a long run of blank rows is gone over
    // once.
    let mut headed = false;
    for (row, clean) in grid.rows.iter().zip(&mut clean).rev() {
        *clean = *clean && !(headed && counts_through(row));
        if !row.is_blank() {
            headed = is_wide(grid, row) && row.has_no_number();
        }
    }
    let found = match forced.names {
        Some(line) => Some(below(grid, &clean, encoding, line)?),
        None => best(grid, &clean, encoding),
    };
    let Some(mut found) = found else {
        return Ok(None);
    };
    match forced.units {
        None => {}
        Some(0) => found.units = None,
        Some(line) => {
            let at = grid.rows.iter().position(|row| row.line == line);
            let at = at.filter(|at| !grid.rows[*at].is_blank() && *at != found.names);
            let wanted = "it is the line of the units, above the first row of numbers, or 0 where there is none";
            let unusable = Unusable {
                entry: "units_line",
                line,
                wanted,
            };
            let at = at.ok_or(unusable)?;
            let next = (at.max(found.names) + 1..grid.rows.len()).find(|at| clean[*at]);
            found.first_data = next.ok_or(unusable)?;
            if at > found.names && clean[found.names..at].contains(&true) {
                return Err(unusable);
            }
            found.units = Some(at);
        }
    }
    let header = [Some(found.names), found.units, found.numbers];
    let last = header.into_iter().flatten().max().unwrap_or(found.names);
    // Rows of types and of numbers belong to the header; any other text above the data is reported as a row of text.
    let mut types = (last + 1..found.first_data).filter(|at| {
        let row = &grid.rows[*at];
        !row.is_blank() && Candidate::new(*at, row, encoding).kind == Kind::Types
    });
    found.last = types.next_back().unwrap_or(last);
    Ok(Some(found))
}

/// The header whose names line the sheet gives.
fn below(
    grid: &Grid,
    clean: &[bool],
    encoding: Encoding,
    line: usize,
) -> Result<HeaderRows, Unusable> {
    let unusable = Unusable {
        entry: "names_line",
        line,
        wanted: "it is the line of the channel names, with rows of numbers under it",
    };
    let at = grid.rows.iter().position(|row| row.line == line);
    let at = at.filter(|at| !grid.rows[*at].is_blank()).ok_or(unusable)?;
    let first = (at + 1..grid.rows.len()).find(|at| clean[*at]);
    let first = first.ok_or(unusable)?;
    let candidates = above(grid, first, at.saturating_sub(UNITS_BESIDE), encoding);
    let names = candidates.iter().find(|c| c.at == at).ok_or(unusable)?;
    Ok(around(grid, clean, names, &candidates, first))
}

/// The best header of all places where data may begin; the first one of equals, since loggers that restart write
/// theirs again.
fn best(grid: &Grid, clean: &[bool], encoding: Encoding) -> Option<HeaderRows> {
    let mut found: Option<HeaderRows> = None;
    let mut floor = 0;
    for first in starts(grid, clean) {
        let candidates = above(grid, first, floor, encoding);
        floor = first;
        let Some(names) = names(&candidates) else {
            continue;
        };
        let made = around(grid, clean, names, &candidates, first);
        // Where a later one is clearly better, the earlier rows are a table of something else.
        let better = |old: &HeaderRows| clearly_better(made.quality, old.quality);
        if found.as_ref().is_none_or(better) {
            found = Some(made);
        }
    }
    found
}

/// A margin, so that a line of settings with a word more than the names does not take their place.
const fn clearly_better(quality: usize, than: usize) -> bool {
    quality > than + than / 2 + 1
}

/// Rows of data that come first, or first after a row that may be a header.
fn starts(grid: &Grid, clean: &[bool]) -> Vec<usize> {
    let mut out = Vec::new();
    let mut headed = true;
    for (at, row) in grid.rows.iter().enumerate() {
        if clean[at] {
            if headed && out.len() < STARTS {
                out.push(at);
            }
            headed = false;
        } else if !grid.is_data_like(row) && is_wide(grid, row) {
            headed = true;
        }
    }
    out
}

fn is_wide(grid: &Grid, row: &Row) -> bool {
    !row.is_blank() && row.filled_width() * 2 >= grid.width
}

/// Wide rows above `first`, nearest first, down to position `floor`.
fn above(grid: &Grid, first: usize, floor: usize, encoding: Encoding) -> Vec<Candidate> {
    let rows = grid.rows[floor..first].iter().enumerate().rev();
    let belongs = |row: &Row| is_wide(grid, row) || row.line == grid.names_line();
    rows.filter(|(_, row)| belongs(row) || is_of_units(row, encoding))
        .take(ROWS_ABOVE)
        .map(|(at, row)| Candidate::new(floor + at, row, encoding))
        .collect()
}

/// The names among the rows above the data. Nearest to the data first; a farther one must be clearly better to win.
fn names(candidates: &[Candidate]) -> Option<&Candidate> {
    let proper = candidates
        .iter()
        .filter(|c| c.kind == Kind::Words && c.quality > 0);
    let best = proper.reduce(|best, c| {
        if clearly_better(c.quality, best.quality) {
            c
        } else {
            best
        }
    });
    let of = |kind: Kind| candidates.iter().filter(move |c| c.kind == kind);
    // Names that all read like units (`rpm`, `V`, `s`) are names when nothing else is there: the upper row of two.
    best.or_else(|| of(Kind::Units).nth(1))
        .or_else(|| of(Kind::Units).next())
        .or_else(|| of(Kind::Numbers).next())
        .or_else(|| of(Kind::Types).next())
}

/// Finds what belongs to a row of names.
fn around(
    grid: &Grid,
    clean: &[bool],
    names: &Candidate,
    candidates: &[Candidate],
    first: usize,
) -> HeaderRows {
    let beside = |kind: Kind| {
        candidates
            .iter()
            .filter(|c| c.at != names.at && c.at.abs_diff(names.at) <= UNITS_BESIDE)
            .find(move |c| c.kind == kind)
            .map(|c| c.at)
    };
    let groups = candidates
        .iter()
        .filter(|c| c.kind == Kind::Words && c.at < names.at && c.spreads())
        .find(|c| c.at + UNITS_BESIDE >= names.at)
        .map(|c| c.at);
    let rival = candidates
        .iter()
        .filter(|c| c.kind == Kind::Words && c.at != names.at && Some(c.at) != groups)
        .find(|c| c.quality * 10 >= names.quality * 8)
        .map(|c| (c.at, c.distinct, names.distinct));
    let mut made = HeaderRows {
        names: names.at,
        units: beside(Kind::Units),
        groups,
        numbers: beside(Kind::Numbers),
        last: names.at,
        first_data: first,
        rival,
        quality: names.quality,
    };
    // A row of channel numbers right below the names looks like data.
    let next = (first + 1..grid.rows.len()).find(|at| clean[*at]);
    if let Some(next) = next
        && made.numbers.is_none()
        && counts_the_columns(&grid.rows[first], &grid.rows[next], &names.cells)
    {
        made.numbers = Some(first);
        made.first_data = next;
    }
    made
}

/// The number of a field that holds a small whole one.
fn number(row: &Row, at: usize) -> Option<u32> {
    let text = std::str::from_utf8(row.fields.get(at)?).ok()?;
    unquote(text).parse().ok().filter(|n| *n < 10_000)
}

/// Whether a row counts from 0 or 1 through all of its columns.
fn counts_through(row: &Row) -> bool {
    let first = number(row, 0).filter(|first| *first <= 1);
    let mut columns = (0_u32..).zip(0..row.filled_width());
    first.is_some_and(|first| columns.all(|(n, at)| number(row, at) == Some(first + n)))
}

/// Whether a row that could be data only counts: either all columns (`1, 2, 3, 4, 5`), or those that share a name
/// (`EGT, EGT, EGT` over `1, 2, 3`).
fn counts_the_columns(row: &Row, next: &Row, names: &[String]) -> bool {
    if row.filled_width() >= COUNTED && counts_through(row) {
        // Readings hardly change all at once from one row to the next; from such a row to the first reading they do.
        let differs = |at: usize| number(row, at).is_none() || number(row, at) != number(next, at);
        let all_differ = (1..row.filled_width()).filter(|at| differs(*at)).count();
        return !counts_through(next) && all_differ * 10 >= (row.filled_width() - 1) * 9;
    }
    let shared = |at: usize| {
        let name = names.get(at).map_or("", String::as_str);
        let twin = |other: Option<&String>| other.is_some_and(|other| other == name);
        at > 0 && (name.is_empty() || twin(names.get(at - 1)) || twin(names.get(at + 1)))
    };
    let mut counted = 0_usize;
    let mut last = 0;
    for at in 0..row.fields.len() {
        let is_empty = row.classes.get(at) == Some(&Class::Empty);
        // `EGT` over `1`, before columns that leave the name out.
        let leads = names.get(at + 1).is_none_or(String::is_empty);
        match (shared(at), number(row, at)) {
            (true, Some(n)) if n == last + 1 || n <= 1 => (last, counted) = (n, counted + 1),
            (false, Some(1)) if leads && at > 0 => (last, counted) = (1, counted + 1),
            (false, _) if is_empty => last = 0,
            _ => return false,
        }
    }
    counted >= 2
}
