//! Pictures for the checks that drew none: of the channels that they judged.
//!
//! Only a page shows them, and thinning every channel takes its time on a large log, so a review does without.

use super::Outcome;
use crate::dsl::column::Column;
use crate::dsl::run::{FAMILIES, Run};
use crate::dsl::verdict::over_time;
use crate::findings::{Finding, Trace, Verdict};

/// Pictures for one check; units beyond that are left out.
const PICTURES: usize = 2;
/// Series in one picture.
const SERIES: usize = 12;
/// A check that judged more channels than this looks at the log as a whole: no picture of it would say anything.
const CHANNELS: usize = 16;

/// Draws what each judged check looked at, where the check itself drew nothing.
pub fn draw_judged(outcome: &mut Outcome) {
    let run = Run::new(&outcome.shared);
    for finding in &mut outcome.review.findings {
        if finding.verdict != Verdict::NotRun && finding.plots.is_empty() {
            finding.plots = pictures(&run, finding);
        }
    }
}

fn pictures(run: &Run, finding: &Finding) -> Vec<Trace> {
    let columns: Vec<Column> = finding
        .judged
        .iter()
        .filter_map(|name| run.column(name))
        .collect();
    if columns.len() > CHANNELS {
        return Vec::new();
    }
    let mut groups: Vec<Vec<Column>> = Vec::new();
    for column in columns {
        let kin = |g: &&mut Vec<Column>| {
            let first = g.first();
            let fits = |f: &Column| f.unit == column.unit && family(f) == family(&column);
            first.is_some_and(fits) && g.len() < SERIES
        };
        match groups.iter_mut().find(kin) {
            Some(group) => group.push(column),
            None => groups.push(vec![column]),
        }
    }
    groups.truncate(PICTURES);
    groups
        .iter()
        .filter_map(|group| over_time(&title(group), group, &finding.spans))
        .collect()
}

/// The family of a column, where it has one. Those without are drawn together where they share a unit.
fn family(column: &Column) -> Option<&'static str> {
    column.position?;
    let member = |(_, stem): &&(&str, &str)| {
        let rest = column.name.strip_prefix(stem);
        rest.is_some_and(|n| n.len() == 1 || n.bytes().all(|b| b.is_ascii_digit()))
    };
    FAMILIES.iter().find(member).map(|f| f.0)
}

fn title(group: &[Column]) -> String {
    match group.first().and_then(family) {
        Some(family) => family.to_string(),
        None => {
            let names: Vec<&str> = group.iter().map(|c| c.name.as_str()).collect();
            names.join(", ")
        }
    }
}
