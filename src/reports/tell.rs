//! What a review says and in which order: decided once, so that no view drifts from another.

use super::deciding::deciding;
use super::phrase::{clean, count, cylinders, extent, figure, list, list_some, name, names, when};
use super::story::{Block, Cause, FigureRow, Kind, LogLine, Section, Story, Warning};
use crate::findings::{
    Diagnosis, Finding, LogFacts, NotRun, Review, StopNow, Text, Verdict, caution,
};
use crate::plots::minutes;
use crate::units::Reading;

/// Trouble in the file spelled out; the rest is counted.
const TROUBLE: usize = 5;

/// Bases named beside a check that passed, where space is short.
const BASES_IN_A_LINE: usize = 3;

/// The cautions that close every review.
const CLOSING: [&str; 2] = ["starting-points", "no-clearance"];

/// Tells a review.
pub fn story(review: &Review) -> Story<'_> {
    let mut said = Vec::new();
    let sections = [
        stop(review),
        first(review, &mut said),
        warnings(review, &mut said),
        causes(review),
        passed(review),
        not_run(review),
        questions(review),
        Some(log(review)),
        careful(review, &said),
        closing(review),
    ];
    Story {
        log: log_name(review),
        verdict: review.verdict,
        headline: headline(review),
        sections: sections.into_iter().flatten().collect(),
    }
}

fn log_name(review: &Review) -> String {
    let name = clean(&review.log.path);
    if name.is_empty() {
        "a log without a name".to_string()
    } else {
        name
    }
}

/// The review in one sentence.
pub fn headline(review: &Review) -> String {
    let (warn, pass, not_run) = (
        review.count(Verdict::Warn),
        review.count(Verdict::Pass),
        review.count(Verdict::NotRun),
    );
    match review.verdict {
        Verdict::Warn => format!(
            "{} of {} {}; {pass} passed, {not_run} could not be judged.",
            warn,
            count(review.findings.len(), "check", "checks"),
            if warn == 1 { "warns" } else { "warn" },
        ),
        Verdict::Pass if little(review) => format!(
            "No check warns, but only {pass} of {} had anything to look at{}: this says little. Nothing of it crossed \
             the limits in use; that is no clearance to run.",
            count(review.findings.len(), "check", "checks"),
            if of(review, Verdict::Pass).all(of_the_file) {
                ", and none of those looks at the engine"
            } else {
                ""
            },
        ),
        Verdict::Pass => format!(
            "No check warns: {pass} passed, {not_run} could not be judged. Nothing in this log crossed the limits in \
             use; that is no clearance to run."
        ),
        Verdict::NotRun if review.findings.is_empty() => "No check was made.".to_string(),
        Verdict::NotRun => format!(
            "Nothing could be judged: none of {} could run on this log. This is not a pass.",
            count(not_run, "check", "checks")
        ),
    }
}

/// True where a pass rests on less than a third of the checks, or on nothing but the file itself.
fn little(review: &Review) -> bool {
    let judged = review.count(Verdict::Pass);
    let fitted = review.findings.iter();
    // What this engine does not have is no gap in the log.
    let fitted = fitted.filter(|f| f.not_run_kind != Some(NotRun::NotFitted));
    let fitted = fitted.count();
    fitted > 2 && (judged * 3 < fitted || of(review, Verdict::Pass).all(of_the_file))
}

/// True for checks of the recording: any file with a clock passes them.
fn of_the_file(f: &Finding) -> bool {
    f.system == "recording"
}

fn stop(review: &Review) -> Option<Section<'_>> {
    let line = |s: &StopNow| (clean(&s.id), clean(&s.text.read(&review.reading)));
    let lines: Vec<(String, String)> = review.stop_now.iter().map(line).collect();
    (!lines.is_empty()).then(|| Section {
        kind: Kind::Stop,
        lead: Some("Do not run this engine again until this is settled."),
        blocks: vec![Block::Checks(Verdict::Warn, lines)],
    })
}

/// The finding that opens the review.
pub fn start(review: &Review) -> Option<&Finding> {
    review
        .start_here
        .as_deref()
        .and_then(|id| review.finding(id))
}

fn first<'a>(review: &'a Review, said: &mut Vec<String>) -> Option<Section<'a>> {
    let finding = start(review)?;
    Some(Section {
        kind: Kind::First,
        lead: None,
        blocks: vec![warning(review, finding, said)],
    })
}

fn warnings<'a>(review: &'a Review, said: &mut Vec<String>) -> Option<Section<'a>> {
    let first = start(review);
    let blocks: Vec<Block<'a>> = of(review, Verdict::Warn)
        .filter(|f| first.is_none_or(|s| s.id != f.id))
        .map(|f| warning(review, f, said))
        .collect();
    (!blocks.is_empty()).then_some(Section {
        kind: Kind::Warnings,
        lead: None,
        blocks,
    })
}

fn of(review: &Review, verdict: Verdict) -> impl Iterator<Item = &Finding> {
    review.findings.iter().filter(move |f| f.verdict == verdict)
}

/// Each caution is said in full where it first matters, and only named after that.
fn warning<'a>(review: &Review, f: &'a Finding, said: &mut Vec<String>) -> Block<'a> {
    let over = when(&f.spans, &review.log);
    Block::Warning(Box::new(told(
        f,
        &review.reading,
        over,
        doubts(review, f),
        said,
    )))
}

/// A finding of a review in full, whatever it says, with each of its cautions.
pub fn in_full<'a>(review: &Review, f: &'a Finding) -> Warning<'a> {
    let over = when(&f.spans, &review.log);
    told(f, &review.reading, over, doubts(review, f), &mut Vec::new())
}

/// A finding outside of any review.
pub fn alone<'a>(f: &'a Finding, reading: &Reading) -> Warning<'a> {
    let log = LogFacts {
        duration_s: f.spans.hull().map_or(0.0, |s| s.to_s),
        ..LogFacts::default()
    };
    let over = when(&f.spans, &log);
    told(f, reading, over, Vec::new(), &mut Vec::new())
}

/// A finding in words.
fn told<'a>(
    f: &'a Finding,
    reading: &Reading,
    over: String,
    doubts: Vec<(&'static str, String)>,
    said: &mut Vec<String>,
) -> Warning<'a> {
    let mut careful = Vec::new();
    let mut again = Vec::new();
    for known in f.cautions.iter().filter_map(|id| caution(id)) {
        if said.iter().any(|s| s == known.id) {
            again.push(known.id.replace('-', " "));
        } else {
            said.push(known.id.to_string());
            careful.push(known.text.to_string());
        }
    }
    if !again.is_empty() {
        careful.push(format!("As above: {}.", list(&again)));
    }
    let mut facts = vec![("When", over)];
    match f.cylinders.len() {
        0 => {}
        1 => facts.push(("Cylinder", cylinders(&f.cylinders))),
        _ => facts.push(("Cylinders", cylinders(&f.cylinders))),
    }
    facts.extend(deciding(f, reading));
    Warning {
        id: clean(&f.id),
        title: title(f),
        reason: clean(&f.reason.read(reading)),
        facts,
        figures: figures(f, reading),
        doubts,
        next_step: f
            .next_step
            .as_ref()
            .map(|t| clean(&t.read(reading)))
            .filter(|t| !t.is_empty()),
        careful,
        plots: &f.plots,
    }
}

/// The title of a finding; its id where it has none.
pub fn title(f: &Finding) -> String {
    let title = clean(&f.title);
    if title.is_empty() {
        clean(&f.id)
    } else {
        title
    }
}

fn figures(f: &Finding, reading: &Reading) -> Vec<FigureRow> {
    let limit = |key: &str| {
        let used = f.limits.iter().find(|l| l.0 == key).map(|l| &l.1);
        // A limit of another unit only happens to have the name of a figure.
        let seen = f.numbers.iter().find(|n| n.0 == key).map(|n| n.1);
        let kin = |l: &&crate::findings::LimitUsed| {
            seen.is_none_or(|s| s.unit.difference() == l.figure.unit.difference())
        };
        let used = used.filter(kin);
        // Said before the figures already, where it decided.
        let used = used.filter(|_| f.decided_by.iter().all(|d| d != key));
        used.map(|l| (figure(l.figure, reading), clean(&l.from)))
    };
    let seen = f.numbers.iter().map(|(key, number)| FigureRow {
        name: name(key),
        seen: Some(figure(*number, reading)),
        limit: limit(key),
    });
    // Limits without a figure of their own are many and say little here; those that the builder changed are told.
    let alone = f.limits.iter().filter(|l| l.1.from == "build sheet");
    let alone =
        alone.filter(|l| f.numbers.iter().all(|n| n.0 != l.0) && !f.decided_by.contains(&l.0));
    let alone = alone.map(|l| FigureRow {
        name: name(&l.0),
        seen: None,
        limit: limit(&l.0),
    });
    let shown = |l: &&(String, crate::findings::LimitUsed)| {
        let decided = f.decided_by.contains(&l.0);
        decided || l.1.from == "build sheet" || f.numbers.iter().any(|n| n.0 == l.0)
    };
    let others = f.limits.len() - f.limits.iter().filter(shown).count();
    let rest = (others > 0).then(|| FigureRow {
        name: "other limits".to_string(),
        seen: Some(format!(
            "{others}, listed by plugread checks {}",
            clean(&f.id)
        )),
        limit: None,
    });
    seen.chain(alone).chain(rest).collect()
}

/// What takes weight from a warning, in plain words.
fn doubts(review: &Review, f: &Finding) -> Vec<(&'static str, String)> {
    let mut out = Vec::new();
    let named = |ids: &[String]| -> Vec<String> {
        let full = |id: &String| match review.finding(id).map(title) {
            Some(title) if title != *id => format!("{title} ({})", clean(id)),
            _ => clean(id),
        };
        ids.iter().map(full).collect()
    };
    if !f.doubtful_because.is_empty() {
        let verb = if f.doubtful_because.len() == 1 {
            "warns"
        } else {
            "warn"
        };
        let bases = list(&named(&f.doubtful_because));
        let words = format!(
            "{bases} {verb} at the same time about readings that this rests on. Settle that first."
        );
        out.push(("Doubtful", words));
    }
    if !f.unchecked.is_empty() {
        let bases = list(&named(&f.unchecked));
        out.push((
            "Unchecked",
            format!("it builds on {bases}, which could not be judged."),
        ));
    }
    out
}

fn causes(review: &Review) -> Option<Section<'_>> {
    let reading = &review.reading;
    let cause = |d: &Diagnosis| {
        let each = |list: &[Text]| {
            let words: Vec<String> = list.iter().map(|t| clean(&t.read(reading))).collect();
            words.join(" ")
        };
        let ids: Vec<String> = d.from.iter().map(|id| clean(id)).collect();
        let facts = [
            ("For it", each(&d.speaks_for)),
            ("Against it", each(&d.speaks_against)),
            ("Test", clean(&d.test.read(reading))),
            ("From", list(&ids)),
        ];
        Block::Cause(Cause {
            cause: clean(&d.cause.read(reading)),
            facts: facts.into_iter().filter(|f| !f.1.is_empty()).collect(),
        })
    };
    let blocks: Vec<Block<'_>> = review.diagnosis.iter().map(cause).collect();
    (!blocks.is_empty()).then_some(Section {
        kind: Kind::Causes,
        lead: None,
        blocks,
    })
}

fn passed(review: &Review) -> Option<Section<'_>> {
    let line = |f: &Finding| {
        let mut words = clean(&f.reason.read(&review.reading));
        if !f.unchecked.is_empty() {
            let ids: Vec<String> = f.unchecked.iter().map(|id| clean(id)).collect();
            let bases = list_some(&ids, BASES_IN_A_LINE);
            words = format!("{words} (builds on {bases}: not judged)")
                .trim_start()
                .to_string();
        }
        (clean(&f.id), words)
    };
    let lines: Vec<(String, String)> = of(review, Verdict::Pass).map(line).collect();
    (!lines.is_empty()).then(|| Section {
        kind: Kind::Passed,
        lead: Some("Nothing in this log crossed the limits of these."),
        blocks: vec![Block::Checks(Verdict::Pass, lines)],
    })
}

/// Kinds of not-run in the order in which a person can do something about them.
const NOT_RUN: [(Option<NotRun>, &str); 5] = [
    (
        Some(NotRun::ScriptError),
        "The check itself failed: mend its script",
    ),
    (
        Some(NotRun::Missing),
        "Not logged, or not on the build sheet",
    ),
    (
        Some(NotRun::NoOccasion),
        "The run never did what these need to see",
    ),
    (
        Some(NotRun::NotFitted),
        "Not on this engine, says the build sheet",
    ),
    (None, "No reason given"),
];

fn not_run(review: &Review) -> Option<Section<'_>> {
    let mut blocks = Vec::new();
    for (kind, words) in NOT_RUN {
        let lines: Vec<(String, String)> = of(review, Verdict::NotRun)
            .filter(|f| f.not_run_kind == kind)
            .map(|f| (clean(&f.id), clean(&f.reason.read(&review.reading))))
            .collect();
        if !lines.is_empty() {
            blocks.push(Block::Group(words));
            blocks.push(Block::Checks(Verdict::NotRun, lines));
        }
    }
    (!blocks.is_empty()).then_some(Section {
        kind: Kind::NotRun,
        lead: None,
        blocks,
    })
}

fn questions(review: &Review) -> Option<Section<'_>> {
    let words = |t: &Text| clean(&t.read(&review.reading));
    let list: Vec<String> = review.open_questions.iter().map(words).collect();
    (!list.is_empty()).then(|| Section {
        kind: Kind::Questions,
        lead: Some(
            "What this log and build sheet could not answer. Keep the list and work it off.",
        ),
        blocks: vec![Block::Numbered(list)],
    })
}

fn log(review: &Review) -> Section<'_> {
    let log = &review.log;
    let mut facts = vec![("Rows", extent(log))];
    if !log.phases.is_empty() {
        let mut totals: Vec<(String, f64)> = Vec::new();
        for p in &log.phases {
            let length = p.to_s - p.from_s;
            match totals.iter_mut().find(|t| t.0 == p.phase) {
                Some(total) => total.1 += length,
                None => totals.push((p.phase.clone(), length)),
            }
        }
        let words: Vec<String> = totals
            .iter()
            .map(|(phase, s)| format!("{} {s:.1} s", clean(phase)))
            .collect();
        facts.push(("Phases", words.join(", ")));
    }
    facts.push(("Channels", format!("{} understood", log.channels.len())));
    if !log.unmapped.is_empty() {
        let words: Vec<String> = log.unmapped.iter().map(|w| clean(w)).collect();
        facts.push((
            "Unused",
            format!("columns that fit no known channel: {}", names(&words)),
        ));
    }
    let mut blocks = vec![Block::Facts(facts)];
    if !log.problems.is_empty() {
        blocks.push(Block::Group("Could not be used as it stands"));
        // Those of the whole file also say how many there are beyond the listed ones.
        let (placed, whole): (Vec<_>, Vec<_>) = log.problems.iter().partition(|p| p.line > 0);
        let first = placed.iter().take(TROUBLE);
        let mut lines: Vec<String> = first
            .map(|p| format!("Line {}: {}", p.line, clean(&p.what)))
            .collect();
        if placed.len() > TROUBLE {
            let more = placed.len() - TROUBLE;
            lines.push(format!("and {more} more that `plugread channels` lists"));
        }
        lines.extend(whole.iter().map(|p| clean(&p.what)));
        blocks.push(Block::Bullets(lines));
    }
    Section {
        kind: Kind::Log,
        lead: None,
        blocks,
    }
}

fn careful<'a>(review: &Review, said: &[String]) -> Option<Section<'a>> {
    let open = review.cautions.iter().filter(|c| !CLOSING.contains(&c.id));
    let list: Vec<String> = open
        .filter(|c| said.iter().all(|s| s != c.id))
        .map(|c| c.text.to_string())
        .collect();
    (!list.is_empty()).then(|| Section {
        kind: Kind::Careful,
        lead: None,
        blocks: vec![Block::Bullets(list)],
    })
}

fn closing<'a>(review: &Review) -> Option<Section<'a>> {
    let closing = review.cautions.iter().filter(|c| CLOSING.contains(&c.id));
    let list: Vec<String> = closing.map(|c| c.text.to_string()).collect();
    (!list.is_empty()).then(|| Section {
        kind: Kind::Closing,
        lead: None,
        blocks: vec![Block::Bullets(list)],
    })
}

/// The table over several logs, in their order.
pub fn table(reviews: &[Review]) -> Vec<LogLine> {
    let line = |review: &Review| LogLine {
        log: log_name(review),
        verdict: review.verdict,
        stop: !review.stop_now.is_empty(),
        words: match start(review) {
            Some(first) => format!("look first at {}. {}", clean(&first.id), headline(review)),
            None => headline(review),
        },
        first: start(review).map(|first| clean(&first.id)),
        length: minutes(review.log.duration_s),
        stops: review.stop_now.len(),
        cautions: review
            .cautions
            .iter()
            .filter(|c| !CLOSING.contains(&c.id))
            .count(),
        counts: [Verdict::Warn, Verdict::Pass, Verdict::NotRun].map(|v| review.count(v)),
    };
    reviews.iter().map(line).collect()
}

/// What the row of warnings is called where cylinders stand side by side.
pub const NAMED: &str = "warnings that name it";

/// The warnings that name that cylinder.
pub fn warnings_of(review: &Review, cylinder: u32) -> Vec<&Finding> {
    let all = review.findings.iter();
    all.filter(|f| f.verdict == Verdict::Warn && f.cylinders.contains(&cylinder))
        .collect()
}
