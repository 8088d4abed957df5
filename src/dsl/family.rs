//! Families: one column a cylinder, probe, sensor or position.

use std::sync::Arc;

use super::column::{Column, Quantity};
use crate::recording::{Series, all_finite};
use crate::span::Spans;
use crate::stats;
use crate::units::Unit;

use super::lazy::{Lazy, Shape, hold};
use super::ops::{Outcome, complain};

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

/// The times of a series, and in its gaps those of the others: a probe that fails leaves its neighbours comparable.
fn filled(first: &Series, others: &[Series], believed_s: f64) -> Arc<[f64]> {
    let mut times = Arc::clone(&first.times);
    for other in others {
        if Arc::ptr_eq(&times, &other.times) || times[..] == other.times[..] {
            continue;
        }
        let mut more: Vec<f64> = other
            .times
            .iter()
            .copied()
            .filter(|t| {
                let at = times.partition_point(|x| *x <= *t);
                let before = at.checked_sub(1).map(|i| t - times[i]);
                let after = times.get(at).map(|x| x - t);
                before.is_none_or(|d| d > believed_s) && after.is_none_or(|d| d > believed_s)
            })
            .collect();
        if !more.is_empty() {
            more.extend_from_slice(&times);
            more.sort_by(f64::total_cmp);
            times = more.into();
        }
    }
    times
}

/// A statistic of what is known at each moment, NaN where fewer than `least` are.
fn row_by_row(held: &[Arc<Vec<f64>>], least: usize, f: fn(&[f64]) -> Option<f64>) -> Vec<f64> {
    let mut row = Vec::with_capacity(held.len());
    let count = held.first().map_or(0, |values| values.len());
    let one = |i: usize| {
        row.clear();
        row.extend(held.iter().map(|h| h[i]).filter(|v| v.is_finite()));
        if row.len() >= least {
            f(&row).unwrap_or(f64::NAN)
        } else {
            f64::NAN
        }
    };
    (0..count).map(one).collect()
}

/// Moments whose members are sorted together.
const TOGETHER: usize = 256;
/// More members than this are sorted moment by moment.
const MANY: usize = 16;

/// Medians of what is known at each moment. Where all are known, many moments are sorted at once.
fn medians(held: &[Arc<Vec<f64>>], least: usize) -> Vec<f64> {
    let count = held.first().map_or(0, |values| values.len());
    let members = held.len();
    let mut out = Vec::with_capacity(count);
    let mut rows = vec![[0.0; TOGETHER]; members];
    while out.len() < count {
        let from = out.len();
        let to = (from + TOGETHER).min(count);
        let whole = to - from == TOGETHER && members <= MANY && least <= members;
        if !whole || !held.iter().all(|h| all_finite(&h[from..to])) {
            let part: Vec<Arc<Vec<f64>>> =
                held.iter().map(|h| h[from..to].to_vec().into()).collect();
            out.extend(row_by_row(&part, least, stats::median));
            continue;
        }
        for (row, values) in rows.iter_mut().zip(held) {
            row.copy_from_slice(&values[from..to]);
        }
        stats::sort_rows(&mut rows);
        out.extend(stats::middle_row(&rows));
    }
    out
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
    /// The members in another form, found by name; those that are not given go.
    ///
    /// # Errors
    /// A column that is no member, or of another unit than the one before it.
    pub fn with_columns(&self, columns: impl Iterator<Item = Column>) -> Outcome<Family> {
        let mut places: Vec<Option<Column>> = vec![None; self.members.len()];
        let mut unit = None;
        for column in columns {
            let Some(at) = self.members.iter().position(|m| m.name == column.name) else {
                return complain(format!("{} is no member of {}", column.name, self.name));
            };
            if *unit.get_or_insert(column.unit) != column.unit {
                return complain(format!(
                    "the members of {} want one unit: {} is in {}",
                    self.name,
                    column.name,
                    column.unit.key()
                ));
            }
            places[at] = Some(column);
        }
        let kept: Vec<usize> = (0..places.len()).filter(|i| places[*i].is_some()).collect();
        let place = |old: usize| kept.iter().position(|k| *k == old);
        let banks = self
            .banks
            .iter()
            .map(|b| b.iter().filter_map(|i| place(*i)).collect())
            .collect();
        Ok(Family {
            name: self.name.clone(),
            members: places.into_iter().flatten().collect(),
            banks,
        })
    }
    /// Narrowed to spans.
    pub fn during(&self, spans: &Spans) -> Family {
        self.map(|c| c.during(spans))
    }
    /// A function of each column.
    pub fn each(&self, f: impl Fn(&Column) -> Column) -> Family {
        self.map(f)
    }
    /// Statistic across the members, where at least `least` of them are known: at each time of the first, and where
    /// that one is not known, of the next.
    pub fn across(&self, members: &[usize], least: usize, f: fn(&[f64]) -> Option<f64>) -> Column {
        self.across_all(members, move |held| row_by_row(held, least, f))
    }
    /// The median across the members, so.
    pub fn median_across(&self, members: &[usize], least: usize) -> Column {
        self.across_all(members, move |held| medians(held, least))
    }
    /// A function of the values of the members, which stand side by side; NaN where one is not known.
    fn across_all(
        &self,
        members: &[usize],
        make: impl Fn(&[Arc<Vec<f64>>]) -> Vec<f64> + Send + Sync + 'static,
    ) -> Column {
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
        let windows: Option<Vec<&Spans>> = columns.iter().map(|c| c.window.as_ref()).collect();
        let window = windows.and_then(|all| all.into_iter().cloned().reduce(|a, b| a.or(&b)));
        let Some(base) = leaves.first().cloned() else {
            return Column::made(&self.name, Series::empty(), unit, 1.0, 1.0);
        };
        let lazy = base.whole(move |first| {
            let others: Vec<Series> = leaves.iter().skip(1).map(Lazy::series).collect();
            let times = filled(first, &others, believed);
            let held: Vec<Arc<Vec<f64>>> = leaves
                .iter()
                .map(|l| hold(&l.series(), &times, l.believed_s()))
                .collect();
            Series::new(&times, make(&held))
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
            let middle = self.median_across(&own, own.len().min(3));
            out.members[i] = member.with(
                member.lazy.both(&middle.lazy, Shape::OneWay, |a, b| a - b),
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

#[cfg(test)]
mod tests {
    use super::*;

    fn member(name: &str, value: f64) -> Column {
        let times: Arc<[f64]> = (0..4).map(f64::from).collect::<Vec<_>>().into();
        let series = Series::new(&times, vec![value; 4]);
        Column::made(name, series, Unit::standard("degC"), 1.0, 3.0)
    }

    #[test]
    fn a_first_member_that_ends_early_does_not_end_the_family() {
        let times: Arc<[f64]> = (0..100).map(f64::from).collect::<Vec<_>>().into();
        let make = |name: &str, upto: f64, value: f64| {
            let series = Series::new(&times, vec![value; 100]);
            let whole = Column::made(name, series, Unit::standard("degC"), 1.0, 3.0);
            whole.during(&Spans::one(0.0, upto))
        };
        let family = Family {
            name: "egt".to_string(),
            members: vec![
                make("egt_1", 40.0, 900.0),
                make("egt_2", 99.0, 600.0),
                make("egt_3", 99.0, 610.0),
            ],
            banks: vec![vec![0, 1, 2]],
        };
        let lowest = family.across(&family.all(), 1, |v| v.iter().copied().reduce(f64::min));
        let seen = lowest.series();
        assert!(seen.values.iter().all(|v| *v == 600.0));
        assert!(seen.times.last().is_some_and(|t| *t > 95.0));
        assert!(lowest.known().total() > 90.0);
    }

    #[test]
    fn other_columns_keep_their_places_and_banks() {
        let members: Vec<Column> = (1..=6)
            .map(|i| member(&format!("egt_{i}"), f64::from(i)))
            .collect();
        let family = Family {
            name: "egt".to_string(),
            members,
            banks: vec![vec![0, 1, 2], vec![3, 4, 5]],
        };
        let given = [member("egt_5", 50.0), member("egt_1", 10.0)];
        let Ok(two) = family.with_columns(given.into_iter()) else {
            panic!("both are members");
        };
        let first: Vec<f64> = two.members.iter().map(|m| m.series().values[0]).collect();
        assert_eq!(
            (first, two.banks),
            (vec![10.0, 50.0], vec![vec![0], vec![1]])
        );
        assert!(
            family
                .with_columns([member("egt_9", 0.0)].into_iter())
                .is_err()
        );
    }
}
