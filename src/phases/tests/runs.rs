//! Whole runs: the same phases at every rate, gaps, odd channels.

use super::made::{Curve, expect, grid, lines, on};
use crate::phases::{Facts, LoadFrom, Phases, find, looks_at};

/// Key-on, 1.2 s of cranking, idle, a pull, overrun, idle, 10 s held at 3000, idle, stop.
pub fn day() -> Vec<(&'static str, Curve)> {
    let rpm = lines(&[
        (4.999, 0.0),
        (5.0, 220.0),
        (6.2, 220.0),
        (6.6, 1500.0),
        (8.0, 1000.0),
        (30.0, 1000.0),
        (36.0, 7000.0),
        (42.0, 1000.0),
        (60.0, 1000.0),
        (61.0, 3000.0),
        (71.0, 3000.0),
        (72.0, 1000.0),
        (80.0, 1000.0),
        (80.8, 0.0),
    ]);
    let tps = lines(&[
        (29.9, 17.0),
        (30.0, 95.0),
        (36.0, 95.0),
        (36.1, 17.0),
        (59.9, 17.0),
        (60.0, 30.0),
        (71.0, 30.0),
        (71.1, 17.0),
    ]);
    let map = lines(&[
        (5.0, 98.0),
        (6.2, 90.0),
        (7.0, 35.0),
        (29.9, 35.0),
        (30.1, 97.0),
        (36.0, 97.0),
        (36.2, 22.0),
        (42.0, 25.0),
        (43.0, 35.0),
        (60.0, 35.0),
        (60.2, 50.0),
        (71.0, 50.0),
        (71.5, 30.0),
        (73.0, 35.0),
        (80.0, 35.0),
        (80.8, 98.0),
    ]);
    let volts = lines(&[
        (4.999, 12.6),
        (5.0, 10.4),
        (6.2, 10.6),
        (6.4, 12.4),
        (9.0, 14.2),
        (80.0, 14.2),
        (81.5, 12.8),
        (90.0, 12.7),
    ]);
    let coolant = lines(&[(6.0, 20.0), (46.0, 60.0), (86.0, 100.0)]);
    vec![
        ("rpm", rpm),
        ("tps", tps),
        ("map", map),
        ("battery_v", volts),
        ("coolant_temp", coolant),
    ]
}

fn check(phases: &Phases, slack: f64) {
    expect(phases, "off", &[], slack);
    expect(phases, "key-on", &[(0.0, 5.0)], slack);
    expect(phases, "rest", &[(0.0, 5.0)], slack);
    expect(phases, "cranking", &[(5.0, 6.3)], slack);
    expect(phases, "running", &[(6.3, 80.5)], slack);
    expect(phases, "turning", &[(5.0, 80.8)], slack);
    expect(phases, "pull", &[(30.0, 36.0)], slack + 0.2);
    expect(
        phases,
        "overrun",
        &[(36.1, 41.75), (71.1, 71.9)],
        slack + 0.1,
    );
    expect(phases, "warm-up", &[(6.3, 46.0)], slack + 2.0);
    expect(phases, "after-stop", &[(80.8, 90.0)], slack);
    expect(phases, "cut", &[], slack);
    expect(phases, "priming", &[], slack);
    expect(
        phases,
        "idle",
        &[(7.0, 30.0), (41.6, 60.15), (71.9, 80.5)],
        slack + 0.3,
    );
    expect(
        phases,
        "steady",
        &[(7.8, 30.0), (42.0, 60.0), (61.0, 71.0), (72.0, 80.0)],
        slack + 0.7,
    );
    assert!((phases.first_fire_s.unwrap() - 6.3).abs() <= slack);
    let throttle = phases.throttle.unwrap();
    assert!((throttle.closed - 17.0).abs() < 0.5 && (throttle.open - 95.0).abs() < 0.5);
    assert!((phases.idle_rpm.unwrap().0 - 1000.0).abs() < 20.0);
    assert!((phases.baro_kpa.unwrap().0 - 98.0).abs() < 0.5);
    let load = phases.load.as_ref().unwrap();
    assert_eq!((load.from, load.channel()), (LoadFrom::Map, "map"));
    assert!(load.low < 30.0 && load.high > 96.0);
}

#[test]
fn a_day_gives_the_same_phases_at_every_rate() {
    for hz in [100.0, 20.0, 2.0] {
        let rec = on(grid(0.0, 90.0, hz), &day());
        check(&find(&rec, &Facts::default()), 1.0 / hz + 0.02);
    }
}

#[test]
fn the_clock_need_not_begin_at_zero() {
    let shifted: Vec<(&str, Curve)> = day()
        .into_iter()
        .map(|(n, c)| (n, Box::new(move |t: f64| c(t - 1000.0)) as Curve))
        .collect();
    let here = find(&on(grid(0.0, 90.0, 20.0), &day()), &Facts::default());
    let there = find(&on(grid(1000.0, 1090.0, 20.0), &shifted), &Facts::default());
    assert_eq!(here.list().len(), there.list().len());
    for (a, b) in here.list().iter().zip(there.list()) {
        assert_eq!(a.0, b.0);
        assert!(
            (a.1.from_s + 1000.0 - b.1.from_s).abs() < 0.06
                && (a.1.to_s + 1000.0 - b.1.to_s).abs() < 0.06
        );
    }
}

#[test]
fn a_log_may_begin_running() {
    let phases = find(&on(grid(20.0, 90.0, 20.0), &day()), &Facts::default());
    expect(&phases, "running", &[(20.0, 80.5)], 0.06);
    expect(&phases, "cranking", &[], 0.0);
    expect(&phases, "key-on", &[], 0.0);
    expect(&phases, "rest", &[], 0.0);
    assert_eq!(phases.first_fire_s, None);
    // No rest before the start, so the air pressure comes from the stopped engine.
    assert_eq!(
        phases.baro_kpa,
        Some((98.0, "manifold pressure after the stop"))
    );
}

#[test]
fn a_log_may_end_running() {
    let phases = find(&on(grid(0.0, 33.0, 20.0), &day()), &Facts::default());
    expect(&phases, "running", &[(6.3, 33.0)], 0.06);
    expect(&phases, "pull", &[(30.0, 33.0)], 0.2);
    expect(&phases, "after-stop", &[], 0.0);
}

#[test]
fn a_gap_is_not_bridged() {
    let mut times = grid(0.0, 15.0, 20.0);
    times.extend(grid(25.0, 90.0, 20.0));
    let phases = find(&on(times, &day()), &Facts::default());
    expect(&phases, "running", &[(6.3, 15.0), (25.0, 80.5)], 0.06);
    expect(
        &phases,
        "steady",
        &[
            (7.8, 15.0),
            (25.0, 30.0),
            (42.0, 60.0),
            (61.0, 71.0),
            (72.0, 80.0),
        ],
        0.7,
    );
    for name in Phases::names() {
        assert!(
            !phases.get(name).unwrap().contains(20.0),
            "{name} spans the gap"
        );
    }
    // Speed alone missing is a gap of everything that rests on speed.
    let mut curves = day();
    let rpm = curves.remove(0).1;
    curves.push((
        "rpm",
        Box::new(move |t| {
            if (15.0..25.0).contains(&t) {
                f64::NAN
            } else {
                rpm(t)
            }
        }),
    ));
    let phases = find(&on(grid(0.0, 90.0, 20.0), &curves), &Facts::default());
    for name in Phases::names() {
        assert!(
            !phases.get(name).unwrap().contains(20.0),
            "{name} spans the missing speed"
        );
    }
}

#[test]
fn settled_starts_later() {
    let phases = find(&on(grid(0.0, 90.0, 20.0), &day()), &Facts::default());
    let (steady, settled) = (phases.get("steady").unwrap(), phases.settled(9.0));
    assert_eq!((steady.list().len(), settled.list().len()), (4, 3));
    assert!((settled.list()[0].from_s - steady.list()[0].from_s - 9.0).abs() < 1e-9);
    assert_eq!(settled.list()[0].to_s, steady.list()[0].to_s);
}

#[test]
fn manifold_pressure_that_jumps_at_idle_is_no_load_axis() {
    let mut curves = day();
    curves.retain(|c| c.0 != "map");
    curves.push((
        "map",
        Box::new(|t| {
            if t < 6.0 {
                98.0
            } else {
                70.0 + 12.0 * (t * 37.0).sin()
            }
        }),
    ));
    let rec = on(grid(0.0, 90.0, 20.0), &curves);
    let load = find(&rec, &Facts::default()).load.unwrap();
    assert_eq!((load.from, load.channel()), (LoadFrom::Tps, "tps"));
    let forced = Facts {
        load_from: Some(LoadFrom::Map),
        ..Facts::default()
    };
    assert_eq!(find(&rec, &forced).load.unwrap().from, LoadFrom::Map);
    let asked = Facts {
        load_from: Some(LoadFrom::Tps),
        ..Facts::default()
    };
    assert_eq!(
        find(&on(grid(0.0, 90.0, 20.0), &day()), &asked)
            .load
            .unwrap()
            .from,
        LoadFrom::Tps
    );
}

#[test]
fn a_loping_idle_is_idle_and_steady() {
    let mut curves = day();
    let rpm = curves.remove(0).1;
    curves.push((
        "rpm",
        Box::new(move |t| {
            rpm(t)
                + if (10.0..28.0).contains(&t) {
                    110.0 * (t * 4.0 * std::f64::consts::TAU).sin()
                } else {
                    0.0
                }
        }),
    ));
    let phases = find(&on(grid(0.0, 90.0, 100.0), &curves), &Facts::default());
    assert!(phases.get("idle").unwrap().contains(20.0));
    assert!(phases.get("steady").unwrap().contains(20.0));
}

#[test]
fn a_bare_log_says_little_and_does_not_fail() {
    let only_speed = vec![day().remove(0)];
    let phases = find(&on(grid(0.0, 90.0, 20.0), &only_speed), &Facts::default());
    expect(&phases, "running", &[(6.3, 80.5)], 0.06);
    expect(&phases, "key-on", &[(0.0, 5.0)], 0.06);
    assert!(phases.throttle.is_none() && phases.load.is_none() && phases.baro_kpa.is_none());
    let height = Facts {
        altitude_m: Some(1000.0),
        ..Facts::default()
    };
    let found = find(&on(grid(0.0, 90.0, 20.0), &only_speed), &height)
        .baro_kpa
        .unwrap();
    // Reference values, section 2.
    assert!((found.0 - 89.875).abs() < 0.01);
    // No rows, one row, no channels.
    assert!(
        find(&on(vec![], &day()), &Facts::default())
            .list()
            .is_empty()
    );
    let one = find(&on(vec![3.0], &day()), &Facts::default());
    assert!(one.get("running").unwrap().is_empty() && one.get("key-on").unwrap().contains(3.0));
    assert!(
        find(&on(grid(0.0, 5.0, 10.0), &[]), &Facts::default())
            .get("running")
            .unwrap()
            .is_empty()
    );
}

#[test]
fn a_pedal_that_is_dead_is_not_believed() {
    let mut curves = day();
    curves.push(("pedal", Box::new(|_| 0.0)));
    check(
        &find(&on(grid(0.0, 90.0, 20.0), &curves), &Facts::default()),
        0.07,
    );
}

#[test]
fn an_hour_at_100_hz_is_quick() {
    let curves: Vec<(&str, Curve)> = day()
        .into_iter()
        .map(|(n, c)| (n, Box::new(move |t: f64| c(t % 90.0)) as Curve))
        .collect();
    let rec = on(grid(0.0, 3600.0, 100.0), &curves);
    let begun = std::time::Instant::now();
    let phases = find(&rec, &Facts::default());
    assert_eq!(phases.get("pull").unwrap().list().len(), 40);
    assert_eq!(phases.get("cranking").unwrap().list().len(), 40);
    // Generous: the machine may be busy.
    assert!(begun.elapsed().as_secs_f64() < 5.0, "{:?}", begun.elapsed());
    eprintln!("one hour at 100 Hz: {:?}", begun.elapsed());
}

#[test]
fn every_channel_that_is_read_is_named() {
    for name in ["rpm", "pedal", "oil_temp", "injector_pulse", "egt_6"] {
        assert!(looks_at(name), "{name}");
    }
    assert!(!looks_at("lambda"));
    // The finders must not read what is not in the list: a name in our sources that the list lacks.
    let sources = [
        include_str!("../baro.rs"),
        include_str!("../cut.rs"),
        include_str!("../idle.rs"),
        include_str!("../load.rs"),
        include_str!("../overrun.rs"),
        include_str!("../pull.rs"),
        include_str!("../running.rs"),
        include_str!("../steady.rs"),
        include_str!("../throttle.rs"),
        include_str!("../turning.rs"),
    ];
    for entry in crate::recording::dictionary::entries()
        .iter()
        .filter(|e| !e.family)
    {
        let quoted = format!("\"{}\"", entry.name);
        let read = sources.iter().any(|s| s.contains(&quoted));
        assert!(!read || looks_at(&entry.name), "{} is read", entry.name);
    }
}
