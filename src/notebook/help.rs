//! Help where the person is: what could be written here, what a word means, whether a cell is finished, and which name was
//! probably meant.

mod about;
mod complete;
mod mend;

use rhai::Dynamic;

pub use about::{inspect, page};
pub use complete::{Completion, complete};
pub use mend::helped;

use super::scan::{Scan, is_name};
use super::session::Session;
use crate::dsl::column::{Column, Quantity, Truth};
use crate::dsl::family::Family;
use crate::dsl::run::{FAMILIES, Run};
use crate::dsl::table::Table;
use crate::span::Spans;

/// Whether a cell can be run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Finished {
    /// It can.
    Yes,
    /// It goes on: the next line begins with that.
    Not(String),
    /// More lines will not make it right.
    Wrong,
}

/// Whether a cell can be run, or goes on.
pub fn finished(session: &Session, code: &str) -> Finished {
    let scan = Scan::new(code);
    let last = code.lines().last().unwrap_or("");
    let indent: String = last.chars().take_while(|c| c.is_whitespace()).collect();
    if scan.unfinished {
        return Finished::Not(String::new());
    }
    match scan.open_brackets() {
        None => return Finished::Wrong,
        Some(0) => {}
        Some(_) => {
            let deeper = last.trim_end().ends_with(['{', '(', '[']);
            return Finished::Not(format!("{indent}{}", if deeper { "    " } else { "" }));
        }
    }
    match session.engine().compile_with_scope(session.scope(), code) {
        Ok(_) => Finished::Yes,
        Err(error) => match error.err_type() {
            rhai::ParseErrorType::UnexpectedEOF => Finished::Not(indent),
            // It is finished, and wrong in a way that running it tells best.
            rhai::ParseErrorType::VariableUndefined(_) => Finished::Yes,
            _ => Finished::Wrong,
        },
    }
}

/// The kinds of value that words work on, by the name of their group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Column,
    Truth,
    Spans,
    Family,
    Table,
    Run,
    Quantity,
    Review,
    Finding,
    Check,
    Comm,
    Other,
}

impl Kind {
    /// Kind of a value.
    fn of(value: &Dynamic) -> Kind {
        use super::words;
        match () {
            () if value.is::<Column>() => Kind::Column,
            () if value.is::<Truth>() => Kind::Truth,
            () if value.is::<Spans>() => Kind::Spans,
            () if value.is::<Family>() => Kind::Family,
            () if value.is::<Table>() => Kind::Table,
            () if value.is::<Run>() => Kind::Run,
            () if value.is::<Quantity>() => Kind::Quantity,
            () if value.is::<words::ReviewOf>() => Kind::Review,
            () if value.is::<words::Tried>() => Kind::Finding,
            () if value.is::<words::Own>() => Kind::Check,
            () if value.is::<words::Comm>() => Kind::Comm,
            () => Kind::Other,
        }
    }
    /// Kind that a word gives, by what stands behind its arrow.
    fn given(call: &str) -> Kind {
        match call.rsplit_once("-> ").map_or("", |c| c.1.trim()) {
            "Column" => Kind::Column,
            "Truth" => Kind::Truth,
            "Spans" => Kind::Spans,
            "Family" => Kind::Family,
            "Table" => Kind::Table,
            "Run" => Kind::Run,
            "Quantity" => Kind::Quantity,
            "ReviewOf" => Kind::Review,
            "Tried" => Kind::Finding,
            "Own" => Kind::Check,
            "Comm" => Kind::Comm,
            _ => Kind::Other,
        }
    }
    /// The group of its words.
    fn group(self) -> &'static str {
        match self {
            Kind::Column => "Columns",
            Kind::Truth => "Truths",
            Kind::Spans => "Spans",
            Kind::Family => "Families",
            Kind::Table => "Tables",
            Kind::Run => "The run",
            Kind::Quantity => "Quantities",
            Kind::Review => "Reviews in a notebook",
            Kind::Finding => "Findings in a notebook",
            Kind::Check => "Checks of your own",
            Kind::Comm => "Comms",
            Kind::Other => "",
        }
    }
}

/// Families of the log that was opened last.
fn families(session: &Session) -> Vec<&'static str> {
    let opened = session.store().opened();
    let has = |stem: &str| opened.channels.iter().any(|c| c.0.starts_with(stem));
    FAMILIES.iter().filter(|f| has(f.1)).map(|f| f.0).collect()
}

/// The kind of what an expression that ends there gives: `run.egt.largest()`.
fn kind_of(session: &Session, code: &str) -> Kind {
    let scan = Scan::new(code);
    let mut parts: Vec<String> = Vec::new();
    let mut end = code.trim_end().len();
    loop {
        // Over the arguments of a call, and the index of a list.
        while code[..end].ends_with([')', ']']) {
            match opening(&scan, code, end) {
                Some(at) => end = code[..at].trim_end().len(),
                None => return Kind::Other,
            }
        }
        let start = code[..end].rfind(|c| !is_name(c)).map_or(0, |at| {
            at + code[at..].chars().next().map_or(1, char::len_utf8)
        });
        if start == end {
            return Kind::Other;
        }
        parts.push(code[start..end].to_string());
        match code[..start].trim_end().strip_suffix('.') {
            Some(before) => end = before.trim_end().len(),
            None => break,
        }
    }
    let Some(base) = parts.pop() else {
        return Kind::Other;
    };
    let mut kind = match session.scope().get(&base) {
        Some(value) => Kind::of(value),
        None => {
            let words = session.words().iter();
            words
                .filter(|w| !w.after_dot() && w.name == base)
                .map(|w| Kind::given(&w.call))
                .next()
                .unwrap_or(Kind::Other)
        }
    };
    for part in parts.iter().rev() {
        kind = member(session, kind, part);
    }
    kind
}

/// The kind of what stands behind a dot.
fn member(session: &Session, of: Kind, name: &str) -> Kind {
    if of == Kind::Run {
        if FAMILIES.iter().any(|f| f.0 == name) {
            return Kind::Family;
        }
        if session
            .store()
            .opened()
            .channels
            .iter()
            .any(|c| c.0 == name)
        {
            return Kind::Column;
        }
    }
    let words = session.words().iter();
    words
        .filter(|w| w.after_dot() && w.name == name && w.group == of.group())
        .map(|w| Kind::given(&w.call))
        .next()
        .unwrap_or(Kind::Other)
}

/// The place of the bracket that the one right before `end` closes.
fn opening(scan: &Scan, code: &str, end: usize) -> Option<usize> {
    let mut depth = 0;
    for (at, byte) in scan.code().rev().skip_while(|(at, _)| *at >= end) {
        match byte {
            b')' | b']' | b'}' => depth += 1,
            b'(' | b'[' | b'{' => {
                depth -= 1;
                if depth == 0 {
                    return Some(at);
                }
            }
            _ => {}
        }
    }
    let _ = code;
    None
}
