//! Clocks that begin anew, repeat or stand.

use super::clock_forms::clocked;
use super::{near, table};
use crate::load::BreakKind;

#[test]
fn midnight_in_numbers_of_seconds() {
    let stamps: Vec<String> = (0..40)
        .map(|row| format!("{:.1}", (86_398.0 + f64::from(row) * 0.1) % 86_400.0))
        .collect();
    let (_, made) = table(&clocked("Seconds", &stamps));
    let wanted: Vec<f64> = (0..40).map(|row| f64::from(row) * 0.1).collect();
    near(&made.time_s, &wanted);
    assert!(made.breaks.is_empty());
    assert!(
        made.clock_note
            .is_some_and(|note| note.contains("begins anew after one day"))
    );
}

#[test]
fn counters_that_wrap() {
    for (heading, round, step, shown) in [
        ("Time (ms)", 65_536_u64, 20_u64, "65536"),
        ("Time (us)", 1 << 32, 10_000, "2^32"),
        ("Time (ms)", 1 << 32, 20, "2^32"),
        ("Time (ms)", 1000, 20, "one second"),
    ] {
        // Beyond the head too, so that the pass and not the sniffer alone carries on.
        let stamps: Vec<String> = (0..20_000)
            .map(|row| {
                format!(
                    "{}",
                    (round - 500 * step.min(round / 1000) + row * step) % round
                )
            })
            .collect();
        let (_, made) = table(&clocked(heading, &stamps));
        let per_second = if heading.ends_with("(us)") { 1e6 } else { 1e3 };
        let wanted = 19_999.0 * step as f64 / per_second;
        assert!(
            (made.duration_s() - wanted).abs() < 1e-6,
            "{heading} {round}: {}",
            made.duration_s()
        );
        assert!(made.breaks.is_empty());
        let note = made.clock_note.unwrap_or_default();
        assert!(
            note.contains(&format!("begins anew after {shown}")),
            "{note}"
        );
    }
}

#[test]
fn a_wrap_that_does_not_fit_is_a_break() {
    let stamps: Vec<String> = (0..50_u32)
        .map(|row| {
            if row < 25 {
                40_000 + row * 20
            } else {
                (row - 25) * 20
            }
        })
        .map(|stamp| stamp.to_string())
        .collect();
    let (_, made) = table(&clocked("Time (ms)", &stamps));
    let kinds: Vec<BreakKind> = made.breaks.iter().map(|b| b.kind).collect();
    assert_eq!(kinds, [BreakKind::Restart]);
    assert!((made.duration_s() - 49.0 * 0.02).abs() < 1e-6);
}

#[test]
fn whole_seconds_that_repeat_with_partial_ends() {
    let rows = [3_usize, 10, 10, 10, 10, 4];
    let stamps: Vec<String> = (100..)
        .zip(rows)
        .flat_map(|(second, rows)| std::iter::repeat_n(format!("{second}"), rows))
        .collect();
    let (_, made) = table(&clocked("Time (s)", &stamps));
    let wanted: Vec<f64> = (0_u32..47)
        .map(|row| 100.7 + f64::from(row) * 0.1)
        .collect();
    near(&made.time_s, &wanted);
    assert!((made.sample_hz - 10.0).abs() < 1e-9);
}

#[test]
fn a_clock_that_stands_first() {
    let stamps: Vec<String> = (0..30_u32)
        .map(|row| format!("{:.2}", f64::from(row.saturating_sub(9)) * 0.02))
        .collect();
    let (_, made) = table(&clocked("Time (s)", &stamps));
    let wanted: Vec<f64> = (0..30).map(|row| f64::from(row) * 0.02 - 0.18).collect();
    near(&made.time_s, &wanted);
    assert!(
        made.clock_note
            .is_some_and(|note| note.contains("stands at its first stamp"))
    );
}
