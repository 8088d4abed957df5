//! Where and why a script failed.

use std::fmt;

use rhai::{EvalAltResult, LexError, ParseError, Position};

use super::script_text::{self, line_and_column, offset};
use super::{brackets, foreign, sheet_slips, slips};
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

    /// From a script that does not parse, with its line. An open bracket is told where it was opened, a word of another
    /// language where it stands.
    pub fn parse(file: &str, error: &ParseError, script: &str) -> ScriptError {
        use rhai::ParseErrorType as Kind;
        let told = slips::syntax(error.err_type());
        let position = error.position();
        let plain = ScriptError::at(file, position, told);
        let code = script_text::code(script);
        let kind = error.err_type();
        // Without a place it is the end.
        let at = match position.line() {
            Some(line) => offset(&code, line, position.position().unwrap_or(1)),
            None => Some(code.len()),
        };
        let at = at.unwrap_or(code.len());
        let rest = code[at..].trim_start();
        let next = rest.chars().next();
        let word: String = rest
            .chars()
            .take_while(|c| script_text::of_name(*c))
            .collect();
        let over = next.is_none() || *kind == Kind::UnexpectedEOF;
        // What begins anew while a bracket is open.
        let anew = match kind {
            Kind::WrongFnDefinition => true,
            Kind::MissingToken(token, _) => {
                let within = token != ";" && token != "{";
                within
                    && (matches!(next, Some(';' | '{' | '}'))
                        || ["let", "return", "if", "for", "while", "fn"].contains(&word.as_str()))
            }
            _ => false,
        };
        let brackets = || match kind {
            Kind::MissingToken(..)
            | Kind::UnexpectedEOF
            | Kind::WrongFnDefinition
            | Kind::BadInput(LexError::UnexpectedInput(_)) => {
                brackets::told(&code, at, over || anew)
            }
            _ => None,
        };
        let texts = matches!(
            kind,
            Kind::BadInput(LexError::UnterminatedString | LexError::MalformedChar(_))
        );
        let outside = || {
            let Kind::VariableUndefined(name) = kind else {
                return None;
            };
            let (from, to) = brackets::outside(&code, at)?;
            let line = |at: usize| line_and_column(&code, at).0;
            let what = format!("`{name}` stands outside of all functions here");
            let wanted = format!(
                "one `}}` less, perhaps: what was opened in line {} is closed in line {} already",
                line(from),
                line(to)
            );
            Some((at, (what, Some(wanted))))
        };
        let better = if texts {
            None
        } else {
            foreign::told(&code, at).or_else(brackets).or_else(outside)
        };
        let Some((at, (what, wanted))) = better else {
            return plain.within(script);
        };
        let (line, column) = line_and_column(script, at);
        let what = if what.starts_with(slips::NO_LANGUAGE) {
            what
        } else {
            format!("{}{what}", slips::NO_LANGUAGE)
        };
        ScriptError {
            line,
            column,
            what,
            wanted,
            ..plain
        }
        .with_spot(script)
    }

    /// One at a byte of a script.
    pub fn placed(file: &str, script: &str, at: usize, told: slips::Told) -> ScriptError {
        let (line, column) = line_and_column(script, at);
        let plain = ScriptError::at(file, Position::NONE, told);
        ScriptError {
            line,
            column,
            ..plain
        }
        .with_spot(script)
    }

    /// With the line that it stands in.
    fn with_spot(mut self, script: &str) -> ScriptError {
        if let Some(spot) = Spot::at(script, self.line, self.column) {
            self.column = spot.column;
            self.spot = Some(Box::new(spot));
        }
        self
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
    pub fn within(self, script: &str) -> ScriptError {
        let mut told = self.with_spot(script);
        if let Some(spot) = &told.spot
            && let Some((what, wanted)) = sheet_slips::told(&told.what, spot)
        {
            (told.what, told.wanted) = (what, Some(wanted));
            return told;
        }
        let near = slips::near_in_script(&told.what, script);
        told.wanted = near.or(told.wanted);
        told
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
