//! From bytes to channels: several rates in one table, and real logs.

use std::fmt::Write as _;
use std::path::Path;

use super::*;
use crate::load::{self, Forced};
use crate::sheet::{self, Sheet};

fn read(csv: &str, sheet: &str) -> Recording {
    let sheet = sheet::parse("car.toml", sheet).unwrap_or_else(|e| panic!("{e}"));
    let log = load::from_bytes("run.csv", csv.as_bytes().to_vec(), &Forced::default())
        .unwrap_or_else(|e| panic!("{e}"));
    Recording::read(&log, &sheet, |_| true).unwrap_or_else(|e| panic!("{e}"))
}

/// A value that is new at each reading.
fn value(column: usize, nth: usize) -> f64 {
    let wave = (nth as f64 / 9.0 + column as f64).sin();
    (1000.0 + 400.0 * wave + ((nth * 37 + column * 11) % 29) as f64).round()
}

#[test]
fn every_channel_keeps_its_own_samples_in_a_table_of_several_rates() {
    // Rows at 100 Hz; each channel in its own rate, blank between its readings or repeated.
    let rates = [
        ("RPM", 100),
        ("MAP", 50),
        ("EGT 1", 10),
        ("EGT 2", 10),
        ("Oil Temp", 2),
        ("Coolant Temp", 1),
    ];
    for repeated in [false, true] {
        let mut csv = String::from("Time (s)");
        for (name, _) in rates {
            let _ = write!(csv, ",{name}");
        }
        csv.push('\n');
        for row in 0..6000_usize {
            let _ = write!(csv, "{:.2}", row as f64 / 100.0);
            for (column, (_, hz)) in rates.iter().enumerate() {
                let each = 100 / hz;
                if repeated || row % each == 0 {
                    let _ = write!(csv, ",{}", value(column, row / each));
                } else {
                    csv.push(',');
                }
            }
            csv.push('\n');
        }
        let rec = read(
            &csv,
            "[units]\nmap = \"hPa\"\negt_1 = \"degC\"\negt_2 = \"degC\"\noil_temp = \"degC\"\ncoolant_temp = \"degC\"",
        );
        assert_eq!(rec.in_turn, None);
        for (column, (name, hz)) in rates.iter().enumerate() {
            let name = name.to_lowercase().replace(' ', "_");
            let channel = rec.channel(&name).unwrap_or_else(|| panic!("no {name}"));
            let scale = if name == "map" { 0.1 } else { 1.0 };
            let updates = channel.updates();
            assert_eq!(updates.len(), 60 * hz, "{name}, repeated: {repeated}");
            for (nth, (t, v)) in updates.times.iter().zip(updates.values.iter()).enumerate() {
                assert!(
                    (t - nth as f64 / *hz as f64).abs() < 1e-9,
                    "{name} {nth}: {t}"
                );
                assert!(
                    (v - scale * value(column, nth)).abs() < 1e-9,
                    "{name} {nth}: {v}"
                );
            }
            assert!(
                (channel.interval_s() * *hz as f64 - 1.0).abs() < 1e-6,
                "{name}"
            );
        }
    }
}

#[test]
fn columns_read_in_turn_are_found_out() {
    // A bus with eight quantities: one is read every 230 ms, a row is written every half second.
    let names = [
        "RPM",
        "Speed",
        "TPS",
        "MAP",
        "Coolant Temp",
        "Intake Temp",
        "Pedal",
        "Baro",
    ];
    let (slot, row_s, rows) = (0.23, 0.5, 3000_usize);
    let round = slot * names.len() as f64;
    let reading = |column: usize, nth: usize| match column {
        // Read like the others, and seldom another number than before; never.
        4 => 80.0 + (nth / 40) as f64,
        7 => 99.0,
        3 => value(column, nth) / 20.0,
        2 | 5 | 6 => value(column, nth) / 30.0,
        1 => value(column, nth) / 10.0,
        _ => value(column, nth),
    };
    let mut csv = format!("Time (s),{}\n", names.join(","));
    for row in 0..rows {
        let now = row as f64 * row_s + 0.05;
        let _ = write!(csv, "{:.2}", row as f64 * row_s);
        for column in 0..names.len() {
            let nth = ((now - slot * column as f64) / round).floor().max(0.0) as usize;
            let _ = write!(csv, ",{:.3}", reading(column, nth));
        }
        csv.push('\n');
    }
    let rec = read(&csv, "");
    let turn = rec.in_turn.as_ref().expect("read in turn");
    assert!(
        (turn.interval_s / round - 1.0).abs() < 0.02,
        "{} s",
        turn.interval_s
    );
    assert_eq!(turn.names.len(), names.len(), "{:?}", turn.names);
    assert!(
        rec.evidence
            .iter()
            .any(|e| e.contains("8 columns are read in turn")),
        "{:?}",
        rec.evidence
    );
    for name in names {
        let name = name.to_lowercase().replace(' ', "_");
        let channel = rec.channel(&name).unwrap();
        let readings = (rows as f64 * row_s / round).floor();
        let got = channel.updates().len() as f64;
        assert!(
            (got / readings - 1.0).abs() < 0.02,
            "{name}: {got} of {readings}"
        );
        assert!(
            (channel.interval_s() / round - 1.0).abs() < 0.05,
            "{name}: {} s",
            channel.interval_s()
        );
        // Each new number is there, in the first row that shows it.
        let series = &channel.series;
        for i in 1..series.len() {
            if series.values[i] != series.values[i - 1] {
                assert!(
                    channel.updates().times.contains(&series.times[i]),
                    "{name} at {} s",
                    series.times[i]
                );
            }
        }
        let made = if ["coolant_temp", "baro"].contains(&name.as_str()) {
            Pace::Beside
        } else {
            Pace::Repeated
        };
        assert_eq!(channel.pace(), made, "{name}");
    }
}

/// Each column rises a little at its turn and never elsewhere: alone each could be a slow climb, side by side they cannot.
#[test]
fn quiet_columns_read_in_turn_show_it_side_by_side() {
    let table = |turns: [usize; 4]| {
        let mut csv = String::from("Time (s),RPM,Coolant Temp (degC),Battery (V),Lambda\n");
        for row in 0..400_usize {
            let shown = |column: usize| (row + 4 - turns[column]) / 4;
            let (rpm, coolant) = (800 + 4 * shown(0), 200 + 4 * shown(1));
            let (volts, lambda) = (140 + shown(2), 900 + shown(3));
            let _ = writeln!(
                csv,
                "{:.1},{rpm},{:.1},{:.1},{:.3}",
                row as f64 * 0.4,
                coolant as f64 / 10.0,
                volts as f64 / 10.0,
                lambda as f64 / 1000.0
            );
        }
        csv
    };
    let rec = read(&table([0, 1, 2, 3]), "");
    let turn = rec.in_turn.as_ref().expect("read in turn");
    assert!((turn.interval_s - 1.6).abs() < 1e-9, "{turn:?}");
    assert_eq!(turn.names.len(), 4, "{turn:?}");
    assert!(rec.evidence.iter().any(|line| line.contains("in turn")));
    // Two of them in the same rows: then they climb.
    assert_eq!(read(&table([0, 0, 2, 3]), "").in_turn, None);
}

/// `OFF` beside zeros alone looks like a switch, and no temperature is one.
#[test]
fn words_for_off_are_no_readings_of_a_temperature() {
    let rows = |cell: fn(usize) -> &'static str| -> String {
        let row = |n: usize| format!("{n},900,{},off\n", cell(n));
        (0..40).map(row).collect()
    };
    let read = |rows: String| read(&format!("Time (s),RPM,EGT 1,Fan\n{rows}"), "");
    let resting = read(rows(|n| if n % 3 == 0 { "OFF" } else { "0" }));
    assert!(resting.channel("egt_1").is_none() && resting.channel("fan").is_some());
    let why = "looks like `egt_1`, but it holds words for on and off, and no readings";
    assert_eq!(
        resting.unmapped,
        [("EGT 1".to_owned(), Some(why.to_owned()))]
    );
    // Among readings they are missing, and counted as such: also where all of these are 1.
    for cell in [
        (|n| if n % 3 == 0 { "OFF" } else { "450" }) as fn(usize) -> &'static str,
        |n| if n % 3 == 0 { "OFF" } else { "1.00" },
    ] {
        let run = read(rows(cell));
        let values = &run.channel("egt_1").unwrap().series.values;
        assert!(values.len() == 26 && values.iter().all(|v| *v >= 1.0));
        let told = run
            .problems
            .iter()
            .filter(|(_, what)| what.contains("`OFF`"));
        assert!(told.count() >= 5, "{:?}", run.problems);
    }
}

#[test]
fn a_date_beside_the_clock_is_a_part_of_it() {
    let csv = "Date,Time,RPM,Aux\n04.05.2026,10:00:00,900,1\n04.05.2026,10:00:01,901,2\n04.05.2026,10:00:02,902,3\n";
    let rec = read(csv, "");
    let part = ("Date".to_owned(), Some("part of the clock".to_owned()));
    assert_eq!(rec.unmapped, [part, ("Aux".to_owned(), None)]);
}

/// The carOBD dataset, every file of the folder: 27 quantities read in turn over the diagnostic socket.
#[test]
fn the_real_logs_show_that_they_were_read_in_turn() {
    let folder = Path::new("../shared/open-data/car-obd");
    if !folder.exists() {
        return eprintln!("skipped: no open data beside the checkout");
    }
    let mut files = 0;
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        if path.extension().is_none_or(|e| e != "csv") {
            continue;
        }
        files += 1;
        let case = path.display().to_string();
        // By hand: the lively quantities change once a round, so the busiest column counts the rounds.
        let text = std::fs::read_to_string(&path).unwrap();
        let rows: Vec<Vec<&str>> = (text.lines().skip(1))
            .map(|l| l.split(',').map(str::trim).collect::<Vec<&str>>())
            .filter(|r: &Vec<&str>| r.iter().filter(|c| !c.is_empty()).count() == 27)
            .collect();
        let changes = |column: usize| {
            rows.windows(2)
                .filter(|w| w[0][column] != w[1][column])
                .count()
        };
        let rounds = (1..27).map(changes).max().unwrap();
        let log = load::open(&path, &Forced::default()).unwrap();
        let rec = Recording::read(&log, &Sheet::default(), |_| true).unwrap();
        let turn = rec
            .in_turn
            .as_ref()
            .unwrap_or_else(|| panic!("{case}: not read in turn"));
        assert_eq!(
            turn.names.len(),
            rec.channels.len(),
            "{case}: {:?}",
            turn.names
        );
        for channel in rec.channels.values() {
            let updates = channel.updates().len() as f64;
            let share = updates / rounds as f64;
            assert!(
                (0.93..1.12).contains(&share),
                "{case}: {} has {updates} readings in {rounds} rounds",
                channel.name
            );
            assert!(
                (1.5..2.4).contains(&channel.interval_s()),
                "{case}: {} s",
                channel.interval_s()
            );
        }
        // Its units are the controller's own: nothing to infer, nothing to ask.
        assert_eq!(rec.questions, Vec::<String>::new(), "{case}");
        assert!(
            rec.understood
                .iter()
                .all(|u| u.unit_from != UnitFrom::Numbers),
            "{case}"
        );
    }
    assert!(files >= 12, "{files} files");
}

#[test]
fn counts_of_each_row_are_summed_once_for_each_reading() {
    // A knock count that a logger clears ten times a second, in rows at 100 Hz that repeat it.
    let counts = [0, 0, 1, 0, 2, 0, 0, 3, 0, 0, 1, 1, 0, 0, 0, 0, 2, 0];
    let csv = |each: usize, blanks: bool| {
        let mut csv = String::from("Time (s),RPM,Knock Cyl 1\n");
        for row in 0..6000_usize {
            let count = counts[(row / each) % counts.len()];
            let cell = if blanks && row % each != 0 {
                String::new()
            } else {
                count.to_string()
            };
            let _ = writeln!(csv, "{:.2},{},{cell}", row as f64 / 100.0, 2000 + row % 7);
        }
        csv
    };
    for (each, blanks) in [(1, false), (10, true), (10, false), (4, false)] {
        let rec = read(&csv(each, blanks), "");
        let knock = rec.channel("knock_1").unwrap();
        let wanted: usize = (0..6000 / each).map(|n| counts[n % counts.len()]).sum();
        assert_eq!(
            knock.series.values.last().copied(),
            Some(wanted as f64),
            "every {each} rows, blanks: {blanks}"
        );
        assert!(knock.series.values.windows(2).all(|w| w[0] <= w[1]));
        assert!(rec.evidence.iter().any(|e| e.contains("count in each row")));
        // The sheet says otherwise: it stays as it is.
        let kept = read(&csv(each, blanks), "[units]\nknock_1 = \"running count\"");
        assert_eq!(
            kept.channel("knock_1")
                .unwrap()
                .series
                .values
                .iter()
                .copied()
                .fold(0.0, f64::max),
            3.0
        );
    }
}

#[test]
fn running_counts_stay_as_they_are_through_wraps_and_resets() {
    for top in [256_usize, 65_536] {
        let mut csv = String::from("Time (s),RPM,Sync Errors\n");
        for row in 0..3000_usize {
            let count = (top - 40 + row / 10) % top;
            let count = if row >= 2500 {
                (row - 2500) / 50
            } else {
                count
            };
            let _ = writeln!(csv, "{:.2},{},{count}", row as f64 / 100.0, 2000 + row % 7);
        }
        let rec = read(&csv, "");
        let errors = rec.channel("sync_errors").unwrap();
        assert_eq!(errors.series.values[0], (top - 40) as f64);
        assert_eq!(errors.series.values[2999], 9.0);
        assert!(
            rec.evidence.iter().all(|e| !e.contains("summed")),
            "{:?}",
            rec.evidence
        );
    }
}

#[test]
fn a_gauge_manifold_follows_the_barometer_up_the_hill() {
    let mut csv = String::from("Time (s),RPM,MAP (kPa),Baro (kPa)\n");
    for row in 0..3000_usize {
        let t = row as f64 / 50.0;
        let baro = 98.0 - 0.1 * t;
        let rest = t < 5.0;
        let absolute = if rest { baro } else { 60.0 };
        let rpm = if rest { 0 } else { 3000 + row % 9 };
        let cell = if row % 50 == 0 {
            format!("{baro:.2}")
        } else {
            String::new()
        };
        let _ = writeln!(csv, "{t:.2},{rpm},{:.3},{cell}", absolute - baro);
    }
    let rec = read(&csv, "");
    let map = rec.channel("map").unwrap();
    for (t, v) in map.series.times.iter().zip(map.series.values.iter()) {
        let wanted = if *t < 5.0 { 98.0 - 0.1 * t } else { 60.0 };
        // The barometer is read once a second.
        assert!((v - wanted).abs() < 0.11, "{v} at {t} s");
    }
    assert!(
        rec.questions.iter().any(|q| q.contains("kPa gauge")),
        "{:?}",
        rec.questions
    );
    // Without a barometer it waits for the height, and is not lost from the list.
    let blind = csv.replace("Baro (kPa)", "Aux 1");
    let rec = read(&blind, "");
    assert!(rec.channel("map").is_none());
    assert!(rec.unmapped.iter().any(
        |(h, why)| h == "MAP (kPa)" && why.as_deref().is_some_and(|w| w.contains("altitude_m"))
    ));
    let rec = read(&blind, "[air]\naltitude_m = 280");
    let map = rec.channel("map").unwrap();
    // 98.0 kPa at 280 m by the U.S. Standard Atmosphere 1976.
    assert!(
        (map.series.values[0] - 98.0).abs() < 0.1,
        "{}",
        map.series.values[0]
    );
}

#[test]
fn what_is_read_for_a_few_checks_is_read_like_the_whole() {
    let mut csv =
        String::from("Time (s),RPM,Fuel Press,Pulse Width (ms),EGT 1,Coolant Temp,Lateral G\n");
    for row in 0..2000_usize {
        let t = row as f64 / 20.0;
        let rpm = if t < 5.0 { 0.0 } else { 1000.0 + 30.0 * t };
        let run = (t - 5.0).max(0.0);
        let warm = 61.0 + 1.4 * run;
        let _ = writeln!(
            csv,
            "{t:.2},{rpm},{:.2},2.5,{:.1},{warm:.1},0.1",
            43.0 + 0.01 * t,
            61.0 + 9.0 * run
        );
    }
    let sheet = Sheet::default();
    let log = load::from_bytes("run.csv", csv.into_bytes(), &Forced::default()).unwrap();
    let whole = Recording::read(&log, &sheet, |_| true).unwrap();
    let wanted = ["rpm", "fuel_pressure", "egt_1"];
    let part = Recording::read(&log, &sheet, |name| wanted.contains(&name)).unwrap();
    let mut names: Vec<&str> = part.channels.keys().map(String::as_str).collect();
    names.sort_unstable();
    assert_eq!(names, ["egt_1", "fuel_pressure", "rpm"]);
    for name in wanted {
        let (a, b) = (whole.channel(name).unwrap(), part.channel(name).unwrap());
        assert_eq!(a.series, b.series, "{name}");
    }
    // 43 psi and 61 degF, as the injectors and the coolant show.
    assert!((part.channel("fuel_pressure").unwrap().series.values[0] - 296.5).abs() < 0.1);
    assert!((part.channel("egt_1").unwrap().series.values[0] - 16.1).abs() < 0.1);
    assert_eq!(whole.questions, part.questions);
}

/// A log of which much cannot be used must not pass in silence.
#[test]
fn many_rows_that_cannot_be_used_are_asked_about() {
    let log = |torn: usize| {
        let row = |n: usize| match n < torn {
            true => format!("{n},900,1,2\n"),
            false => format!("{n},{}\n", 900 + n % 7),
        };
        let rows: String = (1..97).map(row).collect();
        read(&format!("Time,RPM\n0.1,900\n0.2,910\n0.3,920\n{rows}"), "")
    };
    let asked = |rec: &Recording| {
        rec.questions
            .iter()
            .any(|q| q.contains("could not be used"))
    };
    assert!(!asked(&log(4)));
    let rec = log(6);
    let wanted = "5 of 99 rows could not be used, so what happened in them is not judged: is the export whole?";
    assert!(
        rec.questions.iter().any(|q| q == wanted),
        "{:?}",
        rec.questions
    );
}
