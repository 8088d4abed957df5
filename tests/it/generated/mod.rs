//! Nothing is lost: for generated files, the rows read and the rows reported are the rows there, every cell is a number, a
//! blank or reported, every column is used or told, and each problem points to its line.

mod made;

use std::collections::BTreeSet;

use plugread::load::{self, Forced, LISTED_PER_KIND, ProblemKind};
use plugread::pipeline;
use plugread::recording::Recording;
use plugread::sheet::Sheet;
use proptest::prelude::*;

use crate::support::catalog;
use made::{File, files, written};

fn check(file: &File) -> Result<(), TestCaseError> {
    let (text, mut wanted) = written(file);
    let fail = |what: String| TestCaseError::fail(format!("{what}\n{text:?}"));
    let log = load::from_bytes("made.csv", text.clone().into_bytes(), &Forced::default())
        .map_err(|e| fail(e.to_string()))?;
    let width = file.width();
    prop_assert_eq!(log.headings().len(), width, "headings of {:?}", text);
    // The notes are not asked for: they are no numbers.
    let columns: Vec<usize> = (0..=file.names.len()).collect();
    let table = log.read(&columns).map_err(|e| fail(e.to_string()))?;
    let problems = &table.problems;
    if wanted.last_may_be_cut && table.rows + 1 == wanted.lines.len() {
        prop_assert_eq!(problems.count(ProblemKind::CutRow), 1, "{:?}", text);
        wanted.without_last();
    }

    prop_assert_eq!(
        table.rows,
        wanted.lines.len(),
        "rows of {:?}: {:?}",
        text,
        problems
    );
    prop_assert_eq!(
        problems.rows_lost(),
        wanted.lost.len(),
        "rows lost of {:?}: {:?}",
        text,
        problems
    );
    for (row, line) in wanted.lines.iter().enumerate() {
        prop_assert_eq!(
            table.line_of(row),
            *line,
            "line of row {} of {:?}",
            row,
            text
        );
        prop_assert_eq!(
            table.row_of(*line),
            Some(row),
            "row of line {} of {:?}",
            line,
            text
        );
    }
    for (n, column) in table.columns.iter().enumerate() {
        prop_assert_eq!(column.filled + column.blank + column.unreadable, table.rows);
        let reported = wanted
            .cells
            .iter()
            .filter(|row| row[n] == Err(true))
            .count();
        prop_assert_eq!(
            column.unreadable,
            reported,
            "column {} of {:?}: {:?}",
            n,
            text,
            problems
        );
        for (row, cells) in wanted.cells.iter().enumerate() {
            let got = column.values[row];
            let right = cells[n].map_or(got.is_nan(), |value| got == value);
            prop_assert!(
                right,
                "row {} column {}: {} instead of {:?} in {:?}",
                row,
                n,
                got,
                cells[n],
                text
            );
        }
    }

    // Each problem points to its line, and none is missing while there is room.
    let rows: Vec<usize> = problems
        .listed
        .iter()
        .filter(|p| p.kind.loses_a_row())
        .map(|p| p.line)
        .collect();
    for line in &rows {
        prop_assert!(
            wanted.lost.contains(line),
            "line {} is told as lost: {:?}",
            line,
            text
        );
    }
    if wanted.lost.len() <= LISTED_PER_KIND {
        prop_assert_eq!(
            rows.into_iter().collect::<BTreeSet<_>>(),
            wanted.lost,
            "{:?}",
            text
        );
    }
    let cells: Vec<(usize, usize)> = problems
        .listed
        .iter()
        .filter(|p| p.kind == ProblemKind::UnreadableCell)
        .map(|p| (p.line, p.column.unwrap_or_default()))
        .collect();
    let mut first = wanted.unreadable.clone();
    first.truncate(LISTED_PER_KIND);
    prop_assert_eq!(cells, first, "{:?}", text);
    prop_assert_eq!(
        problems.count(ProblemKind::UnreadableCell),
        wanted.unreadable.len()
    );

    // Every column is used or told.
    let sheet = Sheet::default();
    let rec = Recording::read(&log, &sheet, |_| true).map_err(|e| fail(e.to_string()))?;
    prop_assert_eq!(
        rec.understood.len() + rec.unmapped.len() + 1,
        width,
        "{:?} {:?}",
        rec.understood,
        rec.unmapped
    );
    let outcome = pipeline::review_log(&log, &sheet, catalog()).map_err(|e| fail(e.to_string()))?;
    prop_assert_eq!(outcome.review.log.rows, wanted.lines.len(), "{:?}", text);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, max_shrink_iters: 4000, ..ProptestConfig::default() })]

    #[test]
    fn rows_read_and_rows_reported_are_the_rows_there(file in files()) {
        check(&file)?;
    }
}

/// Once all rows but the torn one were lost: names that end in an empty one looked like a trailing delimiter.
#[test]
fn an_empty_last_name_above_a_torn_last_row() {
    let file = File {
        names: vec![5],
        clock_at: 0,
        notes: false,
        mark: 0,
        comma: false,
        ends: 0,
        preamble: 0,
        rows: Vec::new(),
        torn: Some(1),
        last_end: false,
    };
    check(&file).unwrap_or_else(|e| panic!("{e}"));
}

#[test]
fn a_log_that_names_its_clock_alone_is_refused() {
    let text = "time (s),,\n0.1,1.1,1.2\n0.2,2.1,2.2\n0.3,3.1,3.2\n0.4,4.1,4.2\n0.5,5.1,5.2";
    let bytes = text.as_bytes().to_vec();
    let refused = load::from_bytes("made.csv", bytes, &Forced::default());
    let said = refused.err().map(|e| e.to_string()).unwrap_or_default();
    assert!(said.contains("never names its channels"), "{said}");
}
