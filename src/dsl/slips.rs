//! What the engine says of a script that is wrong, in words for the person who wrote it: what is wrong, and what would be
//! right.

use rhai::{EvalAltResult, LexError, ParseErrorType};

use super::calls::{kind, no_property, not_found, undefined};
use super::foreign;
use crate::sheet::nearest;

/// What is wanted where nothing stands.
const VALUE: &str = "a value: a name, a figure, a text, or a call that gives one";

pub use super::calls::a_kind;

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
        EvalAltResult::ErrorIndexingType(on, _) => {
            let on = on.split(" [").next().unwrap_or(on);
            match kind(on).as_str() {
                "Family" => with(
                    "a family is not counted off with [ ]",
                    "a member by its name, `run.egt_1`, or by its place in the list of members, `family.columns[0]`",
                ),
                "Column" => with(
                    "no single sample is taken out of a column",
                    "a figure of it, `.max()` or `.median()`, or a part of it, `.during(spans)`",
                ),
                _ => (
                    format!("nothing is taken out of {} with [ ]", a_kind(on)),
                    None,
                ),
            }
        }
        EvalAltResult::ErrorFor(_) => with(
            "this is no list to go through",
            "a list: `family.columns`, `family.medians()`, `table.rows()`, `0..3`; a column needs no loop: `run.rpm > limit` looks at every sample",
        ),
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

/// The name in the script that was probably meant by one that is not there.
pub fn near_in_script(what: &str, script: &str) -> Option<String> {
    let quoted = |from: &str| what.split_once(from)?.1.split(['`', ' ']).next();
    let name = quoted("nothing is called `")
        .filter(|_| !what.ends_with("by itself") && !what.ends_with("in this function"))
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
    let near = nearest(name, others).map(str::to_string);
    // What a map of the language holds stands in no script.
    let of_map = || {
        let sheet = crate::sheet::SCHEMA.iter().map(crate::sheet::Entry::key);
        let rows = [
            "median", "seconds", "visits", "label", "cylinder", "position", "offset", "value",
        ];
        nearest(name, sheet.chain(rows)).map(str::to_string)
    };
    let near = near.or_else(|| what.ends_with("in this map").then(of_map).flatten());
    near.map(|near| format!("did you mean `{near}`?"))
}

#[cfg(test)]
mod tests;
