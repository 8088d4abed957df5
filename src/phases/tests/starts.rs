//! Starts: rollers, pushing, priming, invisible cranking, stalls, no engine speed.

use super::made::{Curve, expect, grid, lines, on};
use crate::phases::{Facts, StartBy, find};

fn by(start_by: StartBy) -> Facts {
    Facts {
        start_by: Some(start_by),
        idle_rpm: Some(1100.0),
        ..Facts::default()
    }
}

/// Rollers turn it at 900 rpm for 9 s; it fires at 12 s.
fn roller() -> Curve {
    lines(&[
        (2.0, 0.0),
        (3.0, 900.0),
        (12.0, 900.0),
        (12.6, 1900.0),
        (14.0, 1100.0),
        (40.0, 1100.0),
    ])
}

#[test]
fn rollers_turn_it_before_it_fires() {
    for hz in [100.0, 20.0] {
        let speed_only = on(grid(0.0, 40.0, hz), &[("rpm", roller())]);
        let phases = find(&speed_only, &by(StartBy::Roller));
        expect(&phases, "cranking", &[(2.05, 12.0)], 0.25);
        expect(&phases, "running", &[(12.0, 40.0)], 0.25);
        // Without a word on how it is started, running speed is running.
        expect(
            &find(
                &speed_only,
                &Facts {
                    idle_rpm: Some(1100.0),
                    ..Facts::default()
                },
            ),
            "running",
            &[(2.75, 40.0)],
            0.1,
        );
    }
}

#[test]
fn cold_exhaust_tells_that_it_was_only_turned() {
    let egt = lines(&[(12.2, 20.0), (22.0, 500.0), (40.0, 520.0)]);
    let rec = on(grid(0.0, 40.0, 20.0), &[("rpm", roller()), ("egt_1", egt)]);
    let phases = find(
        &rec,
        &Facts {
            idle_rpm: Some(1100.0),
            ..Facts::default()
        },
    );
    expect(&phases, "cranking", &[(2.05, 12.2)], 1.0);
    expect(&phases, "running", &[(12.2, 40.0)], 1.0);
}

#[test]
fn turned_by_rollers_and_never_fired() {
    let rpm = lines(&[(2.0, 0.0), (3.0, 900.0), (14.0, 900.0), (15.0, 0.0)]);
    let phases = find(
        &on(grid(0.0, 20.0, 20.0), &[("rpm", rpm)]),
        &by(StartBy::Roller),
    );
    expect(&phases, "cranking", &[(2.05, 15.0)], 0.1);
    expect(&phases, "running", &[], 0.0);
    assert_eq!(phases.first_fire_s, None);
    assert_eq!(phases.notes.len(), 1);
}

#[test]
fn a_push_start_fires_when_the_exhaust_warms() {
    let rpm = lines(&[
        (2.0, 0.0),
        (2.2, 700.0),
        (5.0, 900.0),
        (5.5, 1150.0),
        (40.0, 1100.0),
    ]);
    let egt = lines(&[(5.0, 30.0), (12.0, 400.0), (40.0, 420.0)]);
    let phases = find(
        &on(grid(0.0, 40.0, 20.0), &[("rpm", rpm), ("egt_2", egt)]),
        &by(StartBy::Push),
    );
    expect(&phases, "cranking", &[(2.0, 5.0)], 1.0);
    expect(&phases, "running", &[(5.0, 40.0)], 1.0);
}

#[test]
fn a_spin_without_fuel_is_priming() {
    // Plugs out: 380 rpm, over 0.6 of an idle of 600.
    let rpm = lines(&[
        (2.0, 0.0),
        (2.2, 380.0),
        (12.0, 380.0),
        (12.3, 0.0),
        (20.0, 0.0),
        (20.2, 250.0),
        (21.0, 250.0),
        (21.3, 900.0),
        (22.0, 600.0),
    ]);
    let pulse = lines(&[(20.1, 0.0), (20.15, 8.0), (22.0, 3.0)]);
    let facts = Facts {
        idle_rpm: Some(600.0),
        ..Facts::default()
    };
    let rec = on(
        grid(0.0, 40.0, 50.0),
        &[("rpm", rpm), ("injector_pulse", pulse)],
    );
    let phases = find(&rec, &facts);
    expect(&phases, "cranking", &[(2.0, 12.3), (20.0, 21.05)], 0.06);
    expect(&phases, "priming", &[(2.0, 12.3)], 0.06);
    expect(&phases, "running", &[(21.05, 40.0)], 0.06);
    expect(&phases, "key-on", &[(0.0, 2.0), (12.3, 20.0)], 0.06);
    expect(&phases, "rest", &[(0.0, 2.0)], 0.06);
    // The first part alone, as a log of its own.
    let rpm = lines(&[(2.0, 0.0), (2.2, 380.0), (12.0, 380.0), (12.3, 0.0)]);
    let phases = find(
        &on(
            grid(0.0, 15.0, 50.0),
            &[("rpm", rpm), ("injector_pulse", Box::new(|_| 0.0))],
        ),
        &facts,
    );
    expect(&phases, "priming", &[(2.0, 12.3)], 0.06);
    expect(&phases, "running", &[], 0.0);
}

#[test]
fn cranking_between_two_rows_shows_in_the_supply() {
    let rpm: Curve = Box::new(|t| if t < 7.0 { 0.0 } else { 1200.0 });
    let volts: Curve = Box::new(|t| {
        if t < 6.0 {
            12.4
        } else if t < 8.0 {
            10.6
        } else {
            14.1
        }
    });
    let phases = find(
        &on(grid(0.0, 30.0, 2.0), &[("rpm", rpm), ("battery_v", volts)]),
        &Facts::default(),
    );
    expect(&phases, "cranking", &[(6.0, 7.0)], 0.01);
    expect(&phases, "running", &[(7.0, 30.0)], 0.01);
    expect(&phases, "rest", &[(0.0, 6.0)], 0.01);
    let rpm: Curve = Box::new(|t| if t < 7.0 { 0.0 } else { 1200.0 });
    let starter: Curve = Box::new(|t| f64::from(u8::from((5.5..7.0).contains(&t))));
    let phases = find(
        &on(grid(0.0, 30.0, 2.0), &[("rpm", rpm), ("starter", starter)]),
        &Facts::default(),
    );
    expect(&phases, "cranking", &[(5.5, 7.0)], 0.01);
}

#[test]
fn a_starter_that_turns_nothing_is_still_cranking() {
    let volts: Curve = Box::new(|t| if (6.0..8.0).contains(&t) { 9.0 } else { 12.5 });
    let phases = find(
        &on(
            grid(0.0, 20.0, 20.0),
            &[("rpm", Box::new(|_| 0.0)), ("battery_v", volts)],
        ),
        &Facts::default(),
    );
    expect(&phases, "cranking", &[(6.0, 8.0)], 0.06);
    expect(&phases, "turning", &[], 0.0);
    expect(&phases, "key-on", &[(0.0, 6.0), (8.0, 20.0)], 0.06);
}

#[test]
fn the_supply_falling_after_the_stop_or_at_key_off_is_no_starter() {
    let rpm = lines(&[(20.0, 900.0), (20.6, 0.0)]);
    let volts = lines(&[(20.0, 14.3), (21.0, 12.7), (29.9, 12.6), (30.3, 0.0)]);
    let phases = find(
        &on(grid(0.0, 35.0, 50.0), &[("rpm", rpm), ("battery_v", volts)]),
        &Facts::default(),
    );
    expect(&phases, "cranking", &[], 0.0);
    expect(&phases, "after-stop", &[(20.6, 30.15)], 0.05);
    expect(&phases, "off", &[(30.15, 35.0)], 0.05);
}

#[test]
fn a_stall_and_a_second_start() {
    let rpm = lines(&[
        (1.0, 0.0),
        (1.1, 220.0),
        (2.0, 220.0),
        (2.3, 1100.0),
        (10.0, 1100.0),
        (10.8, 0.0),
        (15.0, 0.0),
        (15.1, 220.0),
        (16.5, 220.0),
        (16.8, 1100.0),
        (30.0, 1100.0),
    ]);
    let phases = find(
        &on(grid(0.0, 30.0, 50.0), &[("rpm", rpm)]),
        &Facts::default(),
    );
    expect(&phases, "cranking", &[(1.0, 2.15), (15.0, 16.65)], 0.06);
    expect(&phases, "running", &[(2.15, 10.5), (16.65, 30.0)], 0.06);
    expect(&phases, "after-stop", &[(10.8, 15.0)], 0.06);
    expect(&phases, "key-on", &[(0.0, 1.0)], 0.06);
}

#[test]
fn a_starter_held_on_is_not_running_yet_and_a_stuck_flag_does_not_hide_it() {
    // Spins at 700 rpm with the starter in, over 0.6 of idle.
    let rpm = lines(&[
        (2.0, 0.0),
        (2.1, 700.0),
        (6.0, 700.0),
        (6.3, 1100.0),
        (20.0, 1100.0),
    ]);
    let starter: Curve = Box::new(|t| f64::from(u8::from((2.0..6.0).contains(&t))));
    let facts = Facts {
        idle_rpm: Some(1100.0),
        ..Facts::default()
    };
    let phases = find(
        &on(grid(0.0, 20.0, 50.0), &[("rpm", rpm), ("starter", starter)]),
        &facts,
    );
    expect(&phases, "running", &[(6.0, 20.0)], 0.06);
    let rpm = lines(&[
        (2.0, 0.0),
        (2.1, 220.0),
        (6.0, 220.0),
        (6.3, 1100.0),
        (20.0, 1100.0),
    ]);
    let phases = find(
        &on(
            grid(0.0, 20.0, 50.0),
            &[
                ("rpm", rpm),
                ("starter", Box::new(|t| f64::from(u8::from(t >= 2.0)))),
            ],
        ),
        &facts,
    );
    expect(&phases, "running", &[(6.25, 20.0)], 0.06);
    expect(&phases, "cranking", &[(2.0, 6.25)], 0.06);
}

#[test]
fn without_engine_speed_the_supply_must_do() {
    let volts = lines(&[
        (5.0, 12.6),
        (5.01, 10.2),
        (6.5, 10.4),
        (6.6, 12.2),
        (9.0, 14.2),
        (60.0, 14.2),
        (61.0, 12.7),
        (70.0, 12.6),
    ]);
    let phases = find(
        &on(grid(0.0, 70.0, 20.0), &[("battery_v", volts)]),
        &Facts::default(),
    );
    expect(&phases, "cranking", &[(5.0, 6.55)], 0.1);
    expect(&phases, "running", &[(8.0, 60.9)], 0.5);
    assert_eq!(phases.notes.len(), 1);
    let charging = find(
        &on(grid(0.0, 70.0, 20.0), &[("battery_v", Box::new(|_| 14.1))]),
        &Facts::default(),
    );
    expect(&charging, "running", &[], 0.0);
}
