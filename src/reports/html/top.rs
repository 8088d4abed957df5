//! The opening of the letter: what was read, whether to stop, the one thing to look at first, and what can hurt.

use super::figure::{Shown, figure_of};
use super::pieces::{badge, items, link, place, prose};
use crate::findings::{Review, Verdict, caution};
use crate::reports::page::escape;
use crate::reports::phrase::{clean, count, extent, file_name};
use crate::reports::story::{Kind, Story};
use crate::reports::tell::{in_full, start};

/// Cautions about fire: said at the top whatever the checks found, for such a flame may not be seen.
const FIRE: [&str; 3] = ["fuel-fire", "alcohol-flame", "methanol-flame"];

/// Which log this is, and the review in one sentence.
pub fn letterhead(out: &mut String, review: &Review, story: &Story<'_>, prefix: &str) {
    out.push_str(&format!(
        "<header class=\"head\">\n<h1 id=\"{prefix}review\">Review of {}</h1>\n<p class=\"extent\">{}</p>\n<p class=\"headline\">{} {}</p>\n</header>\n",
        escape(file_name(&story.log)),
        escape(&extent(&review.log)),
        badge(story.verdict),
        escape(&story.headline)
    ));
}

/// Dangers.
pub fn stop(out: &mut String, review: &Review, prefix: &str) {
    if review.stop_now.is_empty() {
        return;
    }
    out.push_str(&format!(
        "<section class=\"stop\">\n<h2 id=\"{prefix}stop\"><span aria-hidden=\"true\">\u{25a0}</span> {}</h2>\n\
         <p>Do not run this engine again until this is settled.</p>\n<ul>\n",
        Kind::Stop.title()
    ));
    for stop in &review.stop_now {
        out.push_str(&format!(
            "<li>{} ({})</li>\n",
            prose(&clean(&stop.text.read(&review.reading))),
            link(review, &stop.id, prefix)
        ));
    }
    out.push_str(
        "</ul>\n<p>Below, what can be done with the engine off comes first. A test that needs it running comes after that, alone, and \
         never on the road.</p>\n</section>\n",
    );
}

/// The one thing to look at first: a sentence, its next step, its picture.
pub fn first(out: &mut String, review: &Review, prefix: &str, shown: &mut Shown<'_>) {
    let Some(f) = start(review) else {
        return quiet(out, review, prefix);
    };
    let told = in_full(review, f);
    out.push_str(&format!(
        "<section class=\"first\">\n<h2 id=\"{prefix}first\">{}</h2>\n\
         <p class=\"what\"><strong>{}.</strong> {}</p>\n",
        Kind::First.title(),
        escape(told.title.trim_end_matches('.')),
        prose(&told.reason)
    ));
    let when: Vec<String> = told
        .facts
        .iter()
        .filter(|fact| ["When", "Cylinder", "Cylinders"].contains(&fact.0))
        .map(|(name, words)| format!("{name}: {words}"))
        .collect();
    if !when.is_empty() {
        out.push_str(&format!(
            "<p class=\"when\">{}</p>\n",
            escape(&when.join(". "))
        ));
    }
    if let Some(step) = &told.next_step {
        out.push_str(&format!(
            "<p class=\"next\"><strong>Do next:</strong> {}</p>\n",
            prose(step)
        ));
    }
    figure_of(out, f, 0, shown);
    out.push_str(&format!(
        "<p class=\"note\">Its figures, limits and what it builds on: <a href=\"#{}\">{}</a>.</p>\n</section>\n",
        place(prefix, &told.id),
        escape(&told.title)
    ));
}

/// Where nothing warns: what to do instead.
fn quiet(out: &mut String, review: &Review, prefix: &str) {
    out.push_str(&format!(
        "<section class=\"first\">\n<h2 id=\"{prefix}first\">Nothing warns</h2>\n"
    ));
    let open = review.open_questions.len();
    let words = match (review.verdict, open) {
        (Verdict::NotRun, 0) => {
            "This log could not be judged, so it says nothing for or against another run."
                .to_string()
        }
        (_, 0) => {
            "Before the next run, read the cautions and go round the car as always.".to_string()
        }
        _ => format!(
            "Work off the <a href=\"#{prefix}questions\">{}</a> at the end, the first of them now: {}",
            count(open, "open question", "open questions"),
            prose(&clean(&review.open_questions[0].read(&review.reading)))
        ),
    };
    out.push_str(&format!(
        "<p class=\"next\"><strong>Do next:</strong> {words}</p>\n</section>\n"
    ));
}

/// What can hurt whoever does the work above: said here in full, although all cautions stand together at the end.
pub fn before(out: &mut String, review: &Review, prefix: &str) {
    let speaking = review.findings.iter().filter(|f| {
        start(review).is_some_and(|s| s.id == f.id)
            || f.stop_now.is_some() && f.verdict == Verdict::Warn
    });
    let asked: Vec<&str> = speaking
        .flat_map(|f| f.cautions.iter().map(String::as_str))
        .collect();
    let lines: Vec<String> = review
        .cautions
        .iter()
        .filter(|c| caution(c.id).is_some() && (asked.contains(&c.id) || FIRE.contains(&c.id)))
        .map(|c| c.text.to_string())
        .collect();
    if lines.is_empty() {
        return;
    }
    out.push_str(&format!(
        "<section class=\"before\">\n<h2 id=\"{prefix}before\">Before you touch it</h2>\n<ul>\n{}</ul>\n</section>\n",
        items(&lines)
    ));
}
