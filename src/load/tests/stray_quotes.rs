//! Quotes that open nothing: one at the start of a field must not take in the rows below it without a word.

use proptest::prelude::*;

use super::{table, values};
use crate::load::{Log, ProblemKind};

/// A log in which some rows, counted from 0, have another note than `ok`.
fn noted(rows: usize, notes: &[(usize, &str)]) -> String {
    let row = |n: usize| {
        let note = notes.iter().find(|(row, _)| *row == n);
        let note = note.map_or("ok", |(_, note)| *note);
        format!("{n},{},{note}\n", 900 + n % 7)
    };
    let rows: String = (0..rows).map(row).collect();
    format!("Time (s),Engine Speed (rpm),Note\n{rows}")
}

#[test]
fn a_quote_before_a_letter_closes_no_row_above() {
    let strays: Vec<(usize, &str)> = (0..400).map(|n| (7 * n + 5, "\"x")).collect();
    for (rows, notes) in [
        (3100, &[(3000, "\"x"), (3020, "\"x")][..]),
        (60, &[(20, "\""), (30, "\"x")]),
        (60, &[(20, "\"x"), (25, "\"a, note\"")]),
        (60, &[(20, "\"6\"\" pipe"), (25, "\"\"")]),
        (2900, &strays),
    ] {
        let (_, table) = table(&noted(rows, notes));
        assert_eq!((table.rows, table.problems.rows_lost()), (rows, 0));
        assert_eq!(values(&table, 1)[22], Some(901.0));
    }
}

/// Both quotes stand where RFC 4180 lets a field open and close, but what is between them are rows.
#[test]
fn rows_between_quotes_are_rows() {
    let ends = ["\n", "\r\n"];
    for (notes, strays) in [
        (&[(20, "\""), (23, "\"")][..], &[22][..]),
        (&[(20, "\""), (21, "\""), (22, "\"")], &[22]),
        (&[(20, "\""), (40, "\""), (45, "\""), (50, "\"")], &[22, 47]),
        (&[(20, "\"\n# tyres\n"), (22, "\"")], &[22]),
    ] {
        for end in ends {
            let text = noted(60, notes).replace('\n', end);
            let (_, table) = table(&text);
            let remarks = text.matches('#').count() + text.matches(&end.repeat(2)).count();
            assert_eq!((table.rows, table.problems.rows_lost()), (60, remarks));
            let found = table.problems.listed.iter();
            let found = found.filter(|p| p.kind == ProblemKind::StrayQuote);
            assert_eq!(found.map(|p| p.line).collect::<Vec<_>>(), strays);
        }
    }
    let (log, table) = table(&noted(60, &[(20, "\""), (23, "\"")]));
    let what = "a quote opens here and closes 3 lines below, with rows of numbers in between: taken for a stray one, so the rows are used";
    assert!(table.problems.listed.iter().any(|p| p.what == what));
    // The words of these rows are found, too.
    let texts = log.texts(&table, &[2]).unwrap_or_default();
    let words: Vec<_> = texts
        .iter()
        .flatten()
        .flat_map(|column| column.iter())
        .collect();
    assert_eq!(words.len(), 60);
    assert_eq!(words[21..23], [Some("ok"); 2]);
    assert_eq!(words[24], Some("ok"));
}

#[test]
fn remarks_over_several_lines_are_remarks() {
    let first = "\"warm\nno leak\",0,900\n\"x\ny\",1,901\nok,2,902\nok,3,903\n";
    let (_, told) = table(&format!("Note,Time (s),Engine Speed (rpm)\n{first}"));
    assert_eq!((told.rows, told.problems.rows_lost()), (4, 0));
    assert_eq!(told.problems.count(ProblemKind::StrayQuote), 0);
    let note = "\"warm, no leak\nboost: 1.2, and 3\n\n\"";
    let (_, table) = table(&noted(60, &[(20, note), (25, "\"end\n\"  "), (30, note)]));
    assert_eq!((table.rows, table.problems.rows_lost()), (60, 0));
}

/// The fields before a stray quote stay what they are.
#[test]
fn a_stray_quote_costs_its_own_field() {
    let text = "Time (s),Where,Engine Speed (rpm),Note\n0,\"a, b\",900,ok\n1,\"a, b\",910,\"x\n2,\"a, b\",920,ok\n";
    let (_, table) = table(text);
    assert_eq!(values(&table, 2), [Some(900.0), Some(910.0), Some(920.0)]);
}

const NOTES: [&str; 10] = [
    "x", "\"x", "\"", "x\"", "\"x\"", "\"a, b\"", "\"\"", "\"\"\"", "\" ", "\"x\"y",
];
const SPEEDS: [&str; 5] = ["900", "\"900", "\"900\"", "\"", "900\""];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn every_row_is_read_or_reported(
        odd in prop::collection::vec((8..200_usize, 0..SPEEDS.len(), 0..NOTES.len()), 0..40),
        end in prop::sample::select(vec!["\n", "\r\n"]),
    ) {
        let mut rows: Vec<(&str, &str)> = vec![("1000", "ok"); 200];
        for (row, speed, note) in odd {
            rows[row] = (SPEEDS[speed], NOTES[note]);
        }
        let rows = rows.iter().enumerate();
        let rows = rows.map(|(n, (speed, note))| format!("{n},{speed},{note}{end}"));
        let text = format!("Time (s),Engine Speed (rpm),Note{end}{}", rows.collect::<String>());
        let (_, table) = table(&text);
        prop_assert_eq!(table.rows + table.problems.rows_lost(), 200, "{}", text);
    }
}
