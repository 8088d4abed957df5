//! Causes across findings: the scripts of the folder `diagnosis`, each with `fn explain(run, review)`.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use rayon::prelude::*;
use rhai::{Array, Dynamic, Scope};

use super::catalog::{Catalog, Script};
use crate::dsl::ScriptError;
use crate::dsl::explain::{Cause, Reviewed};
use crate::dsl::run::{Run, Shared};
use crate::findings::{Diagnosis, Finding, Verdict};

/// What the findings of a review together point to, likeliest first. The second value names the scripts that failed.
pub fn explain_all(
    catalog: &Catalog,
    shared: &Arc<Shared>,
    findings: &[Finding],
) -> (Vec<Diagnosis>, Vec<ScriptError>) {
    if findings.iter().all(|f| f.verdict != Verdict::Warn) {
        return (Vec::new(), Vec::new());
    }
    let review = Reviewed::new(findings.to_vec());
    let (mut causes, mut errors) = (Vec::new(), Vec::new());
    let scripts = catalog.explanations().par_iter();
    let said: Vec<_> = scripts
        .map(|script| explain(catalog, script, shared, &review))
        .collect();
    for outcome in said {
        match outcome {
            Ok(found) => causes.extend(found),
            Err(error) => errors.push(error),
        }
    }
    // Of equal weight: in the order of the files, which is that of their names.
    causes.sort_by_key(|cause: &Cause| -cause.weight());
    (causes.into_iter().map(|cause| cause.0).collect(), errors)
}

/// What one script makes of a review: nothing, one cause, or several.
///
/// # Errors
/// The script is wrong, or gives back something else.
pub fn explain(
    catalog: &Catalog,
    script: &Script,
    shared: &Arc<Shared>,
    review: &Reviewed,
) -> Result<Vec<Cause>, ScriptError> {
    let engine = catalog.engine();
    let place = &script.place;
    let ast = engine
        .compile(script.reviewing_text())
        .map_err(|error| script.no_script(&error))?;
    let run = Run::new(shared);
    let call = || {
        let arguments = (run.clone(), review.clone());
        engine.call_fn::<Dynamic>(&mut Scope::new(), &ast, "explain", arguments)
    };
    let in_time = || script.in_its_time(call);
    let outcome = catch_unwind(AssertUnwindSafe(in_time)).map_err(|_| {
        let what = "plugread itself failed here: please report this with the log";
        ScriptError::general(place, what)
    })?;
    let said = outcome.map_err(|error| script.failed("explain", &error))?;
    let list = if said.is_unit() {
        Array::new()
    } else if said.is_array() {
        said.into_array().unwrap_or_default()
    } else {
        vec![said]
    };
    let wrong = "explain() gives back a cause(...), a list of them, or nothing";
    let causes: Option<Vec<Cause>> = list.into_iter().map(Dynamic::try_cast).collect();
    let causes = causes.ok_or_else(|| ScriptError::general(place, wrong))?;
    for Cause(cause) in &causes {
        let bare = cause.speaks_for.is_empty() || cause.from.is_empty();
        if bare || cause.test.standard().is_empty() {
            let what = "a cause says what speaks for it, which checks it rests on, and the test that would decide";
            return Err(ScriptError::general(place, what));
        }
        for id in &cause.from {
            if review.finding(id).is_err() {
                let what = format!("it rests on `{id}`, and there is no such check");
                return Err(ScriptError::general(place, what));
            }
        }
    }
    Ok(causes)
}
