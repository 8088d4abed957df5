//! Sentences that carry their figures as figures, so that every view can show them in the reader's units.

use crate::units::{Reading, Unit};

/// Marks around a figure inside a script's string: start, separator, end. Control characters that nobody types.
const OPEN: char = '\u{2}';
const SPLIT: char = '\u{1f}';
const CLOSE: char = '\u{3}';

/// A figure as it travels through a script's string interpolation; [`Text::parse`] finds it again.
pub fn mark(value: f64, unit: Unit) -> String {
    format!("{OPEN}{value}{SPLIT}{}{CLOSE}", unit.key())
}

/// A part of a sentence.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// Words.
    Words(String),
    /// A figure in its standard unit.
    Figure(f64, Unit),
}

/// A sentence of words and figures.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Text(Vec<Piece>);

impl Text {
    /// Reads a string in which [`mark`] left figures. A mark that a script cut apart stays as plain words.
    pub fn parse(raw: &str) -> Text {
        let mut pieces = Vec::new();
        let mut rest = raw;
        while let Some(start) = rest.find(OPEN) {
            let (before, marked) = rest.split_at(start);
            push_words(&mut pieces, before);
            let inner = &marked[OPEN.len_utf8()..];
            let Some(end) = inner.find(CLOSE) else {
                push_words(&mut pieces, inner);
                return Text(pieces);
            };
            let (body, after) = (&inner[..end], &inner[end + CLOSE.len_utf8()..]);
            match read_mark(body) {
                Some((value, unit)) => pieces.push(Piece::Figure(value, unit)),
                None => push_words(&mut pieces, body),
            }
            rest = after;
        }
        push_words(&mut pieces, rest);
        Text(pieces)
    }

    /// The parts in order.
    pub fn pieces(&self) -> &[Piece] {
        &self.0
    }
    /// True where nothing is said.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    /// The sentence in the units that the reader wants.
    pub fn read(&self, reading: &Reading) -> String {
        self.0
            .iter()
            .map(|piece| match piece {
                Piece::Words(words) => words.clone(),
                Piece::Figure(value, unit) => reading.show(*value, *unit),
            })
            .collect()
    }
    /// The sentence in standard units, as JSON has it.
    pub fn standard(&self) -> String {
        self.read(&Reading::default())
    }
}

impl From<&str> for Text {
    fn from(raw: &str) -> Text {
        Text::parse(raw)
    }
}
impl From<String> for Text {
    fn from(raw: String) -> Text {
        Text::parse(&raw)
    }
}

fn read_mark(body: &str) -> Option<(f64, Unit)> {
    let (value, unit) = body.split_once(SPLIT)?;
    Some((value.parse().ok()?, Unit::parse(unit)?.unit))
}

fn push_words(pieces: &mut Vec<Piece>, words: &str) {
    if !words.is_empty() {
        let clean: String = words
            .chars()
            .filter(|c| !c.is_control() || *c == '\n')
            .collect();
        pieces.push(Piece::Words(clean));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_survive_a_string() {
        let raw = format!(
            "Cylinder 4 ran {} under the others.",
            mark(212.04, Unit::standard("degC difference"))
        );
        let text = Text::parse(&raw);
        assert_eq!(text.standard(), "Cylinder 4 ran 212 degC under the others.");
        let us = Reading {
            fahrenheit: true,
            ..Reading::default()
        };
        assert_eq!(text.read(&us), "Cylinder 4 ran 382 degF under the others.");
    }

    #[test]
    fn a_broken_mark_is_words() {
        assert_eq!(Text::parse("a \u{2}12 volts").standard(), "a 12 volts");
        assert_eq!(Text::parse("a \u{2}12\u{3} b").standard(), "a 12 b");
    }
}
