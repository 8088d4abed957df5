//! Which column is the clock, what the sheet may say about it, and what is said when it cannot be.

use super::clock_forms::{clocked, says};
use super::{forced, near, problems};
use crate::load::{ClockStyle, DateOrder, Forced, LoadError};

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
