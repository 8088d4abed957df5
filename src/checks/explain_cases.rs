//! The cases that stand beside a script of `diagnosis`: tiny columns, findings as they might have come out, and what the
//! script is to say about them.
//!
//! A case is a map: `name`, `channels`, and as needed `sheet`, `hz`, `gaps`, `clock` as in a check's case; `findings`, by
//! id: `#{ verdict: "warn", cylinders: [3], spans: [[10, 20]], numbers: #{ lag: quantity(2, "s") }, doubtful: ["egt-probe"] }`
//! (a check that is not named passed); and `says`: words of the cause that is wanted, `""` where none is.

use std::sync::Arc;

use rhai::{Array, Dynamic, Map, Scope};

use super::cases::recording;
use super::catalog::{Catalog, Script};
use super::explain::explain;
use crate::dsl::ScriptError;
use crate::dsl::column::Quantity;
use crate::dsl::explain::{Cause, Reviewed};
use crate::dsl::run::Shared;
use crate::findings::{Figure, Finding, Verdict};
use crate::sheet::{self, Sheet};
use crate::span::{Span, Spans};

/// What came of one case.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The case.
    pub name: String,
    /// True where a cause is wanted.
    pub wanted: bool,
    /// What went wrong; empty where it came out as wanted.
    pub wrong: Vec<String>,
}

const KEYS: [&str; 8] = [
    "name", "channels", "sheet", "hz", "gaps", "clock", "findings", "says",
];
const FINDING_KEYS: [&str; 5] = ["verdict", "cylinders", "spans", "numbers", "doubtful"];

/// Runs the cases of one script.
///
/// # Errors
/// The script is none, or `cases()` itself fails.
pub fn run(catalog: &Catalog, script: &Script) -> Result<Vec<Outcome>, ScriptError> {
    let engine = catalog.engine();
    let ast = engine
        .compile(&script.text)
        .map_err(|e| script.no_script(&e))?;
    let call = || engine.call_fn::<Array>(&mut Scope::new(), &ast, "cases", ());
    let list = script
        .in_its_time(call)
        .map_err(|e| script.failed("cases", &e))?;
    let outcome = |case: Dynamic| {
        let map = case.try_cast::<Map>().unwrap_or_default();
        let says = text(&map, "says");
        let wrong = match one(catalog, script, &map) {
            Ok(causes) => judged(&causes, says.as_deref()),
            Err(what) => vec![what],
        };
        Outcome {
            name: text(&map, "name").unwrap_or_default(),
            wanted: says.is_some_and(|s| !s.is_empty()),
            wrong,
        }
    };
    Ok(list.into_iter().map(outcome).collect())
}

fn text(map: &Map, key: &str) -> Option<String> {
    map.get(key).and_then(|d| d.clone().into_string().ok())
}

fn judged(causes: &[Cause], says: Option<&str>) -> Vec<String> {
    let said: Vec<String> = causes.iter().map(|c| c.0.cause.standard()).collect();
    match says {
        None => vec!["a case wants `says`: words of the cause, or \"\" for none".to_string()],
        Some("") if said.is_empty() => Vec::new(),
        Some("") => vec![format!("wanted no cause, got: {said:?}")],
        Some(words) if said.iter().any(|s| s.contains(words)) => Vec::new(),
        Some(words) => vec![format!("wanted `{words}` in a cause, got: {said:?}")],
    }
}

fn one(catalog: &Catalog, script: &Script, map: &Map) -> Result<Vec<Cause>, String> {
    known(map, &KEYS, "a case")?;
    let sheet = match text(map, "sheet") {
        Some(toml) => sheet::parse("case", &toml).map_err(|e| e.to_string())?,
        None => Sheet::default(),
    };
    let recording = recording(map, &sheet).map_err(|slip| match slip.wanted {
        Some(wanted) => format!("{}; wanted: {wanted}", slip.what),
        None => slip.what,
    })?;
    let shared = Arc::new(Shared::prepare(recording, sheet));
    let mut findings: Vec<Finding> = catalog
        .checks()
        .iter()
        .map(|c| Finding::new(&c.script.id, Verdict::Pass, ""))
        .collect();
    let given = map
        .get("findings")
        .and_then(|d| d.clone().try_cast::<Map>());
    for (id, facts) in given.unwrap_or_default() {
        let facts = facts
            .try_cast::<Map>()
            .ok_or_else(|| format!("the finding of `{id}` wants a map"))?;
        let finding = findings
            .iter_mut()
            .find(|f| f.id == id.as_str())
            .ok_or_else(|| format!("there is no check `{id}`"))?;
        fill(finding, &facts)?;
    }
    explain(catalog, script, &shared, &Reviewed::new(findings)).map_err(|e| e.to_string())
}

fn fill(finding: &mut Finding, facts: &Map) -> Result<(), String> {
    known(facts, &FINDING_KEYS, "a finding")?;
    finding.verdict = match text(facts, "verdict").as_deref() {
        Some("warn") => Verdict::Warn,
        Some("pass") => Verdict::Pass,
        Some("not-run") => Verdict::NotRun,
        _ => return Err("a finding wants `verdict`: warn, pass or not-run".to_string()),
    };
    let list = |key: &str| {
        let list = facts.get(key).and_then(|d| d.clone().try_cast::<Array>());
        list.unwrap_or_default()
    };
    let number = |d: &Dynamic| d.as_float().ok().or(d.as_int().ok().map(|i| i as f64));
    finding.cylinders = list("cylinders")
        .iter()
        .filter_map(|d| u32::try_from(d.as_int().ok()?).ok())
        .collect();
    finding.doubtful_because = list("doubtful")
        .into_iter()
        .filter_map(|d| d.into_string().ok())
        .collect();
    let spans = list("spans").into_iter().filter_map(|d| {
        let ends = d.try_cast::<Array>()?;
        Some(Span {
            from_s: number(ends.first()?)?,
            to_s: number(ends.get(1)?)?,
        })
    });
    finding.spans = Spans::new(spans.collect());
    let numbers = facts
        .get("numbers")
        .and_then(|d| d.clone().try_cast::<Map>());
    for (name, value) in numbers.unwrap_or_default() {
        let q = value
            .try_cast::<Quantity>()
            .ok_or_else(|| format!("the figure `{name}` wants a quantity"))?;
        let figure = Figure {
            value: q.value,
            unit: q.unit,
        };
        finding.numbers.push((name.to_string(), figure));
    }
    Ok(())
}

fn known(map: &Map, keys: &[&str], what: &str) -> Result<(), String> {
    match map.keys().find(|k| !keys.contains(&k.as_str())) {
        Some(key) => Err(format!(
            "{what} has no `{key}`; it may have {}",
            keys.join(", ")
        )),
        None => Ok(()),
    }
}
