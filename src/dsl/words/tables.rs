//! Tables: bins and cells.

use rhai::plugin::*;

use crate::dsl::ops::{Outcome, complain};
use crate::dsl::table::Table;
use crate::units::Unit;
use rhai::Map;

fn column(t: &Table, name: &str) -> Outcome<(Vec<f64>, Unit)> {
    match (t.values(name), t.unit(name)) {
        (Some(values), Some(unit)) => Ok((values, unit)),
        _ => complain(format!(
            "the table has no column `{name}`\nit has {}",
            t.names().join(", ")
        )),
    }
}

fn row(t: &Table, index: usize) -> Dynamic {
    let map: Map = t
        .row(index)
        .into_iter()
        .map(|(name, q)| (name.into(), Dynamic::from(q)))
        .collect();
    Dynamic::from(map)
}

fn best(t: &Table, name: &str, greater: bool) -> Outcome<Dynamic> {
    let (values, _) = column(t, name)?;
    let known = values.iter().enumerate().filter(|v| v.1.is_finite());
    let index = if greater {
        known.max_by(|a, b| a.1.total_cmp(b.1))
    } else {
        known.min_by(|a, b| a.1.total_cmp(b.1))
    };
    Ok(index.map_or(Dynamic::UNIT, |(i, _)| row(t, i)))
}

/// Package.
#[export_module]
pub mod words {
    use super::{best, column, row};
    use crate::dsl::column::{Column, Quantity};
    use crate::dsl::ops::{Outcome, complain};
    use crate::dsl::rates::{self, Cells};
    use crate::dsl::table::Table;
    use crate::span::Spans;
    use crate::stats;
    use crate::units::Unit;
    use rhai::{Array, Map};

    /// Number of rows.
    #[rhai_fn(get = "count", pure)]
    pub fn count(t: &mut Table) -> i64 {
        t.height() as i64
    }
    /// True without rows.
    #[rhai_fn(pure)]
    pub fn is_empty(t: &mut Table) -> bool {
        t.height() == 0
    }
    /// Each row as a map of quantities, for the few there are.
    #[rhai_fn(pure)]
    pub fn rows(t: &mut Table) -> Array {
        (0..t.height()).map(|i| row(t, i)).collect()
    }
    /// The row with the greatest value in a column, or `()`.
    #[rhai_fn(return_raw, pure)]
    pub fn greatest(t: &mut Table, name: &str) -> Outcome<Dynamic> {
        best(t, name, true)
    }
    /// The row with the least value in a column, or `()`.
    #[rhai_fn(return_raw, pure)]
    pub fn least(t: &mut Table, name: &str) -> Outcome<Dynamic> {
        best(t, name, false)
    }
    /// The rows in which a column is at least so much.
    #[rhai_fn(return_raw, pure)]
    pub fn where_at_least(t: &mut Table, name: &str, low: Quantity) -> Outcome<Table> {
        let (values, unit) = column(t, name)?;
        if unit != low.unit && unit.difference() != low.unit.difference() {
            return complain(format!(
                "`{name}` is in {}, not in {}",
                unit.key(),
                low.unit.key()
            ));
        }
        Ok(t.filter(&values.iter().map(|v| *v >= low.value).collect::<Vec<_>>()))
    }
    /// The rows in which a column is at most so much.
    #[rhai_fn(return_raw, pure)]
    pub fn where_at_most(t: &mut Table, name: &str, high: Quantity) -> Outcome<Table> {
        let (values, unit) = column(t, name)?;
        if unit != high.unit && unit.difference() != high.unit.difference() {
            return complain(format!(
                "`{name}` is in {}, not in {}",
                unit.key(),
                high.unit.key()
            ));
        }
        Ok(t.filter(&values.iter().map(|v| *v <= high.value).collect::<Vec<_>>()))
    }
    /// Sum of a column.
    #[rhai_fn(name = "sum_of", return_raw, pure)]
    pub fn sum_of(t: &mut Table, name: &str) -> Outcome<Quantity> {
        let (values, unit) = column(t, name)?;
        Ok(Quantity {
            value: values.iter().sum(),
            unit,
        })
    }
    /// Median of a column, or `()` without rows.
    #[rhai_fn(name = "median_of", return_raw, pure)]
    pub fn median_of(t: &mut Table, name: &str) -> Outcome<Dynamic> {
        let (values, unit) = column(t, name)?;
        Ok(stats::median(&values).map_or(Dynamic::UNIT, |value| {
            Dynamic::from(Quantity { value, unit })
        }))
    }
    /// Robust slope of one column on another, over all rows (Theil-Sen): `#{ slope, low, high }`, or `()`.
    #[rhai_fn(name = "slope_of", return_raw, pure)]
    pub fn slope_of(t: &mut Table, of: &str, on: &str) -> Outcome<Dynamic> {
        let ((ys, uy), (xs, ux)) = (column(t, of)?, column(t, on)?);
        let Some(fit) = stats::theil_sen(&xs, &ys) else {
            return Ok(Dynamic::UNIT);
        };
        let unit = uy.over(ux);
        let mut map = Map::new();
        for (key, value) in [("slope", fit.slope), ("low", fit.low), ("high", fit.high)] {
            map.insert(key.into(), Dynamic::from(Quantity { value, unit }));
        }
        Ok(Dynamic::from(map))
    }
    /// Events per exposure in cells of two axes, with exact 95 % Poisson intervals widened where events come in clusters
    /// (blocks of 5 s). `events` holds what happened since the sample before (see `increase`), `exposure` grows with the
    /// chances for an event (`run.cycles`), `heard` is the number of cylinders that the events come from. Columns: `x`,
    /// `y`, `events`, `exposure`, `rate`, `low`, `high`, `seconds`, `spread`.
    #[expect(
        clippy::too_many_arguments,
        reason = "a script has no structs to put them in"
    )]
    #[rhai_fn(name = "rates", return_raw)]
    pub fn rates(
        events: Column,
        exposure: Column,
        heard: i64,
        x: Column,
        x_width: Quantity,
        y: Column,
        y_width: Quantity,
        within: Spans,
    ) -> Outcome<Table> {
        for (axis, width) in [(&x, x_width), (&y, y_width)] {
            if width.unit.difference() != axis.unit.difference() || width.value <= 0.0 {
                return complain(format!(
                    "cells of {} want a width in {}, over zero",
                    axis.name,
                    axis.unit.key()
                ));
            }
        }
        Ok(rates::rates(&Cells {
            events: &events,
            exposure: &exposure,
            x: (&x, x_width.value),
            y: (&y, y_width.value),
            within: &within,
            heard: heard as f64,
        }))
    }
    /// The rows of a table of `rates` that lie above a rate, with the share of false alarms among them kept at `share`
    /// (Benjamini and Hochberg).
    #[rhai_fn(return_raw, pure)]
    pub fn above_rate(t: &mut Table, rate: Quantity, share: f64) -> Outcome<Table> {
        let (_, unit) = column(t, "rate")?;
        if unit != rate.unit {
            return complain(format!(
                "the rate is in {}, not in {}",
                unit.key(),
                rate.unit.key()
            ));
        }
        Ok(t.filter(&rates::above(t, rate.value, share)))
    }
    /// All rows of a table of `rates` taken together: `#{ events, exposure, rate, low, high }`, or `()` without exposure.
    #[rhai_fn(return_raw, pure)]
    pub fn together(t: &mut Table) -> Outcome<Dynamic> {
        let ((events, _), (exposure, kind), (_, unit), (spread, _)) = (
            column(t, "events")?,
            column(t, "exposure")?,
            column(t, "rate")?,
            column(t, "spread")?,
        );
        let (k, n) = (events.iter().sum::<f64>(), exposure.iter().sum::<f64>());
        if n <= 0.0 {
            return Ok(Dynamic::UNIT);
        }
        let wide = spread.first().copied().unwrap_or(1.0).max(1.0);
        let (low, high) = stats::poisson_interval(k / wide, 0.95);
        let mut map = Map::new();
        for (key, value, unit) in [
            ("events", k, Unit::NONE),
            ("exposure", n, kind),
            ("rate", k / n, unit),
            ("low", low * wide / n, unit),
            ("high", high * wide / n, unit),
        ] {
            map.insert(key.into(), Dynamic::from(Quantity { value, unit }));
        }
        Ok(Dynamic::from(map))
    }
}
