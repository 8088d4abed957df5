//! Last rows that may have lost their end.

use super::{problems, table, values};

fn last(text: &str) -> (usize, Option<f64>) {
    let (_, table) = table(text);
    (table.rows, values(&table, 1).last().copied().flatten())
}

#[test]
fn a_last_cell_that_lost_digits_is_no_reading() {
    for (text, cut) in [
        ("Time,RPM\n0,1000\n1,1010\n2,1020\n3,10", "10"),
        ("Time,Lambda\n0,0.981\n1,0.990\n2,1.002\n3,0.99", "0.99"),
        ("Time,Lambda\n0,0.981\n1,0.990\n2,1.002\n3,0", "0"),
        ("Time;Lambda\n0;0,981\n1;0,990\n2;1,002\n3;0,", "0,"),
        ("Time,Lambda\n0,0.9\n1,0.99\n2,1.002\n3,0.", "0."),
        ("Time,EGT\r\n0,500.5\r\n1,510\r\n2,520.25\r\n3,52", "52"),
        (
            "Time,\"EGT\"\n0,\"500.5\"\n1,\"510.5\"\n2,\"520.5\"\n3,\"52",
            "\"52",
        ),
    ] {
        let (_, table) = table(text);
        assert_eq!(table.rows, 3, "{text:?}");
        let wanted = format!(
            "the last row has no line end and its last cell `{cut}` is shorter than those above it: it is taken as cut short"
        );
        assert_eq!(problems(&table), [(5, wanted.as_str())], "{text:?}");
    }
}

#[test]
fn a_last_cell_that_is_gone_is_no_blank() {
    let (_, table) = table("Time,RPM\n0,1000\n1,1010\n2,1020\n3,");
    let wanted = "the last row is cut short: 1 field where 2 are expected";
    assert_eq!(problems(&table), [(5, wanted)]);
}

#[test]
fn a_whole_last_row_without_a_line_end_counts() {
    for (text, value) in [
        ("Time,RPM\n0,1000\n1,1010\n2,1020\n3,1030", 1030.0),
        ("Time,RPM\n0,900\n1,950\n2,990\n3,1030", 1030.0),
        ("Time,Lambda\n0,0.981\n1,0.990\n2,1.002\n3,0.995", 0.995),
        ("Time,EGT\n0,500.5\n1,510.25\n2,520", 520.0),
        ("Time,EGT\n0,500.5\n1,510.25\n2,520\r", 520.0),
        ("Time,RPM\r\n0,1000\r\n1,1010\r\n2,10\r", 10.0),
        ("Time,\"EGT\"\n0,\"500.5\"\n1,\"510.5\"\n2,\"52\"", 52.0),
        ("Time,RPM\n0,1000\n1,20", 20.0),
        ("Time,Gear\n0,1\n1,1\n2,2\n3,2", 2.0),
    ] {
        assert_eq!(last(text).1, Some(value), "{text:?}");
        assert_eq!(table(text).1.problems.total, 0, "{text:?}");
    }
}

/// Cut a long log at every byte of its last rows: never a value that was not written.
#[test]
fn cut_anywhere() {
    let mut text = String::from("Time,RPM,Lambda,Oil\n");
    for row in 0..60 {
        text.push_str(&format!(
            "{:.2},{},{:.3},{}\n",
            f64::from(row) * 0.05,
            1000 + row * 13 % 90,
            0.9 + f64::from(row % 9) / 100.0,
            300 + row
        ));
    }
    let (_, whole) = table(&text);
    for cut in text.len() - 60..text.len() {
        let (_, part) = table(&text[..cut]);
        assert!(part.rows >= 57);
        for (column, all) in part.columns.iter().zip(&whole.columns) {
            assert_eq!(column.values, all.values[..part.rows], "cut at {cut}");
        }
        let rows = part.rows + part.problems.rows_lost();
        assert_eq!(rows, text[..cut].lines().count() - 1, "cut at {cut}");
    }
}

#[test]
fn rows_that_are_not_used_are_told_apart() {
    let text = "Time,RPM\n0,1000\n# driver out\n// pit stop, lap 3\nRPM max: 7200\nMax,7200\nTime,RPM\n1,1010\n\n;;\n2,1020\n";
    let (_, table) = table(text);
    assert_eq!(
        problems(&table),
        [
            (3, "a comment: `# driver out`"),
            (4, "a comment: `// pit stop, lap 3`"),
            (5, "text instead of numbers: `RPM max: 7200`"),
            (6, "the clock cell reads `Max`, which is no time"),
            (7, "the names row once more"),
            (9, "blank row"),
            (10, "text instead of numbers: `;;`"),
        ]
    );
    assert_eq!(table.rows + table.problems.rows_lost(), 10);
}
