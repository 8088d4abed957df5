//! Columns: statistics, shapes in time, and relations between two columns.

use rhai::plugin::*;

use crate::dsl::column::{Column, Quantity};
use crate::dsl::lazy::Shape;
use crate::dsl::ops::{Outcome, complain};
use crate::units::Unit;

pub fn seconds(q: Quantity, what: &str) -> Outcome<f64> {
    if q.unit == Unit::standard("s") && q.value >= 0.0 {
        Ok(q.value)
    } else {
        complain(format!("{what} wants a time, not {}", q.unit.key()))
    }
}

/// A difference of this column's values, without its sign.
fn apart(c: &Column, q: Quantity, what: &str) -> Outcome<f64> {
    if q.unit.difference() == c.unit.difference() {
        Ok(q.value.abs())
    } else {
        complain(format!(
            "{what} of {} wants a figure in {}, not in {}",
            c.name,
            c.unit.difference().key(),
            q.unit.key()
        ))
    }
}

/// A difference of this column's values, for `unchanging`.
fn change(c: &Column, by: Quantity) -> Outcome<f64> {
    if by.unit == c.unit.difference() {
        return Ok(by.value);
    }
    complain(format!(
        "unchanging wants the second figure in {}, not in {}",
        c.unit.key(),
        by.unit.key()
    ))
}

fn stat(c: &Column, what: &str, f: impl Fn(&[f64]) -> Option<f64>) -> Outcome<Quantity> {
    stat_of(c, what, c.stat(f).map(|q| q.value))
}

fn stat_of(c: &Column, what: &str, value: Option<f64>) -> Outcome<Quantity> {
    let unit = c.unit;
    match value {
        Some(value) => Ok(Quantity { value, unit }),
        None => complain(format!(
            "{} has no samples here, so it has no {what}: ask is_empty() first",
            c.name
        )),
    }
}

/// Package.
#[export_module]
pub mod words {
    use super::{apart, change, seconds, stat, stat_of};
    use crate::dsl::column::{Column, Quantity, Truth, Window};
    use crate::dsl::ops::{Outcome, complain};
    use crate::dsl::table::{self, Table};
    use crate::span::Spans;
    use crate::stats;
    use crate::units::Unit;
    use rhai::{Array, Map};

    /// Standard name of the channel it came from.
    #[rhai_fn(get = "name", pure)]
    pub fn name(c: &mut Column) -> String {
        c.name.clone()
    }
    /// How a sentence names its place: `cylinder 3`, `position 3`, `sensor a`, or the name.
    #[rhai_fn(get = "label", pure)]
    pub fn label(c: &mut Column) -> String {
        c.label.clone()
    }
    /// The cylinder it belongs to, or `()` where neither header nor sheet says.
    #[rhai_fn(get = "cylinder", pure)]
    pub fn cylinder(c: &mut Column) -> Dynamic {
        c.cylinder
            .map_or(Dynamic::UNIT, |n| Dynamic::from(i64::from(n)))
    }
    /// Number in its family, or `()`.
    #[rhai_fn(get = "position", pure)]
    pub fn position(c: &mut Column) -> Dynamic {
        c.position
            .map_or(Dynamic::UNIT, |n| Dynamic::from(i64::from(n)))
    }
    /// Low end of what the dictionary holds for plausible, or `()`.
    #[rhai_fn(get = "range_low", pure)]
    pub fn range_low(c: &mut Column) -> Dynamic {
        c.range.map_or(Dynamic::UNIT, |r| {
            Dynamic::from(Quantity {
                value: r.0,
                unit: c.unit,
            })
        })
    }
    /// High end of what the dictionary holds for plausible, or `()`.
    #[rhai_fn(get = "range_high", pure)]
    pub fn range_high(c: &mut Column) -> Dynamic {
        c.range.map_or(Dynamic::UNIT, |r| {
            Dynamic::from(Quantity {
                value: r.1,
                unit: c.unit,
            })
        })
    }
    /// Its own update interval: how often it brings a new reading.
    #[rhai_fn(get = "interval", pure)]
    pub fn interval(c: &mut Column) -> Quantity {
        Quantity {
            value: c.lazy.interval_s(),
            unit: Unit::standard("s"),
        }
    }
    /// Smallest step between two different readings.
    #[rhai_fn(get = "resolution", pure)]
    pub fn resolution(c: &mut Column) -> Quantity {
        Quantity {
            value: c.resolution,
            unit: c.unit.difference(),
        }
    }
    /// Only the samples inside the spans.
    #[rhai_fn(pure)]
    pub fn during(c: &mut Column, spans: Spans) -> Column {
        c.during(&spans)
    }
    /// True without samples.
    #[rhai_fn(pure)]
    pub fn is_empty(c: &mut Column) -> bool {
        let mut empty = true;
        c.lazy.visit_times(&mut |times| {
            empty &= times.is_empty();
            empty
        });
        empty
    }
    /// Number of samples, each at an update of its own.
    #[rhai_fn(pure)]
    pub fn count(c: &mut Column) -> i64 {
        let mut count = 0;
        c.lazy.visit_times(&mut |times| {
            count += times.len();
            true
        });
        i64::try_from(count).unwrap_or(i64::MAX)
    }
    /// Least value.
    #[rhai_fn(return_raw, pure)]
    pub fn min(c: &mut Column) -> Outcome<Quantity> {
        stat_of(c, "least value", c.lazy.extreme(false))
    }
    /// Greatest value.
    #[rhai_fn(return_raw, pure)]
    pub fn max(c: &mut Column) -> Outcome<Quantity> {
        stat_of(c, "greatest value", c.lazy.extreme(true))
    }
    /// Median.
    #[rhai_fn(return_raw, pure)]
    pub fn median(c: &mut Column) -> Outcome<Quantity> {
        stat_of(c, "median", c.quantile(0.5).map(|q| q.value))
    }
    /// Arithmetic mean.
    #[rhai_fn(return_raw, pure)]
    pub fn mean(c: &mut Column) -> Outcome<Quantity> {
        stat(c, "mean", stats::mean)
    }
    /// Quantile: 0.9 is the value that nine tenths of the samples stay under.
    #[rhai_fn(return_raw, pure)]
    pub fn quantile(c: &mut Column, share: f64) -> Outcome<Quantity> {
        stat_of(c, "quantile", c.quantile(share).map(|q| q.value))
    }
    /// Median absolute deviation, scaled to a standard deviation (factor 1.4826).
    #[rhai_fn(return_raw, pure)]
    pub fn mad(c: &mut Column) -> Outcome<Quantity> {
        let q = stat(c, "deviation", stats::mad)?;
        Ok(Quantity {
            unit: q.unit.difference(),
            ..q
        })
    }
    /// Sum of the values.
    #[rhai_fn(pure)]
    pub fn sum(c: &mut Column) -> Quantity {
        let mut value = 0.0;
        c.lazy.visit(&mut |_, values| {
            value += values.iter().sum::<f64>();
            true
        });
        Quantity {
            value,
            unit: c.unit,
        }
    }
    /// First value.
    #[rhai_fn(return_raw, pure)]
    pub fn first(c: &mut Column) -> Outcome<Quantity> {
        stat(c, "first value", |v| v.first().copied())
    }
    /// Last value.
    #[rhai_fn(return_raw, pure)]
    pub fn last(c: &mut Column) -> Outcome<Quantity> {
        stat(c, "last value", |v| v.last().copied())
    }
    /// Time of the first sample.
    #[rhai_fn(return_raw, pure)]
    pub fn start(c: &mut Column) -> Outcome<Quantity> {
        match c.series().times.first() {
            Some(t) => Ok(Quantity {
                value: *t,
                unit: Unit::standard("s"),
            }),
            None => complain(format!(
                "{} has no samples here, so it has no start",
                c.name
            )),
        }
    }
    /// Time of the last sample.
    #[rhai_fn(return_raw, pure)]
    pub fn end(c: &mut Column) -> Outcome<Quantity> {
        match c.series().times.last() {
            Some(t) => Ok(Quantity {
                value: *t,
                unit: Unit::standard("s"),
            }),
            None => complain(format!("{} has no samples here, so it has no end", c.name)),
        }
    }
    /// Stretches of time in which it is known: without gaps and missing cells.
    #[rhai_fn(pure)]
    pub fn known(c: &mut Column) -> Spans {
        c.known()
    }
    /// Without signs.
    #[rhai_fn(name = "abs", pure)]
    pub fn abs(c: &mut Column) -> Column {
        c.with(c.lazy.each(Shape::TurnsAt(0.0), f64::abs), c.unit)
    }
    /// Difference to the sample before; none across a gap.
    #[rhai_fn(pure)]
    pub fn step(c: &mut Column) -> Column {
        c.step(false)
    }
    /// Difference to the sample before, gaps or not.
    #[rhai_fn(pure)]
    pub fn step_over_gaps(c: &mut Column) -> Column {
        c.step(true)
    }
    /// Change per second from update to update; none across a gap.
    #[rhai_fn(pure)]
    pub fn rate(c: &mut Column) -> Column {
        c.rate()
    }
    /// What a counter gained at each update: wraps at 255 and 65535 are mended, a reset to zero gains nothing.
    #[rhai_fn(pure)]
    pub fn increase(c: &mut Column) -> Column {
        c.increase()
    }
    /// Integral over time from its first sample; gaps add nothing.
    #[rhai_fn(pure)]
    pub fn integral(c: &mut Column) -> Column {
        c.integral()
    }
    /// Median over a centred window of that length.
    #[rhai_fn(return_raw, pure)]
    pub fn rolling_median(c: &mut Column, window: Quantity) -> Outcome<Column> {
        Ok(c.rolling(seconds(window, "rolling_median")?, Window::Median))
    }
    /// Least value over a centred window of that length.
    #[rhai_fn(return_raw, pure)]
    pub fn rolling_min(c: &mut Column, window: Quantity) -> Outcome<Column> {
        Ok(c.rolling(seconds(window, "rolling_min")?, Window::Least))
    }
    /// Greatest value over a centred window of that length.
    #[rhai_fn(return_raw, pure)]
    pub fn rolling_max(c: &mut Column, window: Quantity) -> Outcome<Column> {
        Ok(c.rolling(seconds(window, "rolling_max")?, Window::Greatest))
    }
    /// Median absolute deviation over a centred window of that length, scaled to a standard deviation.
    #[rhai_fn(return_raw, pure)]
    pub fn rolling_mad(c: &mut Column, window: Quantity) -> Outcome<Column> {
        Ok(c.rolling(seconds(window, "rolling_mad")?, Window::Mad))
    }
    /// Where a value lies further from the median of a centred window than so many scaled MADs of it (Hampel's filter). The
    /// MAD counts as at least `floor`: a column that hardly moves has none, so give twice its resolution or more.
    #[rhai_fn(return_raw, pure)]
    pub fn outliers(
        c: &mut Column,
        window: Quantity,
        sigmas: f64,
        floor: Quantity,
    ) -> Outcome<Truth> {
        let floor = apart(c, floor, "outliers")?;
        Ok(c.outliers(seconds(window, "outliers")?, sigmas, floor))
    }
    /// Change points: where it steps by at least so much from one level to another. The medians of `side` seconds before
    /// and after lie that far apart, and three times further than either side scatters; slopes and single spikes are no
    /// steps. A list of `#{ at, before, after, size, scatter }` in the order of time.
    #[rhai_fn(return_raw, pure)]
    pub fn steps(c: &mut Column, least: Quantity, side: Quantity) -> Outcome<Array> {
        let (least, side) = (apart(c, least, "steps")?, seconds(side, "steps")?);
        let series = c.series();
        let difference = c.unit.difference();
        let found = stats::steps(&series.times, &series.values, least, side);
        Ok(found
            .iter()
            .map(|step| {
                let mut map = Map::new();
                for (key, value, unit) in [
                    ("at", step.at, Unit::standard("s")),
                    ("before", step.before, c.unit),
                    ("after", step.after, c.unit),
                    ("size", step.after - step.before, difference),
                    ("scatter", step.scatter, difference),
                ] {
                    map.insert(key.into(), Dynamic::from(Quantity { value, unit }));
                }
                Dynamic::from(map)
            })
            .collect())
    }
    /// Median of each block of that length, at the middle of the block: samples closer together repeat each other.
    #[rhai_fn(return_raw, pure)]
    pub fn blocks(c: &mut Column, length: Quantity) -> Outcome<Column> {
        Ok(c.blocks(seconds(length, "blocks")?))
    }
    /// Means of blocks of that length, for a quantity that cannot move faster; where its samples are further apart, itself.
    #[rhai_fn(return_raw, pure)]
    pub fn every(c: &mut Column, length: Quantity) -> Outcome<Column> {
        Ok(c.every(seconds(length, "every")?))
    }
    /// Moved later by that time.
    #[rhai_fn(return_raw, pure)]
    pub fn delayed(c: &mut Column, by: Quantity) -> Outcome<Column> {
        Ok(c.delayed(seconds(by, "delayed")?))
    }
    /// As a sensor of first order with that time constant would show it.
    #[rhai_fn(return_raw, pure)]
    pub fn lagged(c: &mut Column, time_constant: Quantity) -> Outcome<Column> {
        Ok(c.lagged(seconds(time_constant, "lagged")?))
    }
    /// Stretches of at least that length in which it does not change at all.
    #[rhai_fn(name = "unchanging", return_raw, pure)]
    pub fn unchanging(c: &mut Column, length: Quantity) -> Outcome<Spans> {
        Ok(c.unchanging(seconds(length, "unchanging")?, 0.0, 0.0))
    }
    /// Stretches of at least that length in which it stays within that much of where the stretch began.
    #[rhai_fn(name = "unchanging", return_raw, pure)]
    pub fn unchanging_within(c: &mut Column, length: Quantity, by: Quantity) -> Outcome<Spans> {
        let by = change(c, by)?;
        Ok(c.unchanging(seconds(length, "unchanging")?, by, 0.0))
    }
    /// The same over holes without samples, where those are no longer than `hole`: for what cannot move far in such a time.
    #[rhai_fn(name = "unchanging", return_raw, pure)]
    pub fn unchanging_over(
        c: &mut Column,
        length: Quantity,
        by: Quantity,
        hole: Quantity,
    ) -> Outcome<Spans> {
        let (by, hole) = (change(c, by)?, seconds(hole, "unchanging")?);
        Ok(c.unchanging(seconds(length, "unchanging")?, by, hole))
    }
    /// Robust straight line over time (Theil-Sen): `#{ slope, low, high, at_start, at_end }`, slope per second with its
    /// 95 % interval, or `()` for fewer than three samples. Take blocks first where samples are dense.
    #[rhai_fn(pure)]
    pub fn trend(c: &mut Column) -> Dynamic {
        let series = c.series();
        let per_s = c.unit.over(Unit::standard("s"));
        let (Some(fit), Some(first), Some(last)) = (
            stats::theil_sen(&series.times, &series.values),
            series.times.first(),
            series.times.last(),
        ) else {
            return Dynamic::UNIT;
        };
        let mut map = Map::new();
        for (key, value, unit) in [
            ("slope", fit.slope, per_s),
            ("low", fit.low, per_s),
            ("high", fit.high, per_s),
            ("at_start", fit.intercept + fit.slope * first, c.unit),
            ("at_end", fit.intercept + fit.slope * last, c.unit),
        ] {
            map.insert(key.into(), Dynamic::from(Quantity { value, unit }));
        }
        Dynamic::from(map)
    }
    /// Robust straight line against another column (Theil-Sen): `#{ slope, low, high, intercept }`, slope in units of the
    /// one per unit of the other, or `()`.
    #[rhai_fn(pure)]
    pub fn slope_on(c: &mut Column, other: Column) -> Dynamic {
        let ys = c.series();
        let xs = crate::dsl::lazy::hold(&other.series(), &ys.times, other.lazy.believed_s());
        let Some(fit) = stats::theil_sen(&xs, &ys.values) else {
            return Dynamic::UNIT;
        };
        let unit = c.unit.over(other.unit);
        let mut map = Map::new();
        for (key, value, unit) in [
            ("slope", fit.slope, unit),
            ("low", fit.low, unit),
            ("high", fit.high, unit),
            ("intercept", fit.intercept, c.unit),
        ] {
            map.insert(key.into(), Dynamic::from(Quantity { value, unit }));
        }
        Dynamic::from(map)
    }
    /// Fits a curve that approaches an end value: `#{ end, time_constant, slope, now, scatter }`, or `()` for fewer than 6
    /// samples. `end` and `time_constant` are `()` where the stretch is as good as straight.
    #[rhai_fn(pure)]
    pub fn approach(c: &mut Column) -> Dynamic {
        let series = c.series();
        let Some(fit) = stats::approach(&series.times, &series.values) else {
            return Dynamic::UNIT;
        };
        let s = Unit::standard("s");
        let give = |value: f64, unit: Unit| {
            if value.is_finite() {
                Dynamic::from(Quantity { value, unit })
            } else {
                Dynamic::UNIT
            }
        };
        let mut map = Map::new();
        map.insert("end".into(), give(fit.end, c.unit));
        map.insert("time_constant".into(), give(fit.tau, s));
        map.insert("slope".into(), give(fit.slope, c.unit.over(s)));
        map.insert("now".into(), give(fit.now, c.unit));
        map.insert("scatter".into(), give(fit.scatter, c.unit.difference()));
        Dynamic::from(map)
    }
    /// How it lags behind another column: the time constant for which a first-order lag of the other fits it best (its own
    /// scale and offset free), with the share of its movement that this explains: `#{ time_constant, explained, gain }`,
    /// or `()` where either hardly moves. Looked for between 0.1 s and 60 s.
    #[rhai_fn(pure)]
    pub fn lag_behind(c: &mut Column, other: Column) -> Dynamic {
        let Some(fit) = crate::dsl::lag::behind(c, &other) else {
            return Dynamic::UNIT;
        };
        let mut map = Map::new();
        map.insert(
            "time_constant".into(),
            Dynamic::from(Quantity {
                value: fit.tau,
                unit: Unit::standard("s"),
            }),
        );
        map.insert("explained".into(), Dynamic::from(fit.explained));
        map.insert(
            "gain".into(),
            Dynamic::from(Quantity {
                value: fit.gain,
                unit: c.unit.over(other.unit),
            }),
        );
        Dynamic::from(map)
    }
    /// Sorted into bins of another column: a table of `at`, `median`, `low`, `high`, `seconds`, `visits`.
    #[rhai_fn(return_raw, pure)]
    pub fn binned(c: &mut Column, by: Column, width: Quantity) -> Outcome<Table> {
        if width.unit != by.unit.difference() && width.unit != by.unit || width.value <= 0.0 {
            return complain(format!(
                "bins of {} want a width in {}, over zero",
                by.name,
                by.unit.key()
            ));
        }
        table::binned(c, &by, width.value).map_or_else(
            || {
                complain(format!(
                    "bins of {} are too narrow to be counted",
                    width.value
                ))
            },
            Ok,
        )
    }
    /// True where it lies between two quantities, ends included.
    #[rhai_fn(return_raw, pure)]
    pub fn between(c: &mut Column, low: Quantity, high: Quantity) -> Outcome<Truth> {
        if low.unit != c.unit || high.unit != c.unit {
            return complain(format!(
                "{} is in {}: between wants both ends in it",
                c.name,
                c.unit.key()
            ));
        }
        let (a, b) = (low.value, high.value);
        Ok(Truth {
            lazy: c
                .lazy
                .each(Shape::Any, move |v| f64::from(v >= a && v <= b)),
            window: c.window.clone(),
        })
    }
}
