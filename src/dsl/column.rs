//! Columns and truths: what a script computes with.

use std::sync::Arc;

use super::lazy::{Kept, Lazy, Neighbours, Per, Shape};
use super::rolling;
pub use super::rolling::Window;
use super::stretches::{Known, Open, held};
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
        let value = self.lazy.quantile(q).filter(|v| v.is_finite())?;
        let unit = self.unit;
        Some(Quantity { value, unit })
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
        let believed = self.lazy.believed_s().max(hole_s);
        let mut out = Vec::new();
        // The stretch at hand: what it began with, when, and its last sample.
        let (mut value, mut from_s, mut to_s) = (f64::NAN, f64::NAN, f64::NAN);
        self.lazy.go_over(&mut |times, values| {
            for (t, v) in times.iter().zip(values) {
                if !((v - value).abs() <= by && t - to_s <= believed) {
                    if to_s - from_s >= seconds {
                        out.push(Span { from_s, to_s });
                    }
                    (value, from_s) = (*v, *t);
                }
                to_s = *t;
            }
            true
        });
        if to_s - from_s >= seconds {
            out.push(Span { from_s, to_s });
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

fn narrowed(old: Option<&Spans>, new: &Spans) -> Spans {
    old.map_or_else(|| new.clone(), |old| old.and(new))
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
        let spans = Open::of(&self.lazy);
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

#[cfg(test)]
mod tests;
