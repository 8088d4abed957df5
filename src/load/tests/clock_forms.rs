//! Clocks in further forms: single numbers of every size, dates in every order, rounds that begin anew.

use super::{forced, log, near, problems, table};
use crate::load::{BreakKind, ClockStyle, DateOrder, Forced, LoadError};

/// A log with one other column under a clock heading.
fn clocked<S: AsRef<str>>(heading: &str, stamps: &[S]) -> String {
    let mut text = format!("{heading};RPM\n");
    for (row, stamp) in stamps.iter().enumerate() {
        text.push_str(&format!("{};{}\n", stamp.as_ref(), 1000 + row % 7));
    }
    text
}

fn evidence(text: &str) -> String {
    log(text).dialect().evidence.join("\n")
}

fn says(text: &str, wanted: &str) {
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

#[test]
fn a_forced_order_that_makes_no_dates_is_refused() {
    let text = clocked("Time", &["13/04/2026 10:00:00", "13/04/2026 10:00:01"]);
    let sheet = Forced {
        date_order: Some(DateOrder::Mdy),
        ..Forced::default()
    };
    let error = forced(&text, &sheet).err();
    assert!(
        matches!(
            &error,
            Some(LoadError::BadForced {
                entry: "date_order",
                ..
            })
        ),
        "{error:?}"
    );
}

#[test]
fn midnight_in_numbers_of_seconds() {
    let stamps: Vec<String> = (0..40)
        .map(|row| format!("{:.1}", (86_398.0 + f64::from(row) * 0.1) % 86_400.0))
        .collect();
    let (_, made) = table(&clocked("Seconds", &stamps));
    let wanted: Vec<f64> = (0..40).map(|row| f64::from(row) * 0.1).collect();
    near(&made.time_s, &wanted);
    assert!(made.breaks.is_empty());
    assert!(
        made.clock_note
            .is_some_and(|note| note.contains("begins anew after one day"))
    );
}

#[test]
fn counters_that_wrap() {
    for (heading, round, step, shown) in [
        ("Time (ms)", 65_536_u64, 20_u64, "65536"),
        ("Time (us)", 1 << 32, 10_000, "2^32"),
        ("Time (ms)", 1 << 32, 20, "2^32"),
        ("Time (ms)", 1000, 20, "one second"),
    ] {
        // Beyond the head too, so that the pass and not the sniffer alone carries on.
        let stamps: Vec<String> = (0..20_000)
            .map(|row| {
                format!(
                    "{}",
                    (round - 500 * step.min(round / 1000) + row * step) % round
                )
            })
            .collect();
        let (_, made) = table(&clocked(heading, &stamps));
        let per_second = if heading.ends_with("(us)") { 1e6 } else { 1e3 };
        let wanted = 19_999.0 * step as f64 / per_second;
        assert!(
            (made.duration_s() - wanted).abs() < 1e-6,
            "{heading} {round}: {}",
            made.duration_s()
        );
        assert!(made.breaks.is_empty());
        let note = made.clock_note.unwrap_or_default();
        assert!(
            note.contains(&format!("begins anew after {shown}")),
            "{note}"
        );
    }
}

#[test]
fn a_wrap_that_does_not_fit_is_a_break() {
    let stamps: Vec<String> = (0..50_u32)
        .map(|row| {
            if row < 25 {
                40_000 + row * 20
            } else {
                (row - 25) * 20
            }
        })
        .map(|stamp| stamp.to_string())
        .collect();
    let (_, made) = table(&clocked("Time (ms)", &stamps));
    let kinds: Vec<BreakKind> = made.breaks.iter().map(|b| b.kind).collect();
    assert_eq!(kinds, [BreakKind::Restart]);
    assert!((made.duration_s() - 49.0 * 0.02).abs() < 1e-6);
}

#[test]
fn whole_seconds_that_repeat_with_partial_ends() {
    let rows = [3_usize, 10, 10, 10, 10, 4];
    let stamps: Vec<String> = (100..)
        .zip(rows)
        .flat_map(|(second, rows)| std::iter::repeat_n(format!("{second}"), rows))
        .collect();
    let (_, made) = table(&clocked("Time (s)", &stamps));
    let wanted: Vec<f64> = (0_u32..47)
        .map(|row| 100.7 + f64::from(row) * 0.1)
        .collect();
    near(&made.time_s, &wanted);
    assert!((made.sample_hz - 10.0).abs() < 1e-9);
}

#[test]
fn a_clock_that_stands_first() {
    let stamps: Vec<String> = (0..30_u32)
        .map(|row| format!("{:.2}", f64::from(row.saturating_sub(9)) * 0.02))
        .collect();
    let (_, made) = table(&clocked("Time (s)", &stamps));
    let wanted: Vec<f64> = (0..30).map(|row| f64::from(row) * 0.02 - 0.18).collect();
    near(&made.time_s, &wanted);
    assert!(
        made.clock_note
            .is_some_and(|note| note.contains("stands at its first stamp"))
    );
}

fn error(text: &str, sheet: &Forced) -> String {
    match forced(text, sheet) {
        Ok(table) => panic!("read: {:?}\n{text}", problems(&table)),
        Err(error) => error.to_string(),
    }
}

#[test]
fn a_reversed_or_shuffled_clock_is_named() {
    let reversed: Vec<String> = (0..50)
        .map(|row| format!("{:.1}", f64::from(50 - row) * 0.1))
        .collect();
    let got = error(&clocked("Time (s)", &reversed), &Forced::default());
    assert_eq!(
        got,
        "run.csv: the clock column `Time` runs backward in 49 of 49 steps looked at; sort its rows by that column, the earliest first, or name another clock with `clock` under `[log]` in the build sheet"
    );
    let shuffled: Vec<String> = (0..50)
        .map(|row| format!("{:.1}", f64::from(row * 37 % 50) * 0.1))
        .collect();
    let got = error(&clocked("Time (s)", &shuffled), &Forced::default());
    assert!(
        got.contains("`Time` goes back in") && got.contains("not in the order"),
        "{got}"
    );
    let text = "Time;RPM;MAP\nfirst lap;1000;30\nsecond lap;1010;31\nthird lap;1000;30\n";
    let got = error(text, &Forced::default());
    assert!(
        got.contains("`Time` holds cells such as `first lap`"),
        "{got}"
    );
    // Also with something else that grows.
    let mut both = String::from("X;Time\n");
    for row in 0..50 {
        both.push_str(&format!("{:.2};{}\n", f64::from(row) * 0.05, 50 - row));
    }
    assert!(error(&both, &Forced::default()).contains("`Time` runs backward"));
    // A forced rate reads it all the same.
    let sheet = Forced {
        sample_hz: Some(10.0),
        ..Forced::default()
    };
    assert!(forced(&both, &sheet).is_ok());
}

#[test]
fn several_clocks() {
    let mut text = String::from("Time;ECU Time;Uptime (ms);RPM\n");
    for row in 0..50_u32 {
        let (time, ecu) = (f64::from(row) * 0.1, f64::from(row / 5) * 0.5 + 700.0);
        text.push_str(&format!(
            "{time:.1};{ecu:.1};{};{}\n",
            row * 100 + 90_000,
            1000 + row % 2
        ));
    }
    let clock = |sheet: &Forced| {
        let log = crate::load::from_bytes("run.csv", text.clone().into_bytes(), sheet);
        log.map(|log| log.dialect().clock.and_then(|clock| clock.column))
    };
    assert_eq!(clock(&Forced::default()).ok().flatten(), Some(0));
    says(
        &text,
        "`clock = \"ECU Time\"` under `[log]` in the build sheet chooses it",
    );
    says(&text, "`clock = \"Uptime\"`");
    for (name, column) in [
        ("ECU Time", 1),
        ("Uptime (ms)", 2),
        ("Uptime", 2),
        (" uptime ", 2),
    ] {
        let sheet = Forced {
            clock: Some(name.to_owned()),
            ..Forced::default()
        };
        assert_eq!(clock(&sheet).ok().flatten(), Some(column), "{name}");
    }
    for (name, wanted) in [
        ("Speed", "no column has that heading"),
        ("RPM", "goes forward and back"),
    ] {
        let sheet = Forced {
            clock: Some(name.to_owned()),
            ..Forced::default()
        };
        let got = error(&text, &sheet);
        assert!(
            got.contains(&format!("`clock = {name:?}`")) && got.contains(wanted),
            "{got}"
        );
    }
}

#[test]
fn a_forced_unit() {
    let text = clocked("Time", &["0", "1", "2", "3"]);
    says(
        &text,
        "`clock_unit` under `[log]` in the build sheet forces another",
    );
    let sheet = Forced {
        clock_unit: Some(ClockStyle::Milliseconds),
        ..Forced::default()
    };
    near(
        &forced(&text, &sheet)
            .unwrap_or_else(|e| panic!("{e}"))
            .time_s,
        &[0.0, 0.001, 0.002, 0.003],
    );
    // It outweighs the heading.
    let minutes = clocked("Time (s)", &["0", "1", "2"]);
    let sheet = Forced {
        clock_unit: Some(ClockStyle::Minutes),
        ..Forced::default()
    };
    near(
        &forced(&minutes, &sheet)
            .unwrap_or_else(|e| panic!("{e}"))
            .time_s,
        &[0.0, 60.0, 120.0],
    );
    let written = clocked("Time", &["00:00:01", "00:00:02"]);
    for (text, style) in [
        (&written, ClockStyle::Milliseconds),
        (&text, ClockStyle::HoursMinutesSeconds),
        (&text, ClockStyle::FromSampleRate),
    ] {
        let sheet = Forced {
            clock_unit: Some(style),
            ..Forced::default()
        };
        assert!(error(text, &sheet).contains("`clock_unit = "), "{style:?}");
    }
}

#[test]
fn a_forced_mark_or_delimiter_that_spoils_the_file_is_named() {
    let point = "Time,RPM,EGT\n0.1,1000,500.5\n0.2,1010,501.5\n0.3,1020,502.5\n";
    let comma = "Zeit;RPM\n0,1;1000,5\n0,2;1010,5\n0,3;1020,5\n";
    for (text, delimiter, decimal, entry) in [
        (point, Some(';'), None, "`delimiter = ';'`"),
        (point, Some('\t'), None, "`delimiter = '\\t'`"),
        (point, None, Some(','), "`decimal = ','`"),
        (comma, None, Some('.'), "`decimal = '.'`"),
        (comma, Some('|'), None, "`delimiter = '|'`"),
    ] {
        let sheet = Forced {
            delimiter,
            decimal,
            ..Forced::default()
        };
        let got = error(text, &sheet);
        assert!(
            got.contains(entry) && got.contains("leave the entry out"),
            "{entry}: {got}"
        );
    }
    for (text, delimiter, decimal) in [(point, ',', '.'), (comma, ';', ',')] {
        let sheet = Forced {
            delimiter: Some(delimiter),
            decimal: Some(decimal),
            ..Forced::default()
        };
        assert_eq!(forced(text, &sheet).map(|table| table.rows).ok(), Some(3));
    }
}
