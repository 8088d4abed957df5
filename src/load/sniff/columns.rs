//! How each column writes its readings: its decimal mark, words for on and off, a unit behind every number.

use std::collections::BTreeMap;

use super::grid::Grid;
use crate::load::cells::{Cell, Kind, LogMarks, Marks, bare, cell};
use crate::load::dialect::{Encoding, Heading};
use crate::load::encoding::words;
use crate::load::glued::{Unit, number_and_unit};
use crate::load::problems::{ProblemKind, Problems};
use crate::load::switches::{Seen, SwitchWord};
use crate::load::words::is_unit;

/// Different words of one column that are shown.
const WORDS_SHOWN: usize = 4;

/// Where it is written down what was found.
pub(super) struct Notes<'a> {
    pub names_line: usize,
    pub remarks: &'a mut Problems,
    pub evidence: &'a mut Vec<String>,
}

/// What the head says of the cells.
pub(super) struct Looks {
    pub marks: LogMarks,
    /// Columns of words for on and off, of which the evidence says so.
    pub switches: Vec<usize>,
}

/// Looks at every column, and gives headings without a unit the one that their cells carry.
pub(super) fn look(
    grid: &Grid,
    usual: Marks,
    odd: &[(usize, Marks)],
    encoding: Encoding,
    headings: &mut [Heading],
    notes: &mut Notes,
) -> Looks {
    let mut looks = Looks {
        marks: LogMarks {
            usual,
            columns: Vec::new(),
        },
        switches: Vec::new(),
    };
    for (column, heading) in headings.iter_mut().enumerate() {
        let odd = odd.iter().find(|(odd, _)| *odd == column);
        let mut marks = odd.map_or(usual, |(_, marks)| *marks);
        let cells = || {
            let rows = grid.usual_rows();
            rows.filter_map(move |row| row.fields.get(column).map(|field| bare(field)))
        };
        let unit = glued_unit(cells()).and_then(|unit| Some((unit, Unit::new(unit)?)));
        if let Some((text, unit)) = unit {
            marks.unit = unit;
            offer_unit(heading, words(text, encoding), notes);
        }
        let (values, other) = values(cells(), marks);
        let seen = Seen::new(&values);
        if other || seen.other_number.is_some() || heading.unit.as_deref().is_some_and(measures) {
            marks.kind = Kind::Measured;
        } else if seen.is_switch() {
            looks.switches.push(column);
            notes.evidence.push(format!(
                "Column {} `{}` holds words for on and off ({}): they are read as 1 and 0 unless other numbers stand among them.",
                column + 1,
                heading.name,
                shown(&values)
            ));
        }
        looks.marks.columns.push(marks);
    }
    looks
}

/// Units of what is measured; the others say that a column holds states.
fn measures(unit: &str) -> bool {
    const STATES: [&str; 14] = [
        "on/off", "bool", "boolean", "flag", "bit", "bits", "state", "-", "--", "#", "1", "x",
        "none", "n/a",
    ];
    is_unit(unit) && !STATES.contains(&unit.to_lowercase().as_str())
}

/// The unit that stands behind most numbers of a column.
fn glued_unit<'a>(cells: impl Iterator<Item = &'a [u8]>) -> Option<&'a [u8]> {
    let (mut units, mut numbers): (BTreeMap<&[u8], usize>, usize) = (BTreeMap::new(), 0);
    for text in cells.filter(|text| text.iter().any(u8::is_ascii_digit)) {
        numbers += 1;
        if let Some((_, unit)) = number_and_unit(text) {
            *units.entry(unit).or_default() += 1;
        }
    }
    let (unit, count) = units.into_iter().max_by_key(|(_, count)| *count)?;
    (count * 2 > numbers).then_some(unit)
}

/// The unit beside each number is truer than the one above them all.
fn offer_unit(heading: &mut Heading, unit: String, notes: &mut Notes) {
    let plain = |unit: &str| -> String {
        let letters = unit
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '°' && *c != 'º');
        let plain: String = letters.flat_map(char::to_lowercase).collect();
        plain.strip_prefix("deg").unwrap_or(&plain).to_owned()
    };
    let column = heading.column + 1;
    match &heading.unit {
        None => notes.evidence.push(format!(
            "The cells of column {column} `{}` end in `{unit}`, so that is its unit.",
            heading.name
        )),
        Some(given) if plain(given) == plain(&unit) => return,
        Some(given) => notes.remarks.note(
            ProblemKind::Heading,
            notes.names_line,
            Some(column),
            || {
                format!(
                    "{} is headed `{given}` and its cells end in `{unit}`: the cells are believed",
                    heading.name
                )
            },
        ),
    }
    heading.unit = Some(unit);
}

/// Numbers and marks of words, and whether there is anything else that has digits, such as a written time.
fn values<'a>(cells: impl Iterator<Item = &'a [u8]>, marks: Marks) -> (Vec<f64>, bool) {
    let (mut values, mut other) = (Vec::new(), false);
    for text in cells {
        match cell(text, marks) {
            Cell::Number(value) => {
                values.push(value);
                // `1.00` is measured: a state is written `1`.
                other |= !value.is_nan() && text.contains(&marks.decimal);
            }
            // `1.#INF` is missing, and says nothing of the others.
            Cell::Blank => {}
            Cell::Unreadable => other |= text.iter().any(u8::is_ascii_digit),
        }
    }
    (values, other)
}

/// The words of a column, each once.
fn shown(values: &[f64]) -> String {
    let mut shown: Vec<String> = Vec::new();
    for word in values.iter().filter_map(|value| SwitchWord::of(*value)) {
        let word = format!("`{}`", word.text());
        if shown.len() < WORDS_SHOWN && !shown.contains(&word) {
            shown.push(word);
        }
    }
    shown.join(", ")
}
