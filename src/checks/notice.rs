//! Whether anything notices when a limit is changed: a limit that no case notices is a promise that nothing keeps.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::cases::{self, Case};
use super::catalog::{Catalog, Check};
use super::judge::{judge_with, limits_of};
use crate::dsl::ScriptError;
use crate::dsl::limits::Limit;
use crate::findings::{Finding, NotRun, Verdict};

/// What happens to the cases of a check when one of its limits is changed.
#[derive(Clone, Debug)]
pub struct Noticed {
    /// The limit.
    pub limit: String,
    /// Its value, standard unit.
    pub value: f64,
    /// The changed values that at least one case noticed, with the first case that did.
    pub by: Vec<(f64, String)>,
    /// The changed values that no case noticed, of those that were tried.
    pub unnoticed: Vec<f64>,
}

impl Noticed {
    /// True where some case comes out differently.
    pub fn matters(&self) -> bool {
        !self.by.is_empty()
    }
    /// True where halving or doubling it is enough for that; of a limit of zero, a large step either way.
    pub fn matters_nearby(&self) -> bool {
        let near = |v: f64| self.value == 0.0 || v == self.value / 2.0 || v == self.value * 2.0;
        self.by.iter().any(|(v, _)| near(*v))
    }
}

/// Halved, doubled, none at all, and a large step both ways. Of what is zero, a large step over and under it.
fn changes(value: f64) -> Vec<f64> {
    if value == 0.0 {
        return vec![50.0, -50.0];
    }
    vec![value / 2.0, value * 2.0, 0.0, value * 10.0, value / 10.0]
}

/// What of a finding a person would see change. A figure alone is none of it: the judgement stays the same.
fn seen(case: &Case, finding: &Finding) -> (String, Option<NotRun>, Vec<u32>, bool, bool) {
    (
        finding.verdict.word().to_string(),
        finding.not_run_kind,
        finding.cylinders.clone(),
        finding.stop_now.is_some(),
        case.wrong(finding, None).is_empty(),
    )
}

/// Changes each limit of a check in turn and runs its cases. A change that makes the script fail counts as unnoticed.
///
/// # Errors
/// `cases()` itself fails.
pub fn limits(catalog: &Catalog, check: &Check) -> Result<Vec<Noticed>, ScriptError> {
    let cases = cases::read(catalog, check)?;
    let told: Vec<_> = cases
        .par_iter()
        .map(|case| {
            let limits = limits_of(check, &case.shared.sheet);
            seen(case, &judge_with(catalog, check, &case.shared, limits).0)
        })
        .collect();
    let notices = |limit: &str, value: f64| {
        let by = cases.par_iter().zip(&told).find_first(|(case, before)| {
            let mut limits = limits_of(check, &case.shared.sheet);
            if let Some(l) = limits.get_mut(limit) {
                l.quantity.value = value;
            }
            let (finding, error) = judge_with(catalog, check, &case.shared, limits);
            error.is_none() && seen(case, &finding) != **before
        });
        by.map(|(case, _)| case.name.clone())
    };
    let named = check.about.limits.iter();
    Ok(named
        .map(|(name, limit)| {
            let value = limit.quantity.value;
            let mut out = Noticed {
                limit: name.clone(),
                value,
                by: Vec::new(),
                unnoticed: Vec::new(),
            };
            for changed in changes(value) {
                match notices(name, changed) {
                    Some(case) => out.by.push((changed, case)),
                    None => out.unnoticed.push(changed),
                }
                // Noticed that near, it need not be moved further.
                if out.matters_nearby() {
                    break;
                }
            }
            out
        })
        .collect())
}

/// What decided in a case that warns.
#[derive(Clone, Debug)]
pub struct Deciding {
    /// The case.
    pub case: String,
    /// True where its finding names a limit or an entry of the sheet, and every limit that it names would have turned it.
    pub told: bool,
    /// Limits that it names although moving them changes nothing.
    pub idle: Vec<String>,
    /// Where it is not told: limits of the check with which, moved, the case no longer warns, or for another reason.
    pub turn_it: Vec<String>,
}

/// As [`changes`], and so far that nothing else can be the reason.
fn far(value: f64) -> Vec<f64> {
    let mut out = changes(value);
    let size = if value == 0.0 { 1.0 } else { value };
    out.extend([size * 1e4, size / 1e4, size * -10.0]);
    out
}

/// Tells for each case that warns whether the limits that its finding names decide it: moved, they turn it.
///
/// # Errors
/// `cases()` itself fails.
pub fn deciding(catalog: &Catalog, check: &Check) -> Result<Vec<Deciding>, ScriptError> {
    let cases = cases::read(catalog, check)?;
    let mind = |f: &Finding| (f.verdict, f.cylinders.clone(), f.stop_now.is_some());
    let told = cases.par_iter().filter_map(|case| {
        let limits = limits_of(check, &case.shared.sheet);
        let (before, _) = judge_with(catalog, check, &case.shared, limits.clone());
        if before.verdict != Verdict::Warn {
            return None;
        }
        let differs = |limits: BTreeMap<String, Limit>| {
            let (finding, error) = judge_with(catalog, check, &case.shared, limits);
            let other = finding.decided_by != before.decided_by;
            error.is_none() && (other || mind(&finding) != mind(&before))
        };
        let turns = |name: &String, value: f64| {
            let mut limits = limits.clone();
            if let Some(l) = limits.get_mut(name) {
                l.quantity.value = value;
            }
            differs(limits)
        };
        let moved = |name: &String| {
            let value = limits.get(name).map_or(0.0, |l| l.quantity.value);
            far(value).into_iter().any(|v| turns(name, v))
        };
        let (named, entries): (Vec<String>, Vec<String>) = before
            .decided_by
            .iter()
            .cloned()
            .partition(|n| limits.contains_key(n));
        let mut idle: Vec<String> = named.iter().filter(|n| !moved(n)).cloned().collect();
        // Where each of several is reason enough, only all of them together turn it.
        if idle.len() > 1 && idle.len() == named.len() {
            let all = |step: usize| {
                let mut limits = limits.clone();
                for name in &named {
                    if let Some(l) = limits.get_mut(name)
                        && let Some(value) = far(l.quantity.value).get(step)
                    {
                        l.quantity.value = *value;
                    }
                }
                differs(limits)
            };
            if (0..far(1.0).len()).any(all) {
                idle.clear();
            }
        }
        let told = idle.is_empty() && !(named.is_empty() && entries.is_empty());
        let others = limits.keys().filter(|n| !told && moved(n));
        Some(Deciding {
            case: case.name.clone(),
            told,
            idle,
            turn_it: others.cloned().collect(),
        })
    });
    Ok(told.collect())
}
