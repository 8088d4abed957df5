//! Events per exposure in cells of two axes: how often it knocks, by speed and load.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, Weak};

use super::column::Column;
use super::lazy::{Held, Lazy, Values, ranges_of};
use super::table::{Table, floor};
use crate::recording::Series;
use crate::span::Spans;
use crate::stats;
use crate::stop;
use crate::units::Unit;

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

/// Sortings that are kept: the counters of all cylinders, in two checks at once, share theirs.
const KEPT: usize = 4;
/// Stands for a sample that falls into no cell.
const NOWHERE: u32 = u32::MAX;
/// Samples that are looked at together for whether anything happened.
const BLOCK: usize = 512;

/// What a sorting rests on.
struct Basis {
    times: Weak<[f64]>,
    columns: [Weak<Vec<f64>>; 3],
    widths: [f64; 2],
    believed: [f64; 4],
    within: Spans,
}

impl Basis {
    fn of(cells: &Cells, times: &Arc<[f64]>, columns: &[Series; 3]) -> Basis {
        let sources = [cells.events, cells.exposure, cells.x.0, cells.y.0];
        Basis {
            times: Arc::downgrade(times),
            columns: columns.each_ref().map(|s| Arc::downgrade(&s.values)),
            widths: [cells.x.1, cells.y.1],
            believed: sources.map(|column| column.lazy.believed_s()),
            within: cells.within.clone(),
        }
    }
    fn is_alive(&self) -> bool {
        let columns = self.columns.iter().all(|c| c.strong_count() > 0);
        columns && self.times.strong_count() > 0
    }
    fn is(&self, other: &Basis) -> bool {
        let mut columns = self.columns.iter().zip(&other.columns);
        self.times.ptr_eq(&other.times)
            && columns.all(|(a, b)| a.ptr_eq(b))
            && self.widths == other.widths
            && self.believed == other.believed
            && self.within == other.within
    }
}

/// Which cell each sample falls into, and the exposure there: the same for all events of the same times.
struct Sorting {
    basis: Basis,
    cells: Vec<Cell>,
    /// For each sample, its place among the cells.
    places: Vec<u32>,
    /// Exposure and seconds of each cell.
    sums: Vec<[f64; 2]>,
    /// Exposure of each cell in each block of time.
    blocks: BTreeMap<(u32, i64), f64>,
}

impl Sorting {
    fn of(cells: &Cells, times: &Arc<[f64]>) -> Arc<Sorting> {
        static MADE: Mutex<Vec<Arc<Sorting>>> = Mutex::new(Vec::new());
        let columns = [cells.exposure, cells.x.0, cells.y.0].map(Column::series);
        let basis = Basis::of(cells, times, &columns);
        let known = MADE.lock().ok().and_then(|mut made| {
            made.retain(|sorting| sorting.basis.is_alive());
            made.iter().find(|s| s.basis.is(&basis)).map(Arc::clone)
        });
        known.unwrap_or_else(|| {
            let sorting = Arc::new(Sorting::made(basis, cells, times));
            if !stop::asked()
                && let Ok(mut made) = MADE.lock()
            {
                if made.len() >= KEPT {
                    made.remove(0);
                }
                made.push(Arc::clone(&sorting));
            }
            sorting
        })
    }

    fn made(basis: Basis, cells: &Cells, times: &Arc<[f64]>) -> Sorting {
        let mut sorting = Sorting {
            basis,
            cells: Vec::new(),
            places: vec![NOWHERE; times.len()],
            sums: Vec::new(),
            blocks: BTreeMap::new(),
        };
        let (mut exposure, mut x, mut y) = (
            Held::new(&cells.exposure.lazy),
            Held::new(&cells.x.0.lazy),
            Held::new(&cells.y.0.lazy),
        );
        let believed = cells.events.lazy.believed_s();
        let mut known: BTreeMap<Cell, u32> = BTreeMap::new();
        // The cells of one block of time are few, and neighbours mostly fall into the same: summed up there first.
        let mut few: Vec<(Cell, u32, [f64; 2])> = Vec::new();
        let (mut at, mut block) = (0, i64::MIN);
        let (x_with, y_with) = (x.shares_times(&exposure), y.shares_times(&exposure));
        // What a counter gained stands at all times of the others but the first: the place need not be looked for.
        let aligned = x_with && y_with && exposure.stands_one_before(times);
        for range in ranges_of(times, cells.within) {
            let first = range.start.max(1);
            if first >= range.end {
                continue;
            }
            let mut before = match aligned {
                true => exposure.value(Some(first), times[first - 1]),
                false => exposure.at(times[first - 1]),
            };
            for i in first..range.end {
                let (t, dt) = (times[i], times[i] - times[i - 1]);
                let place_now = if aligned {
                    Some(i + 1)
                } else {
                    exposure.place(t)
                };
                let now = exposure.value(place_now, t);
                let more = now - before;
                before = now;
                let at_x = if x_with { place_now } else { x.place(t) };
                let at_y = if y_with { place_now } else { y.place(t) };
                let (x, y) = (x.value(at_x, t), y.value(at_y, t));
                if dt > believed || !(more.is_finite() && x.is_finite() && y.is_finite()) {
                    continue;
                }
                let now = floor(t / CLUSTER_BLOCK_S);
                if now != block {
                    sorting.settle(&mut few, block);
                    block = now;
                }
                let cell = (floor(x / cells.x.1), floor(y / cells.y.1));
                if few.get(at).is_none_or(|(last, ..)| *last != cell) {
                    let met = few.iter().position(|(met, ..)| *met == cell);
                    at = met.unwrap_or_else(|| {
                        let place = *known.entry(cell).or_insert_with(|| sorting.new_cell(cell));
                        few.push((cell, place, [0.0; 2]));
                        few.len() - 1
                    });
                }
                let (_, place, sum) = &mut few[at];
                sorting.places[i] = *place;
                sum[0] += more.max(0.0);
                sum[1] += dt;
            }
        }
        sorting.settle(&mut few, block);
        sorting
    }

    fn new_cell(&mut self, cell: Cell) -> u32 {
        self.cells.push(cell);
        self.sums.push([0.0; 2]);
        u32::try_from(self.cells.len() - 1).unwrap_or(NOWHERE)
    }

    fn settle(&mut self, few: &mut Vec<(Cell, u32, [f64; 2])>, block: i64) {
        for (_, place, sum) in few.drain(..) {
            if let Some(all) = self.sums.get_mut(place as usize) {
                (all[0], all[1]) = (all[0] + sum[0], all[1] + sum[1]);
            }
            *self.blocks.entry((place, block)).or_insert(0.0) += sum[0];
        }
    }
}

/// Events of each cell, and of each cell in each block of time that had any.
struct Counted {
    cells: Vec<f64>,
    blocks: BTreeMap<(u32, i64), f64>,
}

fn count(events: &Lazy, sorting: &Sorting) -> Counted {
    let mut counted = Counted {
        cells: vec![0.0; sorting.cells.len()],
        blocks: BTreeMap::new(),
    };
    let mut done = 0;
    events.visit_told(&mut |times, values| {
        let places = sorting.places.get(done..).unwrap_or_default();
        done += times.len();
        // Most of the time nothing happens.
        let Values::Each(values) = values else {
            if let Values::All(one) = values
                && one != 0.0
            {
                counted.add(times, &vec![one; times.len()], places);
            }
            return true;
        };
        let blocks = times
            .chunks(BLOCK)
            .zip(values.chunks(BLOCK))
            .zip(places.chunks(BLOCK));
        for ((times, values), places) in blocks {
            if !values.iter().fold(true, |none, v| none & (*v == 0.0)) {
                counted.add(times, values, places);
            }
        }
        true
    });
    counted
}

impl Counted {
    fn add(&mut self, times: &[f64], values: &[f64], places: &[u32]) {
        for ((t, value), place) in times.iter().zip(values).zip(places) {
            let Some(sum) = self.cells.get_mut(*place as usize) else {
                continue;
            };
            *sum += value;
            if *value != 0.0 {
                let block = floor(t / CLUSTER_BLOCK_S);
                *self.blocks.entry((*place, block)).or_insert(0.0) += value;
            }
        }
    }
}

/// Events per exposure in cells of two axes, with exact Poisson intervals widened where events come in clusters.
///
/// Columns: `x`, `y` (middle of the cell), `events`, `exposure`, `rate`, `low`, `high` (95 %), `seconds`; the same
/// `spread` on every row: variance over mean of the counts in blocks of 5 s, at least 1.
pub fn rates(cells: &Cells) -> Table {
    let sorting = Sorting::of(cells, &cells.events.lazy.times());
    let counted = count(&cells.events.lazy, &sorting);
    let spread = clustering(&sorting, &counted, cells.heard);
    let unit = cells.events.unit.over(cells.exposure.unit);
    let mut out: [Vec<f64>; 9] = Default::default();
    let mut order: Vec<usize> = (0..sorting.cells.len()).collect();
    order.sort_by_key(|at| sorting.cells[*at]);
    for at in order {
        let ((kx, ky), events) = (sorting.cells[at], counted.cells[at]);
        let [exposure, seconds] = sorting.sums[at];
        let exposure = exposure * cells.heard;
        if exposure <= 0.0 {
            continue;
        }
        let (low, high) = stats::poisson_interval(events / spread, 0.95);
        let row = [
            (kx as f64 + 0.5) * cells.x.1,
            (ky as f64 + 0.5) * cells.y.1,
            events,
            exposure,
            events / exposure,
            low * spread / exposure,
            high * spread / exposure,
            seconds,
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
    .telling("x", &cells.x.0.name)
    .telling("y", &cells.y.0.name)
}

/// Variance over mean of the counts in blocks, against what each block's exposure lets expect in its cell. 1 for
/// independent events; more where they cluster.
fn clustering(sorting: &Sorting, counted: &Counted, heard: f64) -> f64 {
    let (mut sum, mut count, mut cells) = (0.0, 0.0, 0.0);
    let mut last = None;
    for (key, exposure) in &sorting.blocks {
        let at = key.0 as usize;
        let (Some(all), Some([total, _])) = (counted.cells.get(at), sorting.sums.get(at)) else {
            continue;
        };
        let expected = all * exposure / total;
        // A chi-square needs a handful of expected events in each block to mean something.
        if total * heard > 0.0 && expected >= 2.0 {
            let events = counted.blocks.get(key).copied().unwrap_or(0.0);
            sum += (events - expected).powi(2) / expected;
            count += 1.0;
            if last != Some(key.0) {
                cells += 1.0;
                last = Some(key.0);
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
