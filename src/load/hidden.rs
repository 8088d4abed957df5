//! Rows that a stray quote hides: lines inside a quoted field that would be rows of the log by themselves.

use super::cells::Cell;
use super::clock::StampPlan;
use super::fields::{field, split};
use super::problems::{ProblemKind, Problems};
use super::reject::{check_shape, has_number};
use super::sniff::Layout;

/// Notes the lines of a record behind its first, if one of them would be a row: it has the fields of one and a stamp.
/// `line` is that of the record.
#[cold]
pub(crate) fn note_hidden(
    problems: &mut Problems,
    layout: &Layout,
    clock: Option<&StampPlan>,
    text: &[u8],
    line: usize,
) {
    // Of one field, any remark is a row.
    if layout.fields < 2 {
        return;
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
    let lines = || text.split(|c| *c == layout.shape.terminator).skip(1);
    if !lines().any(|text| is_row(text, true) || is_row(text, false)) {
        return;
    }
    for (below, _) in (1..).zip(lines()) {
        problems.note(ProblemKind::HiddenRow, line + below, None, || {
            let lines = if below == 1 { "line" } else { "lines" };
            format!(
                "not used: quotes that open {below} {lines} above take it in, though rows of numbers stand in them; a quote too many up there would explain it"
            )
        });
    }
}
