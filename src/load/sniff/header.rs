//! Which rows above the data hold the channel names and the units.

use std::collections::BTreeSet;

use super::grid::{Class, Grid, Row};
use crate::load::dialect::{Encoding, Heading};
use crate::load::fields::unquote;
use crate::load::file::words;
use crate::load::words::{ClockName, clock_name, is_unit, name_and_unit, unit_text};

/// How many rows above the data are looked at.
const ROWS_ABOVE: usize = 6;

/// The rows found, as positions in the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct HeaderRows {
    pub names: usize,
    pub units: Option<usize>,
}

/// A row above the data that may hold names or units.
struct Candidate {
    at: usize,
    cells: Vec<String>,
    units: bool,
    names: usize,
}

impl Candidate {
    fn new(at: usize, row: &Row, encoding: Encoding) -> Self {
        let cells = cells(row, encoding);
        let filled = cells.iter().filter(|cell| !cell.is_empty());
        let units = filled.clone().filter(|cell| is_unit_cell(cell)).count();
        let enough = units > 0 && units * 10 >= filled.clone().count() * 6;
        // Distinct words: a row of types or of group titles repeats the same few.
        let distinct: BTreeSet<&String> = filled
            .filter(|cell| !is_unit_cell(cell))
            .filter(|cell| super::grid::class(cell.as_bytes()) == Class::Text)
            .collect();
        let clock = cells
            .iter()
            .any(|cell| clock_name(&name_and_unit(cell).0) == ClockName::Exact);
        Self {
            at,
            units: enough,
            names: distinct.len() + 2 * usize::from(clock),
            cells,
        }
    }
}

/// A unit, bare or in brackets.
fn is_unit_cell(cell: &str) -> bool {
    is_unit(cell)
        || cell.starts_with(['(', '[']) && unit_text(cell).is_none_or(|unit| is_unit(&unit))
}

/// The fields of a header row as text, a comment sign before the first one gone.
pub(super) fn cells(row: &Row, encoding: Encoding) -> Vec<String> {
    let texts = row.fields.iter().map(|field| words(field, encoding));
    let mut cells: Vec<String> = texts.map(|text| unquote(&text).into_owned()).collect();
    if let Some(first) = cells.first_mut()
        && let Some(bare) = first.strip_prefix('#')
    {
        *first = bare.trim().to_owned();
    }
    while cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
    cells
}

/// Finds names and units above the row `first_data`.
pub(super) fn find(grid: &Grid, first_data: usize, encoding: Encoding) -> Option<HeaderRows> {
    let above = grid.rows[..first_data].iter().enumerate().rev();
    let wide_enough = |row: &Row| row.filled_width() * 2 >= grid.width;
    let candidates: Vec<Candidate> = above
        .filter(|(_, row)| !row.is_blank() && wide_enough(row))
        .take(ROWS_ABOVE)
        .map(|(at, row)| Candidate::new(at, row, encoding))
        .collect();
    // Nearest to the data first; a later one must be better to win.
    let proper = candidates.iter().filter(|c| !c.units && c.names > 0);
    let best = proper.reduce(|best, c| if c.names > best.names { c } else { best });
    // Names that all read like units (`rpm`, `V`, `s`) are names when nothing else is there: the upper row of two.
    let names = match best {
        Some(best) => best,
        None => candidates.get(1).or(candidates.first())?,
    };
    let units = candidates.iter().find(|c| {
        let beside = c.at.abs_diff(names.at) <= 2;
        c.units && beside && c.at != names.at && !c.cells.is_empty()
    });
    Some(HeaderRows {
        names: names.at,
        units: units.map(|c| c.at),
    })
}

/// Makes `count` headings out of the names row and the units row.
pub(super) fn headings(names: &[String], units: &[String], count: usize) -> Vec<Heading> {
    (0..count)
        .map(|column| {
            let raw = names.get(column).cloned().unwrap_or_default();
            let (mut name, mut unit) = name_and_unit(&raw);
            if name.is_empty() {
                name = format!("column {}", column + 1);
            }
            if unit.is_none() {
                unit = units.get(column).and_then(|cell| unit_text(cell));
            }
            Heading {
                column,
                raw,
                name,
                unit,
            }
        })
        .collect()
}
