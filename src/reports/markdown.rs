//! A review as CommonMark, with pipe tables for figures: for notes, mail and issue trackers.

use super::Unread;
use super::phrase::{clean, figure, typed, verdict as word};
use super::story::{
    Block, Cause, FigureRow, Kind, Section, TABLE_HEADS, TABLE_TITLE, UNREAD, Warning,
};
use super::tell::{NAMED, story, table, warnings_of};
use crate::findings::{Figure, Review, Verdict};

/// A table where there are several, then each review in full.
pub fn render(reviews: &[Review], unread: &[Unread]) -> String {
    let mut out = String::new();
    let several = reviews.len() + unread.len() > 1;
    if several {
        all_logs(&mut out, reviews, unread);
    }
    for (i, review) in reviews.iter().enumerate() {
        if several || i > 0 {
            out.push_str("\n---\n\n");
        }
        let story = story(review);
        out.push_str(&format!("# Review of {}\n\n", escape(&story.log)));
        let (shape, verdict) = (shape(story.verdict), word(story.verdict));
        out.push_str(&format!(
            "{shape} **{verdict}** {}\n",
            escape(&story.headline)
        ));
        let mut told = false;
        for section in &story.sections {
            if !told && !section.kind.needs_work() {
                cylinders(&mut out, review);
                told = true;
            }
            tell(&mut out, section);
        }
    }
    out
}

fn all_logs(out: &mut String, reviews: &[Review], unread: &[Unread]) {
    out.push_str(&format!(
        "# {TABLE_TITLE}\n\n| verdict | {} | log |\n| --- | --- |{} --- |\n",
        TABLE_HEADS.join(" | "),
        " ---: |".repeat(TABLE_HEADS.len() - 1)
    ));
    for line in table(reviews) {
        let stop = if line.stop { "**stop now**; " } else { "" };
        let cells = line.cells().map(|cell| escape(&cell));
        out.push_str(&format!(
            "| {} {} | {stop}{} | {} |\n",
            shape(line.verdict),
            word(line.verdict),
            cells.join(" | "),
            escape(&line.log),
        ));
    }
    let empty = " |".repeat(TABLE_HEADS.len());
    for log in unread {
        out.push_str(&format!(
            "| {UNREAD} |{empty} {}: {} |\n",
            escape(&clean(&log.log)),
            escape(&clean(&log.why))
        ));
    }
}

/// What the log tells of each cylinder, in the order in which they fire.
fn cylinders(out: &mut String, review: &Review) {
    let side = &review.cylinders;
    if side.order.is_empty() || side.measured.is_empty() {
        return;
    }
    let heading = if side.by_firing {
        "Cylinders, in firing order"
    } else {
        "Cylinders, by number"
    };
    let numbers: Vec<String> = side.order.iter().map(u32::to_string).collect();
    out.push_str(&format!(
        "\n## {heading}\n\n| cylinder | {} |\n| --- |{}\n",
        numbers.join(" | "),
        " ---: |".repeat(numbers.len())
    ));
    let named = side
        .order
        .iter()
        .map(|n| match warnings_of(review, *n).len() {
            0 => "none".to_string(),
            n => n.to_string(),
        });
    let named: Vec<String> = named.collect();
    out.push_str(&format!("| {NAMED} | {} |\n", named.join(" | ")));
    for (name, figures) in &side.measured {
        let cell = |f: &Option<Figure>| match f {
            Some(f) => escape(&figure(*f, &review.reading)),
            None => String::new(),
        };
        let cells: Vec<String> = figures.iter().map(cell).collect();
        out.push_str(&format!(
            "| {} | {} |\n",
            escape(&clean(name)),
            cells.join(" | ")
        ));
    }
}

fn tell(out: &mut String, section: &Section<'_>) {
    let shape_before = if section.kind == Kind::Stop {
        "\u{25a0} "
    } else {
        ""
    };
    out.push_str(&format!("\n## {shape_before}{}\n\n", section.kind.title()));
    if let Some(lead) = section.lead {
        let mark = if section.kind == Kind::Stop { "**" } else { "" };
        out.push_str(&format!("{mark}{}{mark}\n\n", escape(lead)));
    }
    for (i, block) in section.blocks.iter().enumerate() {
        match block {
            Block::Warning(warning) => {
                if i > 0 {
                    out.push('\n');
                }
                tell_warning(out, warning);
            }
            Block::Cause(cause) => {
                if i > 0 {
                    out.push('\n');
                }
                tell_cause(out, cause);
            }
            Block::Group(words) => {
                let gap = if i > 0 { "\n" } else { "" };
                out.push_str(&format!("{gap}{}:\n\n", escape(words)));
            }
            Block::Checks(_, lines) => {
                for (id, words) in lines {
                    out.push_str(&format!("- {}: {}\n", code(id), escape(words)));
                }
            }
            Block::Numbered(lines) => {
                for (i, words) in lines.iter().enumerate() {
                    out.push_str(&format!("{}. {}\n", i + 1, escape(words)));
                }
            }
            Block::Bullets(lines) => {
                for words in lines {
                    out.push_str(&format!("- {}\n", escape(words)));
                }
            }
            Block::Facts(facts) => facts_list(out, facts),
        }
    }
}

fn tell_warning(out: &mut String, w: &Warning<'_>) {
    let (shape, verdict) = (shape(Verdict::Warn), word(Verdict::Warn));
    out.push_str(&format!(
        "### {shape} {verdict}: {} ({})\n\n",
        escape(&w.title),
        code(&w.id)
    ));
    out.push_str(&format!("{}\n\n", escape(&w.reason)));
    facts_list(out, &w.facts);
    figures(out, &w.figures);
    for (name, words) in &w.doubts {
        out.push_str(&format!("\n**{name}:** {}\n", escape(words)));
    }
    if let Some(step) = &w.next_step {
        out.push_str(&format!("\n**Do next:** {}\n", escape(step)));
    }
    if !w.careful.is_empty() {
        out.push_str("\n**Careful:**\n\n");
        for words in &w.careful {
            out.push_str(&format!("- {}\n", escape(words)));
        }
    }
}

fn figures(out: &mut String, rows: &[FigureRow]) {
    if rows.is_empty() {
        return;
    }
    out.push_str("\n| figure | this log | limit | limit comes from |\n| --- | --- | --- | --- |\n");
    for row in rows {
        let (limit, from) = row
            .limit
            .as_ref()
            .map_or(("", ""), |l| (l.0.as_str(), l.1.as_str()));
        let seen = row.seen.as_deref().unwrap_or_default();
        out.push_str(&format!(
            "| {} | {} | {} | {} |\n",
            escape(&row.name),
            escape(seen),
            escape(limit),
            escape(from)
        ));
    }
}

fn tell_cause(out: &mut String, cause: &Cause) {
    out.push_str(&format!("### {}\n\n", escape(&cause.cause)));
    facts_list(out, &cause.facts);
}

fn facts_list(out: &mut String, facts: &[(&str, String)]) {
    for (name, words) in facts {
        out.push_str(&format!("- {name}: {}\n", escape(words)));
    }
}

fn shape(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Warn => "\u{25b2}",
        Verdict::Pass => "\u{25cf}",
        Verdict::NotRun => "\u{25cb}",
    }
}

/// Sentences as markup: what stands between backticks is something to type, all else stands as it is written.
fn escape(words: &str) -> String {
    let Some(pieces) = typed(words) else {
        return plain(words);
    };
    let piece = |(i, piece): (usize, &&str)| match i % 2 {
        0 => plain(piece),
        _ => format!("`{piece}`"),
    };
    pieces.iter().enumerate().map(piece).collect()
}

/// Words that stand as they are written: whatever could be taken for markup gets a backslash.
fn plain(words: &str) -> String {
    let chars: Vec<char> = words.chars().collect();
    let mut out = String::with_capacity(words.len() + 8);
    for (i, c) in chars.iter().enumerate() {
        let beside = |at: Option<usize>| {
            at.and_then(|j| chars.get(j))
                .is_some_and(|c| c.is_alphanumeric())
        };
        let ends = chars.get(i + 1).is_none_or(|next| next.is_whitespace());
        let mark = match c {
            '\\' | '`' | '*' | '[' | ']' | '<' | '>' | '|' | '#' | '~' | '&' | '!' | '$' => true,
            // Inside a word, as in `egt_4`, it is only itself.
            '_' => !(beside(i.checked_sub(1)) && beside(Some(i + 1))),
            '-' | '+' | '=' => i == 0,
            // `1.` or `1)` at the start would begin a list.
            '.' | ')' => i > 0 && ends && chars[..i].iter().all(char::is_ascii_digit),
            _ => false,
        };
        if mark {
            out.push('\\');
        }
        out.push(*c);
    }
    out
}

/// An id as it is typed, fenced by more backticks than it holds.
fn code(id: &str) -> String {
    let longest = id.split(|c| c != '`').map(str::len).max().unwrap_or(0);
    let fence = "`".repeat(longest + 1);
    let pad = if longest > 0 { " " } else { "" };
    format!("{fence}{pad}{id}{pad}{fence}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_words_stays_words() {
        assert_eq!(
            escape("a | b <script> *x* egt_4 _y_"),
            "a \\| b \\<script\\> \\*x\\* egt_4 \\_y\\_"
        );
        assert_eq!(escape("1. first"), "1\\. first");
        assert_eq!(escape("0.40 V"), "0.40 V");
        assert_eq!(escape("- dash 2.5 V"), "\\- dash 2.5 V");
        assert_eq!(escape("log `fuel_trim`, then"), "log `fuel_trim`, then");
        assert_eq!(escape("a ` alone"), "a \\` alone");
        assert_eq!(escape("`<b>|`"), "\\`\\<b\\>\\|\\`");
        assert_eq!(code("egt-spread"), "`egt-spread`");
        assert_eq!(code("a`b"), "`` a`b ``");
    }
}
