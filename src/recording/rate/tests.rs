//! Generated multi-rate tables: what comes out has to be the samples that went in. The generator is the outside
//! measure here: it knows when each reading was taken.

use std::sync::Arc;

use super::*;

/// Even noise between -1 and 1, the same in each run (a linear congruence, Knuth's constants for 64 bits).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = self.0.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

fn rows(hz: f64, seconds: f64) -> Arc<[f64]> {
    (0..(hz * seconds) as usize)
        .map(|i| i as f64 / hz)
        .collect()
}

/// Readings at these moments, repeated in each row up to the next.
fn held(times: &Arc<[f64]>, readings: &[(f64, f64)]) -> Series {
    let mut at = 0;
    let values = times.iter().map(|t| {
        while readings.get(at + 1).is_some_and(|r| r.0 <= *t + 1e-9) {
            at += 1;
        }
        readings[at].1
    });
    let values: Vec<f64> = values.collect();
    Series::new(times, values)
}

/// The same, blank in the rows between.
fn blanks(times: &Arc<[f64]>, readings: &[(f64, f64)]) -> Series {
    let held = held(times, readings);
    let mut seen = f64::NAN;
    let values = held.values.iter().map(|v| {
        let new = *v != seen;
        seen = *v;
        if new { *v } else { f64::NAN }
    });
    Series::new(times, values.collect())
}

/// Readings at a rate, each moment moved by up to a share of the distance.
fn readings(
    hz: f64,
    seconds: f64,
    jitter: f64,
    value: impl Fn(f64, f64) -> f64,
) -> Vec<(f64, f64)> {
    let (mut by_time, mut by_value) = (Noise(7), Noise(99));
    (0..(hz * seconds) as usize)
        .map(|i| {
            let off = if i == 0 { 0.0 } else { jitter * by_time.next() };
            let t = (i as f64 + off) / hz;
            (t, value(t, by_value.next()))
        })
        .collect()
}

fn lively(t: f64, noise: f64) -> f64 {
    3000.0 + 2000.0 * (t / 7.0).sin() + 30.0 * noise
}

#[test]
fn the_samples_that_went_in_come_out_at_every_rate() {
    for row_hz in [50.0, 100.0, 200.0, 1000.0] {
        let times = rows(row_hz, 60.0);
        // Faster than every other row is not told apart from every row.
        for hz in [1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 30.0, 40.0]
            .into_iter()
            .filter(|hz| 2.0 * hz <= row_hz)
        {
            let all = readings(hz, 60.0, 0.0, lively);
            let made = find(&held(&times, &all));
            let case = format!("{hz} Hz in rows of {row_hz} Hz");
            assert_eq!(made.pace, Pace::Repeated, "{case}");
            assert!(
                (made.interval_s * hz - 1.0).abs() < 0.02,
                "{case}: {} s",
                made.interval_s
            );
            let values: Vec<f64> = all.iter().map(|r| r.1).collect();
            assert_eq!(&made.updates.values[..], values, "{case}");
            for (got, (t, _)) in made.updates.times.iter().zip(&all) {
                assert!(
                    (0.0..1.0 / row_hz + 1e-6).contains(&(got - t + 1e-9)),
                    "{case}: {got} for {t}"
                );
            }
            // With blanks nothing has to be found out.
            let made = find(&blanks(&times, &all));
            assert_eq!(&made.updates.values[..], values, "{case}, blanks");
            assert!(
                (made.interval_s * hz - 1.0).abs() < 0.5,
                "{case}, blanks: {} s",
                made.interval_s
            );
        }
    }
}

#[test]
fn a_beat_that_trembles_is_still_found() {
    for row_hz in [50.0, 100.0, 200.0, 1000.0] {
        let times = rows(row_hz, 60.0);
        for hz in [1.0, 2.0, 5.0, 10.0, 25.0] {
            for jitter in [0.03, 0.15] {
                let all = readings(hz, 60.0, jitter, lively);
                let made = find(&held(&times, &all));
                let case = format!("{hz} Hz trembling by {jitter} in rows of {row_hz} Hz");
                assert_eq!(made.pace, Pace::Repeated, "{case}");
                assert!(
                    (made.interval_s * hz - 1.0).abs() < 0.1,
                    "{case}: {} s",
                    made.interval_s
                );
                let values: Vec<f64> = all.iter().map(|r| r.1).collect();
                assert_eq!(&made.updates.values[..], values, "{case}");
            }
        }
    }
}

#[test]
fn a_slow_reading_of_coarse_resolution_keeps_its_beat() {
    // A coolant sensor of 1 degC, read twice a second: most readings repeat the one before.
    let all = readings(2.0, 600.0, 0.0, |t, n| {
        (20.0 + 62.0 * (1.0 - (-t / 150.0).exp()) + 0.6 * n).round()
    });
    let times = rows(100.0, 600.0);
    let made = find(&held(&times, &all));
    assert_eq!(made.pace, Pace::Repeated);
    assert!((made.interval_s - 0.5).abs() < 1e-6, "{}", made.interval_s);
    let want: Vec<(f64, f64)> = all.clone();
    let got: Vec<(f64, f64)> = made
        .updates
        .times
        .iter()
        .copied()
        .zip(made.updates.values.iter().copied())
        .collect();
    assert_eq!(got.len(), want.len());
    for (got, want) in got.iter().zip(&want) {
        assert!(
            (got.0 - want.0).abs() < 0.011 && got.1 == want.1,
            "{got:?} for {want:?}"
        );
    }
}

#[test]
fn slow_quantities_at_full_rate_are_not_taken_for_slow_channels() {
    let times = rows(20.0, 400.0);
    let series = |f: &dyn Fn(f64, f64) -> f64| {
        let mut noise = Noise(3);
        Series::new(&times, times.iter().map(|t| f(*t, noise.next())).collect())
    };
    for (case, made) in [
        (
            "a temperature that climbs",
            find(&series(&|t, _| {
                (20.0 + 60.0 * (1.0 - (-t / 75.0).exp())).floor()
            })),
        ),
        (
            "one that climbs evenly",
            find(&series(&|t, _| (20.0 + t / 3.1).floor())),
        ),
        (
            "one that climbs with a little noise",
            find(&series(&|t, n| (20.0 + t / 3.1 + 0.2 * n).floor())),
        ),
        (
            "a thermostat",
            find(&series(&|t, _| (82.0 + 3.0 * (t / 9.0).sin()).round())),
        ),
        ("a clock of whole seconds", find(&series(&|t, _| t.floor()))),
        (
            "a gear",
            find(&series(&|t, _| (2.5 + 2.4 * (t / 11.0).sin()).round())),
        ),
        (
            "a switch",
            find(&series(&|t, _| f64::from((t / 13.0).sin() > 0.3))),
        ),
        (
            "a throttle that mostly stands",
            find(&series(&|t, n| ((t / 20.0).sin() * 60.0 + n).max(0.0))),
        ),
        ("baro", find(&series(&|_, n| (98.6 + 0.02 * n).round()))),
        (
            "a count that comes now and then",
            find(&series(&|t, _| (t * t / 4000.0).floor())),
        ),
    ] {
        assert!(
            (made.interval_s - 0.05).abs() < 1e-9,
            "{case}: {} s, {:?}",
            made.interval_s,
            made.pace
        );
        assert_eq!(made.updates.len(), times.len(), "{case}");
        assert_ne!(made.pace, Pace::Repeated, "{case}");
    }
}

#[test]
fn two_rates_in_turn_keep_their_samples() {
    // A logger that reads a bus ten times a second, and four times while it is busy with another.
    let mut all = Vec::new();
    let (mut t, mut noise) = (0.0, Noise(5));
    while t < 120.0 {
        all.push((t, lively(t, noise.next())));
        t += if (t / 20.0).floor() % 2.0 == 0.0 {
            0.1
        } else {
            0.25
        };
    }
    let made = find(&held(&rows(100.0, 120.0), &all));
    assert_eq!(made.pace, Pace::Repeated);
    assert!(
        (0.1..=0.25).contains(&made.interval_s),
        "{}",
        made.interval_s
    );
    assert_eq!(
        &made.updates.values[..],
        all.iter().map(|r| r.1).collect::<Vec<_>>()
    );
}

#[test]
fn a_log_of_one_row_a_second_has_no_slower_channels_than_it_shows() {
    let times = rows(1.0, 600.0);
    let each = find(&held(&times, &readings(1.0, 600.0, 0.0, lively)));
    assert_eq!(
        (each.pace, each.interval_s, each.updates.len()),
        (Pace::Own, 1.0, 600)
    );
    let fifth = find(&held(&times, &readings(0.2, 600.0, 0.0, lively)));
    assert_eq!(fifth.pace, Pace::Repeated);
    assert!((fifth.interval_s - 5.0).abs() < 1e-9);
    assert_eq!(fifth.updates.len(), 120);
}

#[test]
fn a_channel_that_starts_late_begins_where_it_begins() {
    let times = rows(100.0, 60.0);
    let all: Vec<(f64, f64)> = readings(5.0, 60.0, 0.0, lively)
        .into_iter()
        .filter(|r| r.0 >= 20.0)
        .collect();
    let late = held(&times, &all);
    let values = late
        .times
        .iter()
        .zip(late.values.iter())
        .map(|(t, v)| if *t < 20.0 - 1e-9 { f64::NAN } else { *v });
    let made = find(&Series::new(&times, values.collect()));
    assert_eq!(
        &made.updates.values[..],
        all.iter().map(|r| r.1).collect::<Vec<_>>()
    );
    // Nothing but zeros up to then is nothing but readings of zero.
    let values = late
        .times
        .iter()
        .zip(late.values.iter())
        .map(|(t, v)| if *t < 20.0 - 1e-9 { 0.0 } else { *v });
    let made = find(&Series::new(&times, values.collect()));
    assert!((made.interval_s - 0.2).abs() < 1e-9);
    assert_eq!(made.updates.len(), 300);
}

#[test]
fn rows_that_are_missing_are_no_long_readings() {
    let times: Arc<[f64]> = rows(100.0, 120.0)
        .iter()
        .copied()
        .filter(|t| !(40.0..55.0).contains(t))
        .collect();
    let all = readings(5.0, 120.0, 0.0, lively);
    let made = find(&held(&times, &all));
    assert_eq!(made.pace, Pace::Repeated);
    assert!((made.interval_s - 0.2).abs() < 1e-6, "{}", made.interval_s);
    assert!(made.updates.times.iter().all(|t| !(40.0..55.0).contains(t)));
    let known: Vec<f64> = all
        .iter()
        .filter(|r| !(40.0..55.0).contains(&r.0))
        .map(|r| r.1)
        .collect();
    let mut got = made.updates.values.to_vec();
    got.retain(|v| known.contains(v));
    assert_eq!(got, known, "every reading of the rows that are there");
}

#[test]
fn a_long_run_is_found_out_from_parts_of_it() {
    let times = rows(100.0, 1800.0);
    let fast = find(&held(&times, &readings(100.0, 1800.0, 0.0, lively)));
    assert_eq!((fast.pace, fast.updates.len()), (Pace::Own, times.len()));
    let slow = find(&held(&times, &readings(10.0, 1800.0, 0.0, lively)));
    assert_eq!((slow.pace, slow.updates.len()), (Pace::Repeated, 18_000));
    // Still but for one minute, in which it is read ten times a second.
    let part = readings(10.0, 1800.0, 0.0, |t, n| {
        if (900.0..960.0).contains(&t) {
            lively(t, n)
        } else {
            0.0
        }
    });
    let part = find(&held(&times, &part));
    assert_eq!((part.pace, part.updates.len()), (Pace::Repeated, 18_000));
}
