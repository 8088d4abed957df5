//! Columns and truths: what a script computes with.

use std::sync::Arc;

use super::lazy::{Kept, Lazy, Neighbours, Per, Shape, Values};
use super::rolling;
pub use super::rolling::Window;
use super::ticks::Ticks;
use crate::recording::{Channel, Series};
use crate::span::{Span, Spans};
use crate::stats;
use crate::units::Unit;

/// A value with its unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// In the standard unit.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
}

/// A series of values with a unit, at the times at which they were sampled.
#[derive(Clone)]
pub struct Column {
    /// The values, on demand.
    pub lazy: Lazy,
    /// Unit of the values.
    pub unit: Unit,
    /// What a sentence calls it, e.g. `egt_3`.
    pub name: String,
    /// How a sentence names its place: `cylinder 3`, `position 3`, `sensor a`.
    pub label: String,
    /// The cylinder, where known.
    pub cylinder: Option<u32>,
    /// Number in its family, where it has one.
    pub position: Option<u32>,
    /// Plausible range by the dictionary, standard unit.
    pub range: Option<(f64, f64)>,
    /// Smallest step between two readings.
    pub resolution: f64,
    /// Where it was narrowed to.
    pub window: Option<Spans>,
}

/// A series of yes and no.
#[derive(Clone)]
pub struct Truth {
    /// 1 for yes, 0 for no.
    pub lazy: Lazy,
    /// Where it was narrowed to.
    pub window: Option<Spans>,
}

/// Share of a hold's window that must be over the limit: one reading back under it does not reset a hold.
const HOLD_SHARE: f64 = 0.8;

impl Column {
    /// The column of a channel, at its own update times.
    pub fn of_channel(channel: &Channel) -> Column {
        Column {
            lazy: Lazy::data(
                channel.updates().clone(),
                channel.interval_s(),
                channel.believed_s(),
            ),
            unit: channel.unit,
            name: channel.name.clone(),
            label: channel.label(),
            cylinder: channel.cylinder,
            position: channel.position,
            range: Some((channel.entry.range[0], channel.entry.range[1])),
            resolution: channel.resolution(),
            window: None,
        }
    }
    /// A column made here, from a series.
    pub fn made(
        name: &str,
        series: Series,
        unit: Unit,
        interval_s: f64,
        believed_s: f64,
    ) -> Column {
        Column {
            lazy: Lazy::data(series, interval_s, believed_s),
            unit,
            name: name.to_string(),
            label: name.to_string(),
            cylinder: None,
            position: None,
            range: None,
            resolution: 0.0,
            window: None,
        }
    }
    /// The same place and name with other values.
    pub fn with(&self, lazy: Lazy, unit: Unit) -> Column {
        Column {
            lazy,
            unit,
            ..self.clone()
        }
    }
    /// The numbers.
    pub fn series(&self) -> Series {
        self.lazy.series()
    }
    /// Narrowed to spans.
    pub fn during(&self, spans: &Spans) -> Column {
        let window = narrowed(self.window.as_ref(), spans);
        Column {
            lazy: self.lazy.during(spans),
            window: Some(window),
            ..self.clone()
        }
    }
    /// A statistic as a quantity of this column's unit.
    pub fn stat(&self, f: impl Fn(&[f64]) -> Option<f64>) -> Option<Quantity> {
        self.lazy
            .with_values(f)
            .filter(|v| v.is_finite())
            .map(|value| Quantity {
                value,
                unit: self.unit,
            })
    }
    /// A quantile of its values as a quantity of its unit.
    pub fn quantile(&self, q: f64) -> Option<Quantity> {
        self.stat(|values| stats::quantile_of_finite(values, q))
    }
    /// Seconds for which it is known: each sample stands until the next, for as long as it may be believed.
    pub fn known(&self) -> Spans {
        Known::of(&self.lazy, self.window.as_ref())
    }
    /// A rolling statistic over a centred window of so many seconds; at the ends the window is cut short. Windows do
    /// not reach over gaps.
    pub fn rolling(&self, seconds: f64, tell: Window) -> Column {
        let believed = self.lazy.believed_s();
        // A hair more than half the window, for a sample that lies right at its edge.
        let reach = seconds / 2.0 + 1e-6;
        let told = match tell {
            Window::Mad => Neighbours::Apart(stats::MAD_TO_SIGMA),
            Window::Median | Window::Least | Window::Greatest => Neighbours::Among,
        };
        let make = move |series: &Series| match tell {
            Window::Median => rolling::median(series, seconds, believed),
            Window::Mad => rolling::sorted(series, seconds, believed, stats::mad_of_sorted),
            Window::Least => rolling::extreme(series, seconds, believed, |a, b| a <= b),
            Window::Greatest => rolling::extreme(series, seconds, believed, |a, b| a >= b),
        };
        let kept = Kept::Rolled(tell, seconds);
        let lazy = self.lazy.keeping(kept, reach, told, make);
        let apart = matches!(tell, Window::Mad);
        self.with(
            lazy,
            if apart {
                self.unit.difference()
            } else {
                self.unit
            },
        )
    }
    /// Where a value lies further from the median of a window around it than so many scaled MADs of that window (Hampel
    /// 1974); the MAD counts as at least `floor`, for a column that hardly moves has none.
    pub fn outliers(&self, seconds: f64, sigmas: f64, floor: f64) -> Truth {
        let middle = self.rolling(seconds, Window::Median).lazy;
        let spread = self
            .rolling(seconds, Window::Mad)
            .lazy
            .each(Shape::OneWay, move |mad: f64| sigmas * mad.max(floor));
        let apart = self.lazy.both(&middle, Shape::OneWay, |a, b| a - b);
        let apart = apart.each(Shape::TurnsAt(0.0), f64::abs);
        Truth {
            lazy: apart.both(&spread, Shape::OneWay, |a, most| f64::from(a > most)),
            window: self.window.clone(),
        }
    }
    /// Median of each block of so many seconds, at the middle of the block.
    pub fn blocks(&self, seconds: f64) -> Column {
        let believed = self.lazy.believed_s();
        let blocks = self
            .lazy
            .whole(move |series| blocks(series, seconds, believed));
        let lazy = blocks.paced(seconds, 1.5 * seconds);
        self.with(lazy, self.unit)
    }
    /// Difference to the sample before; none across a gap.
    pub fn step(&self, across_gaps: bool) -> Column {
        let believed = if across_gaps {
            f64::INFINITY
        } else {
            self.lazy.believed_s()
        };
        self.with(self.before(believed, Per::Reading), self.unit.difference())
    }
    /// Change per second, from update to update; none across a gap.
    pub fn rate(&self) -> Column {
        let lazy = self.before(self.lazy.believed_s(), Per::Second);
        self.with(lazy, self.unit.over(Unit::standard("s")))
    }
    fn before(&self, believed_s: f64, per: Per) -> Lazy {
        let told = Neighbours::Before { per, believed_s };
        self.lazy.rolling(believed_s + 1e-6, told, move |series| {
            pairs(series, believed_s, move |dt, a, b| per.of(dt, a, b))
        })
    }
    /// What a counter gained since its last sample: positive differences, mended where an 8- or 16-bit counter wrapped,
    /// zero where it was reset.
    pub fn increase(&self) -> Column {
        let endless = f64::INFINITY;
        let lazy = self.lazy.rolling(endless, Neighbours::Gains, |series| {
            let most = series.values.iter().copied().fold(0.0, f64::max);
            let per = Per::Gain(most);
            pairs(series, f64::INFINITY, move |dt, a, b| per.of(dt, a, b))
        });
        self.with(lazy, self.unit)
    }
    /// Moved later by so many seconds.
    pub fn delayed(&self, seconds: f64) -> Column {
        let lazy = self.lazy.near(seconds.abs() + 1e-6, move |series| Series {
            times: series.times.iter().map(|t| t + seconds).collect(),
            values: Arc::clone(&series.values),
        });
        self.with(lazy, self.unit)
    }
    /// As a sensor of first order with that time constant would show it.
    pub fn lagged(&self, tau: f64) -> Column {
        let believed = self.lazy.believed_s();
        let lazy = self.lazy.whole(move |series| {
            let shown = stats::lagged(&series.times, &series.values, tau, believed);
            Series::new(&series.times, shown)
        });
        self.with(lazy, self.unit)
    }
    /// Integral over time from the first sample; gaps add nothing.
    pub fn integral(&self) -> Column {
        let believed = self.lazy.believed_s();
        let lazy = self.lazy.whole(move |series| {
            let mut sum = 0.0;
            let mut out = Vec::with_capacity(series.len());
            for i in 0..series.len() {
                if i > 0 {
                    let dt = series.times[i] - series.times[i - 1];
                    if dt <= believed {
                        sum += 0.5 * (series.values[i] + series.values[i - 1]) * dt;
                    }
                }
                out.push(sum);
            }
            Series::new(&series.times, out)
        });
        self.with(lazy, self.unit.times(Unit::standard("s")))
    }
    /// Stretches in which it does not change by more than its own unit's `by`, for at least so many seconds. Holes without
    /// samples end a stretch, unless they are shorter than `hole_s`.
    pub fn unchanging(&self, seconds: f64, by: f64, hole_s: f64) -> Spans {
        let series = self.series();
        let (t, v) = (&series.times, &series.values);
        let believed = self.lazy.believed_s().max(hole_s);
        let ticks = Ticks::of(t);
        let whole = ticks.greatest_s <= believed;
        // Where it moves, every sample ends a stretch, and only the long ones are kept: one of fewer samples than this is none.
        let few = (seconds / ticks.greatest_s) as usize;
        let mut out = Vec::new();
        let mut from = 0;
        for i in 1..=v.len() {
            let broken =
                i == v.len() || (v[i] - v[from]).abs() > by || !whole && t[i] - t[i - 1] > believed;
            if broken {
                if i - from >= few.max(1) {
                    let span = Span {
                        from_s: t[from],
                        to_s: t[i - 1],
                    };
                    if span.length() >= seconds {
                        out.push(span);
                    }
                }
                from = i;
            }
        }
        Spans::new(out)
    }
}

fn pairs(series: &Series, believed: f64, f: impl Fn(f64, f64, f64) -> f64) -> Series {
    let (t, v) = (&series.times, &series.values);
    // Mostly nothing is missing in between, and every sample but the first has a neighbour.
    let ticks = Ticks::of(t);
    if ticks.unbroken(believed) {
        let steps = t.windows(2).map(|pair| pair[1] - pair[0]);
        let values = steps.zip(v.windows(2));
        let values = values.map(|(dt, pair)| f(dt, pair[0], pair[1]));
        return Series::new(&ticks.rest, values.collect());
    }
    let mut times = Vec::with_capacity(t.len());
    let mut values = Vec::with_capacity(t.len());
    for i in 1..t.len() {
        let dt = t[i] - t[i - 1];
        if dt > 0.0 && dt <= believed {
            times.push(t[i]);
            values.push(f(dt, v[i - 1], v[i]));
        }
    }
    let times: Arc<[f64]> = times.into();
    Series::new(&times, values)
}

fn blocks(series: &Series, seconds: f64, believed: f64) -> Series {
    let (mut times, mut blocks) = (Vec::new(), Vec::new());
    let t = &series.times;
    let mut from = 0;
    for i in 1..=series.len() {
        let full = i == series.len() || t[i] - t[from] >= seconds - 1e-9;
        let gap = i < series.len() && t[i] - t[i - 1] > believed;
        if full || gap {
            // A stub at the end of a stretch says too little to stand as a block of its own.
            if t[i - 1] - t[from] >= 0.5 * seconds {
                times.push(0.5 * (t[from] + t[i - 1]));
                blocks.push((from, i));
            }
            from = i;
        }
    }
    let times: Arc<[f64]> = times.into();
    Series::new(&times, stats::medians(&series.values, &blocks))
}

/// The stretches in which something is known, in the making.
struct Known {
    believed: f64,
    interval: f64,
    /// Where the stretch began, and the last sample of it.
    since: Option<(f64, f64)>,
    out: Vec<Span>,
}

impl Known {
    /// Visits all samples of an expression, inside the window.
    fn of(lazy: &Lazy, window: Option<&Spans>) -> Spans {
        let mut known = Known {
            believed: lazy.believed_s() + 1e-9,
            interval: lazy.interval_s(),
            since: None,
            out: Vec::new(),
        };
        lazy.visit_times(&mut |times| {
            known.add(times);
            true
        });
        if let Some((from_s, to_s)) = known.since {
            known.out.push(Span { from_s, to_s });
        }
        let spans = Spans::new(known.out);
        match window {
            Some(window) => spans.and(window),
            None => spans,
        }
    }

    fn add(&mut self, times: &[f64]) {
        let (Some(first), Some(last)) = (times.first(), times.last()) else {
            return;
        };
        let believed = self.believed;
        let mut from = match self.since {
            Some((from, before)) if first - before <= believed => from,
            Some((from_s, before)) => {
                self.end(from_s, before);
                *first
            }
            None => *first,
        };
        if gaps(times, believed) {
            for pair in times.windows(2).filter(|pair| pair[1] - pair[0] > believed) {
                self.end(from, pair[0]);
                from = pair[1];
            }
        }
        self.since = Some((from, *last));
    }

    /// The last sample before a gap stands for one interval.
    fn end(&mut self, from_s: f64, last: f64) {
        let to_s = last + self.interval;
        self.out.push(Span { from_s, to_s });
    }
}

fn narrowed(old: Option<&Spans>, new: &Spans) -> Spans {
    old.map_or_else(|| new.clone(), |old| old.and(new))
}

/// Whether somewhere the next sample comes later than that, s. Looked at by the block: a gap is rare.
fn gaps(times: &[f64], believed: f64) -> bool {
    let late = |pair: &[f64]| pair[1] - pair[0] > believed;
    times.windows(2).fold(false, |any, pair| any | late(pair))
}

/// Samples looked at together.
const BLOCK: usize = 1024;

/// Spans in the making: each true sample stands until the next one.
struct Open {
    believed: f64,
    interval: f64,
    /// The sample before, where it was true.
    since: Option<f64>,
    out: Vec<Span>,
}

impl Open {
    fn add(&mut self, times: &[f64], values: &[f64]) {
        // Mostly a whole block is true, or none of it. Counted without an early end: that would cost more than it saves.
        for (times, values) in times.chunks(BLOCK).zip(values.chunks(BLOCK)) {
            let yes: usize = values.iter().map(|v| usize::from(*v != 0.0)).sum();
            if yes == 0 {
                self.add_all(times, false);
            } else if yes == values.len() {
                self.add_all(times, true);
            } else {
                self.add_each(times, values);
            }
        }
    }

    fn add_all(&mut self, times: &[f64], yes: bool) {
        let (Some(first), Some(last)) = (times.first(), times.last()) else {
            return;
        };
        match self.since {
            None if !yes => {}
            Some(from_s)
                if yes && first - from_s <= self.believed && !gaps(times, self.believed) =>
            {
                let to_s = *last;
                self.push(Span { from_s, to_s });
                self.since = Some(to_s);
            }
            _ if yes => self.add_each(times, &vec![1.0; times.len()]),
            // The one before stands until the first of these.
            _ => self.add_each(&[*first], &[0.0]),
        }
    }

    fn add_each(&mut self, times: &[f64], values: &[f64]) {
        for (t, v) in times.iter().zip(values) {
            if let Some(from_s) = self.since {
                let to_s = if t - from_s <= self.believed {
                    *t
                } else {
                    from_s + self.interval
                };
                self.push(Span { from_s, to_s });
            }
            self.since = (*v != 0.0).then_some(*t);
        }
    }

    fn push(&mut self, span: Span) {
        match self.out.last_mut() {
            Some(last) if span.from_s <= last.to_s => last.to_s = span.to_s,
            _ => self.out.push(span),
        }
    }
}

impl Truth {
    /// Narrowed to spans.
    pub fn within(&self, spans: &Spans) -> Truth {
        Truth {
            lazy: self.lazy.during(spans),
            window: Some(narrowed(self.window.as_ref(), spans)),
        }
    }
    /// Where it is true: each true sample stands until the next one.
    pub fn spans(&self) -> Spans {
        let mut open = Open {
            believed: self.lazy.believed_s() + 1e-9,
            interval: self.lazy.interval_s(),
            since: None,
            out: Vec::new(),
        };
        self.lazy.visit_told(&mut |times, values| {
            match values {
                Values::Each(values) => open.add(times, values),
                Values::All(one) => open.add_all(times, one != 0.0),
            }
            true
        });
        // The last sample of all stands for its own moment only.
        let last = open.since.map(|t| Span { from_s: t, to_s: t });
        last.into_iter().for_each(|span| open.push(span));
        let out = open.out;
        let spans = Spans::new(out);
        match &self.window {
            Some(window) => spans.and(window),
            None => spans,
        }
    }
    /// Where it has been true for so long: windows of that length, of which four fifths are true and which hold at
    /// least three updates. They never reach over a gap.
    pub fn lasting(&self, hold_s: f64) -> Spans {
        // Four fifths of three intervals are reached by three updates and not by two.
        let hold = hold_s.max(3.0 * self.lazy.interval_s());
        let yes = self.spans();
        if yes.is_empty() {
            return yes;
        }
        let known = Known::of(&self.lazy, self.window.as_ref());
        let mut out = Vec::new();
        for stretch in known.list().iter().filter(|s| s.length() >= hold - 1e-9) {
            let inside = yes.and(&Spans::one(stretch.from_s, stretch.to_s));
            out.extend(held(inside.list(), *stretch, hold));
        }
        Spans::new(out)
    }
    /// Share of the known time in which it is true, 0..=1.
    pub fn share(&self) -> Option<f64> {
        let known = Known::of(&self.lazy, self.window.as_ref()).total();
        (known > 0.0).then(|| self.spans().total() / known)
    }
}

fn held(yes: &[Span], stretch: Span, hold: f64) -> Vec<Span> {
    let mut before = vec![0.0];
    for span in yes {
        before.push(before.last().copied().unwrap_or(0.0) + span.length());
    }
    // True time before a moment.
    let upto = |t: f64| {
        let at = yes.partition_point(|s| s.from_s < t);
        let partly = at
            .checked_sub(1)
            .map_or(0.0, |i| (yes[i].to_s - t).max(0.0));
        before[at] - partly
    };
    let mut out = Vec::new();
    let mut try_window = |from: f64| {
        let to = from + hold;
        if from < stretch.from_s - 1e-9 || to > stretch.to_s + 1e-9 {
            return;
        }
        if upto(to) - upto(from) >= HOLD_SHARE * hold - 1e-9 {
            out.push(Span {
                from_s: from,
                to_s: to,
            });
        }
    };
    for span in yes {
        try_window(span.from_s);
        try_window(span.to_s - hold);
        // Long spans are covered end to end by windows that start inside them.
        let mut from = span.from_s + hold;
        while from + hold < span.to_s {
            try_window(from);
            from += hold;
        }
    }
    let joined = Spans::new(out);
    // Trim to where it is really true.
    let hull: Vec<Span> = joined
        .list()
        .iter()
        .filter_map(|w| {
            let first = yes.iter().find(|s| s.to_s > w.from_s)?;
            let last = yes.iter().rev().find(|s| s.from_s < w.to_s)?;
            Some(Span {
                from_s: first.from_s.max(w.from_s),
                to_s: last.to_s.min(w.to_s),
            })
        })
        .collect();
    hull
}

#[cfg(test)]
mod tests;
