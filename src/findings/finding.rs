//! What one check has to say.

use std::collections::BTreeSet;

use super::{Text, Trace};
use crate::span::Spans;
use crate::units::Unit;

/// The judgement of one check, or of a whole review.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing in this log crossed the limits in use. Never: "the engine is safe".
    Pass,
    /// Something did.
    Warn,
    /// This log, or the build sheet, could not answer.
    NotRun,
}

impl Verdict {
    /// The word in every view.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Pass => "pass",
            Verdict::Warn => "warn",
            Verdict::NotRun => "not-run",
        }
    }
}

/// Why a check did not run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotRun {
    /// A channel was not logged, or an entry of the build sheet is not known.
    Missing,
    /// The build sheet says that this engine has no such part.
    NotFitted,
    /// The run never did what the check needs to see.
    NoOccasion,
    /// The check's own script failed.
    ScriptError,
}

impl NotRun {
    /// The word in every view.
    pub fn word(self) -> &'static str {
        match self {
            NotRun::Missing => "missing",
            NotRun::NotFitted => "not-fitted",
            NotRun::NoOccasion => "no-occasion",
            NotRun::ScriptError => "script-error",
        }
    }
}

/// A figure in its standard unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// Value in `unit`.
    pub value: f64,
    /// Standard unit.
    pub unit: Unit,
}

/// A limit as it was used.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitUsed {
    /// Value in its standard unit.
    pub figure: Figure,
    /// Where it comes from: a published source, `common practice`, or `build sheet`.
    pub from: String,
}

/// What one check found.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The check, e.g. `egt-spread`.
    pub id: String,
    /// Its system, e.g. `exhaust`.
    pub system: String,
    /// Its title.
    pub title: String,
    /// Judgement.
    pub verdict: Verdict,
    /// Why not, where it did not run.
    pub not_run_kind: Option<NotRun>,
    /// Checks on which its evidence rests.
    pub builds_on: Vec<String>,
    /// Ancestors that warn about the same channels at the same time.
    pub doubtful_because: Vec<String>,
    /// Ancestors that did not run.
    pub unchecked: Vec<String>,
    /// One or two sentences.
    pub reason: Text,
    /// Culprits only, by number.
    pub cylinders: Vec<u32>,
    /// When.
    pub spans: Spans,
    /// Figures by name.
    pub numbers: Vec<(String, Figure)>,
    /// Limits in use by name.
    pub limits: Vec<(String, LimitUsed)>,
    /// What decided: names of limits, and entries of the sheet with their section (`electrical.regulator_v`).
    pub decided_by: Vec<String>,
    /// The smallest test that splits the possible causes.
    pub next_step: Option<Text>,
    /// Ids of cautions that belong to it.
    pub cautions: Vec<String>,
    /// The stop-now line, where this is a danger.
    pub stop_now: Option<Text>,
    /// Open questions of this finding: what would let it run, or what it leaves unanswered.
    pub questions: Vec<Text>,
    /// Channels that its evidence used.
    pub used: BTreeSet<String>,
    /// Channels that it judged: a warning here casts doubt on findings that use them.
    pub judged: BTreeSet<String>,
    /// Pictures.
    pub plots: Vec<Trace>,
    /// Stretches of those pictures, by their place in the list, drawn larger from every sample around them.
    pub close_ups: Vec<(usize, Trace)>,
}

impl Finding {
    /// A finding with nothing said yet.
    pub fn new(id: &str, verdict: Verdict, reason: impl Into<Text>) -> Finding {
        Finding {
            id: id.to_string(),
            system: String::new(),
            title: String::new(),
            verdict,
            not_run_kind: None,
            builds_on: Vec::new(),
            doubtful_because: Vec::new(),
            unchecked: Vec::new(),
            reason: reason.into(),
            cylinders: Vec::new(),
            spans: Spans::default(),
            numbers: Vec::new(),
            limits: Vec::new(),
            decided_by: Vec::new(),
            next_step: None,
            cautions: Vec::new(),
            stop_now: None,
            questions: Vec::new(),
            used: BTreeSet::new(),
            judged: BTreeSet::new(),
            plots: Vec::new(),
            close_ups: Vec::new(),
        }
    }
}
