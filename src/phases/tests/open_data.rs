//! Real logs: the carOBD dataset, two rows a second.

use std::path::PathBuf;

use super::made::{Curve, on};
use crate::phases::{Facts, Phases, find};

const COLUMNS: [(usize, &str); 8] = [
    (1, "rpm"),
    (2, "speed"),
    (3, "tps"),
    (5, "coolant_temp"),
    (8, "map"),
    (11, "pedal"),
    (15, "baro"),
    (21, "battery_v"),
];

fn folder() -> PathBuf {
    std::env::var_os("OPEN_DATA").map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/open-data/car-obd"),
        PathBuf::from,
    )
}

/// Phases of a file, and the time of the first row with the engine turning, s.
fn phases(name: &str, without: &[&str]) -> Option<(Phases, f64)> {
    let Ok(text) = std::fs::read_to_string(folder().join(name)) else {
        eprintln!("skipped: the open data are not there ({name})");
        return None;
    };
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|l| {
            l.split(',')
                .filter_map(|f| f.trim().parse().ok())
                .collect::<Vec<f64>>()
        })
        .filter(|r| r.len() >= 22)
        .collect();
    let first = rows.iter().position(|r| r[1] > 0.0)? as f64 * 0.5;
    let times = (0..rows.len()).map(|i| i as f64 * 0.5).collect();
    let curves: Vec<(&str, Curve)> = COLUMNS
        .iter()
        .filter(|c| !without.contains(&c.1))
        .map(|(at, name)| {
            let values: Vec<f64> = rows.iter().map(|r| r[*at]).collect();
            (
                *name,
                Box::new(move |t: f64| values[(t * 2.0).round() as usize]) as Curve,
            )
        })
        .collect();
    Some((find(&on(times, &curves), &Facts::default()), first))
}

#[test]
fn real_starts_are_found() {
    for name in [
        "drive6", "idle1", "live15", "live20", "ufpe1", "ufpe18", "drive1", "idle14", "idle30",
        "live7", "long1",
    ] {
        let Some((found, first)) = phases(&format!("{name}.csv"), &[]) else {
            return;
        };
        let running = found.get("running").unwrap().list()[0].from_s;
        let cranking = found
            .get("cranking")
            .unwrap()
            .list()
            .first()
            .map(|s| s.from_s);
        assert!(
            (running - first).abs() <= 2.0,
            "{name}: running from {running}, speed from {first}"
        );
        assert!(
            cranking.is_none_or(|c| (c - first).abs() <= 2.0),
            "{name}: cranking from {cranking:?}, speed from {first}"
        );
        assert_eq!(found.first_fire_s, Some(running), "{name}");
        assert!(found.get("rest").unwrap().contains(0.0), "{name}");
    }
}

#[test]
fn the_dip_shows_cranking_that_speed_misses() {
    // Read off the files: supply 10.0 to 10.6 V in the rows before the first speed.
    for (name, from, to) in [
        ("drive6", 2.0, 3.0),
        ("idle1", 6.0, 7.0),
        ("live15", 2.5, 3.5),
        ("live20", 3.5, 4.0),
        ("ufpe1", 2.0, 3.0),
    ] {
        let Some((found, _)) = phases(&format!("{name}.csv"), &[]) else {
            return;
        };
        super::made::expect(&found, "cranking", &[(from, to)], 0.01);
    }
}

#[test]
fn idle2_begins_with_the_engine_running() {
    let Some((found, _)) = phases("idle2.csv", &[]) else {
        return;
    };
    assert_eq!(found.get("running").unwrap().list()[0].from_s, 0.0);
    assert_eq!(
        (found.first_fire_s, found.get("rest").unwrap().is_empty()),
        (None, true)
    );
}

#[test]
fn idling_files_idle_and_driven_ones_do_more() {
    for name in ["idle1", "idle2", "idle14", "idle30"] {
        let Some((found, _)) = phases(&format!("{name}.csv"), &[]) else {
            return;
        };
        let share =
            |phase: &str| found.get(phase).unwrap().total() / found.get("running").unwrap().total();
        assert!(
            share("idle") > 0.9 && share("overrun") < 0.01 && share("pull") == 0.0,
            "{name}: {}",
            share("idle")
        );
        let (idle, _) = found.idle_rpm.unwrap();
        assert!((600.0..800.0).contains(&idle), "{name}: idle {idle}");
    }
    for name in [
        "drive1", "drive6", "live15", "live20", "long1", "ufpe1", "ufpe18",
    ] {
        let Some((found, _)) = phases(&format!("{name}.csv"), &[]) else {
            return;
        };
        assert!(found.get("overrun").unwrap().total() > 5.0, "{name}");
        assert!(found.get("idle").unwrap().total() > 30.0, "{name}");
    }
}

/// `cargo test --release print -- --ignored --nocapture` shows all of it.
#[test]
#[ignore = "prints for a person to read"]
fn print_all() {
    for name in [
        "drive1", "drive6", "idle1", "idle14", "idle2", "idle30", "live15", "live20", "live7",
        "long1", "ufpe1", "ufpe18",
    ] {
        for without in [&[][..], &["pedal", "speed"][..]] {
            let Some((p, first)) = phases(&format!("{name}.csv"), without) else {
                return;
            };
            println!(
                "\n{name} without {without:?}: first speed {first} s, fire {:?}, idle {:?}, baro {:?}",
                p.first_fire_s, p.idle_rpm, p.baro_kpa
            );
            println!(
                "  throttle {:?} load {:?} notes {:?}",
                p.throttle, p.load, p.notes
            );
            for phase in Phases::names() {
                let s = p.get(phase).unwrap();
                let head: Vec<String> = s
                    .list()
                    .iter()
                    .take(7)
                    .map(|s| format!("{:.1}-{:.1}", s.from_s, s.to_s))
                    .collect();
                println!(
                    "  {phase:>10} {:4} spans {:7.1} s  {}",
                    s.list().len(),
                    s.total(),
                    head.join(" ")
                );
            }
        }
    }
}
