//! Logs that were once read in another way than they are written.

use super::{log, near, problems, read_all, table, values};
use crate::load::{Forced, LoadError, from_bytes};

fn says(log: &crate::load::LogFile, words: &str) -> bool {
    log.dialect()
        .evidence
        .iter()
        .any(|line| line.contains(words))
}

/// Numbers of a column, none of them missing.
fn numbers(text: &str, column: usize) -> Vec<f64> {
    let (_, table) = table(text);
    values(&table, column).into_iter().flatten().collect()
}

#[test]
fn a_point_that_parts_thousands_beside_decimal_commas() {
    let speeds = ["0", "850", "998", "1.002", "1.250", "3.615", "12.400"];
    let wanted = [0.0, 850.0, 998.0, 1002.0, 1250.0, 3615.0, 12_400.0];
    let row = |n: usize| format!("{n},5;{};98,{n}\n", speeds[n]);
    let rows: String = (0..7).map(row).collect();
    let text = format!("Time (s);RPM;MAP\n{rows}");
    near(&numbers(&text, 1), &wanted);
    assert!(says(&log(&text), "`1.002`, which are read as 1002"));
    assert!(says(&log(&text), "The decimal mark is `,`"));
    // Never below a thousand: nothing but the other columns speaks for it.
    let high: String = (3..7).map(row).collect();
    near(
        &numbers(&format!("Time (s);RPM;MAP\n{high}"), 1),
        &wanted[3..],
    );
    // No column has a fraction: whole numbers of three digits and none of four say it.
    let whole: String = (0..7).map(|n| format!("{n};{}\n", speeds[n])).collect();
    near(&numbers(&format!("Time (s);RPM\n{whole}"), 1), &wanted);
    // The sheet says the other thing: it is obeyed where that can be, and refused where not.
    let forced = Forced {
        decimal: Some('.'),
        ..Forced::default()
    };
    let either = format!("Time (s);RPM;MAP\n0,5;0;98,0\n1,5;0;98,1\n2,5;0;98,2\n{high}");
    near(&numbers(&either, 1)[3..], &wanted[3..]);
    assert!(says(
        &log(&either),
        "`decimal = \".\"` under `[log]` in the build sheet reads them otherwise"
    ));
    let log = from_bytes("run.csv", either.into_bytes(), &forced).unwrap_or_else(|e| panic!("{e}"));
    let table = read_all(&log);
    let got: Vec<f64> = values(&table, 1).into_iter().flatten().collect();
    near(&got, &[0.0, 0.0, 0.0, 1.002, 1.25, 3.615, 12.4]);
    let got: Vec<f64> = values(&table, 2).into_iter().flatten().collect();
    near(&got[..2], &[98.0, 98.1]);
    let refused = from_bytes("run.csv", text.into_bytes(), &forced);
    assert!(refused.is_err_and(|error| error.to_string().contains("`decimal = '.'`")));
}

/// All whole, and past a thousand only behind the rows that are looked at first.
#[test]
fn thousands_that_begin_far_down() {
    let shown = |speed: usize| match speed {
        0..1000 => speed.to_string(),
        _ => format!("{}.{:03}", speed / 1000, speed % 1000),
    };
    let speed = |n: usize| if n < 9000 { 750 + n % 200 } else { n - 8100 };
    let row = |n: usize| format!("{};{};9{}\n", n % 997, shown(speed(n)), n % 9);
    let rows: String = (0..12_000).map(row).collect();
    for text in [rows.clone(), rows.replace('.', ",")] {
        let forced = Forced {
            sample_hz: Some(20.0),
            ..Forced::default()
        };
        let text = format!("Count;RPM;MAP\n{text}");
        let log = from_bytes("run.csv", text.into_bytes(), &forced);
        let table = read_all(&log.unwrap_or_else(|error| panic!("{error}")));
        let wanted: Vec<f64> = (0..12_000).map(|n| speed(n) as f64).collect();
        let got: Vec<f64> = values(&table, 1).into_iter().flatten().collect();
        near(&got, &wanted);
    }
}

#[test]
fn a_clock_in_milliseconds_with_parted_thousands() {
    let shown = |ms: usize| match ms {
        0..1000 => ms.to_string(),
        _ => format!("{}.{:03}", ms / 1000, ms % 1000),
    };
    let row = |n: usize| format!("{};{},5\n", shown(n * 50), n % 7);
    let rows: String = (0..60).map(row).collect();
    for head in ["Zeit [ms]", "Time (ms)"] {
        let (_, table) = table(&format!("{head};MAP\n{rows}"));
        let wanted: Vec<f64> = (0..60_u32).map(|n| f64::from(n) * 0.05).collect();
        near(&table.time_s, &wanted);
    }
}

/// A clock with a point and thousandths in each row is one in seconds, also among decimal commas.
#[test]
fn a_clock_with_a_point_among_decimal_commas() {
    let row = |n: usize| format!("{}.{:03};{},5;9{n}\n", n / 20 + 3, n % 20 * 50, n % 7);
    let rows: String = (0..60).map(row).collect();
    for head in ["Time (s)", "Time"] {
        let (_, table) = table(&format!("{head};MAP;RPM\n{rows}"));
        let last = table.time_s.last().copied().unwrap_or(f64::NAN);
        near(&[last - table.time_s[0]], &[2.95]);
    }
}

/// Commas mark the fractions, so they part such rows into three fields, too: more or less.
#[test]
fn readings_with_decimal_commas_and_the_value_last() {
    for head in [
        "time;channel;unit;value",
        "Zeitstempel;Kanal;Einheit;Wert",
        "Zeit;Signal;Einheit;Messwert",
    ] {
        let row = |n: usize| {
            format!(
                "0,{:04};Engine Speed;rpm;{}\n0,{:04};MAP;kPa;98,{}\n0,{:04};Battery;V;12,5\n",
                n * 21,
                900 + n,
                n * 21 + 7,
                n % 9,
                n * 21 + 14
            )
        };
        let rows: String = (0..40).map(row).collect();
        let (log, table) = table(&format!("{head}\n{rows}"));
        let behind = super::table(&format!("Logger\nDriver;somebody\n\n{head}\n{rows}"));
        assert_eq!(behind.0.headings(), log.headings(), "{head}");
        let names: Vec<&str> = log.headings()[1..]
            .iter()
            .map(|h| h.name.as_str())
            .collect();
        assert_eq!(names, ["Engine Speed", "MAP", "Battery"], "{head}");
        assert_eq!(table.rows_read, 120);
        let speeds: Vec<f64> = values(&table, 1).into_iter().flatten().collect();
        near(&speeds[..3], &[900.0, 901.0, 902.0]);
        let map: Vec<f64> = values(&table, 2).into_iter().flatten().collect();
        near(&map[..3], &[98.0, 98.1, 98.2]);
    }
}

/// Day and month, either way, across midnight in a zone of its own: only one order goes on day by day.
#[test]
fn dates_with_a_zone_across_midnight() {
    let stamp = |n: usize, late: &str, early: &str, between: &str| {
        let (day, clock) = match n {
            0..40 => (late, format!("23:59:{:02}.{:03}", 58 + n / 20, n % 20 * 50)),
            _ => (
                early,
                format!("00:00:{:02}.{:03}", (n - 40) / 20, n % 20 * 50),
            ),
        };
        format!("{day}{between}{clock}")
    };
    let wanted: Vec<f64> = (0..80_u32).map(|n| f64::from(n) * 0.05).collect();
    for (late, early) in [("03/04/2026", "03/05/2026"), ("03/04/2026", "04/04/2026")] {
        for zone in ["+02:00", " -05:30", "Z", ""] {
            for (head, between) in [("Timestamp", " "), ("Date;Time", ";")] {
                let row = |n: usize| {
                    let stamp = stamp(n, late, early, between);
                    format!("{stamp}{zone};{}\n", 900 + n % 9)
                };
                let rows: String = (0..80).map(row).collect();
                let (_, table) = table(&format!("{head};RPM\n{rows}"));
                near(&table.time_s, &wanted);
            }
        }
    }
}

#[test]
fn missing_words_with_digits_do_not_make_a_switch_a_measurement() {
    for missing in ["1.#INF", "1.#QNAN", "-1.#IND00", "#DIV/0!"] {
        let rows: String = (0..12)
            .map(|n| {
                let fan = match n {
                    5 => missing,
                    0..8 => "off",
                    _ => "on",
                };
                format!("{n},{},{fan}\n", 900 + n)
            })
            .collect();
        let (_, table) = table(&format!("Time (s),RPM,Fan\n{rows}"));
        assert_eq!(problems(&table), [], "{missing}");
        let fan = values(&table, 2);
        assert_eq!((fan[4], fan[5], fan[8]), (Some(0.0), None, Some(1.0)));
    }
}

/// Letters beyond ASCII, of two and of four bytes each in UTF-16, in each row: at whatever byte a piece ends.
#[test]
fn sixteen_bits_a_letter_with_letters_of_any_size() {
    for rows in [3_usize, 40, 3000] {
        let line = |n: usize| {
            let note = ["e", "\u{e9}", "\u{20ac}", "\u{1f525}"][n % 4].repeat(n % 5);
            format!("{}.{:02},{},{note}\r\n", n / 20, n % 20 * 5, 1000 + n % 7)
        };
        let lines: String = (0..rows).map(line).collect();
        let text = format!("\u{feff}Time (s),RPM,Note \u{b0}\r\n{lines}");
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        for bytes in [little, big] {
            let log = from_bytes("run.csv", bytes, &Forced::default());
            let log = log.unwrap_or_else(|error| panic!("{error}"));
            let table = log.read(&[0, 1]).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!((table.rows, table.problems.total), (rows, 0));
        }
    }
}

/// Commas that mark decimals in a log that commas part: nobody can tell them apart, so such a log is not read.
#[test]
fn commas_that_do_both_are_refused() {
    let row = |n: usize| {
        let (speed, map) = (900 + n % 9, 97.0 + (n % 20) as f64 / 10.0);
        format!(
            "{:.2},{speed},{map:.1},{:.3},{}\n",
            n as f64 / 20.0,
            0.98 + (n % 7) as f64 / 100.0,
            n % 3
        )
    };
    let rows: String = (0..60).map(|n| row(n).replace('.', ",")).collect();
    let read = |text: &str| from_bytes("run.csv", text.as_bytes().to_vec(), &Forced::default());
    let error = read(&format!("Time,RPM,MAP,Lambda,Gear\n{rows}")).unwrap_err();
    assert!(
        matches!(
            error,
            LoadError::CommasDoBoth {
                named: 5,
                fields: 8,
                ..
            }
        ),
        "{error}"
    );
    // Columns without a name, of whole numbers or beside decimal points, are just that.
    for (name, other) in [
        ("2", "1000,7,0"),
        ("0.05", "1000,017,0"),
        ("2", "0,017,1000"),
    ] {
        let rows: String = (0..60)
            .map(|n| format!("{n},{},{name},{other}\n", 900 + n))
            .collect();
        let log = read(&format!("Time,RPM,Gear,A\n{rows}")).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(log.headings().len(), 6);
    }
}
