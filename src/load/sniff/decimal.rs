//! Which decimal mark a log is written with.

use super::grid::{Class, Grid};
use crate::load::cells::{Cell, Marks, bare, cell};
use crate::load::file::Source;

/// Decides the decimal mark. Where the head has none, the first mark in the rest of the data decides, if it can.
pub(super) fn decide(
    source: &Source,
    grid: &Grid,
    forced: Option<u8>,
    from: usize,
    evidence: &mut Vec<String>,
) -> Marks {
    let say = |decimal: u8, certain: bool, why: &str, evidence: &mut Vec<String>| {
        evidence.push(format!(
            "The decimal mark is `{}`: {why}.",
            char::from(decimal)
        ));
        Marks { decimal, certain }
    };
    if let Some(decimal) = forced {
        return say(decimal, true, "the build sheet says so", evidence);
    }
    let (point, comma, either) = votes(grid);
    if point > 0 || comma > 0 {
        let decimal = if comma > point { b',' } else { b'.' };
        let why = if point.min(comma) > 0 {
            "more cells looked at are written so than with the other"
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
            "cells looked at have one comma, three digits behind it",
            evidence,
        );
    }
    let rest = &source.text()[from.min(source.text().len())..];
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

/// Which decimal mark the numbers of the head use, and how often each was seen for certain.
fn votes(grid: &Grid) -> (usize, usize, usize) {
    let (mut point, mut comma, mut either) = (0, 0, 0);
    for row in grid.usual_rows() {
        for (field, class) in row.fields.iter().zip(&row.classes) {
            if *class != Class::Number {
                continue;
            }
            let text = bare(field);
            let last = |mark: u8| memchr::memrchr(mark, text);
            let (mark, other) = match (last(b'.'), last(b',')) {
                (None, None) => continue,
                (Some(p), Some(c)) => (if p > c { b'.' } else { b',' }, true),
                (Some(_), None) => (b'.', false),
                (None, Some(_)) => (b',', false),
            };
            // Three digits behind a lone mark may be a group of thousands.
            let grouped = Marks {
                decimal: if mark == b'.' { b',' } else { b'.' },
                certain: true,
            };
            let unclear = !other && matches!(cell(text, grouped), Cell::Number(_));
            match (unclear, mark) {
                (true, b',') => either += 1,
                (true, _) => point += 1,
                (false, b'.') => point += 2,
                (false, _) => comma += 2,
            }
        }
    }
    (point, comma, either)
}
