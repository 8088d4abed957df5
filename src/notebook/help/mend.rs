//! Which name was probably meant.

use super::complete::checks;
use super::families;
use crate::notebook::errors::CellError;
use crate::notebook::session::Session;
use crate::phases::Phases;
use crate::sheet::nearest;

/// An error with a word on what to do, where a name was misspelt.
pub fn helped(session: &Session, mut error: CellError) -> CellError {
    let what = error.what.clone();
    if let Some(name) =
        between(&what, "nothing is called `", "`").or(between(&what, "Variable not found: ", ""))
    {
        if name == "run" {
            error.what = "nothing is called `run`".to_string();
            error.help = Some(
                "a run is opened first: `let run = open(\"first-start.csv\", \"build-sheet.toml\")`"
                    .to_string(),
            );
        } else if let Some(near) = near_name(session, name) {
            error.help = Some(format!("did you mean `{near}`?"));
        }
    } else if let Some(name) =
        between(&what, "this log has no `", "`").or(between(&what, "no channel is called `", "`"))
    {
        let opened = session.store().opened();
        let channels = opened.channels.iter().map(|c| c.0.as_str());
        let words = session
            .words()
            .iter()
            .filter(|w| w.group == "The run")
            .map(|w| w.name.as_str());
        error.help = Some(
            match nearest(name, channels.chain(families(session)).chain(words)) {
                Some(near) => format!("did you mean `run.{near}`?"),
                None => {
                    format!("`run.channels` lists what it has; `run.has(\"{name}\")` asks for one")
                }
            },
        );
        error.what = format!("this log has no `{name}`");
    } else if let Some(call) = between(&what, "there is no `", "`") {
        let name = call.split(" (").next().unwrap_or(call);
        let known = session.words().iter().map(|w| w.name.as_str());
        let same: Vec<&str> = session
            .words()
            .iter()
            .filter(|w| w.name == name)
            .map(|w| w.call.as_str())
            .collect();
        error.help = if let Some(list) = some(&same) {
            Some(format!("it goes like this: {list}"))
        } else if what.contains("there is no phase") {
            nearest(name, Phases::names().iter().copied()).map(meant)
        } else if what.contains("there is no check") {
            let ids = checks(session);
            nearest(name, ids.iter().map(String::as_str)).map(meant)
        } else {
            let functions = session.store().functions();
            let own: Vec<&str> = functions.all().map(|d| d.function.name.as_str()).collect();
            nearest(name, known.chain(own)).map(meant)
        }
        .or(error.help);
    } else if let Some(name) = between(&what, "there is no phase `", "`") {
        error.help = nearest(name, Phases::names().iter().copied())
            .map(meant)
            .or(error.help);
    } else if let Some(name) = between(&what, "there is no check `", "`") {
        let ids = checks(session);
        let near = nearest(name, ids.iter().map(String::as_str)).map(meant);
        error.help = near.or(Some(
            "help(\"egt-spread\") tells of one; completion lists them all".to_string(),
        ));
    }
    error
}

fn meant(near: &str) -> String {
    format!("did you mean `{near}`?")
}

fn some(list: &[&str]) -> Option<String> {
    (!list.is_empty()).then(|| list[..list.len().min(3)].join("  or  "))
}

fn near_name(session: &Session, name: &str) -> Option<String> {
    let names = session.scope().iter_raw().map(|v| v.0);
    let words = session
        .words()
        .iter()
        .filter(|w| !w.after_dot())
        .map(|w| w.name.as_str());
    nearest(name, names.chain(words)).map(str::to_string)
}

/// The words between two others; up to the end where the second is empty.
fn between<'a>(text: &'a str, from: &str, to: &str) -> Option<&'a str> {
    let (_, rest) = text.split_once(from)?;
    if to.is_empty() {
        return Some(rest.trim());
    }
    rest.split_once(to).map(|r| r.0)
}
