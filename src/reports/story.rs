//! The parts of a told review, in their order: plain words in the reader's units, ready to lay out and escape.

use crate::findings::{Trace, Verdict};

/// A review in words.
pub struct Story<'a> {
    /// The log.
    pub log: String,
    /// The review's verdict.
    pub verdict: Verdict,
    /// One sentence under it.
    pub headline: String,
    /// Sections in order.
    pub sections: Vec<Section<'a>>,
}

/// What a section is for; its place in the order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Dangers.
    Stop,
    /// The one thing to look at first.
    First,
    /// The other warnings, from the base up.
    Warnings,
    /// Causes that several findings share.
    Causes,
    /// What passed.
    Passed,
    /// What could not run.
    NotRun,
    /// What only a person can answer.
    Questions,
    /// What was read.
    Log,
    /// Cautions not said above.
    Careful,
    /// The sentences at the end of every review.
    Closing,
}

impl Kind {
    /// Heading, in every view.
    pub fn title(self) -> &'static str {
        match self {
            Kind::Stop => "Stop now",
            Kind::First => "Look at this first",
            Kind::Warnings => "Then these, from the base up",
            Kind::Causes => "What several of these point to",
            Kind::Passed => "Passed",
            Kind::NotRun => "Could not be judged",
            Kind::Questions => "Open questions",
            Kind::Log => "What was read",
            Kind::Careful => "Careful",
            Kind::Closing => "How far to trust this",
        }
    }
    /// True for what stands above the cylinders side by side: what warns, and what it points to.
    pub fn needs_work(self) -> bool {
        matches!(
            self,
            Kind::Stop | Kind::First | Kind::Warnings | Kind::Causes
        )
    }
    /// Name of the place on a page.
    pub fn anchor(self) -> &'static str {
        match self {
            Kind::Stop => "stop",
            Kind::First => "first",
            Kind::Warnings => "warnings",
            Kind::Causes => "causes",
            Kind::Passed => "passed",
            Kind::NotRun => "not-run",
            Kind::Questions => "questions",
            Kind::Log => "log",
            Kind::Careful => "careful",
            Kind::Closing => "closing",
        }
    }
}

/// One section.
pub struct Section<'a> {
    /// Which.
    pub kind: Kind,
    /// A sentence under the heading.
    pub lead: Option<&'static str>,
    /// Content in order.
    pub blocks: Vec<Block<'a>>,
}

/// A piece of a section.
pub enum Block<'a> {
    /// A warning in full.
    Warning(Box<Warning<'a>>),
    /// A few words as a heading of their own.
    Group(&'static str),
    /// Checks with a line each: id and words.
    Checks(Verdict, Vec<(String, String)>),
    /// Sentences, numbered.
    Numbered(Vec<String>),
    /// Sentences.
    Bullets(Vec<String>),
    /// Facts by name.
    Facts(Vec<(&'static str, String)>),
    /// A cause.
    Cause(Cause),
}

/// A warning in words.
pub struct Warning<'a> {
    /// The check.
    pub id: String,
    /// Its title; the id where it has none.
    pub title: String,
    /// What was seen.
    pub reason: String,
    /// Facts by name: when, which cylinders.
    pub facts: Vec<(&'static str, String)>,
    /// Figures and limits, a row each.
    pub figures: Vec<FigureRow>,
    /// What takes weight from it, by name.
    pub doubts: Vec<(&'static str, String)>,
    /// The smallest test.
    pub next_step: Option<String>,
    /// Cautions for that work.
    pub careful: Vec<String>,
    /// Pictures.
    pub plots: &'a [Trace],
}

/// A figure beside the limit of the same name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FigureRow {
    /// Name.
    pub name: String,
    /// What the log shows.
    pub seen: Option<String>,
    /// Limit in use, and where it comes from.
    pub limit: Option<(String, String)>,
}

impl FigureRow {
    /// The row as a sentence.
    pub fn line(&self) -> String {
        match (&self.seen, &self.limit) {
            (Some(seen), Some((limit, from))) => {
                format!("{} {seen} (limit {limit}, {from})", self.name)
            }
            (Some(seen), None) => format!("{} {seen}", self.name),
            (None, Some((limit, from))) => format!("{}: limit {limit}, {from}", self.name),
            (None, None) => self.name.clone(),
        }
    }
}

/// A cause in words.
pub struct Cause {
    /// The cause.
    pub cause: String,
    /// Facts by name: for, against, test, findings it rests on.
    pub facts: Vec<(&'static str, String)>,
}

/// Heading of the table over several logs.
pub const TABLE_TITLE: &str = "All logs";

/// What stands there for the verdict of a log that could not be read.
pub const UNREAD: &str = "unread";

/// One line of the table over several logs.
pub struct LogLine {
    /// The log.
    pub log: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// True where something says stop.
    pub stop: bool,
    /// What to look at first, or why there is nothing.
    pub words: String,
    /// The check to look at first.
    pub first: Option<String>,
    /// Length of the log.
    pub length: String,
    /// Lines that say stop, and cautions of this log.
    pub stops: usize,
    pub cautions: usize,
    /// Checks that warn, that passed, and that could not be judged.
    pub counts: [usize; 3],
}

impl LogLine {
    /// The cells of its row, as [`TABLE_HEADS`] names them, without log and verdict.
    pub fn cells(&self) -> [String; 7] {
        let [warn, pass, not_run] = self.counts;
        [
            self.first.clone().unwrap_or_else(|| "nothing".to_string()),
            self.stops.to_string(),
            warn.to_string(),
            pass.to_string(),
            not_run.to_string(),
            self.cautions.to_string(),
            self.length.clone(),
        ]
    }
}

/// What stands in the columns between verdict and log.
pub const TABLE_HEADS: [&str; 7] = [
    "look first at",
    "stop",
    "warn",
    "pass",
    "not run",
    "careful",
    "length",
];
