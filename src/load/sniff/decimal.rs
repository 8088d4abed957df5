//! Which decimal mark a log is written with.

use super::grid::{Class, Grid};
use crate::load::cells::{Marks, bare, number};
use crate::load::error::LoadError;
use crate::load::file::Source;
use crate::load::glued::number_and_unit;

/// Decides the decimal mark. Where the head has none, the first mark in the rest of the data decides, if it can.
///
/// # Errors
/// When the build sheet forces a mark and the head is written with the other one throughout.
pub(super) fn decide(
    source: &Source,
    grid: &Grid,
    forced: Option<u8>,
    from: usize,
    evidence: &mut Vec<String>,
) -> Result<Marks, LoadError> {
    let say = |decimal: u8, certain: bool, why: &str, evidence: &mut Vec<String>| {
        evidence.push(format!(
            "The decimal mark is `{}`: {why}.",
            char::from(decimal)
        ));
        Ok(Marks::new(decimal, certain))
    };
    let (mut point, mut comma, mut either) = (0, 0, 0);
    for votes in votes(grid) {
        point += votes.point;
        comma += votes.comma;
        either += votes.either;
    }
    if let Some(decimal) = forced {
        let (pro, contra) = if decimal == b'.' {
            (point, comma)
        } else {
            (comma, point)
        };
        // Two cells without doubt, and none that speaks for the forced mark.
        if pro == 0 && contra >= 4 {
            return Err(LoadError::BadForced {
                file: source.name.clone(),
                entry: "decimal",
                value: format!("{:?}", char::from(decimal)),
                wanted: "the numbers of this log are written with the other mark, so leave the entry out",
            });
        }
        return say(decimal, true, "the build sheet says so", evidence);
    }
    if point > 0 || comma > 0 {
        let decimal = if comma > point { b',' } else { b'.' };
        let why = if point.min(comma) > 0 {
            "more cells looked at are written so than with the other; `decimal` under `[log]` in the build sheet forces it"
        } else {
            "cells looked at are written so"
        };
        return say(decimal, point.max(comma) > 1, why, evidence);
    }
    if grid.shape.delimiter == b',' {
        return say(
            b'.',
            false,
            "no cell looked at shows one, and commas part the fields",
            evidence,
        );
    }
    if either > 0 {
        return say(
            b',',
            false,
            "cells looked at have one comma, three digits behind it; if it parts thousands, put `decimal = \".\"` under `[log]` in the build sheet",
            evidence,
        );
    }
    let rest = source.head().get(from..).unwrap_or_default();
    let digit = |at: Option<usize>| {
        at.and_then(|at| rest.get(at))
            .is_some_and(u8::is_ascii_digit)
    };
    let mark = memchr::memchr2_iter(b'.', b',', rest)
        .take(1000)
        .find(|at| digit(at.checked_sub(1)) && digit(Some(at + 1)));
    match mark {
        Some(at) if rest[at] == b',' => say(
            b',',
            false,
            "the first mark between digits is one",
            evidence,
        ),
        Some(_) => say(
            b'.',
            false,
            "the first mark between digits is one",
            evidence,
        ),
        None => say(b'.', false, "no number has a fraction", evidence),
    }
}

/// How often the numbers of a column speak for each mark: twice as much where there is no doubt.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Votes {
    point: usize,
    comma: usize,
    /// Cells with one comma and three digits behind it.
    either: usize,
}

impl Votes {
    fn add(&mut self, text: &[u8]) {
        let text = number_and_unit(text).map_or(text, |(number, _)| number);
        let last = |mark: u8| memchr::memrchr(mark, text);
        let (mark, both) = match (last(b'.'), last(b',')) {
            (None, None) => return,
            (Some(p), Some(c)) => (if p > c { b'.' } else { b',' }, true),
            (Some(_), None) => (b'.', false),
            (None, Some(_)) => (b',', false),
        };
        // Three digits behind a lone mark may be a group of thousands.
        let other = if mark == b'.' {
            Marks::COMMA
        } else {
            Marks::POINT
        };
        let unclear = !both && number(text, other).is_some();
        match (unclear, mark) {
            (true, b',') => self.either += 1,
            (true, _) => self.point += 1,
            (false, b'.') => self.point += 2,
            (false, _) => self.comma += 2,
        }
    }
}

/// The votes of each column.
fn votes(grid: &Grid) -> Vec<Votes> {
    let mut votes = vec![Votes::default(); grid.width];
    for row in grid.usual_rows() {
        let cells = row.fields.iter().zip(&row.classes);
        for (votes, (field, class)) in votes.iter_mut().zip(cells) {
            if *class == Class::Number {
                votes.add(bare(field));
            }
        }
    }
    votes
}

/// Columns that are all written with the other mark, as a clock in a log with decimal commas often is.
pub(super) fn odd_columns(
    grid: &Grid,
    usual: Marks,
    evidence: &mut Vec<String>,
) -> Vec<(usize, Marks)> {
    let mut odd = Vec::new();
    for (column, votes) in votes(grid).into_iter().enumerate() {
        let (decimal, pro, contra) = match usual.decimal {
            b'.' => (b',', votes.comma, votes.point),
            _ => (b'.', votes.point, votes.comma),
        };
        // Two cells without doubt, and none that speaks for the usual mark.
        if pro >= 4 && contra + votes.either == 0 {
            let (number, mark) = (column + 1, char::from(decimal));
            evidence.push(format!(
                "Column {number} alone is written with `{mark}` as its decimal mark."
            ));
            odd.push((column, Marks::new(decimal, true)));
        }
    }
    odd
}
