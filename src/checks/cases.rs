//! The one way in which every check's own cases are run.
//!
//! `fn cases()` of a check gives a list of maps: `name`, `role` (`warns`, `just short`, `healthy`, `missing`), `want`
//! (`pass`, `warn`, `not-run`), `channels` (tiny columns by standard name), and as needed `hz` (rows a second, 20), `kind`
//! of a not-run, `cylinders`, `sheet` (TOML), `gaps` (`[[from, to]]`, rows left out), `clock` (the logged clock as a tiny
//! column), `stop_now` (true where that line is wanted), `says` and `unsaid` (words that the reason must hold, and may not), `next` (words that the
//! next step must hold), `asks` (words that one of its questions must hold).

use std::sync::Arc;

use rhai::{Array, Map, Scope};

pub use super::case_keys::ROLES;
use super::case_keys::checked;
use super::catalog::{Catalog, Check};
use super::differs::Differs;
use super::judge::judge;
use super::slip::{Slip, quoted};
use super::tiny::Tiny;
use crate::dsl::run::Shared;
use crate::dsl::slips::a_kind;
use crate::dsl::{ScriptError, names};
use crate::findings::{Finding, NotRun, Text, Verdict};
use crate::recording::{Channel, Recording, Series, dictionary};
use crate::sheet::{self, Sheet};
use crate::units::Unit;

/// What came of one case.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The check.
    pub check: String,
    /// The case.
    pub name: String,
    /// Its role.
    pub role: String,
    /// What went wrong; empty where it came out as wanted.
    pub wrong: Vec<Differs>,
    /// Why it came to nothing: the script failed, or the case cannot be read. Then this alone is in `wrong`.
    pub error: Option<ScriptError>,
    /// The finding.
    pub finding: Option<Finding>,
    /// The phases that were found in the case's columns, for the person who writes the case.
    pub phases: String,
}

/// One case, ready to be judged.
pub struct Case {
    /// Its name.
    pub name: String,
    /// Its role.
    pub role: String,
    /// Its recording, phases and sheet.
    pub shared: Arc<Shared>,
    map: Map,
}

impl Case {
    fn read(map: Map) -> Result<Case, Slip> {
        checked(&map)?;
        let sheet = match text(&map, "sheet") {
            Some(toml) => sheet::parse("case", &toml).map_err(|e| {
                // Of its lines the first says what is wrong, the last what would be right.
                let told = e.to_string();
                let what = told.lines().next().unwrap_or_default();
                let wanted = told
                    .lines()
                    .find_map(|line| line.trim().strip_prefix("wanted: "));
                let what = format!("the sheet of this {what}");
                Slip::new(what, wanted.unwrap_or_default(), "sheet")
            })?,
            None => Sheet::default(),
        };
        let recording = recording(&map, &sheet)?;
        Ok(Case {
            name: text(&map, "name").unwrap_or_default(),
            role: text(&map, "role").unwrap_or_default(),
            shared: Arc::new(Shared::prepare(recording, sheet)),
            map,
        })
    }
}

/// A text of a case.
pub(super) fn text(map: &Map, key: &str) -> Option<String> {
    map.get(key).and_then(|d| d.clone().into_string().ok())
}

/// The maps that `cases()` of a check gives; none for a check without cases.
fn maps(catalog: &Catalog, check: &Check) -> Result<Vec<Map>, ScriptError> {
    let (script, engine) = (&check.script, catalog.engine());
    let ast = engine
        .compile(&script.text)
        .map_err(|e| script.no_script(&e))?;
    if !ast.iter_functions().any(|f| f.name == "cases") {
        return Ok(Vec::new());
    }
    let call = || engine.call_fn::<Array>(&mut Scope::new(), &ast, "cases", ());
    let list = script
        .in_its_time(call)
        .map_err(|e| script.failed("cases", &e))?;
    Ok(list
        .into_iter()
        .map(|case| case.try_cast::<Map>().unwrap_or_default())
        .collect())
}

/// A slip of the case of that name with its line.
fn placed(check: &Check, name: &str, slip: Slip) -> ScriptError {
    check.script.slip("cases", &slip.inside(&quoted(name)))
}

/// The cases of one check that can be read.
///
/// # Errors
/// `cases()` itself fails.
pub fn read(catalog: &Catalog, check: &Check) -> Result<Vec<Case>, ScriptError> {
    let maps = maps(catalog, check)?;
    Ok(maps
        .into_iter()
        .filter_map(|m| Case::read(m).ok())
        .collect())
}

/// Runs the cases of one check. A check without cases gives an empty list.
///
/// # Errors
/// `cases()` itself fails.
pub fn run(catalog: &Catalog, check: &Check) -> Result<Vec<Outcome>, ScriptError> {
    Ok(maps(catalog, check)?
        .into_iter()
        .map(|map| {
            let mut outcome = Outcome {
                check: check.script.id.clone(),
                name: text(&map, "name").unwrap_or_default(),
                role: text(&map, "role").unwrap_or_default(),
                wrong: Vec::new(),
                error: None,
                finding: None,
                phases: String::new(),
            };
            match Case::read(map) {
                Ok(case) => {
                    let (finding, error) = judge(catalog, check, &case.shared);
                    // A script that is meant to fail is judged by how its finding looks.
                    let meant =
                        text(&case.map, "kind").as_deref() == Some(NotRun::ScriptError.word());
                    outcome.wrong = case.wrong(&finding, error.as_ref());
                    outcome.error = error.filter(|_| !meant);
                    outcome.phases = case.phases();
                    outcome.finding = Some(finding);
                }
                Err(slip) => outcome.error = Some(placed(check, &outcome.name, slip)),
            }
            if let Some(error) = &outcome.error {
                let of = Differs::new("script", "one that runs", error.to_string());
                outcome.wrong = vec![of];
            }
            outcome
        })
        .collect())
}

impl Case {
    /// What of a finding is not as the case wants it; empty where all is.
    pub fn wrong(&self, finding: &Finding, error: Option<&ScriptError>) -> Vec<Differs> {
        let map = &self.map;
        let text = |key: &str| text(map, key);
        let reason = finding.reason.standard();
        let mut wrong = Vec::new();
        let mut differ =
            |of, wanted: String, got: String| wrong.push(Differs::new(of, wanted, got));
        let want = text("want").unwrap_or_default();
        let verdict = finding.verdict.word();
        if verdict != want {
            differ("verdict", want, verdict.to_string());
        }
        if let Some(error) = error {
            differ("script", "one that runs".to_string(), error.to_string());
        }
        let kind = finding.not_run_kind;
        let kind = kind.map_or("none", NotRun::word);
        if let Some(wanted) = text("kind")
            && wanted != kind
        {
            differ("kind", wanted, kind.to_string());
        }
        let listed = |key: &str| map.get(key)?.clone().try_cast::<Array>();
        if let Some(list) = listed("cylinders") {
            let wanted: Vec<i64> = list.into_iter().filter_map(|d| d.as_int().ok()).collect();
            let got: Vec<i64> = finding.cylinders.iter().map(|c| i64::from(*c)).collect();
            if wanted != got {
                differ("cylinders", format!("{wanted:?}"), format!("{got:?}"));
            }
        }
        let stops = finding.stop_now.is_some();
        let stop_wanted = map.get("stop_now").and_then(|d| d.as_bool().ok());
        if let Some(wanted) = stop_wanted.filter(|wanted| *wanted != stops) {
            differ("stop now", wanted.to_string(), stops.to_string());
        }
        if let Some(words) = text("says").filter(|words| !reason.contains(words)) {
            differ("reason", format!("`{words}` in it"), reason.clone());
        }
        if let Some(words) = text("unsaid").filter(|words| reason.contains(words)) {
            differ("reason", format!("no `{words}` in it"), reason.clone());
        }
        let next = finding.next_step.as_ref().map(Text::standard);
        let has_next = next.is_some();
        let next = next.unwrap_or_else(|| "none".to_string());
        if let Some(words) = text("next").filter(|words| !has_next || !next.contains(words)) {
            differ("next step", format!("`{words}` in it"), next.clone());
        }
        let asked: Vec<String> = finding.questions.iter().map(Text::standard).collect();
        if let Some(words) = text("asks").filter(|words| !asked.iter().any(|q| q.contains(words))) {
            differ(
                "question",
                format!("`{words}` in one"),
                format!("{asked:?}"),
            );
        }
        if finding.verdict == Verdict::Warn && !has_next {
            differ("next step", "one beside every warning".to_string(), next);
        }
        wrong
    }

    /// The phases that were found in it, in words.
    fn phases(&self) -> String {
        let list = self.shared.phases.list();
        let words = list
            .iter()
            .map(|(name, s)| format!("{name} {:.1}-{:.1}", s.from_s, s.to_s));
        words.collect::<Vec<_>>().join(", ")
    }
}

/// The tiny columns of a case as a recording.
pub(super) fn recording(map: &Map, sheet: &Sheet) -> Result<Recording, Slip> {
    let channels = map
        .get("channels")
        .and_then(|d| d.clone().try_cast::<Map>())
        .ok_or_else(|| {
            let wanted = "channels: #{ rpm: \"0 for 5, 3000 for 60\" }";
            Slip::new("this case has no `channels`", wanted, "")
        })?;
    let hz = map
        .get("hz")
        .and_then(|d| {
            d.as_float()
                .ok()
                .or_else(|| d.as_int().ok().map(|i| i as f64))
        })
        .unwrap_or(20.0);
    let mut columns = Vec::new();
    for (name, notation) in channels {
        let slip = |what: String| {
            let wanted = "values and seconds: \"20 for 5, 20 to 95 for 60\"";
            Slip::new(what, wanted, &name).inside("channels")
        };
        let notation = notation
            .into_string()
            .map_err(|got| slip(format!("the column `{name}` is {}", a_kind(got))))?;
        let tiny =
            Tiny::parse(&notation).map_err(|what| Slip::new(what, "", &name).inside("channels"))?;
        columns.push((name.to_string(), tiny));
    }
    let seconds = columns.iter().map(|c| c.1.seconds()).fold(0.0, f64::max);
    let gaps: Vec<Vec<f64>> = map
        .get("gaps")
        .and_then(|d| d.clone().try_cast::<Array>())
        .unwrap_or_default()
        .into_iter()
        .map(|g| {
            g.try_cast::<Array>()
                .unwrap_or_default()
                .iter()
                .filter_map(|d| {
                    d.as_float()
                        .ok()
                        .or_else(|| d.as_int().ok().map(|i| i as f64))
                })
                .collect()
        })
        .collect();
    let times: Arc<[f64]> = (0..(seconds * hz).round() as usize)
        .map(|i| i as f64 / hz)
        .filter(|t| {
            !gaps
                .iter()
                .any(|g| matches!(g[..], [from, to] if *t > from && *t < to))
        })
        .collect::<Vec<_>>()
        .into();
    let mut recording = Recording::on_times("case", Arc::clone(&times));
    if let Some(clock) = map.get("clock").and_then(|d| d.clone().into_string().ok()) {
        recording.clock = Some(Series::new(
            &times,
            Tiny::parse(&clock)
                .map_err(|what| Slip::new(what, "", "clock"))?
                .readings(&times, 7),
        ));
    }
    for (seed, (name, tiny)) in columns.into_iter().enumerate() {
        let entry = dictionary::entry(&name).ok_or_else(|| {
            let wanted = names::near(&name, &[]).map_or_else(
                || "a standard name: scripts/LANGUAGE.md lists them".to_string(),
                |near| format!("did you mean `{near}`?"),
            );
            let what = format!("`{name}` is no standard name");
            Slip::new(what, wanted, &name).inside("channels")
        })?;
        let series = Series::new(&times, tiny.readings(&times, seed as u64 + 1));
        let mut channel = Channel::new(
            &name,
            entry,
            &name,
            None,
            Unit::standard(&entry.unit),
            series,
        );
        channel.position = name
            .rsplit('_')
            .next()
            .and_then(|n| n.parse().ok())
            .filter(|_| entry.family);
        recording.add(channel);
    }
    recording.name_cylinders(sheet);
    Ok(recording)
}
