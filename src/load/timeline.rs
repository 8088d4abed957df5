//! From stamps as logged to a time of each row that always grows, in the order in which the rows were recorded.
//!
//! Clocks repeat, stand, step back and start again. The table keeps the stamps for the check that judges the clock;
//! everything else works on the times made here.

use serde::{Deserialize, Serialize};

use super::pace::{Habit, Run, habit, runs};

/// Rows that a single slip of the clock may last; longer ones count as a clock that was set.
const SLIP_ROWS: usize = 3;
/// A slip must fit back into the course of the clock within this many row periods.
const SLIP_PERIODS: f64 = 20.0;
/// A stamp that slipped ahead leaves the one before it by more than this many row periods.
const LEAP_PERIODS: f64 = 1.5;
/// A clock that falls to within this share of the way back to its first stamp has begun again.
const RESTART_SHARE: f64 = 0.1;

/// What a clock did where it ran back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BreakKind {
    /// It shows an earlier time than in the row before.
    Back,
    /// It began again from where it once started.
    Restart,
}

/// The times of all rows, and what had to be done for them.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Timeline {
    /// Seconds, strictly growing.
    pub time_s: Vec<f64>,
    /// Rows before which the clock ran back.
    pub breaks: Vec<(usize, BreakKind)>,
    /// The typical time between two rows, in seconds.
    pub period_s: f64,
    /// Rows that share a stamp with the next, where that is the rule in this log: how many, and the clock's step in s.
    pub shared: Option<(f64, f64)>,
    /// Rows at the start during which the clock stood.
    pub standing_rows: usize,
}

/// Makes the times. `None` when the clock never moves forward, so that no row period can be found.
pub(crate) fn timeline(stamps_s: &[f64]) -> Option<Timeline> {
    if stamps_s.len() == 1 {
        return Some(Timeline {
            time_s: stamps_s.to_vec(),
            ..Timeline::default()
        });
    }
    // Most clocks only ever move forward: their stamps are the times.
    if stamps_s.windows(2).all(|pair| pair[1] > pair[0]) {
        let time_s = stamps_s.to_vec();
        return median_step(&time_s).map(|period_s| Timeline {
            time_s,
            period_s,
            ..Timeline::default()
        });
    }
    let all: Vec<usize> = (0..stamps_s.len()).collect();
    let rough = habit(&runs(stamps_s, &all))?;
    let (mut breaks, slips) = backward(stamps_s, rough.period);
    let good: Vec<usize> = all.into_iter().filter(|row| !slips[*row]).collect();
    let runs = runs(stamps_s, &good);
    let habit = habit(&runs).unwrap_or(rough);

    let mut placed = Vec::with_capacity(good.len());
    let standing_rows = place(&runs, habit, &mut placed);
    let mut time_s = spread_slips(stamps_s.len(), &good, &placed, habit.period);
    force_growth(&mut time_s, habit.period);
    breaks.sort_unstable_by_key(|(row, _)| *row);
    Some(Timeline {
        period_s: median_step(&time_s).unwrap_or(habit.period),
        shared: (habit.rows >= 2.0).then_some((habit.rows, habit.step)),
        time_s,
        breaks,
        standing_rows,
    })
}

/// Finds where the clock runs back. A slip of a few rows, after which the clock goes on as if nothing had been,
/// is marked so that only those rows lose their stamps.
fn backward(stamps: &[f64], period: f64) -> (Vec<(usize, BreakKind)>, Vec<bool>) {
    let mut breaks = Vec::new();
    let mut slips = vec![false; stamps.len()];
    let first = stamps[0];
    // The last row whose stamp counts, and the first row that belongs to the present course of the clock.
    let (mut last, mut course) = (0, 0);
    for row in 1..stamps.len() {
        if slips[row] {
            continue;
        }
        let (before, now) = (stamps[last], stamps[row]);
        if now >= before {
            last = row;
            continue;
        }
        let fits = |from: f64, to: f64, rows: usize| {
            #[expect(clippy::cast_precision_loss, reason = "at most a few rows")]
            let longest = SLIP_PERIODS * period * rows as f64;
            to >= from && to - from <= longest
        };
        let ahead = (1..=SLIP_ROWS).find_map(|back| {
            let kept = row.checked_sub(back + 1).filter(|kept| *kept >= course)?;
            let leapt = stamps[kept + 1] - stamps[kept] > LEAP_PERIODS * period;
            (leapt && !slips[kept] && fits(stamps[kept], now, back + 1)).then_some(kept)
        });
        let behind = (1..=SLIP_ROWS).find_map(|on| {
            let next = row + on;
            (next < stamps.len() && fits(before, stamps[next], on + 1)).then_some(next)
        });
        if let Some(next) = behind {
            breaks.push((row, BreakKind::Back));
            slips[row..next].fill(true);
        } else if let Some(kept) = ahead {
            breaks.push((row, BreakKind::Back));
            slips[kept + 1..row].fill(true);
            last = row;
        } else {
            let near_start = now - first <= RESTART_SHARE * (before - first);
            let kind = if near_start {
                BreakKind::Restart
            } else {
                BreakKind::Back
            };
            breaks.push((row, kind));
            (last, course) = (row, row);
        }
    }
    (breaks, slips)
}

/// Gives every run of equal stamps its times. Returns how many rows stood at the start.
#[expect(clippy::cast_precision_loss, reason = "row counts are far below 2^53")]
fn place(runs: &[Run], habit: Habit, time: &mut Vec<f64>) -> usize {
    let Habit { period, step, rows } = habit;
    let (mut shift, mut standing_rows) = (0.0, 0);
    for (at, run) in runs.iter().enumerate() {
        let starts = at == 0 || runs[at - 1].stamp > run.stamp;
        let span = runs.get(at + 1).map(|next| next.stamp - run.stamp);
        let span = span.filter(|span| *span > 0.0);
        let count = run.rows as f64;
        // A gap in the recording stays a gap: the rows before it keep to their period.
        let filled = span.filter(|span| habit.fills(*span, count));
        let stands = starts
            && count > rows + 1.0
            && span.is_none_or(|span| count * period > 1.25 * span.min(step));
        // A log begins somewhere within a step of a coarse clock: its first rows are the last ones of that step.
        let is_rest = starts && rows >= 2.0 && span.is_some_and(|span| habit.is_one_step(span));
        let (mut begin, each) = match (filled, span) {
            (Some(span), _) if is_rest && (count + 1.0) * period <= span => {
                (run.stamp + span - period * count, period)
            }
            _ if stands => {
                let end = span.map_or(period * count, |span| span.min(step));
                (run.stamp + end - period * count, period)
            }
            (Some(span), _) => (run.stamp, span / count),
            (None, Some(span)) => (run.stamp, period.min(span / count)),
            (None, None) => (run.stamp, period),
        };
        if starts && at > 0 {
            let last = time.last().copied().unwrap_or(0.0);
            shift = last + period - begin;
        } else if stands && span.is_some() {
            standing_rows = run.rows;
        }
        begin += shift;
        time.extend((0..run.rows).map(|row| begin + each * row as f64));
        debug_assert_eq!(time.len(), run.first + run.rows);
    }
    standing_rows
}

/// Puts rows whose stamps slipped evenly between their neighbours.
#[expect(clippy::cast_precision_loss, reason = "row counts are far below 2^53")]
fn spread_slips(rows: usize, good: &[usize], placed: &[f64], period: f64) -> Vec<f64> {
    if good.len() == rows {
        return placed.to_vec();
    }
    let mut time = Vec::with_capacity(rows);
    for (row, at) in good.iter().zip(placed) {
        let missing = row - time.len();
        if missing > 0 {
            let gap = missing as f64 + 1.0;
            let from = time.last().copied().unwrap_or(at - period * gap);
            let each = (at - from) / gap;
            time.extend((1..=missing).map(|n| from + each * n as f64));
        }
        time.push(*at);
    }
    while time.len() < rows {
        let last = time.last().copied().unwrap_or(0.0);
        time.push(last + period);
    }
    time
}

/// Times of equal rows differ at least by what a double can tell apart.
fn force_growth(time: &mut [f64], period: f64) {
    let mut last = f64::NEG_INFINITY;
    for now in time {
        if *now <= last {
            *now = last.next_up().max(last + period * 1e-6);
        }
        last = *now;
    }
}

/// The median time between neighbouring rows, in seconds.
fn median_step(time: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = time.windows(2).map(|pair| pair[1] - pair[0]).collect();
    if steps.is_empty() {
        return None;
    }
    let middle = steps.len() / 2;
    Some(*steps.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(stamps: &[f64]) -> Timeline {
        let made = timeline(stamps).unwrap_or_default();
        assert_eq!(made.time_s.len(), stamps.len());
        let grows = made.time_s.windows(2).all(|pair| pair[1] > pair[0]);
        assert!(grows, "{:?}", made.time_s);
        made
    }

    fn near(got: &[f64], wanted: &[f64]) {
        assert_eq!(got.len(), wanted.len(), "{got:?}");
        let close = got.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-6);
        assert!(close, "got {got:?}, wanted {wanted:?}");
    }

    #[test]
    fn a_fine_clock_stays_as_it_is() {
        let made = times(&[5.0, 5.01, 5.02, 5.03, 9.0, 9.01]);
        assert_eq!(made.time_s, [5.0, 5.01, 5.02, 5.03, 9.0, 9.01]);
        assert!(made.breaks.is_empty() && made.shared.is_none());
        assert!((made.period_s - 0.01).abs() < 1e-9);
    }

    #[test]
    fn whole_seconds_spread() {
        let made = times(&[0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0]);
        near(&made.time_s, &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5]);
        assert_eq!(made.shared, Some((2.0, 1.0)));
        assert_eq!(made.standing_rows, 0);
    }

    #[test]
    fn rows_before_the_clock_starts_come_before_it() {
        let made = times(&[0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0]);
        near(&made.time_s[..7], &[-2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0]);
        assert_eq!(made.standing_rows, 6);
    }

    #[test]
    fn a_gap_of_a_coarse_clock_stays_a_gap() {
        let made = times(&[
            0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 30.0, 30.0, 31.0, 31.0, 32.0, 32.0,
        ]);
        near(&made.time_s[4..8], &[2.0, 2.5, 30.0, 30.5]);
    }

    #[test]
    fn partial_seconds_at_both_ends_keep_the_pace() {
        let rows = [2, 10, 10, 10, 3];
        let stamps: Vec<f64> = (5_u32..)
            .zip(rows)
            .flat_map(|(second, rows)| std::iter::repeat_n(f64::from(second), rows))
            .collect();
        let made = times(&stamps);
        let wanted: Vec<f64> = (0..35_u32).map(|row| 5.8 + f64::from(row) * 0.1).collect();
        near(&made.time_s, &wanted);
    }

    #[test]
    fn rows_are_spread_over_their_own_second_however_many_they_are() {
        let rows = [9_u32, 10, 7, 13, 2, 11, 10, 10];
        let stamps: Vec<f64> = (0_u32..)
            .zip(rows)
            .flat_map(|(second, rows)| (0..rows).map(move |_| f64::from(second)))
            .collect();
        let made = times(&stamps);
        let wanted: Vec<f64> = (0_u32..)
            .zip(rows)
            .flat_map(|(second, rows)| {
                (0..rows).map(move |row| f64::from(second) + f64::from(row) / f64::from(rows))
            })
            .collect();
        // The first and the last second may be cut off; all others are known.
        near(&made.time_s[9..62], &wanted[9..62]);
    }

    #[test]
    fn a_second_without_rows_stays_empty() {
        let stamps: Vec<f64> = [0_u32, 1, 2, 4, 5, 6]
            .into_iter()
            .flat_map(|second| std::iter::repeat_n(f64::from(second), 10))
            .collect();
        let made = times(&stamps);
        near(&made.time_s[28..32], &[2.8, 2.9, 4.0, 4.1]);
    }

    #[test]
    fn a_restart_goes_on_by_one_period() {
        let made = times(&[0.0, 0.1, 0.2, 0.3, 0.0, 0.1, 0.2]);
        near(&made.time_s, &[0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6]);
        assert_eq!(made.breaks, [(4, BreakKind::Restart)]);
    }

    #[test]
    fn a_step_back_keeps_the_order() {
        let stamps: Vec<f64> = (0..50)
            .map(|n| f64::from(n) * 0.1)
            .chain((0..50).map(|n| 3.0 + f64::from(n) * 0.1))
            .collect();
        let made = times(&stamps);
        assert_eq!(made.breaks, [(50, BreakKind::Back)]);
        assert!((made.time_s[50] - 5.0).abs() < 1e-9);
        assert!((made.time_s[99] - 9.9).abs() < 1e-9);
    }

    #[test]
    fn a_slip_costs_only_its_own_rows() {
        let made = times(&[1.0, 1.01, 900.0, 1.03, 1.04, 0.2, 1.06]);
        near(&made.time_s, &[1.0, 1.01, 1.02, 1.03, 1.04, 1.05, 1.06]);
        assert_eq!(made.breaks, [(3, BreakKind::Back), (5, BreakKind::Back)]);
    }

    #[test]
    fn repeated_stamps_of_a_fine_clock_spread() {
        let made = times(&[0.0, 0.01, 0.02, 0.02, 0.03, 0.04, 0.05, 0.06]);
        near(&made.time_s[2..5], &[0.02, 0.025, 0.03]);
    }

    #[test]
    fn a_standing_clock_gives_no_times() {
        assert_eq!(timeline(&[3.0, 3.0, 3.0]), None);
        assert_eq!(timeline(&[3.0]).map(|t| t.time_s), Some(vec![3.0]));
        assert_eq!(timeline(&[3.0, 2.0, 1.0]), None);
    }

    #[test]
    fn any_stamps_grow() {
        let mut state = 7_u64;
        for round in 0..300 {
            let mut stamps = Vec::new();
            for _ in 0..round % 40 + 2 {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                let small = (state % 64) as f64;
                stamps.push(if state.is_multiple_of(11) {
                    small * 1e13
                } else {
                    small / 4.0
                });
            }
            if timeline(&stamps).is_some() {
                times(&stamps);
            }
        }
    }
}
