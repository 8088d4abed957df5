//! Lines of text as they grow: wrapped, with figures and their units kept together.

use std::borrow::Cow;

use anstyle::Style;
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm, core::display_width};

use super::{HEAD, PLAIN, STOP, style};
use crate::findings::Verdict;
use crate::reports::phrase::typed;
use crate::reports::{Look, Shapes};

/// Columns of the names beside facts.
pub const NAME_COLUMN: usize = 11;
/// Columns of the check ids in a list, where the page is wide enough for a column of them.
const ID_COLUMN: usize = 20;
const WIDE_ENOUGH: usize = 64;
/// Columns of running words, at most.
const MEASURE: usize = 104;

/// Holds a figure and its unit together while lines are broken. [`clean`](crate::reports::phrase::clean) leaves none in words.
const GLUE: &str = "\u{a0}";
/// The most columns that are held together: more would leave holes.
const HELD: usize = 24;

/// Lines as they grow.
pub struct Page<'l> {
    look: &'l Look,
    /// Columns.
    pub width: usize,
    /// What stands there by now.
    pub out: String,
}

impl<'l> Page<'l> {
    /// An empty one.
    pub fn new(look: &'l Look) -> Self {
        Page {
            look,
            width: look.width.max(Look::NARROWEST),
            out: String::new(),
        }
    }

    /// Where it goes.
    pub fn look(&self) -> &'l Look {
        self.look
    }

    /// The shape before a verdict.
    pub fn shape(&self, verdict: Verdict) -> &'static str {
        match (self.look.shapes, verdict) {
            (Shapes::Drawn, Verdict::Warn) => "\u{25b2}",
            (Shapes::Drawn, Verdict::Pass) => "\u{25cf}",
            (Shapes::Drawn, Verdict::NotRun) => "\u{25cb}",
            (Shapes::Ascii, Verdict::Warn) => "!",
            (Shapes::Ascii, Verdict::Pass) => "+",
            (Shapes::Ascii, Verdict::NotRun) => "?",
        }
    }

    /// The shape before a danger.
    pub fn stop_shape(&self) -> &'static str {
        match self.look.shapes {
            Shapes::Drawn => "\u{25a0}",
            Shapes::Ascii => "!!",
        }
    }

    /// An empty line.
    pub fn gap(&mut self) {
        self.out.push('\n');
    }

    /// A line of one mark over the whole width.
    pub fn rule(&mut self, mark: char) {
        self.out.extend(std::iter::repeat_n(mark, self.width));
        self.out.push('\n');
    }

    /// Words underlined.
    pub fn heading(&mut self, words: &str) {
        self.wrap(words, HEAD, "", "");
        self.out
            .extend(std::iter::repeat_n('-', display_width(words)));
        self.out.push('\n');
    }

    /// A name, then words in a column of their own.
    pub fn fact(&mut self, indent: &str, name: &str, words: &str) {
        let prefix = format!("{indent}{name:<NAME_COLUMN$}");
        let rest = " ".repeat(display_width(&prefix));
        self.wrap(&prefix, HEAD, &rest, words);
    }

    /// A check on a line: shape, id, words.
    pub fn check(&mut self, verdict: Verdict, stop: bool, id: &str, words: &str) {
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
    pub fn wrap(&mut self, prefix: &str, style: Style, rest: &str, words: &str) {
        let hold = " ".repeat(display_width(prefix));
        // Long lines are hard to follow: beyond this, width is for tables and pictures.
        let width = self.width.min(display_width(rest) + MEASURE);
        let options = Options::new(width)
            .initial_indent(&hold)
            .subsequent_indent(rest)
            .word_separator(WordSeparator::AsciiSpace)
            .word_splitter(WordSplitter::NoHyphenation)
            .wrap_algorithm(WrapAlgorithm::FirstFit);
        let words = glued(words);
        let lines = unorphaned(&words, options);
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
                    self.out
                        .push_str(&format!("{on}{shown}{off}{}", body.replace(GLUE, " ")));
                } else {
                    self.out.push_str(shown);
                    self.out.push_str(&body.replace(GLUE, " "));
                }
            } else {
                self.out.push_str(line.replace(GLUE, " ").trim_end());
            }
            self.out.push('\n');
        }
    }
}

/// Words in which a figure does not part from its unit, nor a line of the sheet from its value; what stood between backticks
/// as something to type stands bare.
fn glued(words: &str) -> String {
    let bare = typed(words).map_or(Cow::Borrowed(words), |pieces| Cow::Owned(pieces.concat()));
    let mut out = String::with_capacity(bare.len());
    let mut held = 0;
    let mut before: Option<&str> = None;
    for word in bare.split(' ') {
        if let Some(before) = before {
            let length = display_width(word) + 1;
            let figure = before.trim_start_matches(['(', '"', '-']);
            let figure =
                !figure.is_empty() && figure.bytes().all(|b| b.is_ascii_digit() || b == b'.');
            let unit = display_width(word) <= 7
                && word.starts_with(|c: char| c.is_alphabetic() || c == '%');
            let setting = before == "=" || word == "=";
            if (figure && unit && held + length <= HELD) || setting {
                out.push_str(GLUE);
                held += length;
            } else {
                out.push(' ');
                held = display_width(word);
            }
        }
        out.push_str(word);
        before = Some(word);
    }
    out
}

/// Lines of words; where the last one would be a single short word, the line before it is made shorter so that two stand there.
fn unorphaned<'w>(words: &'w str, options: Options<'w>) -> Vec<Cow<'w, str>> {
    let lines = textwrap::wrap(words, options.clone());
    let indent = display_width(options.subsequent_indent);
    let alone = |line: &Cow<'_, str>| {
        let line = line.trim_start();
        !line.contains(' ') && display_width(line) <= ORPHAN
    };
    let Some(last) = lines.last().filter(|l| lines.len() > 1 && alone(l)) else {
        return lines;
    };
    // As narrow as keeps the number of lines.
    let least = options
        .width
        .saturating_sub(NARROWER)
        .max(indent + display_width(last));
    for width in (least..options.width).rev() {
        let mut narrower = options.clone();
        narrower.width = width;
        let tried = textwrap::wrap(words, narrower);
        if tried.len() > lines.len() {
            break;
        }
        if tried.last().is_some_and(|l| !alone(l)) {
            return tried;
        }
    }
    lines
}

/// A last line of one word no longer than this is an orphan.
const ORPHAN: usize = 8;
/// Lines are made narrower by this at most to spare one.
const NARROWER: usize = 12;

#[cfg(test)]
mod tests {
    use super::*;

    fn wrapped(words: &str, width: usize) -> String {
        let look = Look {
            width,
            ..Look::default()
        };
        let mut page = Page::new(&look);
        page.wrap("", PLAIN, "", words);
        page.out
    }

    #[test]
    fn a_figure_keeps_its_unit() {
        let out = wrapped("It now charges with no more than about 12.38 V there.", 44);
        assert!(out.contains("12.38 V"), "{out}");
        let out = wrapped(
            "in the build sheet: put \"a-check.limit\" = \"0.9 V\" there",
            44,
        );
        assert!(out.contains("\"a-check.limit\" = \"0.9 V\""), "{out}");
        let out = wrapped("Log `fuel_trim`, where there is one.", 44);
        assert_eq!(out, "Log fuel_trim, where there is one.\n");
        for stays in ["A lone ` stays.", "Column `a|b` stays."] {
            assert_eq!(wrapped(stays, 44).trim_end(), stays);
        }
    }

    #[test]
    fn no_word_is_left_alone_on_the_last_line() {
        let words = "There was no stretch of half a second or more in it.";
        let out = wrapped(words, 49);
        let lines: Vec<&str> = out.lines().collect();
        assert_eq!(lines.len(), 2, "{out}");
        assert!(lines[1].contains(' '), "{out}");
        assert_eq!(lines.join(" "), words);
    }
}
