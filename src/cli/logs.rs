//! The logs that are meant by what was typed.

use std::fs;
use std::path::{Path, PathBuf};

use super::Refusal;
use crate::load;

/// Endings of files that a folder is searched for; `.gz`, `.zst` or `.zip` may follow.
const LOGS: [&str; 6] = ["csv", "tsv", "txt", "log", "parquet", "arrow"];
const PACKED: [&str; 3] = ["gz", "zst", "zip"];

/// The logs behind a name: those of a folder in the order of their names, those of an archive, or the file itself.
pub fn logs_of(named: &Path) -> Result<Vec<PathBuf>, Refusal> {
    if !named.is_dir() {
        return Ok(load::logs_in(named)?);
    }
    let unread = |e| Refusal(format!("{} could not be read: {e}", named.display()));
    let mut found = Vec::new();
    for entry in fs::read_dir(named).map_err(unread)? {
        let path = entry.map_err(unread)?.path();
        if path.is_file() && is_log(&path) {
            found.push(path);
        }
    }
    if found.is_empty() {
        return Err(Refusal(format!(
            "there is no log in the folder {}: files that end in .{} are looked for, packed ones too",
            named.display(),
            LOGS.join(", .")
        )));
    }
    found.sort();
    let mut logs = Vec::new();
    for path in found {
        // What is wrong with one of them is said when its turn comes.
        logs.extend(load::logs_in(&path).unwrap_or_else(|_| vec![path]));
    }
    Ok(logs)
}

fn is_log(path: &Path) -> bool {
    let name = path.file_name().and_then(|n| n.to_str());
    let name = name.unwrap_or_default().to_lowercase();
    let mut parts = name.rsplit('.');
    let last = parts.next().unwrap_or_default();
    if name.starts_with('.') || last.len() == name.len() {
        return false;
    }
    let ending = if PACKED.contains(&last) {
        parts.next().unwrap_or_default()
    } else {
        last
    };
    LOGS.contains(&ending) || last == "zip"
}

/// The log's name without its endings.
pub fn stem(log: &Path) -> String {
    let name = log.file_name().unwrap_or_default().to_string_lossy();
    let mut stem = name.as_ref();
    for endings in [&PACKED[..], &LOGS[..]] {
        if let Some((before, ending)) = stem.rsplit_once('.')
            && !before.is_empty()
            && endings.contains(&ending.to_lowercase().as_str())
        {
            stem = before;
        }
    }
    stem.to_string()
}
