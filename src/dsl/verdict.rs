//! A verdict under construction: what a script says, before the check's own facts are put to it.

use crate::findings::{Finding, NotRun, Series, Trace, Verdict as Judgement};
use crate::span::{Span, Spans};

use super::column::Column;

/// What a script's `judge` gives back.
#[derive(Clone)]
pub struct Verdict {
    /// The finding so far.
    pub finding: Finding,
    /// Whether the script said itself which channels it judged.
    pub judged_said: bool,
    /// The columns of each picture over time, by its place among the finding's pictures.
    pub drawn: Vec<(usize, Vec<Column>)>,
}

/// Stretches of one picture that can be looked at more closely, the longest of them.
const CLOSE_UPS: usize = 3;
/// Time shown beside such a stretch: a share of its length, and at least so many seconds.
const BESIDE: (f64, f64) = (0.5, 1.0);
/// A stretch that fills this share of its picture is as large as it gets.
const LARGE: f64 = 0.5;

impl Verdict {
    /// A judgement with its reason.
    pub fn new(judgement: Judgement, reason: &str) -> Verdict {
        Verdict {
            finding: Finding::new("", judgement, reason),
            judged_said: false,
            drawn: Vec::new(),
        }
    }
    /// One that did not run.
    pub fn not_run(kind: NotRun, reason: &str) -> Verdict {
        let mut v = Verdict::new(Judgement::NotRun, reason);
        v.finding.not_run_kind = Some(kind);
        v
    }
    /// The stretches that were found, drawn from every sample around them: a picture of the whole run is thinned, and a
    /// short stretch is a hair's breadth on it.
    pub fn close_ups(&self) -> Vec<(usize, Trace)> {
        let mut out = Vec::new();
        for (at, columns) in &self.drawn {
            let Some(whole) = self.finding.plots.get(*at) else {
                continue;
            };
            let times = || {
                whole
                    .series
                    .iter()
                    .flat_map(|s| s.points.iter().map(|p| p.0))
            };
            let (Some(low), Some(high)) = (times().reduce(f64::min), times().reduce(f64::max))
            else {
                continue;
            };
            let mut longest: Vec<Span> = whole.marked.list().to_vec();
            longest.sort_by(|a, b| b.length().total_cmp(&a.length()));
            longest.truncate(CLOSE_UPS);
            longest.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
            for span in longest {
                let beside = (span.length() * BESIDE.0).max(BESIDE.1);
                let (from_s, to_s) = (
                    (span.from_s - beside).max(low),
                    (span.to_s + beside).min(high),
                );
                if to_s <= from_s || to_s - from_s > LARGE * (high - low) {
                    continue;
                }
                let window = Spans::one(from_s, to_s);
                let near: Vec<Column> = columns.iter().map(|c| c.during(&window)).collect();
                let marked = whole.marked.and(&window);
                if let Some(mut trace) = over_time(&whole.title, &near, &marked) {
                    trace.lines.clone_from(&whole.lines);
                    out.push((*at, trace));
                }
            }
        }
        out
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
            let name = if c.position.is_some() {
                &c.label
            } else {
                &c.name
            };
            // What a check smoothed or cleaned is not what the logger wrote, and says so.
            let name = if c.lazy.as_logged() {
                name.clone()
            } else {
                format!("{name}, worked out")
            };
            Series::over_time(&name, &s.times, &s.values, c.lazy.believed_s())
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
