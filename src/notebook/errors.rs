//! What went wrong in a cell: the place with a caret under it, what is wrong, and what to do.

use rhai::{EvalAltResult, Position};

use super::functions::{Cell, Functions};
use crate::diagnostic::{Diagnostic, Spot};
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
    /// Where in it, with the line's text.
    pub spot: Spot,
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
        let kind = match inner {
            EvalAltResult::ErrorParsing(..) => "Syntax",
            EvalAltResult::ErrorTerminated(..) => "Stopped",
            EvalAltResult::ErrorTooManyOperations(..)
            | EvalAltResult::ErrorStackOverflow(..)
            | EvalAltResult::ErrorTooManyVariables(..)
            | EvalAltResult::ErrorDataTooLarge(..) => "TooMuch",
            _ => "Mistake",
        };
        let place = place(cell, position);
        // Names of other cells are found by whoever knows the session.
        let told = ScriptError::run(&cell.name, error);
        CellError {
            kind,
            what: Text::parse(&told.what).standard(),
            place: place.map(Box::new),
            help: told.wanted,
        }
    }
    fn told(&self) -> Diagnostic<'_> {
        let place = self.place.as_deref();
        Diagnostic {
            file: place.map_or(self.kind, |p| p.cell.as_str()),
            spot: place.map(|p| &p.spot),
            what: &self.what,
            wanted: self.help.as_deref(),
        }
    }
    /// All in one line, as replies carry it.
    pub fn line(&self) -> String {
        match &self.place {
            Some(_) => self.told().head(),
            None => self.what.clone(),
        }
    }
    /// As a front end shows it, a line each: the head and the mark in red.
    pub fn lines(&self) -> Vec<String> {
        let red = |text: &str| format!("\u{1b}[1;31m{text}\u{1b}[0m");
        let mut lines = self.told().lines();
        if let Some(head) = lines.first_mut()
            && let Some(place) = head.strip_suffix(&format!(": {}", self.what))
        {
            *head = format!("{}: {}", red(place), self.what);
        }
        if let (Some(_), Some(marks)) = (&self.place, lines.get_mut(2))
            && let Some(at) = marks.find('^')
        {
            *marks = format!("{}{}", &marks[..at], red(&marks[at..]));
        }
        lines
    }
}

fn place(cell: &Cell, position: Position) -> Option<Place> {
    let spot = Spot::at(
        &cell.text,
        position.line()?,
        position.position().unwrap_or(1),
    )?;
    Some(Place {
        cell: cell.name.clone(),
        spot,
    })
}
