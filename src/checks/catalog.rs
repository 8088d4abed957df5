//! All checks: those built in, then those of the user's own folder, which add or replace by id.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::Duration;

use memchr::memmem;
use rayon::prelude::*;
use rhai::{AST, Engine, EvalAltResult, Map, ParseError, Scope};

use super::about::About;
use super::order::Order;
use super::slip::{Slip, quoted};
use crate::dsl::script_text::figure_in_plain_text;
use crate::dsl::{Bounds, ScriptError, engine};
use crate::findings::{Graph, GraphError};
use crate::sheet::nearest;
use crate::stop;

include!(concat!(env!("OUT_DIR"), "/built_in.rs"));

/// What a user's script may take for one run: hundreds of times what the slowest built-in check takes for a long log.
const PATIENCE: Duration = Duration::from_secs(15);
/// The folder of the scripts that look across findings.
const DIAGNOSIS: &str = "diagnosis";

/// A check's text and where it is from.
#[derive(Clone, Debug)]
pub struct Script {
    /// Place for messages, e.g. `scripts/exhaust/egt-spread.rhai`.
    pub place: String,
    /// System, from its folder.
    pub system: String,
    /// Id, from its file name.
    pub id: String,
    /// Text.
    pub text: String,
}

/// A check that was read.
pub struct Check {
    /// Its text and place.
    pub script: Script,
    /// Why it matters: the `///` lines above `about`.
    pub why: String,
    /// Compiled when the check is first run; of a built-in check without its cases, which nobody needs who reviews a log.
    ast: OnceLock<Result<AST, ScriptError>>,
    /// Its facts.
    pub about: About,
}

/// The checks in use, with the engine that runs them.
pub struct Catalog {
    engine: Engine,
    checks: Vec<Check>,
    broken: Vec<(Script, ScriptError)>,
    graph: Graph,
    /// Scripts that look across findings.
    explanations: Vec<Script>,
}

/// The folder of checks could not be used at all.
#[derive(Debug, thiserror::Error)]
pub enum CatalogError {
    /// No such folder, or not readable.
    #[error("the scripts folder {} cannot be read: {reason}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system says.
        reason: String,
    },
    /// The built-in checks themselves are at odds: our own slip, caught by tests.
    #[error("the built-in checks are at odds: {0}")]
    BuiltIn(String),
}

impl Script {
    /// True for one that plugread brings.
    pub fn is_built_in(&self) -> bool {
        BUILT_IN.iter().any(|b| b.0 == self.place)
    }

    /// The text as far as a review needs it; of a user's script all, for nobody knows what stands behind its cases.
    pub fn reviewing_text(&self) -> &str {
        if self.is_built_in() {
            without_cases(&self.text)
        } else {
            &self.text
        }
    }

    /// What is wrong with a text that is no script.
    pub fn no_script(&self, error: &ParseError) -> ScriptError {
        ScriptError::parse(&self.place, error, &self.text)
    }

    /// What went wrong while one of its functions ran.
    pub fn failed(&self, function: &str, error: &EvalAltResult) -> ScriptError {
        let told = ScriptError::run(&self.place, error).within(&self.text);
        if told.line > 0 {
            return told;
        }
        // Of what comes out of a function the engine names no place.
        let mut placed = self.slip(function, &Slip::new(&told.what, "", function));
        placed.wanted = told.wanted;
        placed
    }

    /// Works on it, no longer than a person would wait for one check; those that are built in get the time they need.
    pub fn in_its_time<T>(&self, work: impl FnOnce() -> T) -> T {
        if self.is_built_in() {
            return work();
        }
        stop::within(PATIENCE, work)
    }
}

impl Check {
    /// Compiled.
    ///
    /// # Errors
    /// The text is no script; those of a user are all compiled when the catalogue is read.
    pub fn ast(&self, engine: &Engine) -> Result<&AST, ScriptError> {
        let compile = || {
            let compiled = engine.compile(self.script.reviewing_text());
            compiled.map_err(|error| self.script.no_script(&error))
        };
        let compiled = self.ast.get_or_init(compile).as_ref();
        compiled.map_err(Clone::clone)
    }
}

impl Catalog {
    /// The built-in checks, and those of a folder.
    ///
    /// # Errors
    /// The folder cannot be read. A script that is wrong is no error: it is kept among [`Catalog::broken`].
    pub fn load(folder: Option<&Path>) -> Result<Catalog, CatalogError> {
        let mut scripts: BTreeMap<String, Script> = BUILT_IN
            .iter()
            .map(|(place, system, id, text)| {
                (
                    (*id).to_string(),
                    Script {
                        place: (*place).to_string(),
                        system: (*system).to_string(),
                        id: (*id).to_string(),
                        text: (*text).to_string(),
                    },
                )
            })
            .collect();
        for script in folder.map(read_folder).transpose()?.unwrap_or_default() {
            scripts.insert(script.id.clone(), script);
        }
        Catalog::of(scripts.into_values().collect())
    }

    /// From scripts in hand.
    ///
    /// # Errors
    /// The built-in order cannot be read.
    pub fn of(scripts: Vec<Script>) -> Result<Catalog, CatalogError> {
        let engine = engine(Bounds::default(), crate::dsl::engine::StopFlag::default());
        let (mut checks, mut broken) = (Vec::new(), Vec::new());
        let (explanations, scripts): (Vec<Script>, Vec<Script>) =
            scripts.into_iter().partition(|s| s.system == DIAGNOSIS);
        let read: Vec<_> = scripts
            .into_par_iter()
            .map(|script| read(&engine, script))
            .collect();
        for outcome in read {
            match outcome {
                Ok(check) => checks.push(check),
                Err(pair) => broken.push(*pair),
            }
        }
        let order = Order::built_in().map_err(CatalogError::BuiltIn)?;
        let graph = loop {
            let mut bases: BTreeMap<String, (String, Vec<String>)> = checks
                .iter()
                .map(|c| {
                    (
                        c.script.id.clone(),
                        (c.script.system.clone(), c.about.builds_on.clone()),
                    )
                })
                .collect();
            for (script, _) in &broken {
                bases
                    .entry(script.id.clone())
                    .or_insert_with(|| (script.system.clone(), Vec::new()));
            }
            match Graph::new(order.arrange(&bases)) {
                Ok(graph) => break graph,
                // A check whose bases are wrong costs only itself.
                Err(error) => {
                    let culprit = match &error {
                        GraphError::Unknown { id, .. } => Some(id.clone()),
                        GraphError::Circle { path } => path
                            .split(" -> ")
                            .find(|id| {
                                !BUILT_IN.iter().any(|b| {
                                    b.2 == *id
                                        && checks
                                            .iter()
                                            .any(|c| c.script.id == *id && c.script.place == b.0)
                                })
                            })
                            .map(str::to_string),
                    };
                    let index =
                        culprit.and_then(|id| checks.iter().position(|c| c.script.id == id));
                    let Some(index) = index else {
                        return Err(CatalogError::BuiltIn(error.to_string()));
                    };
                    let check = checks.remove(index);
                    let slip = base_slip(
                        &error,
                        BUILT_IN
                            .iter()
                            .map(|b| b.2)
                            .chain(checks.iter().map(|c| c.script.id.as_str())),
                    );
                    let slip = check.script.slip("about", &slip);
                    broken.push((check.script, slip));
                }
            }
        };
        checks.sort_by_key(|c| graph.place(&c.script.id));
        Ok(Catalog {
            engine,
            checks,
            broken,
            graph,
            explanations,
        })
    }

    /// Those that can run, in review order.
    pub fn checks(&self) -> &[Check] {
        &self.checks
    }
    /// Those that cannot, with the reason.
    pub fn broken(&self) -> &[(Script, ScriptError)] {
        &self.broken
    }
    /// Scripts that look across findings, in the order of their names.
    pub fn explanations(&self) -> &[Script] {
        &self.explanations
    }
    /// What rests on what.
    pub fn graph(&self) -> &Graph {
        &self.graph
    }
    /// The engine.
    pub fn engine(&self) -> &Engine {
        &self.engine
    }
    /// A check by id.
    pub fn get(&self, id: &str) -> Option<&Check> {
        self.checks.iter().find(|c| c.script.id == id)
    }
    /// True where some check looks at a channel of that name: only those are parsed.
    pub fn looks_at(&self, name: &str) -> bool {
        self.checks.iter().any(|c| c.about.looks_at(name))
    }
}

/// What is wrong with what a check says it builds on.
fn base_slip<'a>(error: &GraphError, known: impl Iterator<Item = &'a str>) -> Slip {
    match error {
        GraphError::Unknown { base, .. } => {
            let near = nearest(base, known);
            let wanted = near.map_or_else(
                || "the id of a check: `plugread checks` lists them".to_string(),
                |near| format!("did you mean `{near}`?"),
            );
            let what = format!("builds_on names `{base}`, which is no check");
            Slip::new(what, wanted, &quoted(base)).inside("builds_on")
        }
        GraphError::Circle { .. } => Slip::new(error.to_string(), "", "builds_on"),
    }
}

fn read(engine: &Engine, script: Script) -> Result<Check, Box<(Script, ScriptError)>> {
    let fail = |script: Script, error: ScriptError| Err(Box::new((script, error)));
    let built_in = script.is_built_in();
    // Tests compile every built-in check; who reviews a log waits only for those that the log has channels for.
    let head = if built_in { facts(&script.text) } else { None };
    let whole = head.is_none();
    let ast = match engine.compile(head.unwrap_or(&script.text)) {
        Ok(ast) => ast,
        Err(error) => {
            let slip = script.no_script(&error);
            return fail(script, slip);
        }
    };
    if !built_in && let Some(at) = figure_in_plain_text(&script.text) {
        let what = "a figure in ${...} is not filled in between two \"";
        let wanted = "two ` around this text instead".to_string();
        let told = (what.to_string(), Some(wanted));
        let slip = ScriptError::placed(&script.place, &script.text, at, told);
        return fail(script, slip);
    }
    let judges = |f: rhai::ScriptFnMetadata<'_>| f.name == "judge" && f.params.len() == 2;
    if whole && !ast.iter_functions().any(judges) {
        let what = "there is no `fn judge(run, limits)`";
        let names: Vec<String> = ast.iter_functions().map(|f| f.name.to_string()).collect();
        let near = nearest("judge", names.iter().map(String::as_str)).unwrap_or("judge");
        let wanted = "`fn judge(run, limits) { ... }`, with that name and these two";
        let slip = script.slip(near, &Slip::new(what, wanted, ""));
        return fail(script, slip);
    }
    let why = ast
        .iter_functions()
        .find(|f| f.name == "about")
        .map(|f| plain(&f.comments))
        .unwrap_or_default();
    let about = || engine.call_fn::<Map>(&mut Scope::new(), &ast, "about", ());
    let map = match script.in_its_time(about) {
        Ok(map) => map,
        Err(error) => {
            let slip = script.failed("about", &error);
            return fail(script, slip);
        }
    };
    match About::read(map) {
        Ok(about) => Ok(Check {
            script,
            why,
            ast: if whole {
                OnceLock::from(Ok(ast))
            } else {
                OnceLock::new()
            },
            about,
        }),
        Err(slip) => {
            let slip = script.slip("about", &slip);
            fail(script, slip)
        }
    }
}

/// The text up to the end of its facts, which stand first in every built-in check.
fn facts(text: &str) -> Option<&str> {
    let end = "\n} }\n";
    let at = memmem::find(text.as_bytes(), end.as_bytes())?;
    let opens = text
        .find("fn about() { #{\n")
        .is_some_and(|first| first < at);
    opens.then(|| &text[..at + end.len()])
}

/// The text up to its cases, which stand last in every built-in script and are nearly half of it.
fn without_cases(text: &str) -> &str {
    let cases = memmem::find(text.as_bytes(), b"\nfn cases()");
    cases.map_or(text, |at| &text[..at])
}

/// Comments as running text. Lines that follow each other come as one comment.
fn plain(comments: &[&str]) -> String {
    comments
        .iter()
        .flat_map(|c| c.lines())
        .map(|line| line.trim().trim_start_matches('/').trim())
        .collect::<Vec<_>>()
        .join(" ")
}

/// Every `.rhai` file of a folder and of its folders; the folder's name is the system.
fn read_folder(folder: &Path) -> Result<Vec<Script>, CatalogError> {
    let fail = |path: &Path, reason: String| CatalogError::Folder {
        path: path.to_path_buf(),
        reason,
    };
    let list = |path: &Path| -> Result<Vec<PathBuf>, CatalogError> {
        let entries = std::fs::read_dir(path).map_err(|e| fail(path, e.to_string()))?;
        let mut paths: Vec<PathBuf> = entries
            .map(|e| e.map(|e| e.path()))
            .collect::<Result<_, _>>()
            .map_err(|e| fail(path, e.to_string()))?;
        paths.sort();
        Ok(paths)
    };
    let mut out = Vec::new();
    for path in list(folder)? {
        let inside = if path.is_dir() {
            list(&path)?
        } else {
            vec![path.clone()]
        };
        let system = if path.is_dir() { &path } else { folder };
        let system = system
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default();
        for file in inside
            .into_iter()
            .filter(|f| f.extension().is_some_and(|e| e == "rhai"))
        {
            let bytes = std::fs::read(&file).map_err(|e| fail(&file, e.to_string()))?;
            let id = file
                .file_stem()
                .map(|s| s.to_string_lossy().into_owned())
                .unwrap_or_default();
            out.push(Script {
                place: file.display().to_string(),
                system: system.clone(),
                id,
                text: String::from_utf8_lossy(&bytes).into_owned(),
            });
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_but_the_cases_is_left_out() {
        let engine = engine(Bounds::default(), crate::dsl::engine::StopFlag::default());
        let names = |text: &str| -> Vec<String> {
            let ast = engine.compile(text).expect("it compiles");
            let names = ast.iter_functions().map(|f| f.name.to_string());
            // What is written in place, inside the cases or elsewhere, has no name of its own.
            let mut names: Vec<String> = names
                .filter(|name| name != "cases" && !name.starts_with("anon$"))
                .collect();
            names.sort();
            names
        };
        for (place, _, _, text) in BUILT_IN {
            assert_eq!(names(without_cases(text)), names(text), "{place}");
        }
    }

    #[test]
    fn comments_of_several_lines_lose_their_slashes() {
        assert_eq!(
            super::plain(&["/// Why it\n/// matters.", "/// More."]),
            "Why it matters. More."
        );
    }
}
