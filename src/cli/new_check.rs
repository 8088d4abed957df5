//! `plugread checks new ID`: a small check that works, to be changed into one's own.

use std::path::Path;

use super::{Refusal, out};
use crate::checks::Catalog;

/// A working check with its cases; `ID` and `TITLE` stand where its own go.
const TEMPLATE: &str = include_str!("../checks/template.rhai");

/// Writes it into a folder of scripts and says how to go on.
pub fn run(id: Option<&str>, folder: Option<&Path>) -> Result<(), Refusal> {
    let Some(id) = id else {
        return Err(Refusal(
            "name the check: `plugread checks new fuel-heat` writes fuel-heat.rhai".to_string(),
        ));
    };
    if let Err(what) = fits(id) {
        return Err(Refusal(format!(
            "`{id}` cannot be the id of a check: {what}"
        )));
    }
    let here = Path::new(".");
    let folder = folder.unwrap_or(here);
    if folder.exists() && !folder.is_dir() {
        return Err(Refusal(format!(
            "{} is a file, and a folder is wanted: name another with --scripts",
            folder.display()
        )));
    }
    let is_new = !folder.exists();
    let catalog = Catalog::load((folder != here && !is_new).then_some(folder))?;
    if let Some(other) = catalog.get(id) {
        return Err(Refusal(format!(
            "there is a check `{id}` already ({}); choose another id, or copy that file to replace it in your folder",
            other.script.place
        )));
    }
    let path = folder.join(format!("{id}.rhai"));
    if path.exists() {
        return Err(Refusal(format!(
            "{} is there already and is not touched; choose another id",
            path.display()
        )));
    }
    if is_new {
        std::fs::create_dir_all(folder).map_err(|error| {
            let folder = folder.display();
            Refusal(format!("the folder {folder} cannot be made: {error}"))
        })?;
    }
    let text = TEMPLATE.replace("TITLE", &title(id)).replace("ID", id);
    out::write(Some(&path), text.as_bytes())?;
    let (path, folder) = (path.display(), folder.display());
    let made = if is_new { " The folder is new." } else { "" };
    let told = format!(
        "{path} is a check that works: change it into your own.{made}\n\
         Then try its cases, and judge a log by it:\n  \
         plugread checks try {id} --scripts {folder}\n  \
         plugread review LOG --scripts {folder}\n\
         The words of the language are in scripts/LANGUAGE.md of the project.\n"
    );
    out::write(None, told.as_bytes())
}

/// Small letters, digits and single hyphens between them, as in all file names of checks.
fn fits(id: &str) -> Result<(), &'static str> {
    let part = |part: &str| {
        !part.is_empty()
            && part
                .chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit())
    };
    if id == "new" || id == "try" {
        return Err("it is a word of `plugread checks` itself");
    }
    if !id.split('-').all(part) {
        return Err(
            "it wants small letters and digits, with hyphens between words, such as fuel-heat",
        );
    }
    Ok(())
}

/// The id as words: `fuel-heat` becomes `Fuel heat`.
fn title(id: &str) -> String {
    let words = id.replace('-', " ");
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_file_names_of_checks() {
        for id in ["fuel-heat", "a", "egt-2-drift"] {
            assert_eq!(fits(id), Ok(()), "{id}");
        }
        for id in [
            "",
            "Fuel",
            "fuel heat",
            "../fuel",
            "fuel-",
            "-fuel",
            "a--b",
            "try",
            "new",
            "a.b",
            "\u{e9}gt",
        ] {
            assert!(fits(id).is_err(), "{id}");
        }
        assert_eq!(title("fuel-heat"), "Fuel heat");
    }
}
