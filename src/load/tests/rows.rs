//! Rows and cells that are used, and those that are not.

use super::{forced, log, near, problems, table, values};
use crate::load::{Forced, Log, ProblemKind, open};

#[test]
fn unusable_rows_are_reported_with_their_lines() {
    let text = "Time,RPM,EGT\n\
        0,1000,500\n\
        1,1010\n\
        2,1020,520,7\n\
        3,1030,530,,\n\
        \n\
        ,,\n\
        lap marker\n\
        Time,RPM,EGT\n\
        4,1040,540\n\
        ,1050,550\n\
        abc,1060,560\n\
        7,1070,570\n\
        End of run, 7 rows\n\
        8,10";
    let (log, table) = table(text);
    assert_eq!(&*table.time_s, [0.0, 3.0, 4.0, 7.0]);
    assert_eq!(
        problems(&table),
        [
            (3, "2 fields where 3 are expected"),
            (4, "4 fields where 3 are expected"),
            (6, "blank row"),
            (7, "blank row"),
            (8, "text instead of numbers: `lap marker`"),
            (9, "the names row once more"),
            (11, "the clock cell is blank"),
            (12, "the clock cell reads `abc`, which is no time"),
            (14, "text instead of numbers: `End of run, 7 rows`"),
            (
                15,
                "the last row is cut short: 2 fields where 3 are expected"
            ),
        ]
    );
    let lines: Vec<usize> = (0..4).map(|row| table.line_of(row)).collect();
    assert_eq!(lines, [2, 5, 10, 13]);
    assert_eq!(table.problems.count(ProblemKind::BlankRow), 2);
    assert_eq!(table.problems.rows_lost(), 10);
    assert_eq!(log.dialect().first_data_line, 2);
}

#[test]
fn a_cut_row_of_full_width_is_seen_by_its_missing_delimiter() {
    let (_, table) = table("Time,RPM\n0,1000,\n1,1010,\n2,10");
    assert_eq!(table.rows, 2);
    assert_eq!(
        problems(&table),
        [(
            4,
            "the last row is cut short: it breaks off before the end of its line"
        )]
    );
}

/// Words in half of the columns and more, and still a sample of each channel in every row.
#[test]
fn rows_with_as_many_words_as_numbers_are_read() {
    for words in ["", "warm,", "warm,dry,"] {
        let names = "Where,Who,".repeat(usize::from(words.len() > 5));
        let first = if words.is_empty() { "" } else { "Tyres," };
        let head = if words.len() > 5 {
            names.as_str()
        } else {
            first
        };
        let row = |n: usize| format!("{n}.5,hill,{},{words}all well\n", 900 + n);
        let rows: String = (0..30).map(row).collect();
        let (log, table) = table(&format!(
            "Time (s),Place,Engine Speed (rpm),{head}Note\n{rows}"
        ));
        assert_eq!((table.rows, table.problems.rows_lost()), (30, 0));
        assert_eq!(log.clock_column(), Some(0));
        assert_eq!(values(&table, 2)[29], Some(929.0));
    }
}

#[test]
fn cells_that_are_missing_switches_or_junk() {
    let text =
        "Time,A,B,Pump\n0,1,---,on\n1,,n/a,OFF\n2,NaN,2.5,yes\n3,1.#INF,x?,open\n4,-,inf,closed\n";
    let (_, table) = table(text);
    assert_eq!(values(&table, 1), [Some(1.0), None, None, None, None]);
    assert_eq!(values(&table, 2), [None, None, Some(2.5), None, None]);
    assert_eq!(
        values(&table, 3),
        [Some(1.0), Some(0.0), Some(1.0), Some(1.0), Some(0.0)]
    );
    let b = &table.columns[2];
    assert_eq!((b.filled, b.blank, b.unreadable), (1, 3, 1));
    assert_eq!(problems(&table), [(5, "`x?` under B is not a number")]);
    assert_eq!(table.problems.listed[0].column, Some(3));
}

#[test]
fn slower_channels_leave_blanks() {
    let (_, table) = table("Time,RPM,Oil\n0,1000,300\n0.1,1010,\n0.2,1020,\n0.3,1030,310\n");
    assert_eq!(values(&table, 2), [Some(300.0), None, None, Some(310.0)]);
    assert_eq!((table.columns[2].filled, table.columns[2].blank), (2, 2));
    assert_eq!(table.problems.total, 0);
}

#[test]
fn quoted_line_ends_and_delimiters() {
    let text = "Time,Note,\"RPM, engine\"\n0,\"one\ntwo\",1000\n1,\"a, b\",1010\n2,\"say \"\"hi\"\"\",1020\n";
    let log = log(text);
    assert_eq!(log.headings()[2].name, "RPM, engine");
    let table = log.read(&[2]);
    let table = table.unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(
        values(&table, 0),
        [Some(1000.0), Some(1010.0), Some(1020.0)]
    );
    assert_eq!(
        [table.line_of(0), table.line_of(1), table.line_of(2)],
        [2, 4, 5]
    );
}

#[test]
fn one_torn_quote_does_not_swallow_the_log() {
    let mut text = String::from("Time,Note,RPM\n0,\"fine\",1000\n1,\"torn,1010\n");
    for row in 2..200 {
        text.push_str(&format!("{row},plain,{}\n", 1000 + row));
    }
    let log = log(&text);
    let table = log.read(&[2]).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(table.rows, 200);
    assert_eq!(table.columns[0].filled, 200);
}

#[test]
fn a_forced_rate_needs_no_clock() {
    let sheet = Forced {
        sample_hz: Some(10.0),
        ..Forced::default()
    };
    let text = "RPM,MAP\n1000,30\n1010,31\nRPM,MAP\nend,end\n,\n1020,x\n1030,33\n";
    let table = forced(text, &sheet).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(
        values(&table, 0),
        [1000.0, 1010.0, 1020.0, 1030.0].map(Some)
    );
    near(&table.time_s, &[0.0, 0.1, 0.2, 0.3]);
    assert!(table.clock_s.is_none());
    let wanted = [
        (4, "the names row once more"),
        (5, "text instead of numbers: `end,end`"),
        (6, "blank row"),
        (7, "`x` under MAP is not a number"),
    ];
    assert_eq!(problems(&table), wanted);
    let single = forced("RPM\n1000\n1010\n", &sheet).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(values(&single, 0), [Some(1000.0), Some(1010.0)]);
}

#[test]
fn headings_and_rows_that_do_not_fit() {
    let text = "Time,A,B\n0,1,2,9\n1,2,3,9\n2,3,4,9\n";
    let (log, first) = table(text);
    assert_eq!(log.headings()[3].name, "column 4");
    assert_eq!(first.rows, 3);
    assert_eq!(
        problems(&first),
        [(1, "3 channels are named where the rows have 4 fields")]
    );
    let (_, second) = table("Time,A,B,C\n0,1,2\n1,2,3\n2,3,4\n");
    assert_eq!(
        problems(&second),
        [(1, "4 channels are named where the rows have 3 fields")]
    );
    assert_eq!(values(&second, 3), [None, None, None]);
}

#[test]
fn only_what_was_asked_for_in_the_order_asked() {
    let log = log("Time,A,B\n0,1,2\n1,3,4\n");
    let table = log.read(&[2, 1, 2]).unwrap_or_else(|e| panic!("{e}"));
    let columns: Vec<(usize, f64)> = table
        .columns
        .iter()
        .map(|c| (c.column, c.values[1]))
        .collect();
    assert_eq!(columns, [(2, 4.0), (1, 3.0), (2, 4.0)]);
    assert!(log.read(&[3]).is_err());
    let head = log.head(&[1], 1).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(
        (head.rows, head.columns[0].values.as_slice()),
        (1, &[1.0][..])
    );
}

#[test]
fn a_log_ending_in_padding_after_a_power_cut() {
    let text = format!("Time,RPM\n0,1000\n1,1010\n2,10{}", "\0".repeat(3000));
    let (log, table) = table(&text);
    assert_eq!(table.rows, 2);
    assert_eq!(
        problems(&table),
        [(
            4,
            "the last row is cut short: it breaks off before the end of its line"
        )]
    );
    assert!(
        log.dialect()
            .evidence
            .iter()
            .any(|e| e.contains("3000 zero bytes"))
    );
}

/// Large files are mapped, small ones copied: both ways must give the same table.
#[test]
fn a_mapped_file_reads_like_a_copied_one() {
    let mut text = String::from("Time,RPM,EGT\n");
    for row in 0..600_000 {
        text.push_str(&format!(
            "{:.2},{},{}\n",
            f64::from(row) * 0.01,
            row % 7000,
            row % 900
        ));
    }
    assert!(text.len() > 1 << 23);
    let path = std::env::temp_dir().join(format!("mapped-log-{}.csv", std::process::id()));
    std::fs::write(&path, &text).unwrap_or_else(|e| panic!("{e}"));
    let mapped = open(&path, &Forced::default()).and_then(|log| log.read(&[1, 2]));
    std::fs::remove_file(&path).unwrap_or_else(|e| panic!("{e}"));
    let mapped = mapped.unwrap_or_else(|e| panic!("{e}"));
    let copied = log(&text).read(&[1, 2]).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(mapped.rows, 600_000);
    assert_eq!(mapped.columns, copied.columns);
    assert_eq!(mapped.time_s, copied.time_s);
    assert_eq!(mapped.line_of(599_999), 600_001);
}

/// Loggers that leave off what is empty at the end of a row; here and there a torn row is still one.
#[test]
fn rows_without_their_empty_end_are_whole() {
    let row = |n: usize| match n {
        13 => format!("{n},900\n"),
        _ if n.is_multiple_of(10) => format!("{n},{},500,0.98,14.1\n", 900 + n),
        _ => format!("{n},{},500\n", 900 + n),
    };
    let rows: String = (0..100).map(row).collect();
    let (log, table) = table(&format!("Time,RPM,EGT,Lambda,Battery\n{rows}"));
    assert_eq!((table.rows, table.problems.rows_lost()), (99, 1));
    assert_eq!(problems(&table), [(15, "2 fields where 5 are expected")]);
    assert_eq!(values(&table, 4)[10..12], [Some(14.1), None]);
    assert_eq!(
        (
            table.columns[2].filled,
            table.columns[3].filled,
            table.columns[3].blank
        ),
        (99, 10, 89)
    );
    let says = "Rows have 3 to 5 fields";
    assert!(
        log.dialect()
            .evidence
            .iter()
            .any(|line| line.starts_with(says))
    );
}

/// A carriage return ends the lines, and a line feed stands in a remark, or behind the one that ends a line above the log.
#[test]
fn line_feeds_among_carriage_returns() {
    let rows = |note: &str| -> String {
        let row = |n: usize| format!("{n},{},{}\r", 900 + n, if n == 7 { note } else { "ok" });
        (0..40).map(row).collect()
    };
    for (head, note) in [("", "\"warm\nno leak\""), ("# run 12\r\n", "ok")] {
        let (log, table) = table(&format!("{head}Time,RPM,Note\r{}", rows(note)));
        assert_eq!(
            (table.rows, table.problems.rows_lost()),
            (40, 0),
            "{head}{note}"
        );
        assert_eq!(log.headings()[0].name, "Time");
    }
}

/// A hole of zero bytes, as a power cut leaves, costs the row in which it lies.
#[test]
fn a_hole_of_zeros_costs_its_row() {
    let row = |n: usize| {
        format!(
            "{n},{}{}\n",
            900 + n,
            if n == 30 {
                "\0".repeat(512)
            } else {
                String::new()
            }
        )
    };
    let rows: String = (0..60).map(row).collect();
    let (_, table) = table(&format!("Time,RPM\n{rows}"));
    assert_eq!((table.rows, table.columns[1].unreadable), (60, 1));
}

/// A quoted empty cell behind the last column is as empty as any other.
#[test]
fn quoted_empty_cells_at_the_end_are_empty() {
    let rows: String = (0..20)
        .map(|n| format!("\"{n}\",\"{}\",\"\"\n", 900 + n))
        .collect();
    for names in ["\"Time\",\"RPM\"", "\"Time\",\"RPM\",\"\""] {
        let (_, table) = table(&format!("{names}\n{rows}"));
        assert_eq!((table.rows, table.problems.rows_lost()), (20, 0));
        assert_eq!(values(&table, 1)[19], Some(919.0));
    }
}
