//! Stamps with a date over midnight: dates in an assumed order, and dates that change apart from their time of day.

use super::calendar::{Reading, reread};
use super::clock::Clock;
use super::moment::DAY_S;

/// A date that changes apart from its time of day does so within this time around midnight, in seconds.
const STALE_DATE_S: f64 = 3600.0;

/// Dates that are one either way were read in an assumed order. Where the log runs over a midnight, the way in which the
/// days go forward one by one is the right one.
pub(super) fn read_dates_again(stamps: &mut [f64], clock: &Clock) -> Option<String> {
    // Days as they are written: stamps with an offset count in universal time, whose midnight is another one.
    let days = |stamp: f64| ((stamp + clock.zone_s) / DAY_S).floor();
    let changes: Vec<(f64, f64)> = stamps
        .windows(2)
        .map(|pair| (days(pair[0]), days(pair[1])))
        .filter(|(before, after)| before != after && before.is_finite() && after.is_finite())
        .collect();
    let leaps = |read: &dyn Fn(f64) -> f64| -> f64 {
        let leaps = changes
            .iter()
            .map(|(before, after)| (read(*after) - read(*before) - 1.0).abs());
        leaps.sum()
    };
    let as_it_is = leaps(&|day| day);
    let other = [Reading::Swapped, Reading::YearFirst]
        .into_iter()
        .find(|reading| {
            let read = |day| reread(day, clock.date_order, *reading);
            leaps(&read) < as_it_is
        })?;
    for stamp in stamps.iter_mut().filter(|stamp| stamp.is_finite()) {
        let day = days(*stamp);
        *stamp += (reread(day, clock.date_order, other) - day) * DAY_S;
    }
    Some(match other {
        Reading::Swapped => {
            "The dates go forward day by day only with day and month the other way round, so they were read so.".to_owned()
        }
        Reading::YearFirst => {
            "The dates go forward day by day only with the year in front, so they were read so.".to_owned()
        }
    })
}

/// Mends dates that change before or after their time of day passes midnight, or do not change at all.
pub(super) fn over_midnight(stamps: &mut [f64], clock: &Clock) -> Option<String> {
    // Rows where the stamp leaps by about a day, and whether forward.
    let mut leaps: Vec<(usize, bool)> = Vec::new();
    for (row, pair) in stamps.windows(2).enumerate() {
        let step = pair[1] - pair[0];
        if (step.abs() - DAY_S).abs() < STALE_DATE_S / 2.0 {
            leaps.push((row + 1, step > 0.0));
        }
    }
    if !leaps.iter().any(|(_, forward)| !forward) {
        return None;
    }
    // Within a day the two ends of a stretch with the wrong date are less than an hour apart.
    let near = |from: usize, to: usize| {
        let length = (stamps[to - 1] - stamps[from]).abs();
        length < STALE_DATE_S
    };
    let (mut shifts, mut at) = (Vec::new(), 0);
    while let Some((row, forward)) = leaps.get(at).copied() {
        let pair = leaps
            .get(at + 1)
            .filter(|(next, other)| *other != forward && near(row, *next));
        match pair {
            Some((next, _)) => {
                shifts.push((row, if forward { -DAY_S } else { DAY_S }));
                shifts.push((*next, if forward { DAY_S } else { -DAY_S }));
                at += 2;
            }
            None => {
                // Only a fall at midnight itself: an older log put behind a newer one may also go back a day.
                let of_day = |row: usize| (stamps[row] + clock.zone_s).rem_euclid(DAY_S);
                let late = of_day(row - 1) > DAY_S - STALE_DATE_S;
                let early = of_day(row) < STALE_DATE_S;
                if !forward && late && early {
                    shifts.push((row, DAY_S));
                }
                at += 1;
            }
        }
    }
    let mut shifts = shifts.into_iter().peekable();
    shifts.peek()?;
    let mut carried = 0.0;
    for (row, stamp) in stamps.iter_mut().enumerate() {
        while let Some((_, shift)) = shifts.next_if(|(from, _)| *from <= row) {
            carried += shift;
        }
        *stamp += carried;
    }
    Some("The date does not change together with the time of day at midnight; the days were carried on by the time.".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::clock::ClockStyle;
    use crate::load::dialect::DateOrder;
    use crate::load::moment::written;
    use crate::load::rollover::carry_on;

    fn carried(stamps: &[f64]) -> (Vec<f64>, usize) {
        let clock = Clock {
            style: ClockStyle::DateTime,
            ..Clock::default()
        };
        let mut stamps = stamps.to_vec();
        let said = carry_on(&mut stamps, &clock).len();
        (stamps, said)
    }

    #[test]
    fn dates_that_change_late_early_or_never() {
        let day = 20_000.0 * DAY_S;
        let truth: Vec<f64> = (0..40)
            .map(|row| day - 10.0 + f64::from(row) * 0.5)
            .collect();
        let before = |row: usize| row < 20;
        for (from, to, shift) in [(20, 25, -DAY_S), (14, 20, DAY_S), (20, 40, -DAY_S)] {
            let mut shown = truth.clone();
            shown[from..to].iter_mut().for_each(|stamp| *stamp += shift);
            let (got, said) = carried(&shown);
            assert_eq!((got, said), (truth.clone(), 1), "{from}..{to}");
        }
        assert!(before(19) && truth[20] == day);
        let (got, said) = carried(&truth);
        assert_eq!((got, said), (truth, 0));
        // A day without rows, and a log of the day before put behind.
        for step in [DAY_S, -DAY_S] {
            let stamps = [day + 40_000.0, day + 40_000.0 + step, day + 40_001.0 + step];
            assert_eq!(carried(&stamps).1, 0);
        }
    }

    #[test]
    fn an_assumed_order_of_dates_is_checked_at_midnight() {
        let read =
            |text: &str, order| written(text.as_bytes(), order).map_or(f64::NAN, |stamp| stamp.1);
        for (texts, order) in [
            (
                ["03/04/2026 23:59:59", "03/05/2026 00:00:00"],
                DateOrder::Dmy,
            ),
            (
                ["03/04/2026 23:59:59", "04/04/2026 00:00:00"],
                DateOrder::Mdy,
            ),
            (["26/04/11 23:59:59", "26/04/12 00:00:00"], DateOrder::Dmy),
        ] {
            let mut stamps = texts.map(|text| read(text, order));
            let assumed = Clock {
                style: ClockStyle::DateTime,
                date_order: order,
                date_order_assumed: true,
                ..Clock::default()
            };
            assert_eq!(carry_on(&mut stamps, &assumed).len(), 1, "{texts:?}");
            assert_eq!(stamps[1] - stamps[0], 1.0, "{texts:?}");
            // The same in a zone: its midnight is not that of universal time.
            for (zone, zone_s) in [("+02:00", 7200.0), ("-05:30", -19_800.0)] {
                let mut stamps = texts.map(|text| read(&format!("{text}{zone}"), order));
                let assumed = Clock { zone_s, ..assumed };
                assert_eq!(carry_on(&mut stamps, &assumed).len(), 1, "{texts:?}");
                assert_eq!(stamps[1] - stamps[0], 1.0, "{texts:?}");
            }
        }
    }
}
