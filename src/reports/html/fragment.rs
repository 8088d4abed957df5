//! A review, or one finding, as a part of somebody else's page: of a notebook.

use super::figure::{Shown, figure};
use super::pieces::{badge, facts_list, items, prose, shape};
use crate::findings::{Finding, Review, Verdict};
use crate::reports::page::{escape, part};
use crate::reports::story::{Block, Cause, FigureRow, Kind, Section, Warning};
use crate::reports::tell::{alone, story};
use crate::units::Reading;

/// A review as a part of somebody else's page; `prefix` keeps its anchors apart from those of others.
pub fn fragment(review: &Review, prefix: &str) -> String {
    let story = story(review);
    let mut body = format!(
        "<article>\n<header>\n<h1>Review of {}</h1>\n<p>{} {}</p>\n</header>\n",
        escape(&story.log),
        badge(story.verdict),
        escape(&story.headline)
    );
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
        out.push_str(&format!("<p>{}</p>\n", prose(lead)));
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
        prose(&w.reason)
    ));
    facts_list(out, &w.facts);
    figures(out, &w.figures);
    for (name, words) in &w.doubts {
        out.push_str(&format!(
            "<p class=\"doubt\"><strong>{name}:</strong> {}</p>\n",
            prose(words)
        ));
    }
    if let Some(step) = &w.next_step {
        out.push_str(&format!(
            "<p class=\"next\"><strong>Do next:</strong> {}</p>\n",
            prose(step)
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
    let mut shown = Shown {
        reading,
        clock: None,
        points: None,
    };
    for trace in w.plots {
        figure(out, trace, verdict, &mut shown);
    }
    out.push_str("</div>\n");
}

fn figures(out: &mut String, rows: &[FigureRow]) {
    if rows.is_empty() {
        return;
    }
    let limited = rows.iter().any(|r| r.limit.is_some());
    let head = if limited {
        "<th scope=\"col\">limit, and where it comes from</th>"
    } else {
        ""
    };
    out.push_str(&format!(
        "<div class=\"wide\"><table>\n<thead><tr><th scope=\"col\">figure</th>\
         <th scope=\"col\">this log</th>{head}</tr></thead>\n<tbody>\n"
    ));
    for row in rows {
        let limit = match &row.limit {
            Some((limit, from)) => format!("<td>{} ({})</td>", escape(limit), escape(from)),
            None if limited => "<td></td>".to_string(),
            None => String::new(),
        };
        out.push_str(&format!(
            "<tr><th scope=\"row\">{}</th><td>{}</td>{limit}</tr>\n",
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
