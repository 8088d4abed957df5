//! What went wrong in a cell: the place with a caret under it, what is wrong, and what to do.

use rhai::{EvalAltResult, ParseErrorType, Position};

use super::functions::{Cell, Functions};
use crate::dsl::ScriptError;
use crate::findings::Text;

/// A cell that did not come to its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CellError {
    /// The kind, one word: `Syntax`, `Mistake`, `Stopped`, `TooMuch`, `Ours`.
    pub kind: &'static str,
    /// What is wrong, one sentence.
    pub what: String,
    /// Where.
    pub place: Option<Box<Place>>,
    /// What to do.
    pub help: Option<String>,
}

/// A place in a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The cell: `cell [3]`.
    pub cell: String,
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// The line's text.
    pub text: String,
}

impl CellError {
    /// One without a place.
    pub fn general(kind: &'static str, what: impl Into<String>) -> CellError {
        CellError {
            kind,
            what: what.into(),
            place: None,
            help: None,
        }
    }
    /// The person stopped it.
    pub fn stopped() -> CellError {
        let mut error = CellError::general("Stopped", "the cell was stopped");
        error.help = Some("all names hold what they held before it".to_string());
        error
    }
    /// From what the engine says of a cell that failed, or was not even language.
    pub fn of(error: &EvalAltResult, cell: &Cell, functions: &Functions) -> CellError {
        let (mut inner, mut position, mut cell) = (error, error.position(), cell);
        while let EvalAltResult::ErrorInFunctionCall(name, _, deeper, _) = inner {
            if let Some(home) = functions.cell_of(name) {
                cell = home;
            }
            inner = deeper;
            if !inner.position().is_none() {
                position = inner.position();
            }
        }
        let told = ScriptError::run(&cell.name, error);
        let kind = match inner {
            EvalAltResult::ErrorParsing(..) => "Syntax",
            EvalAltResult::ErrorTerminated(..) => "Stopped",
            EvalAltResult::ErrorTooManyOperations(..)
            | EvalAltResult::ErrorStackOverflow(..)
            | EvalAltResult::ErrorTooManyVariables(..)
            | EvalAltResult::ErrorDataTooLarge(..) => "TooMuch",
            _ => "Mistake",
        };
        let (what, help) = match inner {
            EvalAltResult::ErrorParsing(kind, _) => syntax(kind),
            EvalAltResult::ErrorTooManyOperations(..) => (
                "this goes on and on: it was stopped after its share of steps".to_string(),
                Some("a loop that never ends? Columns need none: `run.rpm > limit` looks at every sample".to_string()),
            ),
            EvalAltResult::ErrorStackOverflow(..) => (
                "functions call each other without an end".to_string(),
                Some("let the function come back before it calls itself again".to_string()),
            ),
            EvalAltResult::ErrorTooManyModules(_) => (
                "nothing can be imported here".to_string(),
                Some("functions of other cells are there by their names; load_check reads a check file".to_string()),
            ),
            EvalAltResult::ErrorDataRace(..) => (
                "a function without a name uses something that is at work at that moment".to_string(),
                Some("give the list a name of its own first: not `run.egt.columns.map(|c| ... run ...)`, but `let list = run.egt.columns; list.map(|c| ... run ...)`".to_string()),
            ),
            EvalAltResult::ErrorDataTooLarge(what, _) => (
                match what.as_str() {
                    w if w.contains("array") => "a list grows without an end".to_string(),
                    w if w.contains("map") => "a map grows without an end".to_string(),
                    _ => "a text grows without an end".to_string(),
                },
                Some("keep columns and their statistics, not a list of samples".to_string()),
            ),
            _ => (Text::parse(&told.what).standard(), None),
        };
        CellError {
            kind,
            what,
            place: place(cell, position),
            help,
        }
    }
    /// All in one line, as replies carry it.
    pub fn line(&self) -> String {
        let place = self.place.as_ref().map_or_else(String::new, |p| {
            format!("{}, line {}, column {}: ", p.cell, p.line, p.column)
        });
        format!("{place}{}", self.what)
    }
    /// As a front end shows it, a line each.
    pub fn lines(&self) -> Vec<String> {
        let mut lines = vec![format!("\u{1b}[1;31m{}\u{1b}[0m: {}", self.kind, self.what)];
        if let Some(place) = &self.place {
            let number = place.line.to_string();
            let room = " ".repeat(number.len());
            lines.push(format!(
                "{room}--> {}, line {}, column {}",
                place.cell, place.line, place.column
            ));
            lines.push(format!("{number} | {}", place.text.trim_end()));
            // Tabs stay tabs, so that the caret stands where the eye expects it.
            let before: String = place
                .text
                .chars()
                .take(place.column - 1)
                .map(|c| if c == '\t' { '\t' } else { ' ' })
                .collect();
            lines.push(format!("{room} | {before}\u{1b}[1;31m^\u{1b}[0m"));
        }
        lines.extend(self.help.iter().map(|h| format!("help: {h}")));
        lines
    }
}

fn place(cell: &Cell, position: Position) -> Option<Box<Place>> {
    let line = position.line()?;
    Some(Box::new(Place {
        cell: cell.name.clone(),
        line,
        column: position.position().unwrap_or(1).max(1),
        text: cell.text.lines().nth(line - 1).unwrap_or("").to_string(),
    }))
}

fn syntax(kind: &ParseErrorType) -> (String, Option<String>) {
    match kind {
        ParseErrorType::VariableUndefined(name) => (
            format!("nothing is called `{name}`"),
            Some(format!("`let {name} = ...` gives something that name")),
        ),
        ParseErrorType::MissingToken(token, _) if token == ";" => (
            "a semicolon is missing before this".to_string(),
            Some("each statement but the last ends with a semicolon".to_string()),
        ),
        ParseErrorType::UnexpectedEOF => (
            "the cell ends in the middle of something".to_string(),
            Some("close what was opened: a bracket, a brace, a text".to_string()),
        ),
        other => (format!("this is not the language: {other}"), None),
    }
}
