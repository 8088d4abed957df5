//! How the cells of a column go on from row to row, as far as the head shows it.

use super::grid::Grid;
use crate::load::cells::{Marks, bare, number};
use crate::load::clock::{Clock, ClockStyle};
use crate::load::dialect::DateOrder;
use crate::load::moment::written;
use crate::load::rollover::carry_on;

/// What the head shows of one column.
#[derive(Clone, Debug, Default)]
pub(super) struct Course {
    /// Numbers, or seconds of written stamps.
    pub values: Vec<f64>,
    /// Style of written stamps, if most are more than a number.
    pub written: Option<ClockStyle>,
    pub filled: usize,
    pub rows: usize,
    /// Steps between neighbours: forward and backward.
    pub forward: usize,
    pub back: usize,
    /// The median forward step.
    pub step: f64,
    /// The first cell that holds something.
    pub shown: Vec<u8>,
}

impl Course {
    /// Looks at one column. A counter that begins anew at the end of its round goes on; `unit` is what it counts.
    pub fn new(
        grid: &Grid,
        column: usize,
        marks: Marks,
        unit: Option<ClockStyle>,
        order: DateOrder,
    ) -> Self {
        let mut course = Self::default();
        let mut stamps = Vec::new();
        for row in grid.usual_rows() {
            course.rows += 1;
            let Some(text) = row.fields.get(column).map(|field| bare(field)) else {
                continue;
            };
            if text.is_empty() {
                continue;
            }
            course.filled += 1;
            if course.shown.is_empty() {
                course.shown = text.to_vec();
            }
            if let Some(stamp) = written(text, order) {
                stamps.push(stamp);
            } else if let Some(number) = number(text, marks) {
                course.values.push(number);
            }
        }
        if stamps.len() > course.values.len() {
            course.written = stamps.last().map(|stamp| stamp.0);
            course.values = stamps.into_iter().map(|stamp| stamp.1).collect();
        }
        course.carry_on(unit);
        course.count_steps();
        course
    }

    /// The end of a round is no step back. Without a unit, the counters of seconds and milliseconds are tried.
    fn carry_on(&mut self, unit: Option<ClockStyle>) {
        let styles = match (self.written, unit) {
            (Some(style), _) => vec![style],
            (None, Some(style)) => vec![style],
            (None, None) => vec![ClockStyle::Seconds, ClockStyle::Milliseconds],
        };
        for style in styles {
            let clock = Clock {
                style,
                ..Clock::default()
            };
            let one = if self.written.is_some() {
                1.0
            } else {
                style.to_seconds(1.0)
            };
            let mut seconds: Vec<f64> = self.values.iter().map(|value| value * one).collect();
            if !carry_on(&mut seconds, &clock).is_empty() {
                self.values = seconds.iter().map(|seconds| seconds / one).collect();
                return;
            }
        }
    }

    fn count_steps(&mut self) {
        let mut forward: Vec<f64> = Vec::new();
        for pair in self.values.windows(2) {
            let step = pair[1] - pair[0];
            if step > 0.0 {
                forward.push(step);
            }
            self.back += usize::from(step < 0.0);
        }
        self.forward = forward.len();
        if !forward.is_empty() {
            let middle = forward.len() / 2;
            self.step = *forward.select_nth_unstable_by(middle, f64::total_cmp).1;
        }
    }

    /// Steps between neighbours.
    pub fn steps(&self) -> usize {
        self.values.len().saturating_sub(1)
    }

    /// What keeps it from being a clock; `None` if nothing does.
    pub fn fault(&self) -> Option<Fault> {
        if self.filled * 2 < self.rows {
            return Some(Fault::Blank);
        }
        if self.values.is_empty() || self.values.len() * 10 < self.filled * 6 {
            return Some(Fault::NoTimes);
        }
        if self.back * 3 <= self.steps() && self.back <= self.forward.max(1) {
            return None;
        }
        Some(if self.forward * 10 <= self.back {
            Fault::Reversed
        } else {
            Fault::Shuffled
        })
    }

    /// The share of steps that go forward.
    #[expect(clippy::cast_precision_loss, reason = "counts of rows in the head")]
    pub fn moving(&self) -> f64 {
        self.forward as f64 / (self.values.len().max(2) - 1) as f64
    }

    /// How far it goes from row to row, taken over rows that share a stamp.
    pub fn step_per_row(&self) -> f64 {
        self.step * self.moving()
    }

    /// Equal steps that are no whole numbers: time or something made from it.
    pub fn is_even(&self) -> bool {
        let even = |pair: &[f64]| ((pair[1] - pair[0]) - self.step).abs() <= 0.01 * self.step;
        self.values.len() >= 10
            && self.step > 0.0
            && self.step.fract() != 0.0
            && self.values.windows(2).all(even)
    }
}

/// Why a column cannot be the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// Most cells are blank.
    Blank,
    /// Most cells are no times.
    NoTimes,
    /// It falls from row to row.
    Reversed,
    /// It rises and falls.
    Shuffled,
}
