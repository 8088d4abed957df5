//! The review: findings put in order, from the base up, with the one thing to look at first.

use std::collections::BTreeSet;

use super::{Caution, Figure, Finding, Graph, NotRun, Text, Verdict, caution};
use crate::span::Spans;
use crate::units::Reading;

/// What was understood of the log file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LogFacts {
    /// Path as the person gave it.
    pub path: String,
    /// Data rows in use.
    pub rows: usize,
    /// Last minus first time of the rows in use, s.
    pub duration_s: f64,
    /// Median row rate, 1/s.
    pub sample_hz: f64,
    /// Channels understood.
    pub channels: Vec<ChannelFacts>,
    /// Headers that fit no standard name.
    pub unmapped: Vec<String>,
    /// Rows, cells and columns that could not be used.
    pub problems: Vec<ProblemFacts>,
    /// What the engine was doing, in order of time.
    pub phases: Vec<PhaseSpan>,
}

/// A channel of the log.
#[derive(Clone, Debug, PartialEq)]
pub struct ChannelFacts {
    /// Standard name.
    pub name: String,
    /// Header in the log.
    pub column: String,
    /// Unit in the log, where it said one.
    pub column_unit: Option<String>,
    /// Standard unit.
    pub unit: String,
}

/// Something of the file that could not be used.
#[derive(Clone, Debug, PartialEq)]
pub struct ProblemFacts {
    /// Line of the file, from 1; 0 where it concerns the whole file.
    pub line: usize,
    /// What is wrong there.
    pub what: String,
}

/// One stretch of one phase.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseSpan {
    /// Name of the phase.
    pub phase: String,
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
}

/// A danger, in one line, above everything else.
#[derive(Clone, Debug, PartialEq)]
pub struct StopNow {
    /// The check that speaks.
    pub id: String,
    /// The line.
    pub text: Text,
}

/// A cause that several findings point to.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnosis {
    /// The cause.
    pub cause: Text,
    /// What speaks for it.
    pub speaks_for: Vec<Text>,
    /// What speaks against it.
    pub speaks_against: Vec<Text>,
    /// The test that would decide.
    pub test: Text,
    /// The findings it rests on.
    pub from: Vec<String>,
}

/// The cylinders side by side: what the log tells of each, in the order in which they fire.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cylinders {
    /// Their numbers, in firing order; by number where nobody says how it fires. Empty where nothing tells how many.
    pub order: Vec<u32>,
    /// True where the order is that of the build sheet.
    pub by_firing: bool,
    /// What was measured, and for each of `order` the figure, where the log has one.
    pub measured: Vec<(String, Vec<Option<Figure>>)>,
}

/// The review of one log.
#[derive(Clone, Debug, PartialEq)]
pub struct Review {
    /// Warn when any check warns, not-run when nothing could be judged, else pass.
    pub verdict: Verdict,
    /// Dangers.
    pub stop_now: Vec<StopNow>,
    /// The one check to look at first.
    pub start_here: Option<String>,
    /// The file.
    pub log: LogFacts,
    /// All findings, from the base up.
    pub findings: Vec<Finding>,
    /// Causes across findings.
    pub diagnosis: Vec<Diagnosis>,
    /// What this log and sheet could not answer.
    pub open_questions: Vec<Text>,
    /// Cautions that belong here, the closing ones last.
    pub cautions: Vec<Caution>,
    /// The units in which views speak.
    pub reading: Reading,
    /// The cylinders side by side.
    pub cylinders: Cylinders,
}

impl Review {
    /// The finding of a check.
    pub fn finding(&self, id: &str) -> Option<&Finding> {
        self.findings.iter().find(|f| f.id == id)
    }
    /// How many findings have this verdict.
    pub fn count(&self, verdict: Verdict) -> usize {
        self.findings
            .iter()
            .filter(|f| f.verdict == verdict)
            .count()
    }
}

/// Said at the end of every review.
const CLOSING: [Caution; 2] = [
    Caution {
        id: "starting-points",
        text: "Limits are starting points. Follow the engine's and the fuel's own data, the venue's rules and local codes, and leave regulated work to those licensed for it.",
    },
    Caution {
        id: "no-clearance",
        text: "A pass means only that nothing in this log crossed the limits in use. It is not a clearance to run.",
    },
];

/// Channels whose ill health makes every analogue sensor doubtful.
const SUPPLY: [&str; 2] = ["battery_v", "sensor_supply"];

/// Puts findings together into a review: order, the first thing to look at, doubt, open questions, cautions.
///
/// `analogue` names the channels that come from sensors fed by the car's supply; `more_questions` and
/// `more_cautions` are those of the file and of the build sheet.
pub fn assemble(
    log: LogFacts,
    mut findings: Vec<Finding>,
    graph: &Graph,
    analogue: &BTreeSet<String>,
    more_questions: Vec<Text>,
    more_cautions: &[&str],
    reading: Reading,
) -> Review {
    findings.sort_by(|a, b| {
        graph
            .place(&a.id)
            .cmp(&graph.place(&b.id))
            .then_with(|| a.id.cmp(&b.id))
    });
    mark_doubt(&mut findings, graph, analogue);
    let warns = |id: &str| {
        findings
            .iter()
            .any(|f| f.id == id && f.verdict == Verdict::Warn)
    };
    let start_here = findings
        .iter()
        .filter(|f| f.verdict == Verdict::Warn)
        .find(|f| !graph.ancestors(&f.id).iter().any(|a| warns(a)))
        .map(|f| f.id.clone());
    let stop_now = findings
        .iter()
        .filter(|f| f.verdict == Verdict::Warn)
        .filter_map(|f| {
            f.stop_now.clone().map(|text| StopNow {
                id: f.id.clone(),
                text,
            })
        })
        .collect();
    let verdict = if findings.iter().any(|f| f.verdict == Verdict::Warn) {
        Verdict::Warn
    } else if findings.iter().any(|f| f.verdict == Verdict::Pass) {
        Verdict::Pass
    } else {
        Verdict::NotRun
    };
    let open_questions = questions(&findings, more_questions);
    let cautions = gather_cautions(&findings, more_cautions);
    Review {
        verdict,
        stop_now,
        start_here,
        log,
        findings,
        diagnosis: Vec::new(),
        open_questions,
        cautions,
        reading,
        cylinders: Cylinders::default(),
    }
}

/// Marks each finding with the ancestors that cast doubt on it, and those that could not be checked.
fn mark_doubt(findings: &mut [Finding], graph: &Graph, analogue: &BTreeSet<String>) {
    let bases: Vec<(String, Verdict, Spans, BTreeSet<String>)> = findings
        .iter()
        .map(|f| (f.id.clone(), f.verdict, f.spans.clone(), f.judged.clone()))
        .collect();
    for finding in findings.iter_mut().filter(|f| f.verdict != Verdict::NotRun) {
        for ancestor in graph.ancestors(&finding.id) {
            let Some((id, verdict, spans, judged)) = bases.iter().find(|b| b.0 == ancestor) else {
                continue;
            };
            match verdict {
                Verdict::NotRun => finding.unchecked.push(id.clone()),
                Verdict::Warn if finding.verdict == Verdict::Warn => {
                    let supply = judged.iter().any(|c| SUPPLY.contains(&c.as_str()));
                    let shared = judged.iter().any(|c| finding.used.contains(c))
                        || (supply && finding.used.iter().any(|c| analogue.contains(c)));
                    if shared && overlap(spans, &finding.spans) {
                        finding.doubtful_because.push(id.clone());
                    }
                }
                _ => {}
            }
        }
    }
}

/// A finding without spans speaks of the whole log.
fn overlap(a: &Spans, b: &Spans) -> bool {
    if a.is_empty() || b.is_empty() {
        return true;
    }
    a.list()
        .iter()
        .any(|x| b.list().iter().any(|y| x.overlaps(*y)))
}

fn questions(findings: &[Finding], more: Vec<Text>) -> Vec<Text> {
    let asking = findings.iter().filter(|f| {
        !matches!(
            f.not_run_kind,
            Some(NotRun::NotFitted | NotRun::ScriptError)
        )
    });
    let mut out: Vec<Text> = Vec::new();
    for question in asking.flat_map(|f| f.questions.iter().cloned()).chain(more) {
        if !out.contains(&question) {
            out.push(question);
        }
    }
    out
}

fn gather_cautions(findings: &[Finding], more: &[&str]) -> Vec<Caution> {
    let mut ids: Vec<&str> = Vec::new();
    let warned = findings
        .iter()
        .filter(|f| f.verdict == Verdict::Warn)
        .flat_map(|f| f.cautions.iter().map(String::as_str));
    for id in warned.chain(more.iter().copied()) {
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    ids.into_iter().filter_map(caution).chain(CLOSING).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graph() -> Graph {
        let list: &[(&str, &[&str])] = &[
            ("log-gaps", &[]),
            ("channel-rail", &["log-gaps"]),
            ("charge-voltage", &["channel-rail"]),
            ("egt-probe", &["charge-voltage"]),
            ("egt-spread", &["egt-probe"]),
        ];
        Graph::new(
            list.iter()
                .map(|(id, on)| {
                    (
                        (*id).to_string(),
                        on.iter().map(|s| (*s).to_string()).collect(),
                    )
                })
                .collect(),
        )
        .expect("a graph without circles")
    }

    fn warn(id: &str, judged: &[&str], used: &[&str], span: (f64, f64)) -> Finding {
        let mut f = Finding::new(id, Verdict::Warn, "x");
        f.judged = judged.iter().map(|s| (*s).to_string()).collect();
        f.used = used.iter().map(|s| (*s).to_string()).collect();
        f.spans = Spans::one(span.0, span.1);
        f
    }

    fn review(findings: Vec<Finding>) -> Review {
        let analogue = BTreeSet::from(["egt_1".to_string()]);
        assemble(
            LogFacts::default(),
            findings,
            &graph(),
            &analogue,
            Vec::new(),
            &[],
            Reading::default(),
        )
    }

    #[test]
    fn the_lowest_warning_comes_first() {
        let r = review(vec![
            warn("egt-spread", &["egt_1"], &["egt_1", "rpm"], (0.0, 9.0)),
            warn(
                "channel-rail",
                &["coolant_temp"],
                &["coolant_temp"],
                (0.0, 9.0),
            ),
        ]);
        assert_eq!(r.start_here.as_deref(), Some("channel-rail"));
        assert_eq!(r.findings[0].id, "channel-rail");
        assert!(
            r.findings[1].doubtful_because.is_empty(),
            "it judged another channel"
        );
    }

    #[test]
    fn doubt_needs_the_channel_and_the_time() {
        let base = |span| warn("channel-rail", &["egt_1"], &["egt_1"], span);
        let top = || warn("egt-spread", &["egt_1"], &["egt_1", "rpm"], (0.0, 9.0));
        assert_eq!(
            review(vec![base((5.0, 6.0)), top()]).findings[1].doubtful_because,
            ["channel-rail"]
        );
        assert!(
            review(vec![base((50.0, 60.0)), top()]).findings[1]
                .doubtful_because
                .is_empty()
        );
    }

    #[test]
    fn a_supply_warning_touches_every_analogue_sensor() {
        let r = review(vec![
            warn(
                "charge-voltage",
                &["battery_v"],
                &["battery_v", "rpm"],
                (0.0, 9.0),
            ),
            warn("egt-spread", &["egt_1"], &["egt_1", "rpm"], (2.0, 3.0)),
        ]);
        assert_eq!(r.findings[1].doubtful_because, ["charge-voltage"]);
    }

    #[test]
    fn a_base_that_did_not_run_is_unchecked_not_doubt() {
        let mut base = Finding::new("egt-probe", Verdict::NotRun, "no load change");
        base.not_run_kind = Some(NotRun::NoOccasion);
        base.questions
            .push("Does each probe follow the load? Log one pull.".into());
        let r = review(vec![
            base,
            warn("egt-spread", &["egt_1"], &["egt_1"], (0.0, 1.0)),
        ]);
        assert_eq!(r.findings[1].unchecked, ["egt-probe"]);
        assert!(r.findings[1].doubtful_because.is_empty());
        assert_eq!(r.start_here.as_deref(), Some("egt-spread"));
        assert_eq!(r.open_questions.len(), 1);
    }

    #[test]
    fn nothing_judged_is_not_a_pass() {
        assert_eq!(
            review(vec![Finding::new("egt-probe", Verdict::NotRun, "x")]).verdict,
            Verdict::NotRun
        );
        let r = review(vec![Finding::new("log-gaps", Verdict::Pass, "x")]);
        assert_eq!(
            (r.verdict, r.cautions.last().map(|c| c.id)),
            (Verdict::Pass, Some("no-clearance"))
        );
    }
}
