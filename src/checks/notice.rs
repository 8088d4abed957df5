//! Whether anything notices when a limit is changed: a limit that no case notices is a promise that nothing keeps.

use rayon::prelude::*;

use super::cases::{self, Case};
use super::catalog::{Catalog, Check};
use super::judge::{judge_with, limits_of};
use crate::dsl::ScriptError;
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
    /// Limits that its finding names.
    pub named: Vec<String>,
    /// Entries of the sheet that it names.
    pub entries: Vec<String>,
    /// Limits of the check with which, moved, the case no longer warns, or no longer so.
    pub turn_it: Vec<String>,
}

impl Deciding {
    /// Named limits that change nothing when they are moved.
    pub fn idle(&self) -> Vec<&str> {
        let named = self.named.iter();
        named
            .filter(|n| !self.turn_it.contains(n))
            .map(String::as_str)
            .collect()
    }
    /// True where the person is told what to change, and rightly.
    pub fn told(&self) -> bool {
        self.idle().is_empty() && !(self.named.is_empty() && self.entries.is_empty())
    }
}

/// Moves each limit of a check in turn and tells for each case that warns which of them would have decided otherwise, beside
/// those that the finding names.
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
        let turns = |name: &String, value: f64| {
            let mut limits = limits.clone();
            if let Some(l) = limits.get_mut(name) {
                l.quantity.value = value;
            }
            let (finding, error) = judge_with(catalog, check, &case.shared, limits);
            error.is_none()
                && (mind(&finding) != mind(&before) || finding.decided_by != before.decided_by)
        };
        let turn_it = limits.iter().filter(|(name, limit)| {
            changes(limit.quantity.value)
                .into_iter()
                .any(|v| turns(name, v))
        });
        let (named, entries) = before
            .decided_by
            .iter()
            .cloned()
            .partition(|n| limits.contains_key(n));
        Some(Deciding {
            case: case.name.clone(),
            named,
            entries,
            turn_it: turn_it.map(|(name, _)| name.clone()).collect(),
        })
    });
    Ok(told.collect())
}
