//! Where and why a script failed.

use std::fmt;

use rhai::{EvalAltResult, ParseError, Position};

use super::slips;
use crate::diagnostic::{Diagnostic, Spot};
use crate::findings::Text;

/// Where and why a script failed. `Display` tells it in one line; [`ScriptError::shown`] with the line of the script.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct ScriptError {
    /// The script's file name.
    pub file: String,
    /// Line from 1; 0 where the engine names none.
    pub line: usize,
    /// Column from 1; 0 where the engine names none.
    pub column: usize,
    /// What went wrong, in one sentence.
    pub what: String,
    /// What would be right.
    pub wanted: Option<String>,
    /// The line of the script, once it is known.
    pub spot: Option<Box<Spot>>,
}

impl fmt::Display for ScriptError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.file)?;
        if self.line > 0 {
            write!(out, ", line {}, column {}", self.line, self.column)?;
        }
        write!(out, ": {}", self.what)?;
        match &self.wanted {
            Some(wanted) => write!(out, "; wanted: {wanted}"),
            None => Ok(()),
        }
    }
}

impl ScriptError {
    /// One without a place.
    pub fn general(file: &str, what: impl Into<String>) -> ScriptError {
        ScriptError::at(file, Position::NONE, (what.into(), None))
    }

    fn at(file: &str, position: Position, (what, wanted): (String, Option<String>)) -> ScriptError {
        ScriptError {
            file: file.to_string(),
            line: position.line().unwrap_or(0),
            column: position.position().unwrap_or(0),
            what,
            wanted,
            spot: None,
        }
    }

    /// From a script that does not parse.
    pub fn parse(file: &str, error: &ParseError) -> ScriptError {
        ScriptError::at(file, error.position(), slips::syntax(error.err_type()))
    }

    /// From a script that failed while it ran: the place is the innermost one in the script itself.
    pub fn run(file: &str, error: &EvalAltResult) -> ScriptError {
        let (mut inner, mut position) = (error, error.position());
        while let EvalAltResult::ErrorInFunctionCall(_, _, deeper, _) = inner {
            inner = deeper;
            if !inner.position().is_none() {
                position = inner.position();
            }
        }
        ScriptError::at(file, position, slips::told(inner))
    }

    /// The same with the line of the script, and the name in it that was probably meant.
    #[must_use]
    pub fn within(mut self, script: &str) -> ScriptError {
        if let Some(spot) = Spot::at(script, self.line, self.column) {
            self.column = spot.column;
            self.spot = Some(Box::new(spot));
        }
        // What is open at the end misses more than a semicolon.
        let rest = script
            .split('\n')
            .skip(self.line)
            .all(|line| line.trim().is_empty());
        let at_end = self
            .spot
            .as_ref()
            .is_some_and(|spot| spot.marked.is_empty());
        if at_end && rest && self.what.starts_with("a semicolon") {
            let (what, wanted) = slips::syntax(&rhai::ParseErrorType::UnexpectedEOF);
            (self.what, self.wanted) = (what, wanted);
        }
        let near = slips::near_in_script(&self.what, script);
        self.wanted = near.or(self.wanted);
        self
    }

    /// All of it for a person, on several lines.
    pub fn shown(&self) -> String {
        let standard = |text: &str| Text::parse(text).standard();
        let told = Diagnostic {
            file: &self.file,
            spot: self.spot.as_deref(),
            what: &standard(&self.what),
            wanted: self.wanted.as_deref(),
        };
        // Without its line a place is still a place.
        if self.spot.is_none() && self.line > 0 {
            return standard(&self.to_string());
        }
        told.to_string()
    }
}
