//! The words of the language as a page, from the comments that stand at the functions themselves.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use rhai::Engine;
use serde::Deserialize;

use super::run::FAMILIES;
use crate::recording::dictionary;
use crate::units::{Unit, kinds};

#[derive(Deserialize)]
struct Metadata {
    #[serde(default)]
    functions: Vec<Function>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct Function {
    name: String,
    #[serde(default)]
    params: Vec<Param>,
    #[serde(default)]
    return_type: String,
    #[serde(default)]
    doc_comments: Vec<String>,
}

#[derive(Deserialize)]
struct Param {
    #[serde(default)]
    name: Option<String>,
    #[serde(default, rename = "type")]
    kind: Option<String>,
}

/// The guide that the page begins with. A test runs every example in it.
pub const GUIDE: &str = include_str!("guide.md");

/// The section of what is called like a function.
const CALLS: &str = "Calls: making values, and figures of the trade";

/// A word of the language.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// What it works on: `Columns`, `Spans`, and so on.
    pub group: &'static str,
    /// The type that stands in front of its dot; empty for a call.
    pub on: String,
    /// How it is written: `rolling_max`.
    pub name: String,
    /// With what it takes and gives: `.rolling_max(window: Quantity) -> Column`.
    pub call: String,
    /// What it gives.
    pub doc: String,
}

impl Word {
    /// True for what is written after a dot.
    pub fn after_dot(&self) -> bool {
        self.call.starts_with('.')
    }
}

/// All words with a comment, those of one group together, in the order of their calls.
pub fn words(engine: &Engine) -> Vec<Word> {
    let json = engine.gen_fn_metadata_to_json(false).unwrap_or_default();
    let metadata: Metadata = serde_json::from_str(&json).unwrap_or(Metadata {
        functions: Vec::new(),
    });
    let mut all: BTreeMap<(&str, String), Word> = BTreeMap::new();
    for f in &metadata.functions {
        // Lines that follow each other come as one comment.
        let doc: Vec<&str> = f
            .doc_comments
            .iter()
            .flat_map(|c| c.lines())
            .map(|line| line.trim().trim_start_matches('/').trim())
            .collect();
        if doc.is_empty() || !f.name.starts_with(|c: char| c.is_alphabetic()) {
            continue;
        }
        let first = f
            .params
            .first()
            .and_then(|p| p.kind.as_deref())
            .unwrap_or("");
        let (group, on, call) = describe(f, first);
        let word = Word {
            group,
            on,
            name: f.name.strip_prefix("get$").unwrap_or(&f.name).to_string(),
            call: call.clone(),
            doc: doc.join(" ").replace("  ", " "),
        };
        all.insert((group, call), word);
    }
    all.into_values().collect()
}

/// The page.
pub fn page(engine: &Engine) -> String {
    let mut page = String::from(GUIDE);
    let mut group = "";
    for word in words(engine) {
        if word.group != group {
            group = word.group;
            let _ = writeln!(page, "\n### {group}\n");
        }
        let _ = writeln!(page, "- `{}`: {}", word.call, word.doc);
    }
    units(&mut page);
    channels(&mut page);
    page
}

/// Every unit, from the one table of them.
fn units(page: &mut String) {
    page.push_str(
        "\n## Units\n\nCapitals and small letters count alike. Behind a pressure may stand `absolute` or `gauge`, behind a temperature \
         `difference`. One unit over another is a unit too: `V/s`, `degC/min`, `kPa per 1000 rpm`, `per 1000 cycles`. A count has none: `\"\"`.\n\n\
         | quantity | standard unit | other units | other spellings |\n| --- | --- | --- | --- |\n",
    );
    let list = |names: &[&str]| {
        let names = names.iter().filter(|name| !name.is_empty());
        names
            .map(|name| format!("`{name}`"))
            .collect::<Vec<_>>()
            .join(", ")
    };
    for kind in kinds() {
        let (standard, others) = kind.units.split_at(1);
        let same = |unit: &str| -> Vec<&str> {
            let others = kind.others.iter().copied();
            others
                .filter(|other| Unit::parse(other) == Unit::parse(unit))
                .collect()
        };
        let spellings: Vec<String> = kind
            .units
            .iter()
            .map(|unit| (*unit, same(unit)))
            .filter(|(_, same)| !same.is_empty())
            .map(|(unit, same)| match unit {
                "" => list(&same),
                unit => format!("{} for `{unit}`", list(&same)),
            })
            .collect();
        let _ = writeln!(
            page,
            "| {} | {} | {} | {} |",
            kind.name,
            list(standard),
            list(others),
            spellings.join("; ")
        );
    }
}

/// Every standard channel, from the dictionary.
fn channels(page: &mut String) {
    page.push_str(
        "\n## Standard channel names\n\nWhat `run`, `needs` and the cases know, each with its standard unit; one without a unit is a count or a switch. A name with \
         a number or letter is a family.\n\n| name | unit | what it is |\n| --- | --- | --- |\n",
    );
    for entry in dictionary::entries() {
        let family = FAMILIES
            .iter()
            .find(|(_, stem)| *stem == format!("{}_", entry.name));
        let name = match family {
            _ if !entry.family => format!("`{}`", entry.name),
            Some((family, _)) => format!("`{}` and on; all: `run.{family}`", entry.member(1)),
            None => format!("`{}` and on", entry.member(1)),
        };
        let about = entry.about.trim_end_matches('.');
        let _ = writeln!(page, "| {name} | {} | {about} |", entry.unit);
    }
}

fn describe(f: &Function, first: &str) -> (&'static str, String, String) {
    // A method works on its first value in place; verdicts alone are handed on. All else is a call like any function.
    let in_place = first.trim().starts_with("&mut");
    let first = plain(first);
    let on = if in_place || first == "Verdict" {
        first.as_str()
    } else {
        ""
    };
    let group = match on {
        "Column" => "Columns",
        "Truth" => "Truths",
        "Spans" => "Spans",
        "Family" => "Families",
        "Table" => "Tables",
        "Run" => "The run",
        "Limits" => "Limits",
        "Verdict" => "Verdicts",
        "Quantity" => "Quantities",
        "Comm" => "Comms",
        "Own" => "Checks of your own",
        "ReviewOf" => "Reviews in a notebook",
        "Tried" => "Findings in a notebook",
        _ => CALLS,
    };
    let result = plain(&f.return_type);
    let arrow = if result.is_empty() || result == "()" {
        String::new()
    } else {
        format!(" -> {result}")
    };
    if let Some(property) = f.name.strip_prefix("get$") {
        return (group, on.to_string(), format!(".{property}{arrow}"));
    }
    if f.name.starts_with("index$get") {
        return (group, on.to_string(), format!(".name{arrow}"));
    }
    let method = group != CALLS;
    let params: Vec<String> = f
        .params
        .iter()
        .skip(usize::from(method))
        .map(|p| {
            format!(
                "{}: {}",
                p.name.as_deref().unwrap_or("_"),
                plain(p.kind.as_deref().unwrap_or("any"))
            )
        })
        .collect();
    let dot = if method { "." } else { "" };
    (
        group,
        on.to_string(),
        format!("{dot}{}({}){arrow}", f.name, params.join(", ")),
    )
}

/// Rust's names of types in the words of the language.
fn plain(kind: &str) -> String {
    let kind = kind
        .trim()
        .trim_start_matches('&')
        .trim_start_matches("mut ")
        .trim();
    let kind = kind
        .rsplit("Outcome<")
        .next()
        .unwrap_or(kind)
        .trim_end_matches('>');
    let kind = kind
        .split("Result<")
        .last()
        .unwrap_or(kind)
        .split(',')
        .next()
        .unwrap_or(kind);
    let kind = kind.rsplit("::").next().unwrap_or(kind).trim();
    match kind {
        "i64" | "INT" => "whole number".to_string(),
        "f64" | "FLOAT" => "number".to_string(),
        "str" | "String" | "ImmutableString" => "text".to_string(),
        "Array" => "list".to_string(),
        "Map" => "map".to_string(),
        "Dynamic" | "?" => "any".to_string(),
        other => other.to_string(),
    }
}
