//! The cylinders side by side: what the log tells of each, for the eye that looks for the odd one.

use std::sync::Arc;

use crate::dsl::column::{Column, Quantity};
use crate::dsl::run::{Run, Shared};
use crate::findings::{Cylinders, Figure};
use crate::span::Spans;

/// A measure of one column, narrowed to some spans.
type Measure = fn(&Column, &Spans) -> Option<Quantity>;

/// Family, what is measured while the engine runs, and how.
const MEASURES: [(&str, &str, Measure); 6] = [
    ("egt", "exhaust temperature, median while running", median),
    ("egt", "exhaust temperature, highest while running", highest),
    ("cht", "head temperature, highest while running", highest),
    ("knock", "knocks counted while running", counted),
    ("knock_level", "knock level, median while running", median),
    ("knock_level", "knock level, highest while running", highest),
];

fn median(column: &Column, spans: &Spans) -> Option<Quantity> {
    column.during(spans).quantile(0.5)
}

fn highest(column: &Column, spans: &Spans) -> Option<Quantity> {
    let most = |values: &[f64]| {
        values
            .iter()
            .copied()
            .filter(|v| v.is_finite())
            .reduce(f64::max)
    };
    column.during(spans).stat(most)
}

/// What a counter gained is told by its changes, and those begin before it is narrowed.
fn counted(column: &Column, spans: &Spans) -> Option<Quantity> {
    let sum = |values: &[f64]| (!values.is_empty()).then(|| values.iter().sum());
    column.increase().during(spans).stat(sum)
}

/// Works them out. Without a count of cylinders on the sheet those that the log names stand by number.
pub fn cylinders(shared: &Arc<Shared>) -> Cylinders {
    let run = Run::new(shared);
    let running = shared.phases.get("running").cloned().unwrap_or_default();
    let families: Vec<(&str, Measure, Vec<Column>)> = MEASURES
        .iter()
        .filter_map(|(family, name, measure)| Some((*name, *measure, run.family(family)?.members)))
        .collect();
    let order = order(shared, &families);
    let measured = families
        .into_iter()
        .map(|(name, measure, members)| {
            let of = |n: &u32| {
                let member = members.iter().find(|m| m.cylinder == Some(*n))?;
                let Quantity { value, unit } = measure(member, &running)?;
                Some(Figure { value, unit })
            };
            (name.to_string(), order.iter().map(of).collect::<Vec<_>>())
        })
        .filter(|(_, figures)| figures.iter().any(Option::is_some))
        .collect();
    Cylinders {
        by_firing: shared.sheet.engine.firing_order.is_some(),
        order,
        measured,
    }
}

fn order(shared: &Shared, families: &[(&str, Measure, Vec<Column>)]) -> Vec<u32> {
    if let Some(order) = &shared.sheet.engine.firing_order {
        return order.clone();
    }
    if let Some(count) = shared.sheet.cylinders() {
        return (1..=count).collect();
    }
    let members = families.iter().flat_map(|f| &f.2);
    let mut named: Vec<u32> = members.filter_map(|m| m.cylinder).collect();
    named.sort_unstable();
    named.dedup();
    named
}
