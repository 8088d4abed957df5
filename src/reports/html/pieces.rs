//! Small pieces of markup that every part of the page uses.

use crate::findings::{Review, Verdict};
use crate::reports::page::escape;
use crate::reports::phrase::{clean, verdict as word};
use crate::reports::tell::title;

/// The verdict as shape and word; the shape says nothing that the word does not.
pub fn badge(verdict: Verdict) -> String {
    format!(
        "<span class=\"verdict {}\"><span aria-hidden=\"true\">{}</span> {}</span>",
        verdict.word(),
        shape(verdict),
        word(verdict)
    )
}

/// The shape of a verdict.
pub fn shape(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Warn => "\u{25b2}",
        Verdict::Pass => "\u{25cf}",
        Verdict::NotRun => "\u{25cb}",
    }
}

/// Sentences as markup: what stands between backticks is something to type.
pub fn prose(words: &str) -> String {
    let pieces: Vec<&str> = words.split('`').collect();
    // A backtick without its fellow is only a letter.
    if pieces.len().is_multiple_of(2) {
        return escape(words);
    }
    let piece = |(i, piece): (usize, &&str)| match (i % 2, piece.is_empty()) {
        (1, false) => format!("<code>{}</code>", escape(piece)),
        (1, true) => "``".to_string(),
        _ => escape(piece),
    };
    pieces.iter().enumerate().map(piece).collect()
}

/// Facts by name.
pub fn facts_list(out: &mut String, facts: &[(&str, String)]) {
    if facts.is_empty() {
        return;
    }
    out.push_str("<dl>\n");
    for (name, words) in facts {
        out.push_str(&format!("<dt>{name}</dt><dd>{}</dd>\n", prose(words)));
    }
    out.push_str("</dl>\n");
}

/// List items.
pub fn items(lines: &[String]) -> String {
    let each = lines
        .iter()
        .map(|words| format!("<li>{}</li>\n", prose(words)));
    each.collect()
}

/// The name of a place on the page, made of what a check is called.
pub fn place(prefix: &str, id: &str) -> String {
    let letter = |c: char| if c.is_alphanumeric() { c } else { '-' };
    format!(
        "{prefix}check-{}",
        id.chars().map(letter).collect::<String>()
    )
}

/// A check by its title, as a link to where it stands; an id that is not among the findings stays words.
pub fn link(review: &Review, id: &str, prefix: &str) -> String {
    match review.finding(id) {
        Some(f) => format!(
            "<a href=\"#{}\">{}</a>",
            place(prefix, &clean(id)),
            escape(&title(f))
        ),
        None => format!("<code>{}</code>", escape(&clean(id))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn backticks_come_in_pairs() {
        assert_eq!(prose("Put `a <b>` in."), "Put <code>a &lt;b&gt;</code> in.");
        assert_eq!(prose("A lone ` stays"), "A lone ` stays");
        assert_eq!(prose("`a` and `b`"), "<code>a</code> and <code>b</code>");
        assert_eq!(prose("none ``"), "none ``");
    }
}
