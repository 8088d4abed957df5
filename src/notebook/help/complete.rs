//! What could be written where the cursor stands.

use std::path::Path;

use super::{Kind, families, kind_of};
use crate::notebook::scan::{Class, Scan, is_name};
use crate::notebook::session::Session;
use crate::phases::Phases;

/// What could stand in the place of a part of the cell.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Completion {
    /// Where that part begins, bytes.
    pub start: usize,
    /// Where it ends, bytes.
    pub end: usize,
    /// What could stand there, and what kind of thing each is.
    pub matches: Vec<(String, &'static str)>,
}

/// Words of the language itself.
const KEYWORDS: [&str; 18] = [
    "let", "const", "fn", "if", "else", "for", "in", "while", "loop", "break", "continue",
    "return", "switch", "true", "false", "throw", "try", "print",
];

/// What could stand where the cursor is (bytes from the start).
pub fn complete(session: &Session, code: &str, cursor: usize) -> Completion {
    let cursor = (0..=cursor.min(code.len()))
        .rev()
        .find(|at| code.is_char_boundary(*at));
    let cursor = cursor.unwrap_or(0);
    let before = &code[..cursor];
    let scan = Scan::new(before);
    let inside = |class: Class| cursor > 0 && scan.at(cursor - 1) == class;
    let quoted = inside(Class::Words) && !closed(before, &scan);
    if quoted {
        return in_words(session, before);
    }
    if inside(Class::Comment) {
        return Completion {
            start: cursor,
            end: cursor,
            matches: Vec::new(),
        };
    }
    let start = before.rfind(|c| !is_name(c)).map_or(0, |at| {
        at + before[at..].chars().next().map_or(1, char::len_utf8)
    });
    let typed = &before[start..];
    let candidates = match before[..start].trim_end().strip_suffix('.') {
        // A number's own dot, and the two of a range, have nothing behind them.
        Some(of) if of.ends_with('.') => Vec::new(),
        Some(of) => after_dot(session, of),
        None => alone(session),
    };
    chosen(start, cursor, typed, candidates)
}

/// True where the words that end there were closed.
fn closed(before: &str, scan: &Scan) -> bool {
    // A mark that opens words has code, or nothing, before it.
    let mut at = before.len();
    while at > 0 && scan.at(at - 1) == Class::Words {
        at -= 1;
    }
    let words = &before[at..];
    let mark = words.chars().next().unwrap_or('"');
    words.len() > 1 && words.ends_with(mark) && !words.ends_with(&format!("\\{mark}"))
}

/// Those that begin with what was typed, each once, best first.
fn chosen(
    start: usize,
    end: usize,
    typed: &str,
    mut candidates: Vec<(String, &'static str)>,
) -> Completion {
    let small = typed.to_lowercase();
    candidates.retain(|c| c.0.to_lowercase().starts_with(&small));
    candidates.sort();
    candidates.dedup_by(|a, b| a.0 == b.0);
    Completion {
        start,
        end,
        matches: candidates,
    }
}

fn named<'a>(
    names: impl IntoIterator<Item = &'a str>,
    kind: &'static str,
) -> Vec<(String, &'static str)> {
    names.into_iter().map(|n| (n.to_string(), kind)).collect()
}

/// What can stand behind the dot after that.
fn after_dot(session: &Session, of: &str) -> Vec<(String, &'static str)> {
    let kind = kind_of(session, of);
    let words = session.words().iter().filter(|w| w.after_dot());
    let group = kind.group();
    let words = words.filter(|w| group.is_empty() || w.group == group);
    let mut list: Vec<(String, &'static str)> = words
        .filter(|w| {
            w.name.starts_with(|c: char| c.is_alphabetic()) && !w.call.starts_with(".name ")
        })
        .map(|w| {
            (
                w.name.clone(),
                if w.call.contains('(') {
                    "function"
                } else {
                    "property"
                },
            )
        })
        .collect();
    if kind == Kind::Run || (kind == Kind::Other && of.trim_end().ends_with("run")) {
        let opened = session.store().opened();
        list.extend(opened.channels.iter().map(|c| (c.0.clone(), "channel")));
        list.extend(named(families(session), "family"));
    }
    list
}

/// What can stand by itself.
fn alone(session: &Session) -> Vec<(String, &'static str)> {
    let mut list: Vec<(String, &'static str)> = Vec::new();
    list.extend(
        session
            .scope()
            .iter_raw()
            .map(|v| (v.0.to_string(), "name")),
    );
    let functions = session.store().functions();
    list.extend(
        functions
            .all()
            .map(|d| (d.function.name.clone(), "function")),
    );
    let words = session.words().iter().filter(|w| !w.after_dot());
    list.extend(words.map(|w| (w.name.clone(), "function")));
    list.extend(named(KEYWORDS, "keyword"));
    list
}

/// What can stand between quotation marks, by the word that they are given to.
fn in_words(session: &Session, before: &str) -> Completion {
    let mark = before.rfind(['"', '`']).unwrap_or(0);
    let start = mark + 1;
    let typed = &before[start.min(before.len())..];
    let call = before[..mark].trim_end();
    let call = call.strip_suffix('(').unwrap_or("").trim_end();
    let word = &call[call.rfind(|c| !is_name(c)).map_or(0, |at| at + 1)..];
    let list = match word {
        "during" => named(Phases::names().iter().copied(), "phase"),
        "has" => {
            let opened = session.store().opened();
            let channels = opened.channels.iter().map(|c| c.0.as_str());
            let mut list = named(channels, "channel");
            list.extend(named(families(session), "family"));
            list
        }
        "finding" | "get_check" | "warned" | "passed" | "doubtful" | "cylinders_of"
        | "spans_of" | "number_of" => named(checks(session).iter().map(String::as_str), "check"),
        "help" => {
            let mut list = named(checks(session).iter().map(String::as_str), "check");
            list.extend(named(Phases::names().iter().copied(), "phase"));
            let words = session.words().iter().map(|w| w.name.as_str());
            list.extend(named(words, "word"));
            list
        }
        "open" | "load_check" => files(typed, word),
        _ => Vec::new(),
    };
    // Ids and phases hold hyphens, so all that was typed since the mark counts.
    chosen(start, before.len(), typed, list)
}

/// Ids of all checks.
pub fn checks(session: &Session) -> Vec<String> {
    let catalog = session.store().catalog();
    catalog.map_or_else(
        |_| Vec::new(),
        |c| c.checks().iter().map(|c| c.script.id.clone()).collect(),
    )
}

/// Names of files that could be meant.
fn files(typed: &str, word: &str) -> Vec<(String, &'static str)> {
    let folder = typed.rfind('/').map_or("", |at| &typed[..=at]);
    let place = if folder.is_empty() {
        Path::new(".")
    } else {
        Path::new(folder)
    };
    let wanted: &[&str] = match word {
        "open" => &[
            "csv", "txt", "log", "tsv", "gz", "zip", "zst", "parquet", "arrow", "toml",
        ],
        _ => &["rhai"],
    };
    let Ok(entries) = std::fs::read_dir(place) else {
        return Vec::new();
    };
    let mut list = Vec::new();
    for entry in entries.flatten() {
        let path = entry.path();
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with('.') {
            continue;
        }
        if path.is_dir() {
            list.push((format!("{folder}{name}/"), "folder"));
        } else if path
            .extension()
            .is_some_and(|e| wanted.iter().any(|w| e.eq_ignore_ascii_case(w)))
        {
            list.push((format!("{folder}{name}"), "file"));
        }
    }
    list
}
