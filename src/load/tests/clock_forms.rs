//! Clocks in further forms: single numbers of every size, dates in every order, rounds that begin anew.

use super::{forced, log, near, table};
use crate::load::{ClockStyle, DateOrder, Forced};

/// A log with one other column under a clock heading.
pub(super) fn clocked<S: AsRef<str>>(heading: &str, stamps: &[S]) -> String {
    let mut text = format!("{heading};RPM\n");
    for (row, stamp) in stamps.iter().enumerate() {
        text.push_str(&format!("{};{}\n", stamp.as_ref(), 1000 + row % 7));
    }
    text
}

fn evidence(text: &str) -> String {
    log(text).dialect().evidence.join("\n")
}

pub(super) fn says(text: &str, wanted: &str) {
    let evidence = evidence(text);
    assert!(
        evidence.contains(wanted),
        "{wanted:?} is not in:\n{evidence}"
    );
}

#[test]
fn every_written_form() {
    use ClockStyle::{DateTime, HoursMinutesSeconds as Hms, MinutesSeconds as Ms};
    for (stamps, style) in [
        (["00:00:10.000", "00:00:10.250", "00:00:10.500"], Hms),
        (["00:00:10:000", "00:00:10:250", "00:00:10:500"], Hms),
        (["00:00:10,000", "00:00:10,250", "00:00:10,500"], Hms),
        (["59:59.8", "00:00.05", "00:00.3"], Ms),
        (["11:59:59.75 AM", "12:00:00 PM", "12:00:00.25 PM"], Hms),
        (["11:59:59.75 PM", "12:00:00 AM", "12:00:00.25 AM"], Hms),
        (["12:59:59.75", "1:00:00.00", "1:00:00.25"], Hms),
        (
            [
                "0 days 23:59:59.75",
                "1 days 00:00:00",
                "1 days 00:00:00.25",
            ],
            Hms,
        ),
        (
            [
                "2026-04-12T10:15:00.250Z",
                "2026-04-12T10:15:00.500Z",
                "2026-04-12T10:15:00.750Z",
            ],
            DateTime,
        ),
        (
            [
                "2026-04-12 23:59:59.75",
                "2026-04-13 00:00:00.00",
                "2026-04-13 00:00:00.25",
            ],
            DateTime,
        ),
        (
            [
                "2026-03-29T01:59:59.75+01:00",
                "2026-03-29T03:00:00.00+02:00",
                "2026-03-29T03:00:00.25+0200",
            ],
            DateTime,
        ),
        (
            [
                "20260412T101500.250Z",
                "20260412T101500.500Z",
                "20260412T101500.750Z",
            ],
            DateTime,
        ),
        (
            [
                "31.12.26 23:59:59,75",
                "01.01.27 00:00:00,00",
                "01.01.27 00:00:00,25",
            ],
            DateTime,
        ),
        (
            [
                "04/30/2026 11:59:59.75 PM",
                "05/01/2026 12:00:00.00 AM",
                "05/01/2026 12:00:00.25 AM",
            ],
            DateTime,
        ),
        (
            [
                "28-Feb-2028 23:59:59.75",
                "29-Feb-2028 00:00:00",
                "29-Feb-2028 00:00:00.25",
            ],
            DateTime,
        ),
    ] {
        let text = clocked("Time", &stamps);
        let (log, table) = table(&text);
        let clock = log.dialect().clock.map(|clock| (clock.column, clock.style));
        assert_eq!(clock, Some((Some(0), style)), "{text}");
        let start = table.time_s[0];
        let times: Vec<f64> = table.time_s.iter().map(|time| time - start).collect();
        near(&times, &[0.0, 0.25, 0.5]);
        assert_eq!((table.problems.total, table.breaks.len()), (0, 0), "{text}");
    }
}

#[test]
fn numbers_of_every_size() {
    use ClockStyle::{Days, Hours, Microseconds, Milliseconds, Minutes, Nanoseconds, Seconds};
    for (heading, first, step, style, offset) in [
        ("Time", 84_321.5, 0.05, Seconds, true),
        ("Time (ms)", 84_321_500.0, 50.0, Milliseconds, true),
        ("Time", 1_775_988_900.0, 0.05, Seconds, true),
        ("Time", 1_775_988_900_000.0, 50.0, Milliseconds, true),
        (
            "Time",
            1_775_988_900_000_000.0,
            50_000.0,
            Microseconds,
            true,
        ),
        (
            "Time",
            1_775_988_900_000_000_000.0,
            50_000_000.0,
            Nanoseconds,
            true,
        ),
        ("Time", 0.0, 50_000_000.0, Nanoseconds, false),
        ("Time", 345_678.9, 0.05, Seconds, true),
        ("Time", 45_678.123_456, 0.05 / 86_400.0, Days, true),
        ("Time [h]", 0.0, 0.05 / 3600.0, Hours, false),
        ("Time [min]", 0.0, 0.05 / 60.0, Minutes, false),
        ("Time (days)", 0.0, 0.05 / 86_400.0, Days, false),
        ("Time", 12.5, 0.05, Seconds, false),
    ] {
        let stamps: Vec<String> = (0..30)
            .map(|row| format!("{:.9}", first + f64::from(row) * step))
            .collect();
        let text = clocked(heading, &stamps);
        let (log, table) = table(&text);
        let clock = log.dialect().clock.unwrap_or_default();
        assert_eq!((clock.style, clock.from_first), (style, offset), "{text}");
        let start = table.time_s[0];
        assert!(
            (start - if offset { 0.0 } else { first }).abs() < 1e-6,
            "{start}"
        );
        for (row, time) in (0_u32..).zip(table.time_s.iter()) {
            // 45678.123456 with nine decimals is good to a tenth of a millisecond.
            let wanted = start + f64::from(row) * 0.05;
            assert!(
                (time - wanted).abs() < 1e-4,
                "{heading} {row}: {time} {wanted}"
            );
        }
    }
}

/// Spreadsheets: 45678.5 is noon of 21 January 2025 (day 45658 is 1 January 2025).
#[test]
fn spreadsheet_fractions_of_a_day() {
    let stamps: Vec<String> = (0..20)
        .map(|row| format!("{:.15}", (36_000.0 + f64::from(row) * 0.1) / 86_400.0))
        .collect();
    let text = clocked("Time", &stamps);
    let clock = log(&text).dialect().clock.unwrap_or_default();
    assert_eq!(clock.style, ClockStyle::Days);
    near(&table(&text).1.time_s[..3], &[0.0, 0.1, 0.2]);
    says(&text, "`clock_unit` under `[log]`");
    // The same numbers with few digits are seconds of a fast log.
    let fast: Vec<String> = (0..20)
        .map(|row| format!("{:.4}", 0.4 + f64::from(row) * 0.0005))
        .collect();
    let clock = log(&clocked("Time", &fast))
        .dialect()
        .clock
        .unwrap_or_default();
    assert_eq!(clock.style, ClockStyle::Seconds);
}

#[test]
fn a_coarse_clock_of_milliseconds_without_a_unit() {
    let stamps: Vec<String> = (0..20).map(|row| format!("{}", row / 2 * 20)).collect();
    let text = clocked("Time", &stamps);
    assert_eq!(
        log(&text).dialect().clock.unwrap_or_default().style,
        ClockStyle::Milliseconds
    );
    near(&table(&text).1.time_s[..3], &[0.0, 0.01, 0.02]);
}

#[test]
fn the_order_of_day_and_month() {
    use DateOrder::{Dmy, Mdy};
    for (dates, order, assumed, sentence) in [
        (
            ["13/04/2026", "13/04/2026"],
            Dmy,
            false,
            "a number past 12 can only be the day",
        ),
        (
            ["04/13/2026", "04/13/2026"],
            Mdy,
            false,
            "a number past 12 can only be the day",
        ),
        (
            ["03/04/2026", "03/04/2026"],
            Dmy,
            true,
            "`date_order` under `[log]`",
        ),
        (["31.12.26", "01.01.27"], Dmy, false, "day, month, year"),
        (["12-31-26", "01-01-27"], Mdy, false, "month, day, year"),
    ] {
        let same = dates[0] == dates[1];
        let times = if same {
            ["10:00:00", "10:00:01"]
        } else {
            ["23:59:59", "00:00:00"]
        };
        let stamps: Vec<String> = dates
            .iter()
            .zip(times)
            .map(|(d, t)| format!("{d} {t}"))
            .collect();
        let text = clocked("Time", &stamps);
        let clock = log(&text).dialect().clock.unwrap_or_default();
        assert_eq!(
            (clock.date_order, clock.date_order_assumed),
            (order, assumed),
            "{text}"
        );
        says(&text, sentence);
        near(&table(&text).1.time_s, &[0.0, 1.0]);
    }
    let iso = clocked("Time", &["2026-04-03 10:00:00", "2026-04-03 10:00:01"]);
    assert!(!evidence(&iso).contains("Dates are read"));
}

#[test]
fn an_assumed_order_is_put_right_at_midnight() {
    let text = clocked(
        "Time",
        &[
            "03/04/2026 23:59:59.5",
            "03/05/2026 00:00:00.0",
            "03/05/2026 00:00:00.5",
        ],
    );
    let (_, made) = table(&text);
    near(&made.time_s, &[0.0, 0.5, 1.0]);
    assert!(
        made.clock_note
            .is_some_and(|note| note.contains("day and month the other way round"))
    );
    let sheet = Forced {
        date_order: Some(DateOrder::Mdy),
        ..Forced::default()
    };
    let made = forced(&text, &sheet).unwrap_or_else(|e| panic!("{e}"));
    near(&made.time_s, &[0.0, 0.5, 1.0]);
    assert!(made.clock_note.is_none());
    // What the sheet says is not put right: it asked for 31 days.
    let sheet = Forced {
        date_order: Some(DateOrder::Dmy),
        ..Forced::default()
    };
    let made = forced(&text, &sheet).unwrap_or_else(|e| panic!("{e}"));
    assert!(made.duration_s() > 25.0 * 86_400.0);
}
