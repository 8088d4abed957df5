//! Clocks in every style and state.

use super::{forced, log, near, table};
use crate::load::{BreakKind, ClockStyle, Forced, Table};

fn style(text: &str) -> Option<(Option<usize>, ClockStyle)> {
    log(text)
        .dialect()
        .clock
        .map(|clock| (clock.column, clock.style))
}

fn times(text: &str) -> Vec<f64> {
    table(text).1.time_s.to_vec()
}

/// A log with one other column under a clock heading.
fn clocked(heading: &str, stamps: &[&str]) -> String {
    let mut text = format!("{heading},RPM\n");
    for (row, stamp) in stamps.iter().enumerate() {
        text.push_str(&format!("{stamp},{}\n", 1000 + row % 7));
    }
    text
}

#[test]
fn styles() {
    use ClockStyle::*;
    for (heading, stamps, wanted, seconds) in [
        ("Time", ["0.5", "0.6", "0.7"], Seconds, [0.5, 0.6, 0.7]),
        (
            "Time (ms)",
            ["500", "600", "700"],
            Milliseconds,
            [0.5, 0.6, 0.7],
        ),
        (
            "Time_ms",
            ["500", "600", "700"],
            Milliseconds,
            [0.5, 0.6, 0.7],
        ),
        ("Time", ["500", "600", "700"], Milliseconds, [0.5, 0.6, 0.7]),
        ("Time", ["0", "10", "20"], Milliseconds, [0.0, 0.01, 0.02]),
        (
            "Time",
            ["0", "10000", "20000"],
            Microseconds,
            [0.0, 0.01, 0.02],
        ),
        (
            "Time [us]",
            ["1", "2", "3"],
            Microseconds,
            [1e-6, 2e-6, 3e-6],
        ),
        (
            "Time [min]",
            ["1", "1.5", "2"],
            Minutes,
            [60.0, 90.0, 120.0],
        ),
        (
            "Time",
            ["00:00:01.5", "00:00:02.0", "00:00:02.5"],
            HoursMinutesSeconds,
            [1.5, 2.0, 2.5],
        ),
        (
            "Clock",
            ["14:00:01.5", "14:00:02.0", "14:00:02.5"],
            HoursMinutesSeconds,
            [0.0, 0.5, 1.0],
        ),
        (
            "Clock",
            ["23:59:59.5", "00:00:00.0", "00:00:00.5"],
            HoursMinutesSeconds,
            [0.0, 0.5, 1.0],
        ),
        (
            "x",
            ["23:59:59.5", "00:00:00.0", "00:00:00.5"],
            HoursMinutesSeconds,
            [0.0, 0.5, 1.0],
        ),
        (
            "Elapsed",
            ["59:59.0", "60:00.0", "60:01.0"],
            MinutesSeconds,
            [3599.0, 3600.0, 3601.0],
        ),
        (
            "Elapsed",
            ["59:59.0", "00:00.0", "00:01.0"],
            MinutesSeconds,
            [3599.0, 3600.0, 3601.0],
        ),
        (
            "Timestamp",
            [
                "2024-02-29T23:59:59Z",
                "2024-03-01T00:00:00Z",
                "2024-03-01T00:00:01Z",
            ],
            DateTime,
            [0.0, 1.0, 2.0],
        ),
        (
            "When",
            [
                "31.12.2024 23:59:59",
                "01.01.2025 00:00:00",
                "01.01.2025 00:00:01",
            ],
            DateTime,
            [0.0, 1.0, 2.0],
        ),
        (
            "Timestamp",
            ["1700000000.5", "1700000001.0", "1700000001.5"],
            Seconds,
            [0.0, 0.5, 1.0],
        ),
        (
            "Timestamp",
            ["1700000000500", "1700000001000", "1700000001500"],
            Milliseconds,
            [0.0, 0.5, 1.0],
        ),
    ] {
        let text = clocked(heading, &stamps);
        assert_eq!(style(&text), Some((Some(0), wanted)), "{text}");
        let got = times(&text);
        near(&got, &seconds);
    }
}

#[test]
fn quoted_stamps_with_decimal_commas() {
    let text = "Uhr;RPM\n\"12:00:00,0\";1000,5\n\"12:00:00,5\";1000,5\n";
    near(&times(text), &[0.0, 0.5]);
}

#[test]
fn the_right_column_is_the_clock() {
    for (header, rows, wanted) in [
        (
            "RPM,Injection time (ms),LOG_TIME",
            ["1000,3,0", "1100,4,1", "1200,5,2"],
            2,
        ),
        (
            "Date,Time,RPM",
            [
                "2024-05-01,12:00:00,1",
                "2024-05-01,12:00:01,2",
                "2024-05-01,12:00:02,1",
            ],
            1,
        ),
        (
            "TIME_SINCE_CLEARED,ENGINE_RUN_TINE (),RPM",
            ["5,0,1", "5,1,2", "6,2,1"],
            1,
        ),
        (
            "Tire temp,Laptime,Elapsed",
            ["20,0,0.1", "21,1,0.2", "22,2,0.3"],
            2,
        ),
        (
            "Time,Elapsed (s),RPM",
            ["12:00:00,0.0,1", "12:00:00,0.5,1", "12:00:01,1.0,1"],
            1,
        ),
        ("RPM,Section", ["1000,0.1", "1100,0.2", "1200,0.3"], 9),
    ] {
        let text = format!("{header}\n{}\n", rows.join("\n"));
        let column = log(&text).dialect().clock.and_then(|clock| clock.column);
        assert_eq!(column.unwrap_or(9), wanted, "{text}");
    }
}

#[test]
fn an_even_first_column_will_do() {
    let mut text = String::from("X,RPM\n");
    for row in 0..20 {
        text.push_str(&format!("{:.2},{}\n", f64::from(row) * 0.05, 900 + row % 3));
    }
    assert_eq!(style(&text), Some((Some(0), ClockStyle::Seconds)));
}

#[test]
fn whole_seconds_are_spread_and_said_so() {
    let text = clocked("Time (s)", &["0", "0", "1", "1", "2", "2", "3", "3"]);
    let (_, table) = table(&text);
    near(&table.time_s, &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5]);
    assert_eq!(
        table.clock_s.as_deref(),
        Some(&[0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0][..])
    );
    assert!(
        table
            .clock_note
            .as_deref()
            .is_some_and(|n| n.contains("spread evenly"))
    );
    assert!((table.sample_hz - 2.0).abs() < 1e-9);
}

/// Row, line, stamps as written and kind.
type Break = (usize, usize, String, String, BreakKind);

fn broken(text: &str) -> (Table, Vec<Break>) {
    let (_, table) = table(text);
    let breaks = table.breaks.iter();
    let breaks = breaks.map(|b| (b.row, b.line, b.before.clone(), b.after.clone(), b.kind));
    let breaks = breaks.collect();
    (table, breaks)
}

#[test]
fn a_restart_is_kept_in_order_and_reported_as_written() {
    let text = clocked(
        "Time (ms)",
        &["0", "100", "200", "300", "400", "0", "100", "200"],
    );
    let (table, breaks) = broken(&text);
    near(&table.time_s, &[0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]);
    assert_eq!(
        breaks,
        [(5, 7, "400".into(), "0".into(), BreakKind::Restart)]
    );
    assert_eq!(table.clock_s.as_deref().map(|c| c[5]), Some(0.0));
    assert!(table.clock_note.is_some());
}

#[test]
fn a_long_log_that_restarts_across_chunks() {
    let mut text = String::from("Time,RPM\n");
    for run in 0..3 {
        for row in 0..500 {
            text.push_str(&format!("{:.1},{run}\n", f64::from(row) * 0.1));
        }
        text.push_str("\nTime,RPM\n");
    }
    let (table, breaks) = broken(&text);
    assert_eq!(table.rows, 1500);
    assert!((table.duration_s() - 149.9).abs() < 1e-6);
    let wanted = [(500, "49.9", "0.0"), (1000, "49.9", "0.0")];
    for ((row, line, before, after, kind), wanted) in breaks.iter().zip(wanted) {
        assert_eq!((*row, before.as_str(), after.as_str()), wanted);
        assert_eq!(*kind, BreakKind::Restart);
        assert_eq!(*line, row + 2 + row / 500 * 2);
    }
    assert_eq!(breaks.len(), 2);
}

#[test]
fn a_gap_stays() {
    let text = clocked("Time", &["0.0", "0.1", "0.2", "9.0", "9.1", "9.2"]);
    let (table, breaks) = broken(&text);
    near(&table.time_s, &[0.0, 0.1, 0.2, 9.0, 9.1, 9.2]);
    assert!(breaks.is_empty() && table.clock_note.is_none());
}

#[test]
fn a_forced_rate_keeps_rows_with_blank_stamps() {
    let text = clocked("Time", &["0.0", "", "0.2"]);
    let sheet = Forced {
        sample_hz: Some(4.0),
        ..Forced::default()
    };
    let table = forced(&text, &sheet).unwrap_or_else(|e| panic!("{e}"));
    near(&table.time_s, &[0.0, 0.25, 0.5]);
    let clock = table.clock_s.as_deref().unwrap_or_default();
    assert!(clock.len() == 3 && clock[1].is_nan());
}
