//! Runs checks over a run, each for itself and in parallel. A script that fails costs only its own check.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock};
use std::time::{Duration, Instant};

use rhai::Scope;

use super::about::Need;
use super::catalog::{Catalog, Check, Script};
use super::slip::{Slip, quoted};
use super::watch::{Over, Watch};
use crate::dsl::limits::{Limit, Limits};
use crate::dsl::run::{Run, Shared};
use crate::dsl::verdict::Verdict;
use crate::dsl::{ScriptError, column::Quantity};
use crate::findings::{Figure, Finding, LimitUsed, NotRun, Text, Verdict as Judgement};
use crate::sheet::{self, LimitValue, Sheet};
use crate::stop;
use crate::units::Unit;

/// What came of all checks.
pub struct Judged {
    /// One for each check.
    pub findings: Vec<Finding>,
    /// Of the scripts that failed.
    pub errors: Vec<ScriptError>,
    /// What each check that ran took, by id, its script read and compiled where nobody had before.
    pub took: Vec<(String, Duration)>,
}

/// Judges a run with every check of the catalogue.
pub fn judge_all(catalog: &Catalog, shared: &Arc<Shared>) -> Judged {
    let checks = catalog.checks();
    // Those that look at most channels take longest: they go first, so that no core is left with one of them at the end.
    let channels = |check: &Check| {
        let names = shared.recording.channels.keys();
        names.filter(|name| check.about.looks_at(name)).count()
    };
    let mut order: Vec<usize> = (0..checks.len()).collect();
    order.sort_by_cached_key(|at| Reverse(channels(&checks[*at])));
    let next = AtomicUsize::new(0);
    let watch = Watch::new(shared.recording.rows);
    let judged: Vec<OnceLock<(Finding, Option<ScriptError>, Duration)>> =
        std::iter::repeat_with(OnceLock::new)
            .take(checks.len())
            .collect();
    let again: Mutex<Vec<usize>> = Mutex::default();
    let foreign = |check: &&Check| !check.script.is_built_in();
    let several = checks.iter().filter(foreign).count() > 1;
    let one = |at: usize, alone: bool| {
        let started = Instant::now();
        let check = &checks[at];
        let judge = || judge(catalog, check, shared);
        let ((finding, error), over) = watch.over(foreign(&check), judge);
        // Of several scripts at once nobody knows which took the memory: those that were stopped for it are tried again.
        if let (Some(Over::Memory(_)), true) = (over, several && !alone)
            && let Ok(mut again) = again.lock()
        {
            again.push(at);
            return;
        }
        let (finding, error) = match over {
            None => (finding, error),
            Some(over) => stopped(check, finding, over),
        };
        // Each place is asked for once.
        let _ = judged[at].set((finding, error, started.elapsed()));
    };
    let work = || {
        while let Some(at) = order.get(next.fetch_add(1, Ordering::Relaxed)) {
            if stop::asked() {
                return;
            }
            one(*at, false);
        }
    };
    let flag = stop::current();
    let works = || stop::under(flag.clone(), work);
    let threads = rayon::current_num_threads();
    watch.beside(|| {
        rayon::scope(|scope| (0..threads).for_each(|_| scope.spawn(|_| works())));
        // The one that took it was mostly the first to be stopped.
        let stopped = again.lock().map(|again| again.clone()).unwrap_or_default();
        for at in stopped.into_iter().rev().filter(|_| !stop::asked()) {
            watch.count_anew();
            one(at, true);
        }
    });
    let mut all = Judged {
        findings: Vec::new(),
        errors: Vec::new(),
        took: Vec::new(),
    };
    for (finding, error, took) in judged.into_iter().filter_map(OnceLock::into_inner) {
        all.took.push((finding.id.clone(), took));
        all.findings.push(finding);
        all.errors.extend(error);
    }
    for (script, error) in catalog.broken() {
        all.findings.push(failed(script, error));
        all.errors.push(error.clone());
    }
    all
}

/// Judges a run with one check.
pub fn judge(
    catalog: &Catalog,
    check: &Check,
    shared: &Arc<Shared>,
) -> (Finding, Option<ScriptError>) {
    judge_with(catalog, check, shared, limits_of(check, &shared.sheet))
}

/// Judges a run with one check and limits in hand.
pub fn judge_with(
    catalog: &Catalog,
    check: &Check,
    shared: &Arc<Shared>,
    limits: BTreeMap<String, Limit>,
) -> (Finding, Option<ScriptError>) {
    let limits = Limits::new(limits);
    let (mut finding, error) = match first_missing(check, shared) {
        Some(need) => (without(check, need, shared), None),
        None => match run_script(catalog, check, shared, &limits) {
            Ok(finding) => (finding, None),
            Err(error) => (failed(&check.script, &error), Some(error)),
        },
    };
    finding.id = check.script.id.clone();
    finding.system = check.script.system.clone();
    finding.title = check.about.title.clone();
    finding.builds_on = check.about.builds_on.clone();
    finding.limits = limits
        .list()
        .iter()
        .map(|(name, limit)| {
            let figure = Figure {
                value: limit.quantity.value,
                unit: limit.quantity.unit,
            };
            (
                name.clone(),
                LimitUsed {
                    figure,
                    from: limit.from.clone(),
                },
            )
        })
        .collect();
    if finding.verdict == Judgement::Warn {
        let own = check
            .about
            .cautions
            .iter()
            .filter(|c| !finding.cautions.contains(c))
            .cloned()
            .collect::<Vec<_>>();
        finding.cautions.extend(own);
    }
    (finding, error)
}

fn run_script(
    catalog: &Catalog,
    check: &Check,
    shared: &Arc<Shared>,
    limits: &Limits,
) -> Result<Finding, ScriptError> {
    let run = Run::new(shared);
    let ast = check.ast(catalog.engine())?;
    let call = || {
        catalog.engine().call_fn::<Verdict>(
            &mut Scope::new(),
            ast,
            "judge",
            (run.clone(), limits.clone()),
        )
    };
    // A panic in here would be our own bug; it may still not take the other checks down with it.
    let in_time = || check.script.in_its_time(call);
    let outcome = catch_unwind(AssertUnwindSafe(in_time)).map_err(|_| {
        ScriptError::general(
            &check.script.place,
            "plugread itself failed here: please report this with the log",
        )
    })?;
    let verdict = outcome.map_err(|e| check.script.failed("judge", &e))?;
    let close_ups = match verdict.finding.verdict {
        Judgement::Warn => verdict.close_ups(),
        _ => Vec::new(),
    };
    let mut finding = verdict.finding;
    finding.close_ups = close_ups;
    let known = |name: &String| limits.list().contains_key(name) || sheet::find(name).is_some();
    if let Some(unknown) = finding.decided_by.iter().find(|name| !known(name)) {
        let what = format!(
            "decided_by names `{unknown}`, which is no limit of about() and no entry of the build sheet"
        );
        let declared: Vec<&str> = limits.list().keys().map(String::as_str).collect();
        let slip = match declared.as_slice() {
            [] => Slip::new(what, "a limit that about() declares", &quoted(unknown)),
            list => Slip::not_among(what, unknown, list, &quoted(unknown)),
        };
        return Err(check.script.slip("judge", &slip.inside("decided_by")));
    }
    finding.used = run.used();
    if !verdict.judged_said {
        let judges = check.about.judges.as_ref().unwrap_or(&check.about.needs);
        let said = check.about.judges.is_some();
        finding.judged = finding
            .used
            .iter()
            .filter(|c| {
                judges.iter().any(|n| n.takes(c)) && (said || !matches!(c.as_str(), "time" | "rpm"))
            })
            .cloned()
            .collect();
    }
    Ok(finding)
}

/// What is left of a check that spent too much: whatever it said counts for nothing.
fn stopped(check: &Check, finding: Finding, over: Over) -> (Finding, Option<ScriptError>) {
    let error = ScriptError::general(&check.script.place, over.words());
    let reason = failed(&check.script, &error);
    let left = Finding {
        title: finding.title,
        builds_on: finding.builds_on,
        limits: finding.limits,
        ..reason
    };
    (left, Some(error))
}

fn failed(script: &Script, error: &ScriptError) -> Finding {
    let mut finding = Finding::new(
        &script.id,
        Judgement::NotRun,
        format!("Its script failed: {error}"),
    );
    finding.not_run_kind = Some(NotRun::ScriptError);
    finding.system = script.system.clone();
    finding.title = script.id.clone();
    finding
}

fn first_missing<'a>(check: &'a Check, shared: &Shared) -> Option<&'a Need> {
    check.about.needs.iter().find(|need| {
        !shared
            .recording
            .channels
            .values()
            .any(|c| need.takes(&c.name) && !c.series.is_empty())
    })
}

fn without(check: &Check, need: &Need, shared: &Shared) -> Finding {
    // A column may be there and hold nothing: then it is not the list of channels that wants mending.
    let empty = shared
        .recording
        .channels
        .values()
        .find(|c| need.takes(&c.name));
    let reason = match empty {
        Some(channel) => format!("`{}` is in this log, but holds no readings.", channel.name),
        None => format!("This log has no {}.", need.words()),
    };
    let mut finding = Finding::new(&check.script.id, Judgement::NotRun, reason);
    finding.not_run_kind = Some(NotRun::Missing);
    let meaning = need
        .meaning()
        .map(|m| format!(" ({})", m.trim_end_matches('.')))
        .unwrap_or_default();
    finding.questions.push(Text::from(format!(
        "{}: log {}{meaning}, and it can be judged.",
        check.about.title,
        need.words()
    )));
    finding
}

/// Declared limits, changed by the sheet. What in the sheet fits no limit is the pipeline's to refuse, before any run.
pub fn limits_of(check: &Check, sheet: &Sheet) -> BTreeMap<String, Limit> {
    let mut limits = check.about.limits.clone();
    for entry in sheet.limits.iter().filter(|e| e.check == check.script.id) {
        if let Some(limit) = limits.get_mut(&entry.limit)
            && let Some(value) = sheet_value(&entry.value, limit.quantity.unit)
        {
            limit.quantity = Quantity {
                value,
                unit: limit.quantity.unit,
            };
            limit.from = "build sheet".to_string();
        }
    }
    limits
}

/// A limit of the sheet in its standard unit, or nothing where the unit does not fit. A bare number is in the limit's
/// own unit; a temperature written for a limit on a difference is read as a difference.
pub fn sheet_value(value: &LimitValue, unit: Unit) -> Option<f64> {
    match value {
        LimitValue::Number(n) => Some(*n),
        LimitValue::Text(text) => {
            let text = text.trim();
            let split = text.find(|c: char| {
                !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e' | 'E'))
            })?;
            let number: f64 = text[..split].trim().parse().ok()?;
            let word = text[split..].trim();
            let written = Unit::parse(word)?;
            if written.unit == unit {
                return Some(written.to_standard(number));
            }
            (written.unit.difference() == unit).then_some(number * written.factor)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 120 degF is 48.9 degC as a reading and 66.7 degC as a spread (design, section 5).
    #[test]
    fn limits_of_the_sheet_keep_readings_and_differences_apart() {
        let text = |t: &str| LimitValue::Text(t.to_string());
        let near =
            |a: Option<f64>, b: f64| assert!((a.expect("fits") - b).abs() < 0.05, "{a:?} {b}");
        near(sheet_value(&text("120 degF"), Unit::standard("degC")), 48.9);
        near(
            sheet_value(&text("120 degF"), Unit::standard("degC difference")),
            66.7,
        );
        near(
            sheet_value(&LimitValue::Number(90.0), Unit::standard("degC difference")),
            90.0,
        );
        assert_eq!(sheet_value(&text("3 V"), Unit::standard("degC")), None);
        assert_eq!(sheet_value(&text("degC"), Unit::standard("degC")), None);
    }
}
