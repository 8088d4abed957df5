//! Checks of one's own: from cells to a file and back.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError};

use rhai::Map;
use rhai::plugin::*;

use super::super::functions::Functions;
use super::super::scan::{Scan, is_name};
use super::runs::{apart, store};
use crate::checks::{Catalog, Script, cases, judge_with, limits_of};
use crate::dsl::column::Quantity;
use crate::dsl::run::Run;
use crate::dsl::{Outcome, complain};
use crate::findings::Finding;
use crate::pipeline;
use crate::units::Reading;
use crate::whole;

/// A check in hand: its text, and what was made of it.
#[derive(Clone)]
pub struct Own {
    /// Its id.
    pub id: String,
    /// Its text, as a file has it.
    pub text: Arc<str>,
    /// A catalogue of it alone.
    catalog: Arc<Catalog>,
}

/// A finding in a cell.
#[derive(Clone)]
pub struct Tried {
    /// The finding.
    pub finding: Arc<Finding>,
    /// The units that it is read in.
    pub reading: Reading,
}

impl Tried {
    /// With the units that it is read in.
    pub fn new(finding: Finding, reading: Reading) -> Tried {
        Tried {
            finding: Arc::new(finding),
            reading,
        }
    }
}

impl Own {
    fn new(id: &str, system: &str, place: &str, text: &str) -> Outcome<Own> {
        let script = Script {
            place: place.to_string(),
            system: system.to_string(),
            id: id.to_string(),
            text: text.to_string(),
        };
        match Catalog::of(vec![script]) {
            Ok(catalog) => match catalog.broken().first() {
                Some((_, error)) => complain(error.to_string()),
                None => Ok(Own {
                    id: id.to_string(),
                    text: text.into(),
                    catalog: Arc::new(catalog),
                }),
            },
            Err(error) => complain(error.to_string()),
        }
    }
    /// What it is about, and where it stands.
    pub fn title(&self) -> String {
        let check = self.catalog.get(&self.id);
        check.map_or_else(String::new, |c| c.about.title.clone())
    }
    fn tried(&self, run: &Run, changed: Map) -> Outcome<Tried> {
        let Some(check) = self.catalog.get(&self.id) else {
            return complain("this check cannot run");
        };
        let mut limits = limits_of(check, &run.shared.sheet);
        for (name, value) in changed {
            let Some(limit) = limits.get_mut(name.as_str()) else {
                let known: Vec<&str> = limits.keys().map(String::as_str).collect();
                return complain(format!(
                    "there is no limit `{name}` in about(); it declares {}",
                    known.join(", ")
                ));
            };
            match value.try_cast::<Quantity>() {
                Some(q) if q.unit == limit.quantity.unit => {
                    limit.quantity = q;
                    limit.from = "this cell".to_string();
                }
                _ => {
                    let unit = limit.quantity.unit.key();
                    return complain(format!("the limit `{name}` wants a quantity in {unit}"));
                }
            }
        }
        let (id, catalog) = (self.id.clone(), Arc::clone(&self.catalog));
        let shared = Arc::clone(&run.shared);
        let judged = apart(move || {
            let check = catalog.get(&id)?;
            Some(judge_with(&catalog, check, &shared, limits))
        });
        match judged.flatten() {
            Some((_, Some(error))) => complain(error.to_string()),
            Some((finding, None)) => Ok(Tried::new(finding, pipeline::reading(&run.shared.sheet))),
            None => complain("the check was not run to its end"),
        }
    }
    fn tried_cases(&self) -> Outcome<super::Grid> {
        let (id, catalog) = (self.id.clone(), Arc::clone(&self.catalog));
        let ran = apart(move || catalog.get(&id).map(|check| cases::run(&catalog, check)));
        let outcomes = match ran.flatten() {
            Some(Ok(outcomes)) => outcomes,
            Some(Err(error)) => return complain(error.to_string()),
            None => return complain("the cases were not run to their end"),
        };
        if outcomes.is_empty() {
            return complain(
                "this check has no cases: write `fn cases()`, a list of maps, beside it",
            );
        }
        let heads = ["case", "role", "verdict", "came out", "phases"];
        let rows = outcomes.iter().map(|o| {
            let verdict = o.finding.as_ref().map_or("none", |f| f.verdict.word());
            let came = if o.wrong.is_empty() {
                "as wanted".to_string()
            } else {
                let wrong: Vec<String> = o.wrong.iter().map(ToString::to_string).collect();
                wrong.join("; ")
            };
            let words = [&o.name, &o.role, verdict, &came, &o.phases];
            words
                .map(|w| super::pictures::Entry::Words(w.to_string()))
                .to_vec()
        });
        Ok(super::Grid {
            heads: heads.map(str::to_string).to_vec(),
            rows: rows.collect(),
        })
    }
}

/// The text of a check from functions of cells: `about`, `judge`, `cases`, and every other that these use.
fn gathered(functions: &Functions) -> Outcome<String> {
    for (name, takes) in [("about", ""), ("judge", "run, limits")] {
        if functions.named(name).next().is_none() {
            return complain(format!(
                "no cell has defined `fn {name}({takes})` yet: a check has both about() and judge(run, limits)"
            ));
        }
    }
    let mut wanted: Vec<String> = ["about", "judge", "cases"].map(str::to_string).to_vec();
    let mut taken = BTreeSet::new();
    let mut texts: Vec<String> = Vec::new();
    let mut at = 0;
    while at < wanted.len() {
        let name = wanted[at].clone();
        at += 1;
        if !taken.insert(name.clone()) {
            continue;
        }
        for defined in functions.named(&name) {
            let text = &defined.function.text;
            texts.push(text.clone());
            let used = text.split(|c| !is_name(c)).map(str::to_string);
            wanted.extend(used.filter(|n| functions.named(n).next().is_some()));
        }
    }
    // Cases stand last in a file.
    texts.sort_by_key(|t| Scan::new(t).functions().iter().any(|f| f.name == "cases"));
    Ok(texts.join("\n\n") + "\n")
}

fn fits(id: &str) -> Outcome<()> {
    let good = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if !id.is_empty() && id.chars().all(good) {
        return Ok(());
    }
    complain(format!(
        "`{id}` is no id of a check: small letters, digits and hyphens, such as egt-drift"
    ))
}

fn home(id: &str) -> Option<PathBuf> {
    let store = store().ok()?;
    let homes = store.homes.lock().unwrap_or_else(PoisonError::into_inner);
    homes.get(id).cloned()
}

fn remember(id: &str, path: &Path) {
    if let Ok(store) = store() {
        let mut homes = store.homes.lock().unwrap_or_else(PoisonError::into_inner);
        homes.insert(id.to_string(), path.to_path_buf());
    }
}

/// The id that a check file's name gives it.
fn id_of(path: &Path) -> Outcome<String> {
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned());
    let id = stem.unwrap_or_default();
    if path.extension().is_none_or(|e| e != "rhai") {
        return complain(format!(
            "{}: a check file ends in .rhai, and its name is the check's id",
            path.display()
        ));
    }
    fits(&id)?;
    Ok(id)
}

/// The folder that a check's file stands in, which names its system.
fn system_of(path: &Path) -> String {
    let folder = path.parent().and_then(Path::file_name);
    folder.map_or_else(|| "own".to_string(), |n| n.to_string_lossy().into_owned())
}

fn saved(check: &Own, path: &Path) -> Outcome<String> {
    let id = id_of(path)?;
    if id != check.id {
        return complain(format!(
            "{}: the file's name gives the id `{id}`, and this check is `{}`",
            path.display(),
            check.id
        ));
    }
    if path.exists() && home(&id).as_deref() != Some(path) {
        return complain(format!(
            "{} is there already and is not touched: load_check it first, or name another folder",
            path.display()
        ));
    }
    match whole::write(path, check.text.as_bytes()) {
        Ok(()) => {
            remember(&id, path);
            Ok(path.display().to_string())
        }
        Err(error) => complain(format!("{} could not be written: {error}", path.display())),
    }
}

/// Package.
#[export_module]
pub mod words {
    use super::{Own, Tried, fits, gathered, home, id_of, remember, saved, store, system_of};
    use crate::dsl::run::Run;
    use crate::dsl::{Outcome, complain};
    use crate::findings::Text;
    use crate::notebook::outlet;
    use crate::notebook::session::Output;
    use crate::notebook::words::Grid;
    use crate::span::Spans;
    use rhai::{Array, Map};
    use std::path::Path;

    /// Makes a check of `fn about()`, `fn judge(run, limits)` and, where there is one, `fn cases()`, as cells last defined
    /// them, with every other function that these use: `let c = define_check("egt-drift"); c.try_on(run)`.
    #[rhai_fn(return_raw)]
    pub fn define_check(id: &str) -> Outcome<Own> {
        fits(id)?;
        let text = gathered(&store()?.functions())?;
        Own::new(id, "own", &format!("{id}.rhai"), &text)
    }
    /// Reads a check file; its name is the check's id: `load_check("egt-drift.rhai")`.
    #[rhai_fn(return_raw)]
    pub fn load_check(file: &str) -> Outcome<Own> {
        let path = Path::new(file);
        let id = id_of(path)?;
        let text = match std::fs::read_to_string(path) {
            Ok(text) => text,
            Err(error) => return complain(format!("{file} cannot be read: {error}")),
        };
        let own = Own::new(&id, &system_of(path), file, &text)?;
        remember(&id, path);
        Ok(own)
    }
    /// A check by its id as the review has it, to look at or to begin from: `get_check("egt-spread").edit()`.
    #[rhai_fn(return_raw)]
    pub fn get_check(id: &str) -> Outcome<Own> {
        let store = store()?;
        let catalog = match store.catalog() {
            Ok(catalog) => catalog,
            Err(what) => return complain(what),
        };
        match catalog.get(id) {
            Some(check) => {
                let script = &check.script;
                Own::new(id, &script.system, &script.place, &script.text)
            }
            None => complain(format!("there is no check `{id}`")),
        }
    }
    /// Runs the check on a run and gives its finding.
    #[rhai_fn(return_raw, pure)]
    pub fn try_on(check: &mut Own, run: Run) -> Outcome<Tried> {
        check.tried(&run, Map::new())
    }
    /// The same with other limits: `c.try_on(run, #{ spread: quantity(60, "degC difference") })`.
    #[rhai_fn(name = "try_on", return_raw, pure)]
    pub fn try_with(check: &mut Own, run: Run, limits: Map) -> Outcome<Tried> {
        check.tried(&run, limits)
    }
    /// Runs the cases that stand beside the check, as a table.
    #[rhai_fn(return_raw, pure)]
    pub fn try_cases(check: &mut Own) -> Outcome<Grid> {
        check.tried_cases()
    }
    /// Writes the check to a file of its id in this folder, and gives the file's name. A file that is there is touched only
    /// where the check was loaded from it or saved to it before.
    #[rhai_fn(return_raw, pure)]
    pub fn save(check: &mut Own) -> Outcome<String> {
        let own = || format!("{}.rhai", check.id).into();
        let path = home(&check.id).unwrap_or_else(own);
        saved(check, &path)
    }
    /// Writes it to that file, or into that folder under its id.
    #[rhai_fn(name = "save", return_raw, pure)]
    pub fn save_to(check: &mut Own, path: &str) -> Outcome<String> {
        let path = Path::new(path);
        if path.is_dir() {
            return saved(check, &path.join(format!("{}.rhai", check.id)));
        }
        saved(check, path)
    }
    /// Puts its text into a new cell, to change it; then `define_check` of the same id.
    #[rhai_fn(pure)]
    pub fn edit(check: &mut Own) {
        outlet::send(Output::NextCell(check.text.to_string()));
    }
    /// Its text.
    #[rhai_fn(get = "text", pure)]
    pub fn text(check: &mut Own) -> String {
        check.text.to_string()
    }
    /// Its id.
    #[rhai_fn(get = "id", pure)]
    pub fn check_id(check: &mut Own) -> String {
        check.id.clone()
    }
    /// Its verdict: `pass`, `warn` or `not-run`.
    #[rhai_fn(get = "verdict", pure)]
    pub fn finding_verdict(finding: &mut Tried) -> String {
        finding.finding.verdict.word().to_string()
    }
    /// What it says, in one or two sentences.
    #[rhai_fn(get = "reason", pure)]
    pub fn reason(finding: &mut Tried) -> String {
        finding.finding.reason.read(&finding.reading)
    }
    /// The smallest test that splits the causes; empty where it names none.
    #[rhai_fn(get = "next_step", pure)]
    pub fn next_step_of(finding: &mut Tried) -> String {
        let step = finding.finding.next_step.as_ref();
        step.map_or_else(String::new, |t: &Text| t.read(&finding.reading))
    }
    /// The culprits, by number.
    #[rhai_fn(get = "cylinders", pure)]
    pub fn culprits(finding: &mut Tried) -> Array {
        let list = finding.finding.cylinders.iter();
        list.map(|c| Dynamic::from(i64::from(*c))).collect()
    }
    /// When.
    #[rhai_fn(get = "spans", pure)]
    pub fn when(finding: &mut Tried) -> Spans {
        finding.finding.spans.clone()
    }
}
