//! Tables: what is left when a run is sorted into bins or into cells of speed and load. Some hundred rows at most.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::column::{Column, Quantity};
use super::lazy::{Held, hold, ranges};
use crate::span::Spans;
use crate::stats;
use crate::units::Unit;

/// A table with a unit for each column; all columns are numbers and of one length.
#[derive(Clone)]
pub struct Table {
    columns: Vec<TableColumn>,
}

#[derive(Clone)]
struct TableColumn {
    name: String,
    unit: Unit,
    values: Arc<[f64]>,
}

impl Table {
    /// A table from named columns of one length.
    pub fn new(columns: Vec<(&str, Unit, Vec<f64>)>) -> Table {
        let columns = columns.into_iter().map(|(name, unit, values)| TableColumn {
            name: name.to_string(),
            unit,
            values: values.into(),
        });
        Table {
            columns: columns.collect(),
        }
    }
    fn column(&self, name: &str) -> Option<&TableColumn> {
        self.columns.iter().find(|c| c.name == name)
    }
    /// Number of rows.
    pub fn height(&self) -> usize {
        self.columns.first().map_or(0, |c| c.values.len())
    }
    /// Column names, in order.
    pub fn names(&self) -> Vec<String> {
        self.columns.iter().map(|c| c.name.clone()).collect()
    }
    /// Values of one column.
    pub fn values(&self, name: &str) -> Option<Vec<f64>> {
        Some(self.column(name)?.values.to_vec())
    }
    /// Unit of one column.
    pub fn unit(&self, name: &str) -> Option<Unit> {
        Some(self.column(name)?.unit)
    }
    /// The rows for which the mask is true.
    pub fn filter(&self, keep: &[bool]) -> Table {
        let kept = |c: &TableColumn| TableColumn {
            values: c
                .values
                .iter()
                .zip(keep)
                .filter(|p| *p.1)
                .map(|p| *p.0)
                .collect(),
            ..c.clone()
        };
        Table {
            columns: self.columns.iter().map(kept).collect(),
        }
    }
    /// With one more column, or one replaced.
    pub fn with(&self, name: &str, unit: Unit, values: Vec<f64>) -> Table {
        let mut columns = self.columns.clone();
        columns.retain(|c| c.name != name);
        columns.push(TableColumn {
            name: name.to_string(),
            unit,
            values: values.into(),
        });
        Table { columns }
    }
    /// One row by name.
    pub fn row(&self, index: usize) -> Vec<(String, Quantity)> {
        let columns = self.columns.iter();
        columns
            .filter_map(|c| {
                let (value, unit) = (*c.values.get(index)?, c.unit);
                Some((c.name.clone(), Quantity { value, unit }))
            })
            .collect()
    }
}

/// `y` sorted into bins of `x`: for each bin the middle of it (`at`), median, lower and upper tenth, seconds spent, and the
/// number of separate visits at least 2 s apart.
pub fn binned(y: &Column, x: &Column, step: f64) -> Table {
    let series = y.series();
    let across = hold(&x.series(), &series.times, x.lazy.believed_s());
    let believed = y.lazy.believed_s();
    let interval = y.lazy.interval_s();
    let mut bins: BTreeMap<i64, (Vec<f64>, f64, f64, f64)> = BTreeMap::new();
    for (i, x) in across.iter().enumerate() {
        if !x.is_finite() {
            continue;
        }
        let t = series.times[i];
        let length = series
            .times
            .get(i + 1)
            .map_or(interval, |n| (n - t).min(believed));
        let bin = bins
            .entry(floor(x / step))
            .or_insert((Vec::new(), 0.0, 0.0, f64::NEG_INFINITY));
        bin.0.push(series.values[i]);
        bin.1 += length;
        if t - bin.3 > 2.0 {
            bin.2 += 1.0;
        }
        bin.3 = t;
    }
    let mut columns: [Vec<f64>; 6] = Default::default();
    for (key, (values, seconds, visits, _)) in &bins {
        let q = |p| stats::quantile(values, p).unwrap_or(f64::NAN);
        for (column, value) in columns.iter_mut().zip([
            (*key as f64 + 0.5) * step,
            q(0.5),
            q(0.1),
            q(0.9),
            *seconds,
            *visits,
        ]) {
            column.push(value);
        }
    }
    let [at, middle, low, high, seconds, visits] = columns;
    Table::new(vec![
        ("at", x.unit, at),
        ("median", y.unit, middle),
        ("low", y.unit, low),
        ("high", y.unit, high),
        ("seconds", Unit::standard("s"), seconds),
        ("visits", Unit::NONE, visits),
    ])
}

/// How events and exposure are sorted into cells.
pub struct Cells<'a> {
    /// Events since the sample before, at each of their own times.
    pub events: &'a Column,
    /// What accumulates the chances for an event, e.g. engine cycles in thousands.
    pub exposure: &'a Column,
    /// First axis and width of its cells.
    pub x: (&'a Column, f64),
    /// Second axis and width of its cells.
    pub y: (&'a Column, f64),
    /// Only these stretches.
    pub within: &'a Spans,
    /// How many cylinders each event column hears: exposure is counted for each of them.
    pub heard: f64,
}

/// Numbers of a cell on both axes.
type Cell = (i64, i64);

/// Length of the blocks over which events are tested for clustering, s.
const CLUSTER_BLOCK_S: f64 = 5.0;

/// Events per exposure in cells of two axes, with exact Poisson intervals widened where events come in clusters.
///
/// Columns: `x`, `y` (middle of the cell), `events`, `exposure`, `rate`, `low`, `high` (95 %), `seconds`; the same
/// `spread` on every row: variance over mean of the counts in blocks of 5 s, at least 1.
pub fn rates(cells: &Cells) -> Table {
    let series = cells.events.series();
    let (mut exposure, mut x, mut y) = (
        Held::new(&cells.exposure.lazy),
        Held::new(&cells.x.0.lazy),
        Held::new(&cells.y.0.lazy),
    );
    let mut grid: BTreeMap<Cell, [f64; 3]> = BTreeMap::new();
    let mut blocks: BTreeMap<(Cell, i64), [f64; 2]> = BTreeMap::new();
    let believed = cells.events.lazy.believed_s();
    // The cells of one block of time are few, and neighbours mostly fall into the same: summed up there first.
    let mut few: Vec<(Cell, [f64; 3])> = Vec::new();
    let (mut at, mut block) = (0, i64::MIN);
    let mut settle = |few: &mut Vec<(Cell, [f64; 3])>, block: i64| {
        for (cell, sum) in few.drain(..) {
            let all = grid.entry(cell).or_insert([0.0; 3]);
            all.iter_mut().zip(sum).for_each(|(all, more)| *all += more);
            let all = blocks.entry((cell, block)).or_insert([0.0; 2]);
            (all[0], all[1]) = (all[0] + sum[0], all[1] + sum[1]);
        }
    };
    let (x_with, y_with) = (x.shares_times(&exposure), y.shares_times(&exposure));
    for range in ranges(&series, cells.within) {
        let first = range.start.max(1);
        if first >= range.end {
            continue;
        }
        let mut before = exposure.at(series.times[first - 1]);
        for i in first..range.end {
            let (t, dt) = (series.times[i], series.times[i] - series.times[i - 1]);
            let place_now = exposure.place(t);
            let now = exposure.value(place_now, t);
            let more = (now - before) * cells.heard;
            before = now;
            let at_x = if x_with { place_now } else { x.place(t) };
            let at_y = if y_with { place_now } else { y.place(t) };
            let (x, y) = (x.value(at_x, t), y.value(at_y, t));
            if dt > believed || !(more.is_finite() && x.is_finite() && y.is_finite()) {
                continue;
            }
            let now = floor(t / CLUSTER_BLOCK_S);
            if now != block {
                settle(&mut few, block);
                block = now;
            }
            let cell = (floor(x / cells.x.1), floor(y / cells.y.1));
            if few.get(at).is_none_or(|(last, _)| *last != cell) {
                let known = few.iter().position(|(known, _)| *known == cell);
                at = known.unwrap_or_else(|| {
                    few.push((cell, [0.0; 3]));
                    few.len() - 1
                });
            }
            let sum = &mut few[at].1;
            sum[0] += series.values[i];
            sum[1] += more.max(0.0);
            sum[2] += dt;
        }
    }
    settle(&mut few, block);
    let spread = clustering(&grid, &blocks);
    let unit = cells.events.unit.over(cells.exposure.unit);
    let mut out: [Vec<f64>; 9] = Default::default();
    for ((kx, ky), [events, exposure, seconds]) in grid.iter().filter(|c| c.1[1] > 0.0) {
        let (low, high) = stats::poisson_interval(events / spread, 0.95);
        let row = [
            (*kx as f64 + 0.5) * cells.x.1,
            (*ky as f64 + 0.5) * cells.y.1,
            *events,
            *exposure,
            events / exposure,
            low * spread / exposure,
            high * spread / exposure,
            *seconds,
            spread,
        ];
        for (column, value) in out.iter_mut().zip(row) {
            column.push(value);
        }
    }
    let [xs, ys, events, exposures, rate, low, high, seconds, spreads] = out;
    Table::new(vec![
        ("x", cells.x.0.unit, xs),
        ("y", cells.y.0.unit, ys),
        ("events", Unit::NONE, events),
        ("exposure", cells.exposure.unit, exposures),
        ("rate", unit, rate),
        ("low", unit, low),
        ("high", unit, high),
        ("seconds", Unit::standard("s"), seconds),
        ("spread", Unit::NONE, spreads),
    ])
}

/// The whole number at or below.
fn floor(value: f64) -> i64 {
    let cut = value as i64;
    cut - i64::from(cut as f64 > value)
}

/// Variance over mean of the counts in blocks, against what each block's exposure lets expect in its cell. 1 for
/// independent events; more where they cluster.
fn clustering(
    grid: &BTreeMap<(i64, i64), [f64; 3]>,
    blocks: &BTreeMap<((i64, i64), i64), [f64; 2]>,
) -> f64 {
    let (mut sum, mut count, mut cells) = (0.0, 0.0, 0.0);
    let mut counted = None;
    for ((cell, _), [events, exposure]) in blocks {
        let Some([all, total, _]) = grid.get(cell) else {
            continue;
        };
        let expected = all * exposure / total;
        // A chi-square needs a handful of expected events in each block to mean something.
        if *total > 0.0 && expected >= 2.0 {
            sum += (events - expected).powi(2) / expected;
            count += 1.0;
            if counted != Some(*cell) {
                cells += 1.0;
                counted = Some(*cell);
            }
        }
    }
    if count - cells >= 3.0 {
        (sum / (count - cells)).max(1.0)
    } else {
        1.0
    }
}

/// Which rows of a table of [`rates`] are above a rate, with the share of false alarms among them kept at `share`.
pub fn above(table: &Table, rate: f64, share: f64) -> Vec<bool> {
    let (Some(events), Some(exposure), Some(spread)) = (
        table.values("events"),
        table.values("exposure"),
        table.values("spread"),
    ) else {
        return vec![false; table.height()];
    };
    let p: Vec<f64> = (0..table.height())
        .map(|i| {
            let spread = spread[i].max(1.0);
            stats::poisson_at_least((events[i] / spread).floor(), rate * exposure[i] / spread)
        })
        .collect();
    stats::discoveries(&p, share)
}
