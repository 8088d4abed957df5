//! Clocks spread over several columns.

use super::{log, near, problems, table};
use crate::load::ClockStyle;

fn spread(header: &str, rows: impl Iterator<Item = String>) -> String {
    let mut text = format!("{header},RPM\n");
    for (n, row) in rows.enumerate() {
        text.push_str(&format!("{row},{}\n", 1000 + n % 3));
    }
    text
}

/// Tenths of a second from ten seconds before midnight, as day, hour, minute and seconds.
fn night(row: u32) -> (u32, String) {
    let tenths = 863_900 + row;
    let (day, of_day) = (tenths / 864_000, tenths % 864_000);
    let (h, m) = (of_day / 36_000, of_day / 600 % 60);
    (
        day,
        format!("{h:02}:{m:02}:{:04.1}", f64::from(of_day % 600) / 10.0),
    )
}

fn is_even(text: &str, rows: usize) {
    let (_, table) = table(text);
    assert_eq!(problems(&table), []);
    let wanted: Vec<f64> = (0_u32..)
        .take(rows)
        .map(|row| f64::from(row) * 0.1)
        .collect();
    near(&table.time_s, &wanted);
    assert!(table.breaks.is_empty());
}

#[test]
fn date_and_time_apart() {
    for (dates, header) in [
        (["2026-04-12", "2026-04-13"], "Date,Time"),
        (["12.04.2026", "13.04.2026"], "Date,Time"),
        (["4/12/26", "4/13/26"], "Date,Time"),
        (["20260412", "20260413"], "Log Date,Time"),
        (["12-Apr-2026", "13-Apr-2026"], "Day,Clock"),
    ] {
        let text = spread(
            header,
            (0..300).map(|row| {
                let (day, time) = night(row);
                format!("{},{time}", dates[day as usize])
            }),
        );
        let clock = log(&text).dialect().clock.unwrap_or_default();
        assert_eq!(
            (clock.column, clock.date_column),
            (Some(1), Some(0)),
            "{text}"
        );
        assert_eq!(clock.style, ClockStyle::DateTime);
        is_even(&text, 300);
    }
}

#[test]
fn a_date_that_is_constant_late_or_missing_at_midnight() {
    let date = |row: u32, steps_at: u32| {
        if row < steps_at {
            "2026-04-12"
        } else {
            "2026-04-13"
        }
    };
    for steps_at in [100, 107, 95, 1000] {
        let text = spread(
            "Date,Time",
            (0..300).map(|row| format!("{},{}", date(row, steps_at), night(row).1)),
        );
        is_even(&text, 300);
        let (_, table) = table(&text);
        assert_eq!(table.clock_note.is_some(), steps_at != 100, "{steps_at}");
    }
    is_even(&spread("Time", (0..300).map(|row| night(row).1)), 300);
}

#[test]
fn a_row_without_its_date_is_reported() {
    let date = |row| if row == 5 { "" } else { "2026-04-12" };
    let text = spread(
        "Date,Time",
        (0..20_000).map(|row| {
            let shown = if row < 10_000 {
                "2026-04-12"
            } else {
                date(row - 10_000)
            };
            format!(
                "{shown},10:{:02}:{:04.1}",
                row / 600 % 60,
                f64::from(row % 600) / 10.0
            )
        }),
    );
    let (_, table) = table(&text);
    assert_eq!(problems(&table), [(10_007, "the clock cell is blank")]);
    assert_eq!(table.problems.listed[0].column, Some(1));
}

#[test]
fn seconds_and_milliseconds_apart() {
    for (header, whole) in [
        ("Time (s),Time (ms)", None),
        ("Seconds,Milliseconds", None),
        ("sec,msec", None),
        ("Time,ms", Some("10:15:")),
        ("Time,ms", Some("2026-04-12 10:15:")),
    ] {
        let text = spread(
            header,
            (0_u32..200).map(|row| {
                let (second, part) = (row / 10, row % 10 * 100);
                match whole {
                    Some(before) => format!("{before}{second:02},{part}"),
                    None => format!("{second},{part}"),
                }
            }),
        );
        let clock = log(&text).dialect().clock.unwrap_or_default();
        assert_eq!(clock.column, Some(0), "{text}");
        assert_eq!(
            clock.fraction,
            Some((1, ClockStyle::Milliseconds)),
            "{text}"
        );
        is_even(&text, 200);
    }
    // The parts in the other order, and microseconds.
    let text = spread(
        "usec,sec",
        (0_u32..200).map(|row| format!("{},{}", row % 10 * 100_000, row / 10)),
    );
    let clock = log(&text).dialect().clock.unwrap_or_default();
    assert_eq!(
        (clock.column, clock.fraction),
        (Some(1), Some((0, ClockStyle::Microseconds)))
    );
    is_even(&text, 200);
}

#[test]
fn milliseconds_that_are_no_fraction_of_the_second() {
    // A pulse width in ms beside a clock of whole seconds, and a full clock in ms.
    let text = spread(
        "Time (s),Pulse (ms)",
        (0_u32..200).map(|row| format!("{},{}", row / 10, 3 + row * 7 % 5)),
    );
    assert_eq!(
        log(&text).dialect().clock.unwrap_or_default().fraction,
        None
    );
    let text = spread(
        "Time (s),Elapsed (ms)",
        (0_u32..200).map(|row| format!("{},{}", row / 10, row * 100)),
    );
    let clock = log(&text).dialect().clock.unwrap_or_default();
    assert_eq!((clock.column, clock.fraction), (Some(1), None));
    is_even(&text, 200);
}

#[test]
fn date_time_and_milliseconds_apart() {
    let text = spread(
        "Date,Time,Msec",
        (0_u32..200).map(|row| format!("13/04/2026,23:59:{:02},{}", 40 + row / 10, row % 10 * 100)),
    );
    let clock = log(&text).dialect().clock.unwrap_or_default();
    assert_eq!((clock.column, clock.date_column), (Some(1), Some(0)));
    assert_eq!(clock.fraction, Some((2, ClockStyle::Milliseconds)));
    is_even(&text, 200);
}
