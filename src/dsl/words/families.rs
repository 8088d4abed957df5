//! Families: one column a cylinder, probe or sensor.

use rhai::plugin::*;

use crate::dsl::column::Column;
use rhai::Map;

fn facts(column: &Column, value: Dynamic) -> Dynamic {
    let mut map = Map::new();
    map.insert("name".into(), column.name.clone().into());
    map.insert("label".into(), column.label.clone().into());
    map.insert(
        "cylinder".into(),
        column
            .cylinder
            .map_or(Dynamic::UNIT, |n| Dynamic::from(i64::from(n))),
    );
    map.insert(
        "position".into(),
        column
            .position
            .map_or(Dynamic::UNIT, |n| Dynamic::from(i64::from(n))),
    );
    map.insert("offset".into(), value.clone());
    map.insert("value".into(), value);
    Dynamic::from(map)
}

/// Package.
#[export_module]
pub mod words {
    use super::facts;
    use crate::dsl::column::Column;
    use crate::dsl::column::Quantity;
    use crate::dsl::family::Family;
    use crate::dsl::ops::Outcome;
    use crate::span::Spans;
    use crate::stats;
    use rhai::Array;

    /// Number of members.
    #[rhai_fn(get = "count", pure)]
    pub fn count(f: &mut Family) -> i64 {
        f.members.len() as i64
    }
    /// The members as columns, in order of their number.
    #[rhai_fn(get = "columns", pure)]
    pub fn columns(f: &mut Family) -> Array {
        f.members.iter().cloned().map(Dynamic::from).collect()
    }
    /// True where each member belongs to a known cylinder.
    #[rhai_fn(get = "of_cylinders", pure)]
    pub fn of_cylinders(f: &mut Family) -> bool {
        f.members.iter().all(|c| c.cylinder.is_some())
    }
    /// Only the samples inside the spans.
    #[rhai_fn(name = "during", pure)]
    pub fn during(f: &mut Family, spans: Spans) -> Family {
        f.during(&spans)
    }
    /// Means of blocks of that length, of each member: for quantities that cannot move faster.
    #[rhai_fn(name = "every", return_raw, pure)]
    pub fn every(f: &mut Family, length: Quantity) -> Outcome<Family> {
        Ok(f.every(crate::dsl::words::columns::seconds(length, "every")?))
    }
    /// Each member less the median of its own bank.
    #[rhai_fn(pure)]
    pub fn from_bank_median(f: &mut Family) -> Family {
        f.from_bank_median()
    }
    /// Furthest from zero among the members, at each time, without sign.
    #[rhai_fn(pure)]
    pub fn largest(f: &mut Family) -> Column {
        f.across(&f.all(), 1, |v| {
            v.iter().map(|x| x.abs()).max_by(f64::total_cmp)
        })
    }
    /// Greatest of the members at each time.
    #[rhai_fn(pure)]
    pub fn highest(f: &mut Family) -> Column {
        f.across(&f.all(), 1, |v| v.iter().copied().max_by(f64::total_cmp))
    }
    /// Least of the members at each time.
    #[rhai_fn(pure)]
    pub fn lowest(f: &mut Family) -> Column {
        f.across(&f.all(), 1, |v| v.iter().copied().min_by(f64::total_cmp))
    }
    /// Median of the members at each time, where most of them are known.
    #[rhai_fn(pure)]
    pub fn median_across(f: &mut Family) -> Column {
        f.median_across(&f.all(), f.members.len().div_ceil(2))
    }
    /// The sum of the members at each time.
    #[rhai_fn(pure)]
    pub fn sum_across(f: &mut Family) -> Column {
        f.across(&f.all(), f.members.len(), |v| Some(v.iter().sum()))
    }
    /// The member whose median lies furthest from zero: `#{ name, label, cylinder, position, offset }`, or `()`.
    #[rhai_fn(pure)]
    pub fn odd_one_out(f: &mut Family) -> Dynamic {
        let Some(odd) = f.odd_one_out() else {
            return Dynamic::UNIT;
        };
        f.members
            .get(odd.index)
            .map_or(Dynamic::UNIT, |c| facts(c, Dynamic::from(odd.offset)))
    }
    /// Median of each member that has samples: a list of `#{ name, label, cylinder, position, value }`.
    #[rhai_fn(pure)]
    pub fn medians(f: &mut Family) -> Array {
        f.members
            .iter()
            .filter_map(|c| {
                c.stat(stats::median)
                    .map(|q: Quantity| facts(c, Dynamic::from(q)))
            })
            .collect()
    }
    /// The family of what each counter gained at each update.
    #[rhai_fn(name = "increase", pure)]
    pub fn increase(f: &mut Family) -> Family {
        f.each(Column::increase)
    }
    /// Without the member of that name.
    #[rhai_fn(pure)]
    pub fn without(f: &mut Family, name: &str) -> Family {
        let kept: Vec<usize> = (0..f.members.len())
            .filter(|i| f.members[*i].name != name)
            .collect();
        let place = |old: usize| kept.iter().position(|k| *k == old);
        Family {
            name: f.name.clone(),
            members: kept.iter().map(|i| f.members[*i].clone()).collect(),
            banks: f
                .banks
                .iter()
                .map(|b| b.iter().filter_map(|i| place(*i)).collect())
                .collect(),
        }
    }
    /// The same family with these columns in the places of the members of the same names; a member that is not among
    /// them goes: `egt.with_columns(egt.columns.map(|c| c.during(known)))`.
    #[rhai_fn(return_raw, pure)]
    pub fn with_columns(f: &mut Family, list: Array) -> Outcome<Family> {
        f.with_columns(list.into_iter().filter_map(|d| d.try_cast::<Column>()))
    }
}
