//! A review for the terminal: plain words at a given width, verdicts as word and shape, colour only on top of that.

mod lines;
mod spark;
mod tables;

use anstyle::{AnsiColor, Style};

use self::lines::Page;
use super::phrase::verdict as word;
use super::story::{Block, Cause, Kind, Section, Warning};
use super::tell::story;
use super::{Look, Unread};
use crate::findings::{Review, Verdict};

const STOP: Style = AnsiColor::Red.on_default().bold();
const WARN: Style = AnsiColor::Yellow.on_default().bold();
const PASS: Style = AnsiColor::Green.on_default();
const HEAD: Style = Style::new().bold();
const PLAIN: Style = Style::new();

/// Pictures of a warning; the page for a browser has them all.
const PICTURES: usize = 2;

/// A table where there are several, then each review in full.
pub fn render(reviews: &[Review], unread: &[Unread], look: &Look) -> String {
    let mut page = Page::new(look);
    let several = reviews.len() + unread.len() > 1;
    if several {
        tables::all_logs(&mut page, reviews, unread);
    }
    for (i, review) in reviews.iter().enumerate() {
        if several || i > 0 {
            page.gap();
            page.rule('=');
            page.gap();
        }
        tell(&mut page, review);
    }
    page.out
}

fn tell(page: &mut Page<'_>, review: &Review) {
    let story = story(review);
    page.wrap("Review of ", HEAD, "  ", &story.log);
    let prefix = format!("{} {}  ", page.shape(story.verdict), word(story.verdict));
    page.wrap(&prefix, style(story.verdict), "  ", &story.headline);
    let mut cylinders = false;
    for section in &story.sections {
        if !cylinders && !section.kind.needs_work() {
            tables::cylinders(page, review);
            cylinders = true;
        }
        page.gap();
        tell_section(page, section, review);
    }
}

fn tell_section(page: &mut Page<'_>, section: &Section<'_>, review: &Review) {
    if section.kind == Kind::Stop {
        let prefix = format!(
            "{} {}  ",
            page.stop_shape(),
            section.kind.title().to_uppercase()
        );
        page.wrap(&prefix, STOP, "  ", section.lead.unwrap_or_default());
    } else {
        page.heading(section.kind.title());
        if let Some(lead) = section.lead {
            page.wrap("", PLAIN, "", lead);
        }
    }
    for (i, block) in section.blocks.iter().enumerate() {
        match block {
            Block::Warning(warning) => {
                if i > 0 {
                    page.gap();
                }
                tell_warning(page, warning, review);
            }
            Block::Cause(cause) => {
                if i > 0 {
                    page.gap();
                }
                tell_cause(page, cause);
            }
            Block::Group(words) => {
                if i > 0 {
                    page.gap();
                }
                page.wrap("", PLAIN, "", &format!("{words}:"));
            }
            Block::Checks(verdict, lines) => {
                let stop = section.kind == Kind::Stop;
                for (id, words) in lines {
                    page.check(*verdict, stop, id, words);
                }
            }
            Block::Numbered(lines) => {
                let digits = lines.len().to_string().len();
                for (i, words) in lines.iter().enumerate() {
                    let prefix = format!("{:>digits$}. ", i + 1);
                    page.wrap(&prefix, PLAIN, &" ".repeat(digits + 2), words);
                }
            }
            Block::Bullets(lines) => {
                for words in lines {
                    page.wrap("- ", PLAIN, "  ", words);
                }
            }
            Block::Facts(facts) => {
                for (name, words) in facts {
                    page.fact("", name, words);
                }
            }
        }
    }
}

fn tell_warning(page: &mut Page<'_>, w: &Warning<'_>, review: &Review) {
    let prefix = format!("{} {}  ", page.shape(Verdict::Warn), word(Verdict::Warn));
    let heading = if w.title == w.id {
        w.id.clone()
    } else {
        format!("{} [{}]", w.title, w.id)
    };
    page.wrap(&prefix, WARN, "  ", &heading);
    page.wrap("  ", PLAIN, "  ", &w.reason);
    for (name, words) in &w.facts {
        page.fact("  ", name, words);
    }
    for (i, row) in w.figures.iter().enumerate() {
        page.fact("  ", if i == 0 { "Figures" } else { "" }, &row.line());
    }
    for (i, trace) in w.plots.iter().take(PICTURES).enumerate() {
        spark::rows(
            page,
            trace,
            &review.reading,
            if i == 0 { "Picture" } else { "" },
        );
    }
    for (name, words) in &w.doubts {
        page.fact("  ", name, words);
    }
    if let Some(step) = &w.next_step {
        page.fact("  ", "Do next", step);
    }
    for (i, words) in w.careful.iter().enumerate() {
        page.fact("  ", if i == 0 { "Careful" } else { "" }, words);
    }
}

fn tell_cause(page: &mut Page<'_>, cause: &Cause) {
    page.wrap("", PLAIN, "", &cause.cause);
    for (name, words) in &cause.facts {
        page.fact("  ", name, words);
    }
}

fn style(verdict: Verdict) -> Style {
    match verdict {
        Verdict::Warn => WARN,
        Verdict::Pass => PASS,
        Verdict::NotRun => PLAIN,
    }
}
