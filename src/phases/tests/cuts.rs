//! Limiter, flags and overrun.

use super::made::{Curve, expect, grid, lines, on};
use super::runs::day;
use crate::phases::{Facts, find};
use crate::recording::Recording;

/// Third gear into the limiter: teeth of 150 rpm, ten a second.
fn limiter(hz: f64) -> Recording {
    let rpm = |t: f64| {
        if t < 10.0 {
            3000.0 + 457.0 * t
        } else {
            7570.0 - 150.0 * ((t - 10.0) * 10.0).fract()
        }
    };
    on(
        grid(0.0, 12.0, hz),
        &[
            ("rpm", Box::new(rpm)),
            ("tps", lines(&[(0.0, 2.0), (0.5, 90.0)])),
        ],
    )
}

#[test]
fn a_sawtooth_at_the_limit_is_a_cut() {
    let facts = Facts {
        rev_limit_rpm: Some(7600.0),
        ..Facts::default()
    };
    for hz in [100.0, 50.0] {
        expect(&find(&limiter(hz), &facts), "cut", &[(10.0, 12.0)], 0.15);
    }
    // The same teeth well under a higher limit, and no known limit at all.
    let far = Facts {
        rev_limit_rpm: Some(8200.0),
        ..Facts::default()
    };
    expect(&find(&limiter(100.0), &far), "cut", &[], 0.0);
    expect(&find(&limiter(100.0), &Facts::default()), "cut", &[], 0.0);
}

#[test]
fn passing_the_limit_in_a_shift_is_no_cut() {
    let rpm = |t: f64| {
        4000.0
            + 1200.0 * (t % 3.0)
            + if (t * 50.0) as i64 % 2 == 0 {
                8.0
            } else {
                -8.0
            }
    };
    let rec = on(
        grid(0.0, 12.0, 100.0),
        &[("rpm", Box::new(rpm)), ("tps", Box::new(|_| 90.0))],
    );
    let facts = Facts {
        rev_limit_rpm: Some(7600.0),
        ..Facts::default()
    };
    expect(&find(&rec, &facts), "cut", &[], 0.0);
}

#[test]
fn flags_tell_cut_from_overrun() {
    let mut curves = day();
    let on_from = |spans: &'static [(f64, f64)]| -> Curve {
        Box::new(move |t| f64::from(u8::from(spans.iter().any(|s| (s.0..s.1).contains(&t)))))
    };
    curves.push(("fuel_cut", on_from(&[(32.0, 32.2), (37.0, 40.0)])));
    curves.push(("ignition_cut", on_from(&[(34.0, 34.06)])));
    let phases = find(&on(grid(0.0, 90.0, 100.0), &curves), &Facts::default());
    expect(&phases, "cut", &[(32.0, 32.2), (34.0, 34.06)], 0.011);
    expect(&phases, "overrun", &[(36.1, 41.75), (71.1, 71.9)], 0.11);
    let blanked = phases.blanked(1.0, 2.0);
    assert!(
        blanked.contains(33.1)
            && !blanked.contains(33.5)
            && blanked.contains(43.0)
            && !blanked.contains(45.0)
    );
}

#[test]
fn blades_that_hold_the_car_rolling_are_no_overrun() {
    // Pedal released at 17 %, blades held at 24 % by their motor, 1500 rpm over an idle of 800, then truly shut.
    let rpm = lines(&[(20.0, 800.0), (22.0, 1500.0), (36.0, 1500.0), (40.0, 800.0)]);
    let tps = lines(&[
        (20.0, 16.0),
        (22.0, 30.0),
        (24.0, 24.0),
        (32.0, 24.0),
        (32.1, 16.0),
    ]);
    let pedal = lines(&[(20.0, 17.0), (20.2, 40.0), (23.8, 40.0), (24.0, 17.0)]);
    let speed = lines(&[(20.0, 0.0), (22.0, 20.0), (38.0, 15.0), (45.0, 0.0)]);
    let rec = on(
        grid(0.0, 60.0, 20.0),
        &[
            ("rpm", rpm),
            ("tps", tps),
            ("pedal", pedal),
            ("speed", speed),
        ],
    );
    let phases = find(&rec, &Facts::default());
    expect(&phases, "overrun", &[(32.1, 38.65)], 0.1);
    expect(&phases, "idle", &[(0.0, 20.05), (38.65, 60.0)], 0.1);
}
