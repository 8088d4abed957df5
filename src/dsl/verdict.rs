//! A verdict under construction: what a script says, before the check's own facts are put to it.

use crate::findings::{Finding, NotRun, Series, Trace, Verdict as Judgement};
use crate::span::Spans;

use super::column::Column;

/// What a script's `judge` gives back.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The finding so far.
    pub finding: Finding,
    /// Whether the script said itself which channels it judged.
    pub judged_said: bool,
}

impl Verdict {
    /// A judgement with its reason.
    pub fn new(judgement: Judgement, reason: &str) -> Verdict {
        Verdict {
            finding: Finding::new("", judgement, reason),
            judged_said: false,
        }
    }
    /// One that did not run.
    pub fn not_run(kind: NotRun, reason: &str) -> Verdict {
        let mut v = Verdict::new(Judgement::NotRun, reason);
        v.finding.not_run_kind = Some(kind);
        v
    }
}

/// A picture of columns over time.
pub fn over_time(title: &str, columns: &[Column], marked: &Spans) -> Option<Trace> {
    let first = columns.first()?;
    let series = columns
        .iter()
        .filter(|c| c.unit == first.unit)
        .map(|c| {
            let s = c.series();
            Series::over_time(
                if c.position.is_some() {
                    &c.label
                } else {
                    &c.name
                },
                &s.times,
                &s.values,
                c.lazy.believed_s(),
            )
        })
        .collect();
    Some(Trace {
        title: title.to_string(),
        across: None,
        unit: first.unit,
        series,
        lines: Vec::new(),
        marked: marked.clone(),
    })
}
