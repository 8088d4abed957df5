//! What is said of an entry that a script asks the build sheet for, and that it has not.

use super::script_text::of_name;
use crate::diagnostic::Spot;
use crate::sheet::{self, SCHEMA, SECTIONS, nearest};

/// Of a name that the build sheet has not: the engine itself only knows that some map lacks it.
pub fn told(what: &str, spot: &Spot) -> Option<(String, String)> {
    let name = what
        .strip_prefix("there is no `")?
        .strip_suffix("` in this map")?;
    let before = spot
        .text
        .get(..spot.marked.start)?
        .trim_end()
        .trim_end_matches(['.', '?']);
    let (_, path) = before.rsplit_once(".sheet")?;
    let path = path.trim_start_matches(['.', '?']);
    let is_name = |text: &str| text.chars().all(of_name);
    if !is_name(path) {
        return None;
    }
    let names: Vec<&str> = if path.is_empty() {
        SECTIONS
            .iter()
            .map(|section| section.name)
            .filter(|section| keys_of(section).next().is_some())
            .collect()
    } else {
        keys_of(path).collect()
    };
    let what = if path.is_empty() {
        format!("the build sheet has no section `{name}`")
    } else {
        format!("the build sheet has no `{name}` under `{path}`")
    };
    let list = names.join(", ");
    let elsewhere = SCHEMA.iter().find(|entry| {
        entry.key() == name || (path.is_empty() && nearest(name, [entry.key()]).is_some())
    });
    let wanted = match (nearest(name, names.iter().copied()), elsewhere) {
        (Some(near), _) => format!("did you mean `{near}`? It has {list}"),
        (None, Some(entry)) => format!("did you mean `run.sheet.{}`?", entry.name),
        (None, None) => format!("one of {list}"),
    };
    Some((what, wanted))
}

fn keys_of(section: &str) -> impl Iterator<Item = &'static str> {
    let entries = SCHEMA
        .iter()
        .filter(move |entry| entry.section() == section);
    entries.map(sheet::Entry::key)
}
