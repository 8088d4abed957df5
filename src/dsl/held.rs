//! Samples inside spans, and what stands at a time between two samples.

use std::ops::Range;
use std::sync::Arc;

use super::lazy::Lazy;
use super::ticks::Ticks;
use crate::recording::Series;
use crate::span::{Span, Spans};

/// The samples inside the spans, as ranges.
pub(super) fn ranges(series: &Series, spans: &Spans) -> Vec<Range<usize>> {
    ranges_of(&series.times, spans)
}

/// The times inside the spans, as ranges.
pub(super) fn ranges_of(times: &[f64], spans: &Spans) -> Vec<Range<usize>> {
    let range = |span: &Span| {
        let from = times.partition_point(|t| *t < span.from_s - 1e-9);
        let to = times.partition_point(|t| *t <= span.to_s + 1e-9);
        from..to.max(from)
    };
    spans.list().iter().map(range).collect()
}

/// Goes along a series and tells what stands at each of ever later times.
pub(super) struct Held {
    series: Series,
    at: usize,
    believed_s: f64,
}

impl Held {
    pub fn new(lazy: &Lazy) -> Held {
        Held {
            series: lazy.series(),
            at: 0,
            believed_s: lazy.believed_s() + 1e-9,
        }
    }

    /// True where both stand at the same times, so that the place in the one is that in the other.
    pub fn shares_times(&self, other: &Held) -> bool {
        Arc::ptr_eq(&self.series.times, &other.series.times)
    }
    /// True where those times are its own without the first.
    pub fn stands_one_before(&self, times: &Arc<[f64]>) -> bool {
        Ticks::is_rest(times, &self.series.times)
    }
    /// The place of the sample at or before a time.
    pub fn place(&mut self, t: f64) -> Option<usize> {
        let times = &self.series.times;
        while self.at < times.len() && times[self.at] <= t + 1e-9 {
            self.at += 1;
        }
        self.at.checked_sub(1)
    }
    /// The value at a place, NaN where it may not be believed any more at that time.
    pub fn value(&self, place: Option<usize>, t: f64) -> f64 {
        match place {
            Some(i) if t - self.series.times[i] <= self.believed_s => self.series.values[i],
            _ => f64::NAN,
        }
    }
    /// The value at or before a time, NaN where there is none that may still be believed.
    pub fn at(&mut self, t: f64) -> f64 {
        let place = self.place(t);
        self.value(place, t)
    }
}

/// The value at or before each time, NaN where there is none that may still be believed. (NaN lives only until the
/// next [`Series::new`].)
pub fn hold(series: &Series, times: &Arc<[f64]>, believed_s: f64) -> Arc<Vec<f64>> {
    if Arc::ptr_eq(&series.times, times) {
        return Arc::clone(&series.values);
    }
    let mut at = 0;
    let mut out = Vec::with_capacity(times.len());
    for t in times.iter() {
        while at < series.len() && series.times[at] <= *t + 1e-9 {
            at += 1;
        }
        let value = match at.checked_sub(1) {
            Some(i) if *t - series.times[i] <= believed_s + 1e-9 => series.values[i],
            _ => f64::NAN,
        };
        out.push(value);
    }
    out.into()
}

/// The samples inside the spans.
pub fn cut(series: &Series, spans: &Spans) -> Series {
    let ranges = ranges(series, spans);
    if ranges.iter().any(|range| range.len() == series.len()) {
        return series.clone();
    }
    if let [range] = &ranges[..] {
        return Series {
            times: series.times[range.clone()].into(),
            values: series.values[range.clone()].to_vec().into(),
        };
    }
    let part = |all: &[f64]| -> Vec<f64> {
        let parts: Vec<&[f64]> = ranges.iter().map(|range| &all[range.clone()]).collect();
        parts.concat()
    };
    Series {
        times: part(&series.times).into(),
        values: part(&series.values).into(),
    }
}
