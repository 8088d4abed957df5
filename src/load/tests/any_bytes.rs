//! Whatever the bytes, the loader answers: a table that holds together, or an error.

use crate::load::{Forced, from_bytes};

/// A small generator (xorshift), so that a failure can be run again.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as usize % sides
    }
}

fn holds_together(bytes: Vec<u8>, forced: &Forced) {
    let shown = String::from_utf8_lossy(&bytes).into_owned();
    let Ok(log) = from_bytes("run.csv", bytes, forced) else {
        return;
    };
    let wanted: Vec<usize> = (0..log.headings().len()).collect();
    let _ = log.head(&wanted, 2);
    let Ok(table) = log.read(&wanted) else { return };
    assert!(table.rows > 0);
    assert_eq!(table.time_s.len(), table.rows, "{shown:?}");
    assert!(
        table.time_s.windows(2).all(|pair| pair[1] > pair[0]),
        "{shown:?} {:?}",
        table.time_s
    );
    assert!(table.time_s.iter().all(|time| time.is_finite()));
    let one_reading_a_row = log
        .dialect()
        .evidence
        .iter()
        .any(|e| e.starts_with("Each row holds one reading"));
    let mut cells = 0;
    for column in &table.columns {
        assert_eq!(column.values.len(), table.rows);
        let numbers = column.values.iter().filter(|v| !v.is_nan()).count();
        assert_eq!(numbers, column.filled, "{shown:?}");
        let all = column.filled + column.blank + column.unreadable;
        assert!(one_reading_a_row || all == table.rows, "{shown:?}");
        cells += all;
    }
    if one_reading_a_row {
        // The clock is a column of the table too.
        assert_eq!(cells, table.rows_read + table.rows, "{shown:?}");
        let apart = log.read_apart(&wanted).unwrap_or_else(|e| panic!("{e}"));
        for (column, dense) in apart.columns.iter().zip(&table.columns) {
            assert_eq!(
                column.values.iter().filter(|v| !v.is_nan()).count(),
                dense.filled
            );
            assert_eq!(column.times(&apart.time_s).len(), column.values.len());
        }
        return;
    }
    assert_eq!(table.rows_read, table.rows);
    let lines: Vec<usize> = (0..table.rows).map(|row| table.line_of(row)).collect();
    assert!(lines.windows(2).all(|pair| pair[1] > pair[0]), "{shown:?}");
    let counted: usize = table.problems.counts.iter().map(|(_, n)| n).sum();
    assert_eq!(counted, table.problems.total);
}

#[test]
fn random_bytes() {
    let mut dice = Dice(0x9E37_79B9_7F4A_7C15);
    for _ in 0..2000 {
        let length = dice.roll(400);
        let bytes = (0..length).map(|_| dice.roll(256) as u8).collect();
        holds_together(bytes, &Forced::default());
    }
}

#[test]
fn random_scraps_of_logs() {
    let scraps = [
        "time",
        "rpm",
        ",",
        ",",
        ",",
        ";",
        "\t",
        "|",
        "\n",
        "\n",
        "\n",
        "\r\n",
        "\r",
        "\"",
        "\"\"",
        "0",
        "1",
        "2.5",
        "3,5",
        "-",
        "1e9",
        "1e308",
        "-7",
        "00:00:01",
        "23:59:59.9",
        "2024-01-01 00:00:00",
        "NaN",
        "on",
        "(s)",
        "[ms]",
        "#",
        " ",
        "\u{feff}",
        "°C",
        "\u{a0}",
        "time,rpm\n0,1\n",
        "time,channel,value\n",
        "0,rpm,1\n",
        "1,map,2\n",
        "1,rpm,2,kPa\n",
        "channel",
        "value",
        "Sample rate: 10 Hz\n",
        "FLOAT",
        "1,2,3,4,5\n",
        "sep=;\n",
        "1,2\n",
        "2,3\n",
        ":",
        "+",
        ".",
    ];
    let mut dice = Dice(42);
    for round in 0..6000 {
        let length = dice.roll(60);
        let mut text: String = (0..length)
            .map(|_| scraps[dice.roll(scraps.len())])
            .collect();
        if dice.roll(2) == 0 {
            text.insert_str(0, "time,rpm\n0,1\n1,2\n2,3\n");
        }
        let forced = Forced {
            sample_hz: (round % 3 == 0).then_some(10.0),
            names_line: (round % 7 == 0).then(|| dice.roll(6)),
            units_line: (round % 11 == 0).then(|| dice.roll(6)),
            ..Forced::default()
        };
        holds_together(text.into_bytes(), &forced);
    }
}

#[test]
fn logs_with_damage() {
    let mut clean = String::from("# run\nTime (s);RPM;\"Oil; pressure\" (kPa)\n");
    for row in 0..60 {
        clean.push_str(&format!(
            "{:.2};\"{}\";{}\n",
            f64::from(row) * 0.1,
            900 + row,
            300 - row
        ));
    }
    let mut dice = Dice(7);
    for _ in 0..2000 {
        let mut bytes = clean.clone().into_bytes();
        for _ in 0..=dice.roll(12) {
            let at = dice.roll(bytes.len());
            match dice.roll(4) {
                0 => bytes[at] = dice.roll(256) as u8,
                1 => {
                    bytes.remove(at);
                }
                2 => bytes.insert(at, b"\";\n,\r0"[dice.roll(6)]),
                _ => bytes.truncate(at.max(40)),
            }
        }
        holds_together(bytes, &Forced::default());
    }
}

#[test]
fn readings_with_damage() {
    let mut clean = String::from("# run\nTime (s);Channel;Value;Unit\n");
    for row in 0..60 {
        clean.push_str(&format!(
            "{:.2};\"C {}\";{};kPa\n",
            f64::from(row / 3) * 0.1,
            row % 4,
            900 + row,
        ));
    }
    let mut dice = Dice(11);
    for _ in 0..2000 {
        let mut bytes = clean.clone().into_bytes();
        for _ in 0..=dice.roll(12) {
            let at = dice.roll(bytes.len());
            match dice.roll(4) {
                0 => bytes[at] = dice.roll(256) as u8,
                1 => {
                    bytes.remove(at);
                }
                2 => bytes.insert(at, b"\";\n,\r0"[dice.roll(6)]),
                _ => bytes.truncate(at.max(60)),
            }
        }
        holds_together(bytes, &Forced::default());
    }
}
