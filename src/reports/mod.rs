//! Views of a review: a [`Review`] in, text out. Nothing here reads a file or asks a terminal; whoever calls says how
//! wide and whether in colour.
//!
//! What is said, and in which order, stands in `tell.rs`, once for all views; each format only lays it out. JSON alone
//! goes its own way: it is for programs, in standard units, with a key set that never changes.

mod deciding;
mod html;
mod json;
mod markdown;
mod page;
mod phrase;
mod story;
mod tell;
mod text;

use std::cmp::Reverse;

use crate::findings::{Finding, Review, Verdict};
use crate::units::Reading;

pub use html::{finding_fragment, fragment};
pub use page::{escape, page, part};

pub use deciding::sheet_line;

/// How a review is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// For a terminal or a printout.
    Text,
    /// For programs.
    Json,
    /// One page for a browser, with pictures.
    Html,
    /// For notes and issue trackers.
    Markdown,
}

impl Format {
    /// All of them, in the order of the help.
    pub const ALL: [Format; 4] = [Format::Text, Format::Json, Format::Html, Format::Markdown];

    /// The word on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Format::Text => "text",
            Format::Json => "json",
            Format::Html => "html",
            Format::Markdown => "markdown",
        }
    }
    /// The format of a word.
    pub fn parse(word: &str) -> Option<Format> {
        Format::ALL.into_iter().find(|f| f.word() == word)
    }
}

/// Shapes that stand before verdict words in text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Shapes {
    /// Triangle, disc, ring, square.
    #[default]
    Drawn,
    /// Only what any terminal can show.
    Ascii,
}

/// What the caller knows of the place where the view goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Columns of text; at least [`Look::NARROWEST`] are taken.
    pub width: usize,
    /// Colour codes in text.
    pub colour: bool,
    /// Shapes in text.
    pub shapes: Shapes,
    /// JSON over several lines, for the eye.
    pub pretty: bool,
}

impl Look {
    /// Fewer columns than this cannot hold a finding.
    pub const NARROWEST: usize = 40;
}

impl Default for Look {
    /// 80 columns, no colour, drawn shapes, JSON on one line.
    fn default() -> Look {
        Look {
            width: 80,
            colour: false,
            shapes: Shapes::Drawn,
            pretty: false,
        }
    }
}

/// One review in one format, ending in a line break. The same review gives the same bytes.
pub fn render(review: &Review, format: Format, look: &Look) -> String {
    render_all(std::slice::from_ref(review), format, look)
}

/// A log that was asked for and could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unread {
    /// What it is called.
    pub log: String,
    /// The sentence that says why.
    pub why: String,
}

/// Puts the worst first: what says stop, then what warns, by how often, then what could not be judged, then what passed;
/// in the order given among their like. JSON is better left in the order in which the logs were named.
pub fn worst_first(reviews: &mut [Review]) {
    let rank = |review: &Review| match (review.stop_now.is_empty(), review.verdict) {
        (false, _) => 0,
        (true, Verdict::Warn) => 1,
        (true, Verdict::NotRun) => 2,
        (true, Verdict::Pass) => 3,
    };
    let warnings = |review: &Review| {
        let warns = |finding: &&Finding| finding.verdict == Verdict::Warn;
        review.findings.iter().filter(warns).count()
    };
    reviews.sort_by_key(|review| (rank(review), Reverse(warnings(review))));
}

/// Several reviews: a table over them, then each in full. JSON is one line each, without a table.
pub fn render_all(reviews: &[Review], format: Format, look: &Look) -> String {
    render_beside(reviews, &[], format, look)
}

/// As [`render_all`], with logs that could not be read at the end of the table.
pub fn render_beside(reviews: &[Review], unread: &[Unread], format: Format, look: &Look) -> String {
    match format {
        Format::Text => text::render(reviews, unread, look),
        Format::Json => json::render(reviews, look.pretty && reviews.len() == 1),
        Format::Html => html::render(reviews, unread),
        Format::Markdown => markdown::render(reviews, unread),
    }
}

/// One finding as lines of plain words.
pub fn finding_lines(finding: &Finding, reading: &Reading) -> Vec<String> {
    let told = tell::alone(finding, reading);
    let mut lines = vec![format!(
        "{}: {}",
        phrase::verdict(finding.verdict),
        told.title
    )];
    lines.push(told.reason);
    let facts = told.facts.into_iter().chain(told.doubts);
    lines.extend(facts.map(|(name, words)| format!("{name}: {words}")));
    lines.extend(told.figures.iter().map(|row| row.line()));
    lines.extend(told.next_step.map(|step| format!("Do next: {step}")));
    lines.extend(
        told.careful
            .into_iter()
            .map(|words| format!("Careful: {words}")),
    );
    lines
}

#[cfg(test)]
mod samples;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod tests_json;
