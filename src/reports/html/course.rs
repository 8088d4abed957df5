//! The run as a ribbon: what the engine did when, and what warned when.

use super::figure::{Shown, twice};
use super::points::Fields;
use crate::findings::{Review, Verdict};
use crate::plots::{Course, Ribbon, Size};
use crate::reports::page::escape;
use crate::reports::phrase::{clean, count};
use crate::reports::tell::title;
use crate::span::{Span, Spans};

/// Warnings with a row of their own; more are counted.
const ROWS: usize = 8;

/// The ribbon; a sentence where no phase is known.
pub fn course(out: &mut String, review: &Review, prefix: &str, shown: &mut Shown<'_>) {
    out.push_str(&format!(
        "<section class=\"course\">\n<h2 id=\"{prefix}course\">The run</h2>\n"
    ));
    match run(review) {
        Some(run) => ribbon(out, review, run, shown),
        None => out.push_str(
            "<p>What the engine did when is not known: no engine speed was logged.</p>\n",
        ),
    }
    out.push_str("</section>\n");
}

/// From the first phase to the last.
fn run(review: &Review) -> Option<Span> {
    let phases = &review.log.phases;
    let from_s = phases.iter().map(|p| p.from_s).reduce(f64::min)?;
    let to_s = phases.iter().map(|p| p.to_s).reduce(f64::max)?;
    Some(Span { from_s, to_s })
}

fn ribbon(out: &mut String, review: &Review, run: Span, shown: &mut Shown<'_>) {
    let mut rows: Vec<(String, Vec<Span>)> = Vec::new();
    for p in &review.log.phases {
        let (name, span) = (
            clean(&p.phase),
            Span {
                from_s: p.from_s,
                to_s: p.to_s,
            },
        );
        match rows.iter_mut().find(|r| r.0 == name) {
            Some(row) => row.1.push(span),
            None => rows.push((name, vec![span])),
        }
    }
    let warned: Vec<(String, Spans)> = review
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Warn && !f.spans.is_empty())
        .map(|f| (title(f), f.spans.clone()))
        .collect();
    let more = warned.len().saturating_sub(ROWS);
    let course = Course {
        did: Ribbon {
            title: "What the engine did, and what warned when".to_string(),
            run,
            rows: rows
                .into_iter()
                .map(|(name, spans)| (name, Spans::new(spans)))
                .collect(),
        },
        warned: warned.into_iter().take(ROWS).collect(),
        clock: shown.clock.unwrap_or_default(),
    };
    out.push_str("<figure>\n");
    match (
        course.svg_in_page(Size::PAGE.width()),
        course.svg_in_page(Size::PHONE.width()),
    ) {
        (Ok((wide, desk)), Ok((narrow, phone))) => {
            let number = shown.points.as_mut().map(|points| {
                for p in &review.log.phases {
                    points.phase(&clean(&p.phase), p.from_s, p.to_s);
                }
                points.ribbon(&Fields { desk, phone })
            });
            out.push_str(&twice(&wide, &narrow, number));
        }
        (Err(error), _) | (_, Err(error)) => {
            out.push_str(&format!("<p>{}</p>\n", escape(&error.to_string())));
        }
    }
    let mut words = totals(review);
    if more > 0 {
        words.push_str(&format!(
            " {} more without a row here.",
            count(more, "warning", "warnings")
        ));
    }
    out.push_str(&format!(
        "<figcaption>{}</figcaption>\n</figure>\n",
        escape(&words)
    ));
}

/// How long each phase lasted in all.
fn totals(review: &Review) -> String {
    let mut totals: Vec<(String, f64)> = Vec::new();
    for p in &review.log.phases {
        let (name, length) = (clean(&p.phase), p.to_s - p.from_s);
        match totals.iter_mut().find(|t| t.0 == name) {
            Some(total) => total.1 += length,
            None => totals.push((name, length)),
        }
    }
    let words: Vec<String> = totals
        .iter()
        .map(|(phase, s)| format!("{phase} {s:.1} s"))
        .collect();
    format!("{}.", words.join(", "))
}
