//! A review as one page: for a browser on a desk, a phone at the car, or paper.
//!
//! It reads like a letter: what to look at first and what to do about it, then the course of the run, then the systems
//! from the base up with a line for each check, then what stays open, then the cautions. All of it can be read without
//! script, mouse or colour; `page.js` only adds comfort.

mod check;
mod course;
mod cylinders;
mod figure;
mod fragment;
mod pieces;
mod points;
mod top;

use self::check::{Elsewhere, check};
use self::course::course;
use self::cylinders::cylinders;
use self::figure::Shown;
use self::pieces::{badge, facts_list, items, prose};
use self::points::Points;
use super::Unread;
use super::page::{escape, letter};
use super::phrase::{clean, count, file_name, verdict as word};
use super::story::{Block, Kind, Section, Story, TABLE_TITLE, UNREAD};
use super::tell::{start, story, table};
use crate::findings::{Finding, Review, Verdict};
use crate::plots::CLOCK_FROM_S;

pub use fragment::{finding_fragment, fragment};

/// One page with all reviews; where there are several, a table of them stands on top.
pub fn render(reviews: &[Review], unread: &[Unread]) -> String {
    let several = reviews.len() + unread.len() > 1;
    let mut body = String::from(
        "<a class=\"skip\" href=\"#content\">Skip to the findings</a>\n<main id=\"content\">\n",
    );
    if several {
        all_logs(&mut body, reviews, unread);
    }
    let mut points = Points::default();
    for (i, review) in reviews.iter().enumerate() {
        // Anchors stay short and stable where there is only one log.
        let prefix = if several {
            format!("log-{}-", i + 1)
        } else {
            String::new()
        };
        let mut one = String::new();
        tell(&mut one, review, &prefix, &mut points);
        body.push_str(&if several { lowered(&one) } else { one });
    }
    body.push_str("</main>\n");
    let clock = reviews.iter().any(|r| r.log.duration_s > CLOCK_FROM_S);
    let title = match reviews {
        [only] if !several => {
            let path = clean(&only.log.path);
            let name: String = file_name(&path).chars().take(50).collect();
            format!("{}: {name}", word(only.verdict))
        }
        many => format!("Review of {} logs", many.len() + unread.len()),
    };
    letter(&title, &body, &points.json(clock))
}

/// The same markup with its headings a level lower, below that of the table over several logs.
fn lowered(markup: &str) -> String {
    let mut out = markup.replacen("<article>", "<article class=\"one-of\">", 1);
    for level in [3, 2, 1] {
        for end in ["<", "</"] {
            out = out.replace(&format!("{end}h{level}"), &format!("{end}h{}", level + 1));
        }
    }
    out
}

fn tell(out: &mut String, review: &Review, prefix: &str, points: &mut Points) {
    let story = story(review);
    let mut shown = Shown {
        reading: &review.reading,
        clock: Some(review.log.duration_s > CLOCK_FROM_S),
        points: Some(points),
    };
    out.push_str("<article>\n");
    top::letterhead(out, review, &story, prefix);
    top::stop(out, review, prefix);
    top::first(out, review, prefix, &mut shown);
    top::before(out, review, prefix);
    nav(out, review, &story, prefix);
    course(out, review, prefix, &mut shown);
    cylinders(out, review, prefix);
    causes(out, review, &story, prefix);
    systems(out, review, prefix, &mut shown);
    section(out, &story, Kind::Questions, prefix);
    section(out, &story, Kind::Log, prefix);
    careful(out, review, prefix);
    out.push_str("</article>\n");
}

/// Where to find what.
fn nav(out: &mut String, review: &Review, story: &Story<'_>, prefix: &str) {
    let has = |kind: Kind| story.sections.iter().any(|s| s.kind == kind);
    let mut places = vec![("course", "The run")];
    if !review.cylinders.order.is_empty() {
        places.push(("cylinders", "Cylinders"));
    }
    if has(Kind::Causes) {
        places.push((Kind::Causes.anchor(), Kind::Causes.title()));
    }
    if !review.findings.is_empty() {
        places.push(("systems", SYSTEMS));
    }
    if has(Kind::Questions) {
        places.push((Kind::Questions.anchor(), Kind::Questions.title()));
    }
    places.push((Kind::Log.anchor(), Kind::Log.title()));
    places.push((Kind::Careful.anchor(), Kind::Careful.title()));
    let log = clean(&review.log.path);
    out.push_str(&format!(
        "<nav aria-label=\"On this page: {}\"><ul>\n",
        escape(&log)
    ));
    for (anchor, title) in places {
        out.push_str(&format!(
            "<li><a href=\"#{prefix}{anchor}\">{title}</a></li>\n"
        ));
    }
    out.push_str("</ul></nav>\n");
}

/// Heading of the part with all checks.
const SYSTEMS: &str = "From the base up";

/// All checks, a line each, system by system in the order in which they rest on each other.
fn systems(out: &mut String, review: &Review, prefix: &str, shown: &mut Shown<'_>) {
    if review.findings.is_empty() {
        return;
    }
    out.push_str(&format!(
        "<section class=\"systems\">\n<h2 id=\"{prefix}systems\">{SYSTEMS}</h2>\n\
         <p class=\"hint\">Each line opens. What stands lower rests on what stands above it.</p>\n"
    ));
    let first = start(review).filter(|f| !f.plots.is_empty());
    let elsewhere = Elsewhere {
        first: first.map(|f| f.id.as_str()),
    };
    for of_one in review.findings.chunk_by(|a, b| a.system == b.system) {
        let system = of_one.first().map(|f| clean(&f.system)).unwrap_or_default();
        let system = if system.is_empty() {
            "Your own".to_string()
        } else {
            capital(&system)
        };
        out.push_str(&format!(
            "<div class=\"system\">\n<h3>{} <span class=\"tally\">{}</span></h3>\n",
            escape(&system),
            tally(of_one)
        ));
        for f in of_one {
            check(out, review, f, prefix, shown, &elsewhere);
        }
        out.push_str("</div>\n");
    }
    out.push_str("</section>\n");
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

/// How many of each verdict, those that are there.
fn tally(findings: &[Finding]) -> String {
    let of = |verdict: Verdict| findings.iter().filter(|f| f.verdict == verdict).count();
    let words = [
        (of(Verdict::Warn), "warn"),
        (of(Verdict::Pass), "passed"),
        (of(Verdict::NotRun), "not judged"),
    ];
    let words: Vec<String> = words
        .into_iter()
        .filter(|w| w.0 > 0)
        .map(|(n, word)| match (n, word) {
            (1, "warn") => "1 warns".to_string(),
            _ => format!("{n} {word}"),
        })
        .collect();
    words.join(", ")
}

/// What several findings point to.
fn causes(out: &mut String, review: &Review, story: &Story<'_>, prefix: &str) {
    let Some(told) = story.sections.iter().find(|s| s.kind == Kind::Causes) else {
        return;
    };
    let (anchor, title) = (told.kind.anchor(), told.kind.title());
    out.push_str(&format!(
        "<section class=\"{anchor}\">\n<h2 id=\"{prefix}{anchor}\">{title}</h2>\n"
    ));
    if !review.stop_now.is_empty() {
        out.push_str(
            "<p>The stop above comes first: no test here that runs the engine before all that can be done with it off, and none \
             on the road.</p>\n",
        );
    }
    for (block, diagnosis) in told.blocks.iter().zip(&review.diagnosis) {
        let Block::Cause(cause) = block else { continue };
        out.push_str(&format!("<h3>{}</h3>\n<dl>\n", prose(&cause.cause)));
        for (name, words) in cause.facts.iter().filter(|f| f.0 != "From") {
            out.push_str(&format!("<dt>{name}</dt><dd>{}</dd>\n", prose(words)));
        }
        let from: Vec<String> = diagnosis
            .from
            .iter()
            .map(|id| pieces::link(review, id, prefix))
            .collect();
        if !from.is_empty() {
            out.push_str(&format!("<dt>From</dt><dd>{}</dd>\n", from.join("; ")));
        }
        out.push_str("</dl>\n");
    }
    out.push_str("</section>\n");
}

/// A section of the story as it stands.
fn section(out: &mut String, story: &Story<'_>, kind: Kind, prefix: &str) {
    let Some(section) = story.sections.iter().find(|s| s.kind == kind) else {
        return;
    };
    let (anchor, title) = (kind.anchor(), kind.title());
    out.push_str(&format!(
        "<section class=\"{anchor}\">\n<h2 id=\"{prefix}{anchor}\">{title}</h2>\n"
    ));
    if let Some(lead) = section.lead {
        out.push_str(&format!("<p>{}</p>\n", prose(lead)));
    }
    blocks(out, section);
    out.push_str("</section>\n");
}

fn blocks(out: &mut String, section: &Section<'_>) {
    for block in &section.blocks {
        match block {
            // Causes are told with links to what they rest on.
            Block::Cause(_) => {}
            Block::Group(words) => out.push_str(&format!("<h3>{}</h3>\n", escape(words))),
            Block::Numbered(lines) => out.push_str(&format!("<ol>\n{}</ol>\n", items(lines))),
            Block::Bullets(lines) => out.push_str(&format!("<ul>\n{}</ul>\n", items(lines))),
            Block::Facts(facts) => facts_list(out, facts),
            // Warnings and checks have their places among the systems.
            Block::Warning(_) | Block::Checks(..) => {}
        }
    }
}

/// Every caution of the review, in full, the closing ones last.
fn careful(out: &mut String, review: &Review, prefix: &str) {
    let lines: Vec<String> = review.cautions.iter().map(|c| c.text.to_string()).collect();
    out.push_str(&format!(
        "<section class=\"careful\">\n<h2 id=\"{prefix}careful\">{}</h2>\n<ul>\n{}</ul>\n</section>\n",
        Kind::Careful.title(),
        items(&lines)
    ));
}

/// The table over several logs, the one that needs most on top.
fn all_logs(out: &mut String, reviews: &[Review], unread: &[Unread]) {
    out.push_str(&format!(
        "<section class=\"all\">\n<h1 id=\"all\">{TABLE_TITLE}: {}</h1>\n<table>\n<thead><tr><th scope=\"col\">log</th>\
         <th scope=\"col\">verdict</th><th scope=\"col\">in short</th></tr></thead>\n<tbody>\n",
        count(reviews.len() + unread.len(), "log", "logs")
    ));
    let table = table(reviews);
    let mut lines: Vec<(usize, &super::story::LogLine)> = table.iter().enumerate().collect();
    let rank = |v: Verdict| match v {
        Verdict::Warn => 0,
        Verdict::NotRun => 1,
        Verdict::Pass => 2,
    };
    lines.sort_by_key(|(_, line)| (!line.stop, rank(line.verdict)));
    for (i, line) in lines {
        let stop = if line.stop {
            "<strong>stop now</strong>; "
        } else {
            ""
        };
        out.push_str(&format!(
            "<tr><th scope=\"row\"><a href=\"#log-{}-review\">{}</a></th><td>{}</td><td>{stop}{}</td></tr>\n",
            i + 1,
            escape(&line.log),
            badge(line.verdict),
            escape(&line.words)
        ));
    }
    for log in unread {
        out.push_str(&format!(
            "<tr><th scope=\"row\">{}</th><td>{UNREAD}</td><td>{}</td></tr>\n",
            escape(&clean(&log.log)),
            escape(&clean(&log.why))
        ));
    }
    out.push_str("</tbody>\n</table>\n</section>\n");
}
