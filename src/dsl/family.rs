//! Families: one column a cylinder, probe, sensor or position.

use super::column::{Column, Quantity};
use crate::recording::Series;
use crate::span::Spans;
use crate::stats;
use crate::units::Unit;

use super::lazy::{Lazy, hold};

/// Columns of one kind, one for each place.
#[derive(Clone)]
pub struct Family {
    /// What it is called, e.g. `egt`.
    pub name: String,
    /// The columns, in order of their number.
    pub members: Vec<Column>,
    /// Groups of members (indices) that share a manifold, by the sheet's banks; one group of all where it is silent.
    pub banks: Vec<Vec<usize>>,
}

/// The member that stands out.
#[derive(Clone, Debug)]
pub struct Odd {
    /// Index in the family.
    pub index: usize,
    /// Median of its values.
    pub offset: Quantity,
}

impl Family {
    /// The same family with other columns.
    fn map(&self, f: impl Fn(&Column) -> Column) -> Family {
        Family {
            members: self.members.iter().map(f).collect(),
            ..self.clone()
        }
    }
    /// Narrowed to spans.
    pub fn during(&self, spans: &Spans) -> Family {
        self.map(|c| c.during(spans))
    }
    /// A function of each column.
    pub fn each(&self, f: impl Fn(&Column) -> Column) -> Family {
        self.map(f)
    }
    /// Statistic across the members at each time of the first, where at least `least` of them are known.
    pub fn across(&self, members: &[usize], least: usize, f: fn(&[f64]) -> Option<f64>) -> Column {
        let columns: Vec<&Column> = members
            .iter()
            .filter_map(|i| self.members.get(*i))
            .collect();
        let unit = columns.first().map_or(Unit::NONE, |c| c.unit);
        let interval = columns
            .iter()
            .map(|c| c.lazy.interval_s())
            .fold(0.0, f64::max);
        let believed = columns
            .iter()
            .map(|c| c.lazy.believed_s())
            .fold(0.0, f64::max);
        let leaves: Vec<Lazy> = columns.iter().map(|c| c.lazy.clone()).collect();
        let window = columns.first().and_then(|c| c.window.clone());
        let Some(base) = leaves.first().cloned() else {
            return Column::made(&self.name, Series::empty(), unit, 1.0, 1.0);
        };
        let lazy = base.whole(move |first| {
            let held: Vec<Vec<f64>> = leaves
                .iter()
                .map(|l| hold(&l.series(), &first.times, l.believed_s()))
                .collect();
            let mut row = Vec::with_capacity(held.len());
            let values = (0..first.len())
                .map(|i| {
                    row.clear();
                    row.extend(held.iter().map(|h| h[i]).filter(|v| v.is_finite()));
                    if row.len() >= least {
                        f(&row).unwrap_or(f64::NAN)
                    } else {
                        f64::NAN
                    }
                })
                .collect();
            Series::new(&first.times, values)
        });
        let mut made = Column::made(&self.name, Series::empty(), unit, interval, believed);
        made.lazy = lazy.paced(interval, believed);
        made.window = window;
        made
    }
    /// All indices.
    pub fn all(&self) -> Vec<usize> {
        (0..self.members.len()).collect()
    }
    /// Each member less the median of its own bank. A bank of fewer than three has no median worth the name: then the
    /// whole family serves.
    pub fn from_bank_median(&self) -> Family {
        let mut out = self.clone();
        for (i, member) in self.members.iter().enumerate() {
            let own = self
                .banks
                .iter()
                .find(|b| b.contains(&i))
                .filter(|b| b.len() >= 3)
                .cloned()
                .unwrap_or_else(|| self.all());
            let middle = self.across(&own, own.len().min(3), stats::median);
            out.members[i] = member.with(
                member.lazy.both(&middle.lazy, |a, b| a - b),
                member.unit.difference(),
            );
        }
        out
    }
    /// The member whose median lies furthest from zero.
    pub fn odd_one_out(&self) -> Option<Odd> {
        let medians = self
            .members
            .iter()
            .enumerate()
            .filter_map(|(i, c)| c.stat(stats::median).map(|q| (i, q)));
        medians
            .max_by(|a, b| a.1.value.abs().total_cmp(&b.1.value.abs()))
            .map(|(index, offset)| Odd { index, offset })
    }
}
