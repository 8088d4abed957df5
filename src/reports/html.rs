//! A review as one page: for a browser on a desk, a phone at the car, or paper.

use super::Unread;
use super::page::{escape, page, part};
use super::phrase::{clean, verdict as word};
use super::story::{Block, Cause, FigureRow, Kind, Section, Story, TABLE_TITLE, UNREAD, Warning};
use super::tell::{alone, story, table};
use crate::findings::{Finding, Review, Trace, Verdict};
use crate::plots::{Size, describe, svg_in_page};
use crate::units::Reading;

/// One page with all reviews, then the closing table where there are several.
pub fn render(reviews: &[Review], unread: &[Unread]) -> String {
    let several = reviews.len() + unread.len() > 1;
    let mut body = String::from(
        "<a class=\"skip\" href=\"#content\">Skip to the findings</a>\n<main id=\"content\">\n",
    );
    for (i, review) in reviews.iter().enumerate() {
        let story = story(review);
        // Anchors stay short and stable where there is only one log.
        let prefix = if several {
            format!("log-{}-", i + 1)
        } else {
            String::new()
        };
        tell(&mut body, &story, &review.reading, &prefix);
    }
    if several {
        all_logs(&mut body, reviews, unread);
    }
    body.push_str("</main>\n");
    let title = match reviews {
        [only] if !several => {
            let story = story(only);
            format!("{}: review of {}", word(story.verdict), story.log)
        }
        many => format!("Review of {} logs", many.len() + unread.len()),
    };
    page(&title, &body)
}

/// A review as a part of somebody else's page; `prefix` keeps its anchors apart from those of others.
pub fn fragment(review: &Review, prefix: &str) -> String {
    let story = story(review);
    let mut body = String::new();
    head(&mut body, &story);
    body.push_str("</header>\n");
    for section in &story.sections {
        tell_section(&mut body, section, &review.reading, prefix);
    }
    body.push_str("</article>\n");
    part(&body)
}

/// One finding as a part of somebody else's page.
pub fn finding_fragment(finding: &Finding, reading: &Reading) -> String {
    let mut body = String::new();
    let warning = alone(finding, reading);
    tell_warning(&mut body, &warning, finding.verdict, reading);
    part(&body)
}

fn head(out: &mut String, story: &Story<'_>) {
    out.push_str(&format!(
        "<article>\n<header>\n<h1>Review of {}</h1>\n<p>{} {}</p>\n",
        escape(&story.log),
        badge(story.verdict),
        escape(&story.headline)
    ));
}

fn tell(out: &mut String, story: &Story<'_>, reading: &Reading, prefix: &str) {
    head(out, story);
    out.push_str("<nav aria-label=\"Sections\"><ul>\n");
    for section in &story.sections {
        let (anchor, title) = (section.kind.anchor(), section.kind.title());
        out.push_str(&format!(
            "<li><a href=\"#{prefix}{anchor}\">{title}</a></li>\n"
        ));
    }
    out.push_str("</ul></nav>\n</header>\n");
    for section in &story.sections {
        tell_section(out, section, reading, prefix);
    }
    out.push_str("</article>\n");
}

fn tell_section(out: &mut String, section: &Section<'_>, reading: &Reading, prefix: &str) {
    let (anchor, title) = (section.kind.anchor(), section.kind.title());
    let shape = if section.kind == Kind::Stop {
        "<span aria-hidden=\"true\">\u{25a0}</span> "
    } else {
        ""
    };
    out.push_str(&format!(
        "<section class=\"{anchor}\" aria-labelledby=\"{prefix}{anchor}\">\n<h2 id=\"{prefix}{anchor}\">{shape}{title}</h2>\n"
    ));
    if let Some(lead) = section.lead {
        out.push_str(&format!("<p>{}</p>\n", escape(lead)));
    }
    for block in &section.blocks {
        match block {
            Block::Warning(warning) => tell_warning(out, warning, Verdict::Warn, reading),
            Block::Cause(cause) => tell_cause(out, cause),
            Block::Group(words) => out.push_str(&format!("<h3>{}</h3>\n", escape(words))),
            Block::Checks(_, lines) if section.kind == Kind::Stop => {
                let each = lines.iter().map(|(id, words)| {
                    format!(
                        "<li>{} <span class=\"id\">(<code>{}</code>)</span></li>\n",
                        escape(words),
                        escape(id)
                    )
                });
                out.push_str(&format!("<ul>\n{}</ul>\n", each.collect::<String>()));
            }
            Block::Checks(verdict, lines) => checks(out, *verdict, lines),
            Block::Numbered(lines) => out.push_str(&format!("<ol>\n{}</ol>\n", items(lines))),
            Block::Bullets(lines) => out.push_str(&format!("<ul>\n{}</ul>\n", items(lines))),
            Block::Facts(facts) => facts_list(out, facts),
        }
    }
    out.push_str("</section>\n");
}

fn tell_warning(out: &mut String, w: &Warning<'_>, verdict: Verdict, reading: &Reading) {
    let id = if w.title == w.id {
        String::new()
    } else {
        format!(
            " <span class=\"id\">(<code>{}</code>)</span>",
            escape(&w.id)
        )
    };
    out.push_str(&format!(
        "<div class=\"finding\">\n<h3>{} {}{id}</h3>\n<p class=\"reason\">{}</p>\n",
        badge(verdict),
        escape(&w.title),
        escape(&w.reason)
    ));
    facts_list(out, &w.facts);
    figures(out, &w.figures);
    for (name, words) in &w.doubts {
        out.push_str(&format!(
            "<p class=\"doubt\"><strong>{name}:</strong> {}</p>\n",
            escape(words)
        ));
    }
    if let Some(step) = &w.next_step {
        out.push_str(&format!(
            "<p class=\"next\"><strong>Do next:</strong> {}</p>\n",
            escape(step)
        ));
    }
    for (i, words) in w.careful.iter().enumerate() {
        let lead = if i == 0 {
            "<strong>Careful:</strong> "
        } else {
            ""
        };
        out.push_str(&format!("<p class=\"care\">{lead}{}</p>\n", escape(words)));
    }
    for trace in w.plots {
        plot(out, trace, reading);
    }
    out.push_str("</div>\n");
}

/// The picture twice, for a wide page and for a phone, where the wide one would shrink past reading; the styles show
/// one of them.
fn plot(out: &mut String, trace: &Trace, reading: &Reading) {
    out.push_str("<figure>\n");
    for (class, size) in [("desk", Size::PAGE), ("phone", Size::PHONE)] {
        match svg_in_page(trace, reading, size) {
            Ok(svg) => out.push_str(&format!("<div class=\"{class}\">{svg}</div>\n")),
            Err(error) => out.push_str(&format!(
                "<p class=\"{class}\">{}</p>\n",
                escape(&error.to_string())
            )),
        }
    }
    out.push_str(&format!(
        "<figcaption>{}</figcaption>\n</figure>\n",
        escape(&describe(trace, reading))
    ));
}

fn figures(out: &mut String, rows: &[FigureRow]) {
    if rows.is_empty() {
        return;
    }
    out.push_str(
        "<div class=\"wide\"><table>\n<thead><tr><th scope=\"col\">figure</th>\
         <th scope=\"col\">this log</th><th scope=\"col\">limit, and where it comes from</th></tr></thead>\n<tbody>\n",
    );
    for row in rows {
        let limit = match &row.limit {
            Some((limit, from)) => format!("{} ({})", escape(limit), escape(from)),
            None => String::new(),
        };
        out.push_str(&format!(
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{limit}</td></tr>\n",
            escape(&row.name),
            escape(row.seen.as_deref().unwrap_or_default()),
        ));
    }
    out.push_str("</tbody>\n</table></div>\n");
}

fn checks(out: &mut String, verdict: Verdict, lines: &[(String, String)]) {
    out.push_str(
        "<div class=\"wide\"><table class=\"checks\">\n<thead><tr><th scope=\"col\">check</th><th scope=\"col\">what it says</th></tr></thead>\n<tbody>\n",
    );
    for (id, words) in lines {
        out.push_str(&format!(
            "<tr><th scope=\"row\"><span aria-hidden=\"true\">{}</span> <code>{}</code></th><td>{}</td></tr>\n",
            shape(verdict),
            escape(id),
            escape(words)
        ));
    }
    out.push_str("</tbody>\n</table></div>\n");
}

fn tell_cause(out: &mut String, cause: &Cause) {
    out.push_str(&format!("<h3>{}</h3>\n", escape(&cause.cause)));
    facts_list(out, &cause.facts);
}

fn facts_list(out: &mut String, facts: &[(&str, String)]) {
    out.push_str("<dl>\n");
    for (name, words) in facts {
        out.push_str(&format!("<dt>{name}</dt><dd>{}</dd>\n", escape(words)));
    }
    out.push_str("</dl>\n");
}

fn items(lines: &[String]) -> String {
    let each = lines
        .iter()
        .map(|words| format!("<li>{}</li>\n", escape(words)));
    each.collect()
}

fn all_logs(out: &mut String, reviews: &[Review], unread: &[Unread]) {
    out.push_str(&format!(
        "<section aria-labelledby=\"all\">\n<h2 id=\"all\">{TABLE_TITLE}</h2>\n<table>\n<thead><tr><th scope=\"col\">log</th>\
         <th scope=\"col\">verdict</th><th scope=\"col\">in short</th></tr></thead>\n<tbody>\n"
    ));
    for (i, line) in table(reviews).iter().enumerate() {
        let stop = if line.stop {
            "<strong>stop now</strong>; "
        } else {
            ""
        };
        // Only a log that has a section to stop at or to look at first can be jumped to there; the log's facts always are.
        out.push_str(&format!(
            "<tr><th scope=\"row\"><a href=\"#log-{}-log\">{}</a></th><td>{}</td><td>{stop}{}</td></tr>\n",
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

/// The verdict as shape and word; the shape says nothing that the word does not.
fn badge(verdict: Verdict) -> String {
    format!(
        "<span class=\"verdict {}\"><span aria-hidden=\"true\">{}</span> {}</span>",
        verdict.word(),
        shape(verdict),
        word(verdict)
    )
}

fn shape(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Warn => "\u{25b2}",
        Verdict::Pass => "\u{25cf}",
        Verdict::NotRun => "\u{25cb}",
    }
}
