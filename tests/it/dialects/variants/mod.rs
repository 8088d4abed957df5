//! The table: one line or a few for each variant of the run.

mod body;
mod clocks;
mod form;
mod mixed;
mod traps;

use super::pack::Pack;
use super::run::{Run, run};
use super::style::Style;

/// How like the plain variant's a review must be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Alike {
    /// Every check, letter by letter and figure by figure.
    Exact,
    /// The same verdicts and words; figures apart by what printing in another unit or a rounded clock costs.
    Near,
    /// The same verdicts and cylinders: the variant holds less than the plain one.
    Verdicts,
}

/// One way to write the run.
#[derive(Clone, Debug)]
pub struct Variant {
    pub name: &'static str,
    pub run: Run,
    pub style: Style,
    pub pack: Pack,
    pub alike: Alike,
    /// Words that `channels` must say of it, in small letters.
    pub said: Vec<&'static str>,
    /// Headings without a standard name, besides those of the plain run.
    pub unmapped: Vec<&'static str>,
}

impl Variant {
    fn style(name: &'static str, style: Style) -> Self {
        Self {
            name,
            run: run(),
            style,
            pack: Pack::None,
            alike: Alike::Exact,
            said: Vec::new(),
            unmapped: Vec::new(),
        }
    }

    fn run(name: &'static str, change: impl FnOnce(&mut Run)) -> Self {
        let mut variant = Self::style(name, Style::default());
        change(&mut variant.run);
        variant
    }

    fn with(mut self, change: impl FnOnce(&mut Run)) -> Self {
        change(&mut self.run);
        self
    }

    fn styled(mut self, style: Style) -> Self {
        self.style = style;
        self
    }

    fn packed(mut self, pack: Pack) -> Self {
        self.pack = pack;
        self
    }

    fn alike(mut self, alike: Alike) -> Self {
        self.alike = alike;
        self
    }

    fn said(mut self, words: &[&'static str]) -> Self {
        self.said.extend(words);
        self
    }

    fn unmapped(mut self, headings: &[&'static str]) -> Self {
        self.unmapped.extend(headings);
        self
    }
}

/// All of them; the first is the plain one.
pub fn all() -> Vec<Variant> {
    let parts = [
        form::marks(),
        form::units(),
        form::preambles(),
        clocks::clocks(),
        clocks::letters(),
        body::layout(),
        body::cells(),
        body::long(),
        body::packed(),
        traps::traps(),
        mixed::mixed(),
    ];
    parts.into_iter().flatten().collect()
}

fn base() -> Style {
    Style::default()
}

/// Semicolon and decimal comma, as spreadsheets in half of Europe write them.
fn european() -> Style {
    Style {
        delimiter: ';',
        decimal: ',',
        ..base()
    }
}

fn lines(lines: &[&str]) -> Vec<String> {
    lines.iter().map(|l| (*l).to_owned()).collect()
}
