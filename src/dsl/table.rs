//! Tables: what is left when a run is sorted into bins or into cells of speed and load. Some hundred rows at most.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::column::{Column, Quantity};
use super::held::Held;
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
    /// The channel that it holds, where its name does not say.
    about: Option<String>,
    unit: Unit,
    values: Arc<[f64]>,
}

impl Table {
    /// A table from named columns of one length.
    pub fn new(columns: Vec<(&str, Unit, Vec<f64>)>) -> Table {
        let columns = columns.into_iter().map(|(name, unit, values)| TableColumn {
            name: name.to_string(),
            about: None,
            unit,
            values: values.into(),
        });
        Table {
            columns: columns.collect(),
        }
    }
    /// The same, where it is known which channel a column holds: for those who only see the table.
    pub fn telling(mut self, column: &str, channel: &str) -> Table {
        if let Some(c) = self.columns.iter_mut().find(|c| c.name == column) {
            c.about = Some(channel.to_string()).filter(|channel| !channel.is_empty());
        }
        self
    }
    /// The channel that a column holds, where its name does not say.
    pub fn about(&self, name: &str) -> Option<&str> {
        self.column(name)?.about.as_deref()
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
            about: None,
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

/// What fell into one bin.
#[derive(Default)]
struct Bin {
    values: Vec<f64>,
    seconds: f64,
    visits: f64,
    /// Time of the last sample, s.
    last: Option<f64>,
}

/// `y` sorted into bins of `x`: for each bin the middle of it (`at`), median, lower and upper tenth, seconds spent, and the
/// number of separate visits at least 2 s apart. `None` where the bins are so narrow that they cannot be counted.
pub fn binned(y: &Column, x: &Column, step: f64) -> Option<Table> {
    let mut across = Held::new(&x.lazy);
    let believed = y.lazy.believed_s();
    let interval = y.lazy.interval_s();
    let mut places: BTreeMap<i64, usize> = BTreeMap::new();
    let mut bins: Vec<Bin> = Vec::new();
    // Neighbours mostly fall into the same bin: it is looked for only where they do not.
    let mut at: Option<(i64, usize)> = None;
    // The sample before and its bin: how long it stood is told by the next one.
    let mut before: Option<(f64, usize)> = None;
    let mut countable = true;
    y.lazy.go_over(&mut |times, values| {
        for (t, y) in times.iter().zip(values) {
            if let Some((since, place)) = before.take() {
                bins[place].seconds += (t - since).min(believed);
            }
            let x = across.at(*t);
            if !x.is_finite() {
                continue;
            }
            // Whole numbers beyond this are not told apart.
            if (x / step).abs() > 9e15 {
                countable = false;
                return false;
            }
            let key = floor(x / step);
            let place = match at {
                Some((last, place)) if last == key => place,
                _ => *places.entry(key).or_insert_with(|| {
                    bins.push(Bin::default());
                    bins.len() - 1
                }),
            };
            at = Some((key, place));
            before = Some((*t, place));
            let bin = &mut bins[place];
            bin.values.push(*y);
            if bin.last.is_none_or(|last| t - last > 2.0) {
                bin.visits += 1.0;
            }
            bin.last = Some(*t);
        }
        true
    });
    if !countable {
        return None;
    }
    if let Some((_, place)) = before {
        bins[place].seconds += interval;
    }
    let mut columns: [Vec<f64>; 6] = Default::default();
    for (key, place) in places {
        let Bin {
            values,
            seconds,
            visits,
            ..
        } = std::mem::take(&mut bins[place]);
        let [low, middle, high] = stats::quantiles_of(values, [0.1, 0.5, 0.9]);
        let at = (key as f64 + 0.5) * step;
        for (column, value) in columns
            .iter_mut()
            .zip([at, middle, low, high, seconds, visits])
        {
            column.push(value);
        }
    }
    let [at, middle, low, high, seconds, visits] = columns;
    let table = Table::new(vec![
        ("at", x.unit, at),
        ("median", y.unit, middle),
        ("low", y.unit, low),
        ("high", y.unit, high),
        ("seconds", Unit::standard("s"), seconds),
        ("visits", Unit::NONE, visits),
    ]);
    Some(table.telling("at", &x.name).telling("median", &y.name))
}

/// The whole number at or below.
pub(super) fn floor(value: f64) -> i64 {
    let cut = value as i64;
    cut - i64::from(cut as f64 > value)
}
