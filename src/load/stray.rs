//! Stray quotes: those that take in rows of the log as if they were one remark.

use super::cells::Cell;
use super::clock::StampPlan;
use super::fields::{field, split};
use super::problems::{ProblemKind, Problems};
use super::reject::{check_shape, has_number};
use super::sniff::Layout;

/// Whether the quotes of a record over several lines are stray: its first line and half of those behind it, blank ones not
/// counted, would be rows by themselves, with the fields of one and a stamp. Where a remark stands in the last column, its
/// first line alone reads so, and where in the first, its last line.
#[cold]
pub(crate) fn takes_in_rows(layout: &Layout, clock: Option<&StampPlan>, text: &[u8]) -> bool {
    // Of one field, any remark is a row.
    if layout.fields < 2 {
        return false;
    }
    let mut cuts = Vec::new();
    let mut is_row = |text: &[u8], quotes: bool| {
        split(text, layout.shape.delimiter, quotes, &mut cuts);
        let stamped = match clock {
            Some(plan) => matches!(
                plan.read(|column| field(text, &cuts, column).unwrap_or_default()),
                Cell::Number(_)
            ),
            None => has_number(layout, text, &cuts),
        };
        stamped && check_shape(layout, text, &cuts, cuts.len(), None).is_ok()
    };
    let mut all = text.split(|c| *c == layout.shape.terminator);
    let mut is_row = |line: &[u8]| is_row(line, true) || is_row(line, false);
    if !all.next().is_some_and(&mut is_row) {
        return false;
    }
    let (mut lines, mut rows) = (0, 0);
    for line in all.filter(|line| !line.trim_ascii().is_empty()) {
        lines += 1;
        rows += usize::from(is_row(line));
    }
    rows > 0 && rows * 2 >= lines
}

/// Notes such quotes, by the line that they open on and how many they take in.
pub(crate) fn note_stray(problems: &mut Problems, line: usize, lines: usize) {
    problems.note(ProblemKind::StrayQuote, line, None, || {
        format!(
            "a quote opens here and closes {} below, with rows of numbers in between: taken for a stray one, so the rows are used",
            if lines == 2 { "one line".to_owned() } else { format!("{} lines", lines - 1) }
        )
    });
}
