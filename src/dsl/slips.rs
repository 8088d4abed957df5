//! What the engine says of a script that is wrong, in words for the person who wrote it: what is wrong, and what would be
//! right.

use std::sync::OnceLock;

use rhai::{EvalAltResult, LexError, ParseErrorType};

use super::engine::{Bounds, StopFlag, engine};
use super::foreign;
use super::reference::{Word, words};
use crate::sheet::nearest;

/// What is wanted where nothing stands.
const VALUE: &str = "a value: a name, a figure, a text, or a call that gives one";

/// How every sentence on a text begins that is no script.
pub const NO_LANGUAGE: &str = "this is not the language: ";

/// What is wrong, and what would be right.
pub type Told = (String, Option<String>);

fn with(what: impl Into<String>, wanted: &str) -> Told {
    (what.into(), Some(wanted.to_string()))
}

/// Of a script that failed while it ran. The words of the language part what is wrong from what would be right by a line
/// end.
pub fn told(error: &EvalAltResult) -> Told {
    match error {
        EvalAltResult::ErrorParsing(kind, _) => syntax(kind),
        EvalAltResult::ErrorRuntime(value, _) => {
            let said = value.to_string();
            match said.trim().split_once('\n') {
                _ if said.trim().is_empty() => ("it gave up without a word".to_string(), None),
                Some((what, wanted)) if !wanted.contains('\n') => with(what, wanted),
                _ => (said, None),
            }
        }
        EvalAltResult::ErrorTerminated(reason, _) => (reason.to_string(), None),
        EvalAltResult::ErrorFunctionNotFound(call, _) => not_found(call),
        EvalAltResult::ErrorVariableNotFound(name, _) => undefined(name),
        EvalAltResult::ErrorPropertyNotFound(name, _) => with(
            format!("there is no `{name}` in this map"),
            &format!(
                "one of the names that it was given between #{{ and }}; `\"{name}\" in map` asks first"
            ),
        ),
        EvalAltResult::ErrorDotExpr(said, _) => no_property(said),
        EvalAltResult::ErrorArrayBounds(0, ..) => with(
            "this list is empty, so nothing can be taken out of it",
            "ask is_empty() first",
        ),
        EvalAltResult::ErrorArrayBounds(len, index, _) => with(
            format!("there is no [{index}] in a list of {len}"),
            &format!("0 to {}; len() says how many there are", len - 1),
        ),
        EvalAltResult::ErrorMismatchDataType(wanted, got, _) if got.is_empty() => {
            (format!("{} is wanted here", a_kind(wanted)), None)
        }
        EvalAltResult::ErrorMismatchDataType(wanted, got, _)
            if kind(got) == "Truth" && wanted.ends_with("bool") =>
        {
            with(
                "a comparison of a column is yes or no at each moment, not once for all",
                "`.lasting(hold)` or `.spans()` behind it, then `.is_empty()`: `if !(a > b).spans().is_empty() { ... }`; `&`, `|` and `!` join such comparisons",
            )
        }
        EvalAltResult::ErrorMismatchDataType(wanted, got, _) => with(
            format!("this is {}", a_kind(got)),
            &format!("{} in this place", a_kind(wanted)),
        ),
        EvalAltResult::ErrorMismatchOutputType(wanted, got, _) => {
            let wanted = match kind(wanted) {
                verdict if verdict == "Verdict" => "a verdict at the end of every way through: pass(...), warn(...), no_occasion(...), missing(...) or not_fitted(...)".to_string(),
                map if map == "map" => "a map: #{ title: \"...\", needs: [...] }".to_string(),
                other => other,
            };
            with(format!("what comes out is {}", a_kind(got)), &wanted)
        }
        EvalAltResult::ErrorTooManyOperations(_) => with(
            "this goes on and on: it was stopped after its share of steps",
            "no loop over samples: columns need none, `run.rpm > limit` looks at every sample",
        ),
        EvalAltResult::ErrorStackOverflow(_) => with(
            "functions call each other without an end (stack overflow)",
            "let the function come back before it calls itself again",
        ),
        EvalAltResult::ErrorTooManyVariables(_) => {
            ("there are too many variables at once".to_string(), None)
        }
        EvalAltResult::ErrorTooManyModules(_) | EvalAltResult::ErrorModuleNotFound(..) => with(
            "nothing can be imported here",
            "all of a check in its one file; the words of the language are there without importing",
        ),
        EvalAltResult::ErrorDataRace(..) => with(
            "a function without a name uses something that is at work at that moment",
            "a name of its own for the list first: not `run.egt.columns.map(|c| ... run ...)`, but `let list = run.egt.columns; list.map(|c| ... run ...)`",
        ),
        EvalAltResult::ErrorDataTooLarge(what, _) => {
            let what = match what.to_lowercase() {
                w if w.contains("array") => "list",
                w if w.contains("map") => "map",
                _ => "text",
            };
            with(
                format!("a {what} grows without an end: it is too large"),
                "columns and their statistics, not a list of samples",
            )
        }
        EvalAltResult::ErrorAssignmentToConstant(name, _) => with(
            format!("`{name}` never changes, and something is written into it here"),
            "a `let` of its own for what changes",
        ),
        other => (plain(&other.to_string()), None),
    }
}

/// Without the engine's own words for the place.
fn plain(said: &str) -> String {
    said[..said.rfind(" (line ").unwrap_or(said.len())].to_string()
}

/// Of a script that is not even language.
pub fn syntax(error: &ParseErrorType) -> Told {
    let not = |what: &str| format!("{NO_LANGUAGE}{what}");
    match error {
        ParseErrorType::VariableUndefined(name) => undefined(name),
        ParseErrorType::MissingToken(token, _) if token == ";" => with(
            "a semicolon is missing before this",
            "each statement but the last ends with a semicolon",
        ),
        ParseErrorType::MissingToken(_, why) if why.contains("iteration variable") => with(
            not("a `for` goes through a list"),
            "`for item in list { ... }`, or `for i in 0..3 { ... }`",
        ),
        ParseErrorType::MissingToken(token, _) if token == "{" => with(
            not("`{` is missing before this"),
            "what is to be done stands between `{` and `}`: `if a < b { ... }`",
        ),
        ParseErrorType::MissingToken(token, _)
            if [")", "]", "}", ","].contains(&token.as_str()) =>
        {
            with(
                not("this does not follow from what stands before it"),
                &format!(
                    "an operator such as + or < between the two, a `,` between two values, or `{token}` to close what is open"
                ),
            )
        }
        ParseErrorType::MissingToken(token, why) => (
            not(&format!("`{token}` is missing")),
            Some(why.trim().to_string()).filter(|why| !why.is_empty()),
        ),
        ParseErrorType::UnexpectedEOF => with(
            not("the text ends in the middle of something"),
            "close what was opened: a bracket, a brace, a text",
        ),
        ParseErrorType::BadInput(LexError::UnterminatedString) => with(
            not("a text is opened here and not closed on its line"),
            "a \" where it ends; a text over several lines stands between two `",
        ),
        ParseErrorType::BadInput(LexError::ImproperSymbol(sign, why)) => foreign::sign(sign)
            .unwrap_or_else(|| {
                (
                    not(&format!("`{sign}` means nothing here")),
                    Some(why.clone()).filter(|why| !why.is_empty()),
                )
            }),
        ParseErrorType::UnknownOperator(sign) if foreign::sign(sign).is_some() => {
            foreign::sign(sign).unwrap_or_default()
        }
        ParseErrorType::Reserved(sign) if foreign::sign(sign).is_some() => {
            foreign::sign(sign).unwrap_or_default()
        }
        ParseErrorType::BadInput(LexError::MalformedChar(inside)) => with(
            not("a text stands between two \", not between two '"),
            &format!("\"{inside}\""),
        ),
        ParseErrorType::BadInput(LexError::UnexpectedInput(sign))
            if [";", ")", "]", "}", ","].contains(&sign.as_str()) =>
        {
            with(not(&format!("something is missing before `{sign}`")), VALUE)
        }
        ParseErrorType::BadInput(LexError::UnexpectedInput(sign)) => (
            not(&format!("`{sign}` means nothing here")),
            sign.contains(['“', '”', '„', '‘', '’'])
                .then(|| "straight quotes: \"".to_string()),
        ),
        ParseErrorType::Reserved(word) if word == "eval" => (
            not("`eval` is not to be had here"),
            Some("the words of the language itself: a text is never run".to_string()),
        ),
        ParseErrorType::Reserved(word) => with(
            not(&format!(
                "`{word}` is a word that the language keeps for itself"
            )),
            "another name",
        ),
        ParseErrorType::ExprExpected(_) => with(not("something is missing here"), VALUE),
        ParseErrorType::DuplicatedProperty(name) => with(
            not(&format!("`{name}` is given twice in this map")),
            "each name once",
        ),
        ParseErrorType::FnDuplicatedDefinition(name, _) => with(
            not(&format!(
                "there are two functions `{name}` that take as much"
            )),
            "each name once",
        ),
        ParseErrorType::FnMissingParams(name) => with(
            not(&format!("`fn {name}` does not say what it takes")),
            &format!("`fn {name}()`, or names between the brackets"),
        ),
        ParseErrorType::WrongFnDefinition => with(
            not("a function is written inside of something else"),
            "each `fn` by itself, outside of all braces",
        ),
        ParseErrorType::ExprTooDeep => with(
            not("this is nested too deep"),
            "parts of it in variables of their own",
        ),
        other => (not(&other.to_string()), None),
    }
}

fn undefined(name: &str) -> Told {
    if ["run", "limits"].contains(&name) {
        return with(
            format!("`{name}` is not known in this function"),
            &format!(
                "`fn judge(run, limits)` is handed it, with both names; any other function takes it as well: `fn mine({name})`"
            ),
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
fn not_found(call: &str) -> Told {
    let (name, kinds) = call.split_once(" (").unwrap_or((call, ""));
    let kinds: Vec<String> = kinds
        .trim_end_matches(')')
        .split(", ")
        .filter(|k| !k.is_empty())
        .map(kind)
        .collect();
    if let ([a, b], false) = (kinds.as_slice(), name.starts_with(char::is_alphabetic)) {
        return with(
            format!("`{name}` cannot work on {a} and {b}: there is no `{name}` for these"),
            "two values that go together: figures, quantities, columns, of units that fit",
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
    // Of words with that name those come first that work on what stands in front.
    let group = |w: &&Word| !w.after_dot() || !w.on.starts_with(first) || first.is_empty();
    let mut same: Vec<&Word> = all_words().iter().filter(|w| w.name == name).collect();
    same.sort_by_key(group);
    let same: Vec<&str> = same.iter().map(|w| w.call.as_str()).take(3).collect();
    let wanted = if same.is_empty() {
        let own = all_words()
            .iter()
            .filter(|w| !group(w))
            .map(|w| w.name.as_str());
        let near = nearest(name, own);
        let near = near.or_else(|| nearest(name, all_words().iter().map(|w| w.name.as_str())));
        near.map_or_else(
            || "a word of the language (scripts/LANGUAGE.md), or a `fn` of this script with as many values".to_string(),
            |near| format!("did you mean `{near}`?"),
        )
    } else {
        format!("it goes like this: {}", same.join("  or  "))
    };
    (what, Some(wanted))
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
fn no_property(said: &str) -> Told {
    let quoted: Vec<&str> = said.split('\'').skip(1).step_by(2).collect();
    match quoted.as_slice() {
        [name, on, ..] => no_member(&kind(on), name),
        _ => (plain(said), None),
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
fn kind(name: &str) -> String {
    let short = name.rsplit("::").next().unwrap_or(name).trim();
    match short {
        "&str | ImmutableString | String" | "ImmutableString" | "string" | "&str" => "text",
        "i64" => "whole number",
        "f64" => "number",
        "()" => "nothing: ()",
        "bool" => "true or false",
        "array" | "Array" => "list",
        "Map" => "map",
        other => other,
    }
    .to_string()
}

/// The name in the script that was probably meant by one that is not there.
pub fn near_in_script(what: &str, script: &str) -> Option<String> {
    let quoted = |from: &str| what.split_once(from)?.1.split(['`', ' ']).next();
    let name = quoted("nothing is called `")
        .or_else(|| quoted("there is no `").filter(|_| what.ends_with("in this map")))
        .or_else(|| {
            // Functions of the script itself come before words of the language only where they are nearer than those.
            let name = quoted("there is no `").filter(|_| what.ends_with(")`"))?;
            let own = script.split("fn ").skip(1);
            let own = own.filter_map(|rest| rest.split('(').next()).map(str::trim);
            own.clone()
                .any(|own| nearest(name, [own]).is_some())
                .then_some(name)
        })?;
    let is_function = what.ends_with(")`");
    let names: Vec<&str> = if is_function {
        let own = script.split("fn ").skip(1);
        own.filter_map(|rest| rest.split('(').next())
            .map(str::trim)
            .collect()
    } else {
        script
            .split(|c: char| !(c.is_alphanumeric() || c == '_'))
            .collect()
    };
    let others = names
        .into_iter()
        .filter(|other| *other != name && other.len() > 1);
    nearest(name, others).map(|near| format!("did you mean `{near}`?"))
}

#[cfg(test)]
mod tests;
