//! A review for programs: mirror types with the key set that the design promises, in standard units.
//!
//! The types repeat the findings' on purpose: a change inside must not change what other people's programs read. Keys
//! are only ever added. Numbers carry six significant digits and times three decimals, so that the same review is the
//! same text; what is no number is `null`.

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use crate::findings::{Figure, Finding, LimitUsed, LogFacts, NotRun, Review, Text};

/// Rises when a key changes its meaning; a key that is added does not raise it.
const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct ReviewOut<'a> {
    schema: u32,
    verdict: &'static str,
    stop_now: Vec<Line<'a>>,
    start_here: Option<&'a str>,
    log: LogOut<'a>,
    checks: Vec<CheckOut<'a>>,
    diagnosis: Vec<DiagnosisOut<'a>>,
    open_questions: Vec<String>,
    cautions: Vec<Line<'a>>,
}

#[derive(Serialize)]
struct Line<'a> {
    id: &'a str,
    text: String,
}

#[derive(Serialize)]
struct LogOut<'a> {
    path: &'a str,
    rows: usize,
    duration_s: Time,
    sample_hz: Number,
    channels: Vec<ChannelOut<'a>>,
    unmapped: &'a [String],
    problems: Vec<ProblemOut<'a>>,
    phases: Vec<PhaseOut<'a>>,
}

#[derive(Serialize)]
struct ChannelOut<'a> {
    name: &'a str,
    column: &'a str,
    column_unit: Option<&'a str>,
    unit: &'a str,
}

#[derive(Serialize)]
struct ProblemOut<'a> {
    line: usize,
    what: &'a str,
}

#[derive(Serialize)]
struct PhaseOut<'a> {
    phase: &'a str,
    from_s: Time,
    to_s: Time,
}

#[derive(Serialize)]
struct CheckOut<'a> {
    id: &'a str,
    system: &'a str,
    title: &'a str,
    verdict: &'static str,
    not_run_kind: Option<&'static str>,
    builds_on: &'a [String],
    doubtful_because: &'a [String],
    unchecked: &'a [String],
    reason: String,
    cylinders: &'a [u32],
    spans: Vec<SpanOut>,
    numbers: Named<NumberOut>,
    limits: Named<LimitOut<'a>>,
    decided_by: &'a [String],
    next_step: Option<String>,
    cautions: &'a [String],
}

#[derive(Serialize)]
struct SpanOut {
    from_s: Time,
    to_s: Time,
}

#[derive(Serialize)]
struct NumberOut {
    value: Number,
    unit: String,
}

#[derive(Serialize)]
struct LimitOut<'a> {
    value: Number,
    unit: String,
    from: &'a str,
}

#[derive(Serialize)]
struct DiagnosisOut<'a> {
    cause: String,
    speaks_for: Vec<String>,
    speaks_against: Vec<String>,
    test: String,
    from: &'a [String],
}

/// Values by name, in the order in which the check gave them; of one name given twice the last value counts.
struct Named<T>(Vec<(String, T)>);

impl<T> Named<T> {
    fn new(list: impl Iterator<Item = (String, T)>) -> Self {
        let mut out: Vec<(String, T)> = Vec::new();
        for (name, value) in list {
            match out.iter_mut().find(|e| e.0 == name) {
                Some(entry) => entry.1 = value,
                None => out.push((name, value)),
            }
        }
        Named(out)
    }
}

impl<T: Serialize> Serialize for Named<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (name, value) in &self.0 {
            map.serialize_entry(name, value)?;
        }
        map.end()
    }
}

/// A figure with six significant digits, or `null`.
struct Number(f64);

impl Serialize for Number {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        finite(rounded(self.0, format!("{:.5e}", self.0)), serializer)
    }
}

/// Seconds to the millisecond, or `null`.
struct Time(f64);

impl Serialize for Time {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        finite(rounded(self.0, format!("{:.3}", self.0)), serializer)
    }
}

/// The value as its rounded spelling reads; zero has no sign.
fn rounded(value: f64, spelled: String) -> f64 {
    let rounded = spelled.parse().unwrap_or(value);
    if rounded == 0.0 { 0.0 } else { rounded }
}

fn finite<S: Serializer>(value: f64, serializer: S) -> Result<S::Ok, S::Error> {
    if value.is_finite() {
        serializer.serialize_f64(value)
    } else {
        serializer.serialize_none()
    }
}

/// Each review on a line of its own; or one over several lines, for the eye.
pub fn render(reviews: &[Review], pretty: bool) -> String {
    let mut out = String::new();
    for review in reviews {
        let mirror = mirror(review);
        let written = if pretty {
            serde_json::to_string_pretty(&mirror)
        } else {
            serde_json::to_string(&mirror)
        };
        // Only a map with keys that are no strings could fail, and there is none.
        out.push_str(&written.unwrap_or_default());
        out.push('\n');
    }
    out
}

fn mirror(review: &Review) -> ReviewOut<'_> {
    ReviewOut {
        schema: SCHEMA,
        verdict: review.verdict.word(),
        stop_now: review
            .stop_now
            .iter()
            .map(|s| Line {
                id: &s.id,
                text: s.text.standard(),
            })
            .collect(),
        start_here: review.start_here.as_deref(),
        log: log(&review.log),
        checks: review.findings.iter().map(check).collect(),
        diagnosis: review
            .diagnosis
            .iter()
            .map(|d| DiagnosisOut {
                cause: d.cause.standard(),
                speaks_for: standard(&d.speaks_for),
                speaks_against: standard(&d.speaks_against),
                test: d.test.standard(),
                from: &d.from,
            })
            .collect(),
        open_questions: standard(&review.open_questions),
        cautions: review
            .cautions
            .iter()
            .map(|c| Line {
                id: c.id,
                text: c.text.to_string(),
            })
            .collect(),
    }
}

fn standard(list: &[Text]) -> Vec<String> {
    list.iter().map(Text::standard).collect()
}

fn log(log: &LogFacts) -> LogOut<'_> {
    LogOut {
        path: &log.path,
        rows: log.rows,
        duration_s: Time(log.duration_s),
        sample_hz: Number(log.sample_hz),
        channels: log
            .channels
            .iter()
            .map(|c| ChannelOut {
                name: &c.name,
                column: &c.column,
                column_unit: c.column_unit.as_deref(),
                unit: &c.unit,
            })
            .collect(),
        unmapped: &log.unmapped,
        problems: log
            .problems
            .iter()
            .map(|p| ProblemOut {
                line: p.line,
                what: &p.what,
            })
            .collect(),
        phases: log
            .phases
            .iter()
            .map(|p| PhaseOut {
                phase: &p.phase,
                from_s: Time(p.from_s),
                to_s: Time(p.to_s),
            })
            .collect(),
    }
}

fn check(f: &Finding) -> CheckOut<'_> {
    let number = |figure: Figure| NumberOut {
        value: Number(figure.value),
        unit: figure.unit.to_string(),
    };
    let limit = |used: &'_ LimitUsed| (Number(used.figure.value), used.figure.unit.to_string());
    CheckOut {
        id: &f.id,
        system: &f.system,
        title: &f.title,
        verdict: f.verdict.word(),
        not_run_kind: f.not_run_kind.map(NotRun::word),
        builds_on: &f.builds_on,
        doubtful_because: &f.doubtful_because,
        unchecked: &f.unchecked,
        reason: f.reason.standard(),
        cylinders: &f.cylinders,
        spans: f
            .spans
            .list()
            .iter()
            .map(|s| SpanOut {
                from_s: Time(s.from_s),
                to_s: Time(s.to_s),
            })
            .collect(),
        numbers: Named::new(
            f.numbers
                .iter()
                .map(|(name, figure)| (name.clone(), number(*figure))),
        ),
        limits: Named::new(f.limits.iter().map(|(name, used)| {
            let (value, unit) = limit(used);
            let out = LimitOut {
                value,
                unit,
                from: &used.from,
            };
            (name.clone(), out)
        })),
        decided_by: &f.decided_by,
        next_step: f.next_step.as_ref().map(Text::standard),
        cautions: &f.cautions,
    }
}
