//! Where a channel changes: a quick look that settles most channels, and the whole list for those that stand still.

use super::beat::Beat;
use crate::recording::Series;

/// The quick look reads so many stretches of so many rows, spread over the run.
const STRETCHES: usize = 24;
const STRETCH: usize = 1024;
/// Fewer runs than this in the quick look say nothing.
const ENOUGH: usize = 30;
/// A channel whose runs are this often one row long brings a reading in every row.
const RESTLESS: f64 = 0.35;
/// A step over this many resolutions is a leap.
const LEAP: f64 = 1.5;
/// Most runs that are looked at for a beat.
const RUNS: usize = 6000;
/// Most steps of one stretch that are looked at for the resolution.
const STEPS: usize = 333;
/// Rows further apart than this many row periods, and than this many seconds, are a gap.
const GAP_ROWS: f64 = 5.0;
const GAP_S: f64 = 0.25;

/// Rows that are looked at together.
const BLOCK: usize = 256;

/// Each of these rows with the one before it.
fn pairs(list: &[f64], from: usize, to: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
    let before = list[from - 1..to - 1].iter();
    before.zip(&list[from..to]).map(|(a, b)| (*a, *b))
}

/// What a quick look at a channel shows.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    /// The smallest step between two different values.
    pub resolution: f64,
    /// Share of the changes that are more than one such step.
    pub leaps: f64,
    runs: usize,
    short: usize,
}

impl Look {
    pub(super) fn at(series: &Series) -> Look {
        let values = &series.values[..];
        let (mut runs, mut short) = (0, 0);
        let mut steps = Vec::new();
        let all = values.len() <= 2 * STRETCHES * STRETCH;
        let count = if all { 1 } else { STRETCHES };
        let length = if all { values.len() } else { STRETCH };
        for n in 0..count {
            let from = (values.len() - length) * n / count.max(2).saturating_sub(1).max(1);
            let part = &values[from..from + length];
            let room = if all { usize::MAX } else { steps.len() + STEPS };
            let mut last = None;
            for i in 1..part.len() {
                if part[i] == part[i - 1] {
                    continue;
                }
                if steps.len() < room {
                    steps.push((part[i] - part[i - 1]).abs());
                }
                if let Some(last) = last {
                    runs += 1;
                    short += usize::from(i - last == 1);
                }
                last = Some(i);
            }
        }
        let (resolution, leaps) = sizes(&mut steps);
        Look {
            resolution,
            leaps,
            runs,
            short,
        }
    }

    /// The same, with the size of the changes taken from the whole list where the quick look saw none.
    pub(super) fn seen(self, breaks: &Breaks, values: &[f64]) -> Look {
        if self.resolution > 0.0 {
            return self;
        }
        let changes = breaks
            .starts
            .iter()
            .filter(|s| !s.gap)
            .map(|s| s.row as usize);
        let mut steps: Vec<f64> = changes
            .take(STEPS * STRETCHES)
            .map(|i| (values[i] - values[i - 1]).abs())
            .collect();
        let (resolution, leaps) = sizes(&mut steps);
        Look {
            resolution,
            leaps,
            ..self
        }
    }

    /// True where the rows that were looked at already show that it brings a reading in every row.
    pub(super) fn restless(&self) -> bool {
        self.runs >= ENOUGH && self.short as f64 >= RESTLESS * self.runs as f64
    }
}

/// The smallest step and the share of those that are more.
fn sizes(steps: &mut [f64]) -> (f64, f64) {
    let smallest = smallest(steps);
    let leaps = steps.iter().filter(|s| **s > LEAP * smallest).count();
    (smallest, leaps as f64 / steps.len().max(1) as f64)
}

/// The fifth percentile, not the least: unit conversion leaves rounding dust.
fn smallest(steps: &mut [f64]) -> f64 {
    if steps.is_empty() {
        return 0.0;
    }
    let at = steps.len() / 20;
    *steps.select_nth_unstable_by(at, f64::total_cmp).1
}

/// All places where a channel changes or its rows are interrupted.
#[derive(Debug)]
pub(super) struct Breaks<'a> {
    times: &'a [f64],
    /// First row of each stretch that holds one value, and whether rows are missing before it.
    starts: Vec<Start>,
}

#[derive(Clone, Copy, Debug)]
struct Start {
    row: u32,
    /// Rows are missing before it, or it is the first.
    gap: bool,
}

impl Breaks<'_> {
    pub(super) fn of(series: &Series, spacing: f64) -> Breaks<'_> {
        let (times, values) = (&series.times[..], &series.values[..]);
        let far = (GAP_ROWS * spacing).max(GAP_S);
        let mut starts = Vec::new();
        let first = Start { row: 0, gap: true };
        starts.extend((!values.is_empty()).then_some(first));
        let mut from = 1;
        while from < values.len() {
            let to = values.len().min(from + BLOCK);
            // Most blocks of a slow channel hold nothing: told in a few steps without a branch for each row.
            let changes = pairs(values, from, to).fold(false, |any, (a, b)| any | (a != b));
            let gaps = pairs(times, from, to).fold(false, |any, (a, b)| any | (b - a > far));
            if changes | gaps {
                for i in from..to {
                    let gap = times[i] - times[i - 1] > far;
                    if gap || values[i] != values[i - 1] {
                        // A row number over four thousand million is no log of an engine.
                        let row = u32::try_from(i).unwrap_or(u32::MAX);
                        starts.push(Start { row, gap });
                    }
                }
            }
            from = to;
        }
        Breaks { times, starts }
    }

    /// How often the value changes.
    pub(super) fn changes(&self) -> usize {
        self.starts.iter().filter(|s| !s.gap).count()
    }

    /// Lengths, in rows, of stretches of one value that begin and end with a change; evenly over the run where there
    /// are very many.
    pub(super) fn runs(&self) -> Vec<u32> {
        let each = self.starts.len().div_ceil(RUNS).max(1);
        self.starts
            .windows(2)
            .step_by(each)
            .filter(|w| !w[0].gap && !w[1].gap)
            .map(|w| w[1].row - w[0].row)
            .collect()
    }

    /// Seconds from row to row all in all, but for the gaps.
    pub(super) fn mean_row_s(&self) -> Option<f64> {
        let gaps = self.starts.iter().filter(|s| s.gap && s.row > 0);
        let (count, missing) = gaps.fold((0, 0.0), |(count, missing), start| {
            let at = start.row as usize;
            (count + 1, missing + self.times[at] - self.times[at - 1])
        });
        let rows = self.times.len().checked_sub(1 + count)?;
        let seconds = self.times.last()? - self.times.first()? - missing;
        (rows > 0 && seconds > 0.0).then(|| seconds / rows as f64)
    }

    /// Seconds from row to row where it follows the beat; `None` where it never does.
    pub(super) fn row_s(&self, beat: Beat) -> Option<f64> {
        let (mut rows, mut seconds) = (0, 0.0);
        for pair in self.starts.windows(2).filter(|w| !w[1].gap) {
            let (from, to) = (pair[0].row as usize, pair[1].row as usize);
            if (to - from) as f64 <= 8.5 * beat.rows {
                rows += to - from;
                seconds += self.times[to] - self.times[from];
            }
        }
        (rows > 0).then(|| seconds / rows as f64)
    }

    /// Rows of the readings. A stretch longer than the beat holds the same reading several times over; where it begins
    /// and ends with a change, they are spread evenly between the two.
    pub(super) fn updates(&self, beat: Beat) -> Vec<usize> {
        let end = self.times.len();
        let mut at = Vec::with_capacity(self.starts.len() * 2);
        for (nth, start) in self.starts.iter().enumerate() {
            let from = start.row as usize;
            let next = self.starts.get(nth + 1);
            let to = next.map_or(end, |n| n.row as usize);
            let changes = next.is_some_and(|n| !n.gap);
            let length = (to - from) as f64;
            let count = beat.readings(length);
            at.push(from);
            match (start.gap, changes) {
                (false, true) => {
                    let part = length / count as f64;
                    at.extend((1..count).map(|n| from + (n as f64 * part).round() as usize));
                }
                // The change at its end is the one that is sure.
                (true, true) => {
                    let before = (1..=count).rev().map(|n| n as f64 * beat.rows);
                    let before = before.filter(|rows| length - rows >= 0.5 * beat.rows);
                    at.extend(before.map(|rows| to - rows.round() as usize));
                }
                (_, false) => {
                    let after = (1..=count).map(|n| n as f64 * beat.rows);
                    let after = after.filter(|rows| length - rows >= 0.5 * beat.rows);
                    at.extend(after.map(|rows| from + rows.round() as usize));
                }
            }
        }
        at
    }
}
