//! What is said of a call, a property or a name that is not there: what the value in front of it has, and what was probably
//! meant.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use super::engine::{Bounds, StopFlag, engine};
use super::reference::{Word, words};
use super::slips::Told;
use crate::sheet::nearest;

fn with(what: impl Into<String>, wanted: &str) -> Told {
    (what.into(), Some(wanted.to_string()))
}

/// Of a name that nobody gave a value.
pub fn undefined(name: &str) -> Told {
    if ["run", "limits"].contains(&name) {
        return with(
            format!("nothing is called `{name}` in this function"),
            &format!(
                "`fn judge(run, limits)` is handed it, with both names; any other function takes it as well: `fn mine({name})`"
            ),
        );
    }
    let of_run = |w: &Word| w.on == "Run" && w.name == name;
    if super::names::is_known(name) || all_words().iter().any(of_run) {
        return with(
            format!("nothing is called `{name}` by itself"),
            &format!("`run.{name}`"),
        );
    }
    with(
        format!("nothing is called `{name}`"),
        &format!(
            "`let {name} = ...` further up; a function sees only what it is handed and what it makes itself"
        ),
    )
}

fn all_words() -> &'static [Word] {
    static WORDS: OnceLock<Vec<Word>> = OnceLock::new();
    WORDS.get_or_init(|| words(&engine(Bounds::default(), StopFlag::default())))
}

/// The types that were given are named, since a slip in a type is what most often lies behind it.
pub fn not_found(call: &str) -> Told {
    let (name, kinds) = call.split_once(" (").unwrap_or((call, ""));
    let kinds: Vec<String> = kinds
        .strip_suffix(')')
        .unwrap_or(kinds)
        .split(", ")
        .filter(|k| !k.is_empty())
        .map(kind)
        .collect();
    if let ([a, b], false) = (kinds.as_slice(), name.starts_with(char::is_alphabetic)) {
        let spans = a == "Spans" && b == "Spans";
        return with(
            format!("`{name}` cannot work on {a} and {b}: there is no `{name}` for these"),
            if spans {
                "`.and(other)`, `.or(other)` and `.except(other)` join spans"
            } else {
                "two values that go together: figures, quantities, columns, of units that fit"
            },
        );
    }
    let what = format!("there is no `{name} ({})`", kinds.join(", "));
    if let Some(name) = name.strip_prefix("get$") {
        return no_member(kinds.first().map_or("value", String::as_str), name);
    }
    if kinds.iter().any(|kind| kind == "char") {
        return with(
            "what stands between two ' is a single letter, no text",
            "a text between two \"",
        );
    }
    let first = kinds.first().map_or("", String::as_str);
    if first == "Family" {
        return no_word_of_family(name);
    }
    if let ("Run", [_, kind]) = (first, kinds.as_slice())
        && kind == "text"
        && !all_words().iter().any(|w| w.name == name)
    {
        return with(
            what,
            "a channel by its name is `run.rpm`, or `run[\"rpm\"]`; `run.has(\"rpm\")` asks whether it is there",
        );
    }
    let own = |w: &&Word| w.after_dot() && w.on == first;
    let same: Vec<&Word> = all_words().iter().filter(|w| w.name == name).collect();
    let fit: Vec<&Word> = same
        .iter()
        .copied()
        .filter(|w| !w.after_dot() || w.on == first)
        .collect();
    if !fit.is_empty() {
        let calls: Vec<&str> = fit.iter().map(|w| w.call.as_str()).take(3).collect();
        let said = format!("it goes like this: {}", calls.join("  or  "));
        return (what, Some(format!("{said}{}", how(&calls, &kinds))));
    }
    let names = all_words().iter().filter(own).map(|w| w.name.as_str());
    let names: BTreeSet<&str> = names.collect();
    let wanted = if let Some(near) = nearest(name, names.iter().copied()) {
        format!("did you mean `{near}`?")
    } else if let Some(other) = same.first() {
        let way = match (first, other.on.as_str()) {
            ("Truth", "Spans") => ": `.lasting(hold)` or `.spans()` makes Spans of it",
            ("Spans", "Column") => {
                ": `column.during(spans)` is the part of a column inside of them"
            }
            ("list", _) => {
                ": `for item in list { ... }` goes through it, `median_of(list)` is its median"
            }
            ("nothing: ()", _) => ": nobody filled it in; `if it == () { ... }` asks first",
            _ => "",
        };
        format!(
            "`{name}` works on {}, and this is {}{way}",
            an(&other.on),
            an(first)
        )
    } else if VERDICT.contains(&name) {
        "a verdict: pass(...), warn(...), no_occasion(...), missing(...) or not_fitted(...)"
            .to_string()
    } else if let Some(near) = nearest(name, all_words().iter().map(|w| w.name.as_str())) {
        format!("did you mean `{near}`?")
    } else if names.is_empty() {
        "a word of the language (scripts/LANGUAGE.md), or a `fn` of this script with as many values"
            .to_string()
    } else if names.len() > 24 {
        format!("scripts/LANGUAGE.md lists what {} has", an(first))
    } else {
        let names: Vec<&str> = names.into_iter().collect();
        format!("{} has {}", an(first), names.join(", "))
    };
    (what, Some(wanted))
}

/// What others call a verdict.
const VERDICT: [&str; 7] = ["fail", "error", "ok", "alert", "alarm", "bad", "good"];

/// A type with its article.
fn an(on: &str) -> String {
    match on {
        "Spans" | "Limits" => on.to_string(),
        on => a_kind(on),
    }
}

/// How a value of the wanted kind is written, where another was given.
fn how(calls: &[&str], given: &[String]) -> String {
    let wants = |kind: &str| calls.iter().any(|call| call.contains(&format!(": {kind}")));
    let gives = |kind: &str| given.iter().skip(1).any(|k| k == kind);
    let has = |kind: &str| given.iter().any(|k| k == kind);
    if wants("Quantity") && !has("Quantity") && (has("number") || has("whole number")) {
        "; a Quantity is a figure with its unit: quantity(5, \"s\")"
    } else if wants("Spans") && gives("text") {
        "; Spans of a phase are run.during(\"running\")"
    } else if wants("Spans") && gives("Truth") {
        "; `.lasting(hold)` or `.spans()` makes Spans of a comparison"
    } else if wants("list") && !gives("list") {
        "; a list stands between [ and ]"
    } else if gives("Column") && !wants("Column") {
        "; a figure of a column is `.max()`, `.min()`, `.median()`"
    } else {
        ""
    }
    .to_string()
}

/// A family is several columns: what works on one column does not work on it.
fn no_word_of_family(name: &str) -> Told {
    let of_family = |w: &&Word| w.after_dot() && w.on == "Family";
    let own: Vec<&str> = all_words()
        .iter()
        .filter(of_family)
        .map(|w| w.name.as_str())
        .collect();
    let what = format!("a family has no `{name}`: it is several columns side by side");
    let of_column = all_words()
        .iter()
        .find(|w| w.on == "Column" && w.name == name);
    let wanted = match (
        own.contains(&name),
        nearest(name, own.iter().copied()),
        of_column,
    ) {
        // Its name is right, what it is given is not.
        (true, ..) => {
            let calls = all_words()
                .iter()
                .filter(of_family)
                .filter(|w| w.name == name);
            let calls: Vec<&str> = calls.map(|w| w.call.as_str()).collect();
            return with(
                format!("`{name}` of a family is given something else here than it takes"),
                &format!("it goes like this: {}", calls.join("  or  ")),
            );
        }
        (_, _, Some(_)) => format!(
            "one column of it: `.highest().{name}(...)`, `.lowest()`, `.median_across()`, or a member such as `run.egt_1.{name}(...)`; a family itself has {}",
            own.join(", ")
        ),
        (_, Some(near), _) => format!("did you mean `{near}`? A family has {}", own.join(", ")),
        _ => format!("a family has {}", own.join(", ")),
    };
    with(what, &wanted)
}

/// From the engine's sentence on a property that a type has not.
pub fn no_property(said: &str) -> Told {
    let quoted: Vec<&str> = said.split('\'').skip(1).step_by(2).collect();
    match quoted.as_slice() {
        [name, on, ..] if said.contains("setter") => match kind(on).as_str() {
            "Limits" => with(
                format!("the limit `{name}` is not changed in a script"),
                &format!(
                    "`let {name} = limits.{name};` for a figure of your own; a build sheet changes the limit itself"
                ),
            ),
            on => with(
                format!("`{name}` of {} is only read", an(on)),
                "a `let` of its own for what changes",
            ),
        },
        [name, on, ..] => no_member(&kind(on), name),
        _ => (
            said[..said.rfind(" (line ").unwrap_or(said.len())].to_string(),
            None,
        ),
    }
}

fn no_member(on: &str, name: &str) -> Told {
    if on == "Family" {
        return no_word_of_family(name);
    }
    let own = |w: &&Word| w.after_dot() && w.on == on;
    let any = |w: &&Word| w.after_dot();
    let near_of = |among: &dyn Fn(&&Word) -> bool| {
        let names = all_words().iter().filter(|w| among(w));
        nearest(name, names.map(|w| w.name.as_str()))
    };
    let near = near_of(&own);
    let among: &dyn Fn(&&Word) -> bool = if near.is_some() { &own } else { &any };
    let near = near.or_else(|| near_of(&any));
    let call = near.and_then(|near| all_words().iter().find(|w| among(w) && w.name == near));
    (
        format!("{on} has no `{name}`"),
        call.map(|word| format!("did you mean `{}`?", word.call)),
    )
}

/// A type in words, as a sentence says it: `a text`.
pub fn a_kind(name: &str) -> String {
    match kind(name) {
        as_it_is if as_it_is.starts_with("nothing") || as_it_is.starts_with("true") => as_it_is,
        other => format!("a {other}"),
    }
}

/// A type in words.
pub fn kind(name: &str) -> String {
    let short = name.rsplit("::").next().unwrap_or(name).trim();
    match short {
        "&str | ImmutableString | String" | "ImmutableString" | "string" | "&str" => "text",
        "i64" => "whole number",
        "f64" => "number",
        "()" | "(" => "nothing: ()",
        "bool" => "true or false",
        "array" | "Array" => "list",
        "Map" => "map",
        other => other,
    }
    .to_string()
}
