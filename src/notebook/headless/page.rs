//! A notebook as one page for a browser: everything is inside it, nothing is fetched.

use std::ops::Range;

use pulldown_cmark::{CowStr, Event, Options, Parser, Tag, TagEnd, html};
use serde_json::Value;

use super::cells::uncoloured;
use super::file::{Kind, Notebook, joined};
use crate::reports::{escape, page, part};

/// What a notebook's page has beside the styles of a report.
const STYLES: &str = include_str!("page.css");

/// The page. `name` stands in its title where the notebook has no heading; `over` is what it was run over, for the foot.
pub fn markup(notebook: &Notebook, name: &str, over: &str) -> String {
    let mut body = format!("<style>\n{STYLES}</style>\n<main>\n");
    let mut title = None;
    for (index, cell) in notebook.cells().iter().enumerate() {
        match cell.kind {
            Kind::Markdown => {
                title = title.or_else(|| heading(&cell.source));
                body.push_str(&format!(
                    "<section class=\"words\">\n{}</section>\n",
                    words(&cell.source)
                ));
            }
            Kind::Raw => body.push_str(&format!("<pre>{}</pre>\n", escape(&cell.source))),
            Kind::Code => body.push_str(&code(notebook, index, &cell.id, &cell.source)),
        }
    }
    body.push_str(&format!("</main>\n<footer>{}</footer>\n", escape(over)));
    // Each value brings the styles that it needs in somebody else's page: once is enough in ours.
    let styles = part("");
    let styles = styles
        .find("<style>")
        .zip(styles.find("</style>\n"))
        .map(|(from, to)| styles[from..to + "</style>\n".len()].to_string());
    if let Some(styles) = styles {
        body = body.replace(&styles, "");
        body.insert_str(0, &styles);
    }
    page(title.as_deref().unwrap_or(name), &body)
}

/// The first heading of a text, plain.
fn heading(source: &str) -> Option<String> {
    let mut inside = false;
    let mut out = String::new();
    for event in Parser::new(source) {
        match event {
            Event::Start(Tag::Heading { .. }) => inside = true,
            Event::End(TagEnd::Heading(_)) => return Some(out),
            Event::Text(words) | Event::Code(words) if inside => out.push_str(&words),
            _ => {}
        }
    }
    None
}

/// Markdown as markup. Markup within it is shown as text, links lead only to pages and places, pictures show their words.
fn words(source: &str) -> String {
    let parser = Parser::new_ext(
        source,
        Options::ENABLE_TABLES | Options::ENABLE_STRIKETHROUGH,
    );
    let events = parser.map(|event| match event {
        Event::Html(text) | Event::InlineHtml(text) => Event::Text(text),
        Event::Start(Tag::Link {
            link_type,
            dest_url,
            title,
            id,
        }) if !leads(&dest_url) => Event::Start(Tag::Link {
            link_type,
            dest_url: CowStr::Borrowed("#"),
            title,
            id,
        }),
        Event::Start(Tag::Image { .. }) => Event::Start(Tag::Emphasis),
        Event::End(TagEnd::Image) => Event::End(TagEnd::Emphasis),
        event => event,
    });
    let mut out = String::new();
    html::push_html(&mut out, events);
    out
}

/// True for addresses that a page may lead to.
fn leads(address: &str) -> bool {
    match address.split_once(':') {
        Some((scheme, _)) => ["http", "https", "mailto"].contains(&scheme.to_lowercase().as_str()),
        None => true,
    }
}

fn code(notebook: &Notebook, index: usize, id: &str, source: &str) -> String {
    let count = notebook.count(index);
    let number = count.map_or_else(|| "not run".to_string(), |c| c.to_string());
    let mut out = format!(
        "<section class=\"cell\" id=\"cell-{}\">\n<pre class=\"code\" tabindex=\"0\" aria-label=\"cell {number}\">{}</pre>\n",
        escape(id),
        marked(source)
    );
    for output in notebook.outputs(index) {
        out.push_str(&shown(output));
    }
    out.push_str("</section>\n");
    out
}

fn shown(output: &Value) -> String {
    let text = |value: &Value| joined(value).unwrap_or_default();
    match output["output_type"].as_str() {
        Some("stream") => {
            let class = if output["name"] == "stderr" {
                "said warned"
            } else {
                "said"
            };
            format!(
                "<pre class=\"{class}\">{}</pre>\n",
                escape(&text(&output["text"]))
            )
        }
        Some("error") => {
            let lines = output["traceback"].as_array().into_iter().flatten();
            let lines: Vec<String> = lines.map(|l| uncoloured(&text(l))).collect();
            format!(
                "<pre class=\"failed\" role=\"alert\">{}</pre>\n",
                escape(&lines.join("\n"))
            )
        }
        _ => {
            // Only what this program has just made comes here: the notebook was emptied before it ran.
            let form = |mime: &str| output["data"].get(mime).and_then(joined);
            if let Some(markup) = form("text/html") {
                return format!("<div class=\"value\">{markup}</div>\n");
            }
            if let Some(drawing) = form("image/svg+xml") {
                let told = escape(&form("text/plain").unwrap_or_default());
                return format!(
                    "<div class=\"value\"><figure role=\"img\" aria-label=\"{told}\">{drawing}</figure></div>\n"
                );
            }
            let plain = form("text/plain").unwrap_or_default();
            format!("<pre class=\"said value\">{}</pre>\n", escape(&plain))
        }
    }
}

/// A cell's text with its comments set apart.
fn marked(source: &str) -> String {
    let mut out = String::new();
    let mut from = 0;
    for Range { start, end } in comments(source) {
        out.push_str(&escape(&source[from..start]));
        out.push_str(&format!("<i>{}</i>", escape(&source[start..end])));
        from = end;
    }
    out.push_str(&escape(&source[from..]));
    out
}

/// Where comments to the end of their line stand: not the marks inside texts.
fn comments(source: &str) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut quoted: Option<char> = None;
    let mut chars = source.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        match (quoted, c) {
            (Some(_), '\\') => drop(chars.next()),
            (Some(mark), c) if c == mark => quoted = None,
            (Some(_), _) => {}
            (None, '"' | '`') => quoted = Some(c),
            (None, '/') if chars.peek().is_some_and(|n| n.1 == '/') => {
                let end = source[at..].find('\n').map_or(source.len(), |n| at + n);
                out.push(at..end);
                while chars.peek().is_some_and(|n| n.0 < end) {
                    chars.next();
                }
            }
            (None, _) => {}
        }
    }
    out
}

#[cfg(test)]
#[path = "page_tests.rs"]
mod tests;
