//! A review for the terminal: plain words at a given width, verdicts as word and shape, colour only on top of that.

use anstyle::{AnsiColor, Style};
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm, core::display_width};

use super::phrase::{clean, verdict as word};
use super::story::{Block, Cause, Kind, Section, Story, TABLE_TITLE, UNREAD, Warning};
use super::tell::{story, table};
use super::{Look, Shapes, Unread};
use crate::findings::{Review, Verdict};

const STOP: Style = AnsiColor::Red.on_default().bold();
const WARN: Style = AnsiColor::Yellow.on_default().bold();
const PASS: Style = AnsiColor::Green.on_default();
const HEAD: Style = Style::new().bold();
const PLAIN: Style = Style::new();

/// Columns of the names beside facts.
const NAME_COLUMN: usize = 11;
/// Columns of the check ids in a list, where the page is wide enough for a column of them.
const ID_COLUMN: usize = 20;
const WIDE_ENOUGH: usize = 64;

/// A table where there are several, then each review in full.
pub fn render(reviews: &[Review], unread: &[Unread], look: &Look) -> String {
    let mut page = Page::new(look);
    let several = reviews.len() + unread.len() > 1;
    if several {
        all_logs(&mut page, reviews, unread);
    }
    for (i, review) in reviews.iter().enumerate() {
        if several || i > 0 {
            page.gap();
            page.rule('=');
            page.gap();
        }
        tell(&mut page, &story(review));
    }
    page.out
}

fn all_logs(page: &mut Page<'_>, reviews: &[Review], unread: &[Unread]) {
    page.heading(TABLE_TITLE);
    for line in table(reviews) {
        let (shape, style) = if line.stop {
            (page.stop_shape(), STOP)
        } else {
            (page.shape(line.verdict), style(line.verdict))
        };
        let prefix = format!("{shape} {:<8}", word(line.verdict));
        let stop = if line.stop { "stop now; " } else { "" };
        let words = format!("{}: {stop}{}", line.log, line.words);
        page.wrap(&prefix, style, &" ".repeat(10), &words);
    }
    for log in unread {
        let prefix = format!("! {:<8}", UNREAD.to_uppercase());
        page.wrap(&prefix, HEAD, &" ".repeat(10), &clean(&log.why));
    }
}

fn tell(page: &mut Page<'_>, story: &Story<'_>) {
    page.wrap("Review of ", HEAD, "  ", &story.log);
    let prefix = format!("{} {}  ", page.shape(story.verdict), word(story.verdict));
    page.wrap(&prefix, style(story.verdict), "  ", &story.headline);
    for section in &story.sections {
        page.gap();
        tell_section(page, section);
    }
}

fn tell_section(page: &mut Page<'_>, section: &Section<'_>) {
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
                tell_warning(page, warning);
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

fn tell_warning(page: &mut Page<'_>, w: &Warning<'_>) {
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

/// Lines as they grow.
struct Page<'l> {
    look: &'l Look,
    width: usize,
    out: String,
}

impl<'l> Page<'l> {
    fn new(look: &'l Look) -> Self {
        Page {
            look,
            width: look.width.max(Look::NARROWEST),
            out: String::new(),
        }
    }

    fn shape(&self, verdict: Verdict) -> &'static str {
        match (self.look.shapes, verdict) {
            (Shapes::Drawn, Verdict::Warn) => "\u{25b2}",
            (Shapes::Drawn, Verdict::Pass) => "\u{25cf}",
            (Shapes::Drawn, Verdict::NotRun) => "\u{25cb}",
            (Shapes::Ascii, Verdict::Warn) => "!",
            (Shapes::Ascii, Verdict::Pass) => "+",
            (Shapes::Ascii, Verdict::NotRun) => "?",
        }
    }

    fn stop_shape(&self) -> &'static str {
        match self.look.shapes {
            Shapes::Drawn => "\u{25a0}",
            Shapes::Ascii => "!!",
        }
    }

    fn gap(&mut self) {
        self.out.push('\n');
    }

    fn rule(&mut self, mark: char) {
        self.out.extend(std::iter::repeat_n(mark, self.width));
        self.out.push('\n');
    }

    fn heading(&mut self, words: &str) {
        self.wrap(words, HEAD, "", "");
        self.out
            .extend(std::iter::repeat_n('-', display_width(words)));
        self.out.push('\n');
    }

    /// A name, then words in a column of their own.
    fn fact(&mut self, indent: &str, name: &str, words: &str) {
        let prefix = format!("{indent}{name:<NAME_COLUMN$}");
        let rest = " ".repeat(display_width(&prefix));
        self.wrap(&prefix, HEAD, &rest, words);
    }

    /// A check on a line: shape, id, words.
    fn check(&mut self, verdict: Verdict, stop: bool, id: &str, words: &str) {
        let (shape, style) = if stop {
            (self.stop_shape(), STOP)
        } else {
            (self.shape(verdict), style(verdict))
        };
        let prefix = format!("{shape} ");
        let column = self.width >= WIDE_ENOUGH && display_width(id) < ID_COLUMN;
        let line = if column {
            format!("{id:<ID_COLUMN$}")
        } else if words.is_empty() {
            id.to_string()
        } else {
            format!("{id}: ")
        };
        let rest = if column { 2 + ID_COLUMN } else { 4 };
        if column {
            let head = format!("{prefix}{line}");
            self.wrap(&head, style, &" ".repeat(rest), words);
        } else {
            self.wrap(&prefix, style, &" ".repeat(rest), &format!("{line}{words}"));
        }
    }

    /// Words after a prefix, wrapped; following lines begin with `rest`. Only the prefix is styled.
    fn wrap(&mut self, prefix: &str, style: Style, rest: &str, words: &str) {
        let hold = " ".repeat(display_width(prefix));
        let options = Options::new(self.width)
            .initial_indent(&hold)
            .subsequent_indent(rest)
            .word_separator(WordSeparator::AsciiSpace)
            .word_splitter(WordSplitter::NoHyphenation)
            .wrap_algorithm(WrapAlgorithm::FirstFit);
        let lines = textwrap::wrap(words, options);
        for (i, line) in lines.iter().enumerate() {
            if i == 0 {
                let body = line.get(hold.len()..).unwrap_or_default();
                let shown = if body.is_empty() {
                    prefix.trim_end()
                } else {
                    prefix
                };
                if self.look.colour && style != PLAIN {
                    let (on, off) = (style.render(), style.render_reset());
                    self.out.push_str(&format!("{on}{shown}{off}{body}"));
                } else {
                    self.out.push_str(shown);
                    self.out.push_str(body);
                }
            } else {
                self.out.push_str(line.trim_end());
            }
            self.out.push('\n');
        }
    }
}
