//! Real logs (carOBD dataset, see the README beside the data), read from `../shared` where that is there.
//!
//! Rows, values and lines are found a second time here with nothing but `str::split` and `str::parse`.

use std::path::{Path, PathBuf};

use super::{near, read_all};
use crate::load::{ClockStyle, Forced, open};

/// File, data rows, and last stamp of the clock in seconds. Counted outside this crate: rows are the lines after the
/// first with at least 27 numbers (Python's `csv`, a trailing empty field dropped), the stamp is the first field of the
/// last of them. `idle1` ends in a row cut off after 16 numbers; `idle2` and `ufpe18` end in a blank line.
const LOGS: [(&str, usize, f64); 12] = [
    ("drive1", 2709, 1330.0),
    ("drive6", 3468, 1703.0),
    ("idle1", 1212, 590.0),
    ("idle14", 1196, 585.0),
    ("idle2", 1225, 602.0),
    ("idle30", 1295, 633.0),
    ("live15", 2309, 1131.0),
    ("live20", 2407, 1179.0),
    ("live7", 2453, 1307.0),
    ("long1", 3528, 1733.0),
    ("ufpe1", 1651, 809.0),
    ("ufpe18", 2271, 1114.0),
];

fn folder() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/open-data/car-obd");
    if folder.is_dir() {
        return Some(folder);
    }
    println!("skipped: ../shared/open-data/car-obd is not there");
    None
}

/// Line and numbers of every whole row.
fn by_hand(path: &Path) -> Vec<(usize, Vec<f64>)> {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{e}"));
    let rows = text.split('\n').enumerate().skip(1).map(|(n, line)| {
        let fields = line.split(',').map_while(|field| field.trim().parse().ok());
        (n + 1, fields.collect::<Vec<f64>>())
    });
    rows.filter(|(_, numbers)| numbers.len() == 27).collect()
}

#[test]
fn rows_lines_and_values_agree_with_a_count_by_hand() {
    let Some(folder) = folder() else { return };
    for (name, rows, last) in LOGS {
        let path = folder.join(name).with_extension("csv");
        let log = open(&path, &Forced::default()).unwrap_or_else(|e| panic!("{e}"));
        let table = read_all(&log);
        let wanted = by_hand(&path);
        assert_eq!((table.rows, wanted.len()), (rows, rows), "{name}");
        for (row, (line, numbers)) in wanted.iter().enumerate() {
            assert_eq!(table.line_of(row), *line, "{name}");
            let got: Vec<f64> = table.columns.iter().map(|c| c.values[row]).collect();
            assert_eq!(&got, numbers, "{name} line {line}");
        }
        let clock = table.clock_s.as_deref().unwrap_or_default();
        assert_eq!(clock.last(), Some(&last), "{name}");
    }
}

#[test]
fn what_is_found_out_about_them() {
    let Some(folder) = folder() else { return };
    for (name, _, _) in LOGS {
        let path = folder.join(name).with_extension("csv");
        let log = open(&path, &Forced::default()).unwrap_or_else(|e| panic!("{e}"));
        let (dialect, headings) = (log.dialect(), log.headings());
        assert_eq!((dialect.delimiter, dialect.decimal), (',', '.'));
        assert_eq!(
            (
                dialect.names_line,
                dialect.units_line,
                dialect.first_data_line
            ),
            (1, None, 2)
        );
        assert_eq!(dialect.trailing_delimiter, name != "live7", "{name}");
        assert_eq!((headings.len(), dialect.fields), (27, 27));
        assert_eq!(
            (headings[0].raw.as_str(), headings[0].name.as_str()),
            ("ENGINE_RUN_TINE ()", "ENGINE_RUN_TINE")
        );
        assert!(headings.iter().all(|heading| heading.unit.is_none()));
        let clock = dialect.clock.map(|clock| (clock.column, clock.style));
        assert_eq!(
            clock,
            Some((Some(0), ClockStyle::Seconds)),
            "{name} {:?}",
            dialect.evidence
        );

        let table = log.read(&[]).unwrap_or_else(|e| panic!("{e}"));
        let lost: Vec<&str> = table
            .problems
            .listed
            .iter()
            .map(|p| p.what.as_str())
            .collect();
        let wanted: &[&str] = match name {
            "idle1" => &["the last row is cut short: 16 fields where 27 are expected"],
            "idle2" | "ufpe18" => &["blank row"],
            _ => &[],
        };
        assert_eq!(lost, wanted, "{name}");
    }
}

/// The clock counts the engine's run time in whole seconds, about one row in 0.5 s, and stands at zero until it starts.
/// By hand: the mean row period is the clock's course from its second stamp to its last, over the rows between. The log
/// then lasts that course, plus one period for each row before it (but no less than the first step), plus one for each
/// repetition of the last stamp. Both edges are known to a row, so the two ways must agree within one and a half.
#[test]
fn times_and_duration_follow_the_clock() {
    let Some(folder) = folder() else { return };
    for (name, _, last) in LOGS {
        let path = folder.join(name).with_extension("csv");
        let log = open(&path, &Forced::default()).unwrap_or_else(|e| panic!("{e}"));
        let table = log.read(&[]).unwrap_or_else(|e| panic!("{e}"));
        let stamps: Vec<f64> = by_hand(&path)
            .into_iter()
            .map(|(_, numbers)| numbers[0])
            .collect();
        let standing = stamps.iter().take_while(|s| **s == stamps[0]).count();
        let ending = stamps.iter().rev().take_while(|s| **s == last).count();
        let course = last - stamps[standing];
        let period = course / (stamps.len() - standing - ending) as f64;
        let first_step = stamps[standing] - stamps[0];
        let before = (standing as f64 * period).max(first_step);
        let wanted = before + course + (ending - 1) as f64 * period;
        assert!(
            (table.duration_s() - wanted).abs() < 1.5 * period,
            "{name}: {} {wanted}",
            table.duration_s()
        );
        assert!(
            (table.sample_hz - 2.0).abs() < 0.2,
            "{name}: {}",
            table.sample_hz
        );

        // Every row lies between its own stamp and the next one, those before the engine starts excepted.
        for row in standing..table.rows {
            let next = stamps[row..].iter().find(|s| **s > stamps[row]);
            let next = next.copied().unwrap_or(stamps[row] + 10.0 * period);
            let time = table.time_s[row];
            assert!(
                time >= stamps[row] && time < next,
                "{name} row {row}: {time}"
            );
        }
        near(&[table.time_s[standing]], &[stamps[standing]]);
        let grows = table.time_s.windows(2).all(|pair| pair[1] > pair[0]);
        assert!(
            grows && table.breaks.is_empty() && table.clock_note.is_some(),
            "{name}"
        );
    }
}
