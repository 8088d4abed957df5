//! One check as one line that opens to all it has to say.

use super::figure::{Shown, figure_of};
use super::pieces::{badge, facts_list, link, place, prose, shape};
use crate::findings::{Finding, LimitUsed, NotRun, Review, Verdict, caution};
use crate::reports::page::escape;
use crate::reports::phrase::{clean, cylinders, figure as number, list, name, verdict as word};
use crate::reports::tell::in_full;
use crate::units::Reading;

/// Pictures left out where the page shows them elsewhere.
pub struct Elsewhere<'a> {
    /// The finding whose first picture stands at the top.
    pub first: Option<&'a str>,
}

/// The line and what it opens to.
pub fn check(
    out: &mut String,
    review: &Review,
    f: &Finding,
    prefix: &str,
    shown: &mut Shown<'_>,
    elsewhere: &Elsewhere<'_>,
) {
    let reading = &review.reading;
    let told = in_full(review, f);
    out.push_str(&format!(
        "<details class=\"check {}\">\n<summary>{} <span class=\"name\">{}</span>{}</summary>\n<div class=\"body\" id=\"{}\">\n",
        f.verdict.word(),
        badge(f.verdict),
        escape(&told.title),
        gist(f, &told.facts),
        place(prefix, &told.id)
    ));
    if !told.reason.is_empty() {
        out.push_str(&format!(
            "<p class=\"reason\">{}</p>\n",
            prose(&told.reason)
        ));
    }
    let facts: Vec<(&str, String)> = told
        .facts
        .into_iter()
        .filter(|(name, _)| *name != "When" || f.verdict == Verdict::Warn || !f.spans.is_empty())
        .collect();
    facts_list(out, &facts);
    numbers(out, f, reading);
    let first = elsewhere.first == Some(f.id.as_str());
    for i in 0..f.plots.len() {
        if first && i == 0 {
            out.push_str(&format!(
                "<p class=\"note\">Its picture stands at the top, under <a href=\"#{prefix}first\">Look at this first</a>.</p>\n"
            ));
        } else {
            figure_of(out, f, i, shown);
        }
    }
    for (name, words) in &told.doubts {
        out.push_str(&format!(
            "<p class=\"doubt\"><strong>{name}:</strong> {}</p>\n",
            prose(words)
        ));
    }
    if let Some(step) = &told.next_step {
        out.push_str(&format!(
            "<p class=\"next\"><strong>Do next:</strong> {}</p>\n",
            prose(step)
        ));
    }
    careful(out, f, prefix);
    bases(out, review, f, prefix);
    limits(out, f, reading);
    out.push_str(&format!(
        "<p class=\"note id\">Check <code>{}</code></p>\n</div>\n</details>\n",
        escape(&told.id)
    ));
}

/// The few words that stand beside the title.
fn gist(f: &Finding, facts: &[(&'static str, String)]) -> String {
    let words = match f.verdict {
        Verdict::Warn => {
            let who = match f.cylinders.as_slice() {
                [] => None,
                [one] => Some(format!("cylinder {one}")),
                more => Some(format!("cylinders {}", cylinders(more))),
            };
            let when = facts.iter().find(|fact| fact.0 == "When");
            // Many stretches would make it more than a line.
            let when = when.map(|w| w.1.split(": ").next().unwrap_or_default().to_string());
            let words: Vec<String> = who.into_iter().chain(when).collect();
            words.join("; ")
        }
        Verdict::NotRun => not_run(f.not_run_kind).to_string(),
        Verdict::Pass if f.unchecked.is_empty() => String::new(),
        Verdict::Pass => "builds on what was not judged".to_string(),
    };
    if words.is_empty() {
        return String::new();
    }
    format!(" <span class=\"gist\">{}</span>", escape(&words))
}

/// Why it did not run, in a few words.
fn not_run(kind: Option<NotRun>) -> &'static str {
    match kind {
        Some(NotRun::Missing) => "not logged, or not on the sheet",
        Some(NotRun::NoOccasion) => "the run never did what it needs to see",
        Some(NotRun::NotFitted) => "not on this engine",
        Some(NotRun::ScriptError) => "its script failed",
        None => "no reason given",
    }
}

/// Figures, each beside the limit of its name where there is one.
fn numbers(out: &mut String, f: &Finding, reading: &Reading) {
    if f.numbers.is_empty() {
        return;
    }
    out.push_str("<table class=\"figures\">\n<caption>Figures</caption>\n<tbody>\n");
    for (key, figure) in &f.numbers {
        // A limit of another unit only happens to have the same name.
        let kin = |l: &&(String, LimitUsed)| {
            l.0 == *key && l.1.figure.unit.difference() == figure.unit.difference()
        };
        let limit = f.limits.iter().find(kin);
        let limit = limit.map(|(_, used)| {
            format!(
                " <span class=\"limit\">limit {}</span>",
                escape(&number(used.figure, reading))
            )
        });
        out.push_str(&format!(
            "<tr><th scope=\"row\">{}</th><td>{}{}</td></tr>\n",
            escape(&name(key)),
            escape(&number(*figure, reading)),
            limit.unwrap_or_default()
        ));
    }
    out.push_str("</tbody>\n</table>\n");
}

/// Every limit in use, behind a line of its own: there are many, and few of them decide.
fn limits(out: &mut String, f: &Finding, reading: &Reading) {
    if f.limits.is_empty() || f.verdict == Verdict::NotRun {
        return;
    }
    out.push_str(&format!(
        "<details class=\"limits\">\n<summary>Limits in use: {}</summary>\n<table>\n<thead><tr><th scope=\"col\">limit</th>\
         <th scope=\"col\">value</th><th scope=\"col\">where it comes from</th></tr></thead>\n<tbody>\n",
        f.limits.len()
    ));
    for (key, used) in &f.limits {
        let decided = if f.decided_by.contains(key) {
            " <strong>(decided)</strong>"
        } else {
            ""
        };
        out.push_str(&format!(
            "<tr><th scope=\"row\">{}{decided}</th><td>{}</td><td>{}</td></tr>\n",
            escape(&name(key)),
            escape(&number(used.figure, reading)),
            escape(&clean(&used.from))
        ));
    }
    out.push_str("</tbody>\n</table>\n</details>\n");
}

/// The names of its cautions; in full they stand at the end of the page.
fn careful(out: &mut String, f: &Finding, prefix: &str) {
    let known: Vec<String> = f
        .cautions
        .iter()
        .filter(|id| caution(id).is_some())
        .map(|id| id.replace('-', " "))
        .collect();
    if !known.is_empty() {
        out.push_str(&format!(
            "<p class=\"care\"><strong>Careful:</strong> {}. <a href=\"#{prefix}careful\">In full under Careful</a>.</p>\n",
            escape(&list(&known))
        ));
    }
}

/// What it builds on, each with its verdict.
fn bases(out: &mut String, review: &Review, f: &Finding, prefix: &str) {
    if f.builds_on.is_empty() {
        return;
    }
    let each = f.builds_on.iter().map(|id| {
        let name = link(review, id, prefix);
        match review.finding(id) {
            Some(base) => format!(
                "<li><span aria-hidden=\"true\">{}</span> {}: {name}</li>\n",
                shape(base.verdict),
                word(base.verdict)
            ),
            None => format!("<li>{name}: not among these checks</li>\n"),
        }
    });
    out.push_str(&format!(
        "<p class=\"lead\">Builds on</p>\n<ul class=\"bases\">\n{}</ul>\n",
        each.collect::<String>()
    ));
}
