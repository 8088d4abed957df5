//! A channel as the phase finders see it: each sample holds until the next, but never across a gap.

use std::ops::Range;
use std::sync::Arc;

use crate::recording::{Channel, Recording, Series};
use crate::span::{Span, Spans};
use crate::stats::medians;

/// A channel must be silent for at least so long, s, before its own silence is a break.
const SILENCE_LEAST_S: f64 = 0.25;

/// Samples with the time up to which each one holds, in stretches without a break.
#[derive(Clone, Debug, Default)]
pub(super) struct Signal {
    /// Times, s, ascending.
    pub times: Arc<[f64]>,
    /// Values, as many as times.
    pub values: Arc<Vec<f64>>,
    /// Unbroken stretches, as ranges of samples, in order.
    pub stretches: Vec<Range<usize>>,
    /// Up to when the last value of each stretch holds, s; the others hold until the next.
    pub walls: Vec<f64>,
    /// How far apart samples usually are, s.
    pub spacing_s: f64,
}

impl Signal {
    /// A channel's samples. `None` where it is absent or empty.
    pub fn of(rec: &Recording, name: &str) -> Option<Signal> {
        Signal::from_channel(rec, rec.channel(name)?)
    }
    /// Samples of a channel already at hand.
    pub fn from_channel(rec: &Recording, channel: &Channel) -> Option<Signal> {
        let s = &channel.series;
        Signal::new(
            rec,
            s,
            s.spacing().unwrap_or(rec.row_s),
            channel.believed_s(),
        )
    }
    /// One sample for each reading of the channel's own, for differentiation.
    pub fn of_updates(rec: &Recording, channel: &Channel) -> Option<Signal> {
        Signal::new(
            rec,
            channel.updates(),
            channel.interval_s(),
            channel.believed_s(),
        )
    }

    fn new(rec: &Recording, series: &Series, spacing_s: f64, believed_s: f64) -> Option<Signal> {
        if series.is_empty() {
            return None;
        }
        let break_s = believed_s.max(SILENCE_LEAST_S);
        let gaps = rec.gaps.list();
        let times = &series.times;
        let (first, last) = (times[0], times[times.len() - 1]);
        let within = |pair: &[f64]| pair[1] - pair[0] <= break_s;
        let unbroken = || times.windows(2).fold(true, |all, pair| all & within(pair));
        if gaps.iter().all(|g| g.from_s >= last || g.to_s <= first) && unbroken() {
            let next = gaps.iter().find(|g| g.from_s >= last);
            let wall = next.map_or(rec.end_s(), |g| g.from_s);
            return Some(Signal {
                times: Arc::clone(times),
                values: Arc::clone(&series.values),
                stretches: std::iter::once(0..times.len()).collect(),
                walls: vec![(last + spacing_s).min(wall).max(last)],
                spacing_s,
            });
        }
        let (mut stretches, mut walls) = (Vec::new(), Vec::new());
        let (mut from, mut gap) = (0, 0);
        for i in 0..times.len() {
            let t = times[i];
            while gaps.get(gap).is_some_and(|g| g.from_s < t) {
                gap += 1;
            }
            // The rows stop here at the latest.
            let wall = gaps.get(gap).map_or(rec.end_s(), |g| g.from_s);
            match times.get(i + 1) {
                Some(&next) if next - t <= break_s && next <= wall => {}
                _ => {
                    walls.push((t + spacing_s).min(wall).max(t));
                    stretches.push(from..i + 1);
                    from = i + 1;
                }
            }
        }
        Some(Signal {
            times: Arc::clone(times),
            values: Arc::clone(&series.values),
            stretches,
            walls,
            spacing_s,
        })
    }

    /// Up to when a sample holds, s.
    pub fn end(&self, i: usize) -> f64 {
        let at = self.stretches.partition_point(|s| s.end <= i);
        match (self.stretches.get(at), self.walls.get(at)) {
            (Some(stretch), Some(wall)) if i + 1 == stretch.end => *wall,
            _ => self.times.get(i + 1).copied().unwrap_or(f64::NAN),
        }
    }
    /// The same times with other values.
    fn with(&self, values: Vec<f64>) -> Signal {
        Signal {
            values: values.into(),
            ..self.clone()
        }
    }

    /// Where the samples hold at all.
    pub fn covered(&self) -> Spans {
        self.spans(|_| true)
    }
    /// Where each sample by itself satisfies the condition.
    pub fn spans(&self, wanted: impl Fn(f64) -> bool) -> Spans {
        self.between_marks(&wanted, |v| !wanted(v))
    }
    /// From the first sample at or over `enter` until one falls under `leave`; begins anew after each break.
    pub fn above(&self, enter: f64, leave: f64) -> Spans {
        self.between_marks(|v| v >= enter, |v| v < leave)
    }
    /// From the first sample at or under `enter` until one rises over `leave`.
    pub fn below(&self, enter: f64, leave: f64) -> Spans {
        self.between_marks(|v| v <= enter, |v| v > leave)
    }
    fn between_marks(&self, enters: impl Fn(f64) -> bool, leaves: impl Fn(f64) -> bool) -> Spans {
        let mut out = Vec::new();
        for (stretch, wall) in self.stretches.iter().zip(&self.walls) {
            let mut at = stretch.start;
            let ahead = |from: usize| &self.values[from..stretch.end];
            while let Some(steps) = ahead(at).iter().position(|v| enters(*v)) {
                let first = at + steps;
                let end = ahead(first).iter().position(|v| leaves(*v));
                let end = end.map(|steps| first + steps);
                let to_s = end.map_or(*wall, |i| self.times[i]);
                out.push(Span {
                    from_s: self.times[first],
                    to_s,
                });
                at = end.unwrap_or(stretch.end);
            }
        }
        Spans::new(out)
    }
    /// The values whose times lie in the spans.
    pub fn values_in(&self, spans: &Spans) -> Vec<f64> {
        self.samples_in(spans).map(|i| self.values[i]).collect()
    }
    /// The samples, by number, whose times lie in the spans: from the start of each up to, not at, its end.
    pub fn samples_in<'a>(&'a self, spans: &'a Spans) -> impl Iterator<Item = usize> + 'a {
        spans.list().iter().flat_map(|s| {
            let from = self.times.partition_point(|t| *t < s.from_s - 1e-9);
            let to = self.times.partition_point(|t| *t < s.to_s - 1e-9);
            // A span that is one moment is the last sample before a wall.
            from..if s.length() == 0.0 {
                to.max(from + 1).min(self.times.len())
            } else {
                to
            }
        })
    }
    /// True where a span starts or ends with an unbroken stretch: nobody knows how long it really was.
    pub fn cut_short(&self, span: Span) -> bool {
        let mut stretches = self.stretches.iter().zip(&self.walls);
        stretches.any(|(s, wall)| {
            (span.from_s - self.times[s.start]).abs() < 1e-9 || (span.to_s - wall).abs() < 1e-9
        })
    }
    /// Medians over bins of `bin_s`, for signals that come faster than that.
    pub fn binned(&self, bin_s: f64) -> Signal {
        if self.spacing_s > bin_s / 2.0 {
            return self.clone();
        }
        let (mut times, mut bins, mut stretches) = (Vec::new(), Vec::new(), Vec::new());
        for stretch in &self.stretches {
            let first = times.len();
            let mut i = stretch.start;
            while i < stretch.end {
                let upto = self.times[i] + bin_s - 1e-9;
                let behind = self.times[i..stretch.end].iter().position(|t| *t >= upto);
                let to = behind.map_or(stretch.end, |steps| i + steps);
                times.push(self.times[i]);
                bins.push((i, to));
                i = to;
            }
            stretches.push(first..times.len());
        }
        Signal {
            times: times.into(),
            values: medians(&self.values, &bins).into(),
            stretches,
            walls: self.walls.clone(),
            spacing_s: bin_s,
        }
    }
    /// Centred mean over `width_s`, shorter at the ends of a stretch.
    pub fn smoothed(&self, width_s: f64) -> Signal {
        let mut values = self.values.to_vec();
        let half = width_s / 2.0 + 1e-9;
        for stretch in &self.stretches {
            let (mut from, mut to, mut sum) = (stretch.start, stretch.start, 0.0);
            for i in stretch.clone() {
                while to < stretch.end && self.times[to] <= self.times[i] + half {
                    sum += self.values[to];
                    to += 1;
                }
                while self.times[from] < self.times[i] - half {
                    sum -= self.values[from];
                    from += 1;
                }
                values[i] = sum / (to - from) as f64;
            }
        }
        self.with(values)
    }
    /// Change per second over a centred window; 0 where the stretch is too short to tell.
    pub fn rate(&self, window_s: f64) -> Signal {
        let mut values = self.values.to_vec();
        for stretch in &self.stretches {
            let (first, last) = (self.times[stretch.start], self.times[stretch.end - 1]);
            // Both ends of the window only move forward.
            let (mut at_a, mut at_b) = (stretch.start, stretch.start);
            for i in stretch.clone() {
                let a = (self.times[i] - window_s / 2.0).max(first);
                let b = (self.times[i] + window_s / 2.0).min(last);
                values[i] = if b - a < window_s / 3.0 {
                    0.0
                } else {
                    (self.between(stretch, b, &mut at_b) - self.between(stretch, a, &mut at_a))
                        / (b - a)
                };
            }
        }
        self.with(values)
    }
    /// The value at a moment inside a stretch, straight between samples; `from` is a sample at or before it, moved up.
    fn between(&self, stretch: &Range<usize>, t: f64, from: &mut usize) -> f64 {
        while *from + 1 < stretch.end && self.times[*from + 1] <= t {
            *from += 1;
        }
        let at = *from;
        if at + 1 >= stretch.end {
            return self.values[at];
        }
        let part = (t - self.times[at]) / (self.times[at + 1] - self.times[at]);
        self.values[at] + (self.values[at + 1] - self.values[at]) * part.clamp(0.0, 1.0)
    }
    /// All windows of `window_s` in which the values keep within `width(middle)` of each other, joined.
    pub fn holding(&self, window_s: f64, width: impl Fn(f64) -> f64) -> Spans {
        let mut out: Vec<Span> = Vec::new();
        for stretch in &self.stretches {
            // Candidates for the largest and the least of the moving window, largest and least first.
            let (mut high, mut low) = (Vec::<usize>::new(), Vec::<usize>::new());
            let (mut high_at, mut low_at, mut to) = (0, 0, stretch.start);
            let end = self.end(stretch.end - 1);
            for i in stretch.clone() {
                let upto = self.times[i] + window_s;
                if upto > end + 1e-9 {
                    break;
                }
                while to < stretch.end && self.times[to] < upto - 1e-9 {
                    let v = self.values[to];
                    while high.len() > high_at && high.last().is_some_and(|l| self.values[*l] <= v)
                    {
                        high.pop();
                    }
                    while low.len() > low_at && low.last().is_some_and(|l| self.values[*l] >= v) {
                        low.pop();
                    }
                    high.push(to);
                    low.push(to);
                    to += 1;
                }
                while high.get(high_at).is_some_and(|h| *h < i) {
                    high_at += 1;
                }
                while low.get(low_at).is_some_and(|l| *l < i) {
                    low_at += 1;
                }
                let (Some(&h), Some(&l)) = (high.get(high_at), low.get(low_at)) else {
                    continue;
                };
                let (h, l) = (self.values[h], self.values[l]);
                if h - l <= width((h + l) / 2.0) {
                    let (from_s, to_s) = (self.times[i], upto.min(end));
                    match out.last_mut() {
                        Some(last) if from_s <= last.to_s => last.to_s = to_s,
                        _ => out.push(Span { from_s, to_s }),
                    }
                }
            }
        }
        Spans::new(out)
    }
    /// How long a reading usually stands before the next, s, told by the steps of a moving quantity: a logger that asks
    /// for one quantity after another repeats each, at no fixed beat. `step`: what counts as a step.
    pub fn stands_s(&self, step: f64) -> f64 {
        let mut lengths = Vec::new();
        let mut since = 0;
        for i in 1..self.values.len() {
            if self.values[i] != self.values[i - 1] {
                if (self.values[i] - self.values[i - 1]).abs() >= step && since > 0 {
                    lengths.push(self.times[i] - self.times[since]);
                }
                since = i;
            }
        }
        let usual = if lengths.len() < 8 {
            None
        } else {
            crate::stats::median(&lengths)
        };
        usual.unwrap_or(0.0).max(self.spacing_s)
    }
}
