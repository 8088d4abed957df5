//! How whatever a person wrote and got wrong is shown: file, line and column, what is wrong, the line itself with the place
//! marked, and what would be right. Scripts, build sheets and cells of a notebook all look alike.
//!
//! Drawn by this file itself: one line and one underline need less code than fitting a diagnostics library would, and
//! the wording and layout stay our own.

use std::fmt;
use std::ops::Range;

use textwrap::core::display_width;

/// The widest stretch of a line that is shown; a longer line is cut around the place.
const SHOWN_CHARS: usize = 100;

/// A place in a line of text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// The line.
    pub text: String,
    /// The bytes of the line that are marked; empty where something is missing.
    pub marked: Range<usize>,
}

impl Spot {
    /// What stands at a place that names only where it begins: a name, a figure, an operator. A place at a dot means the
    /// name behind it. `None` where the text has no such line.
    pub fn at(text: &str, line: usize, column: usize) -> Option<Spot> {
        let shown = text.split('\n').nth(line.checked_sub(1)?)?;
        let shown = shown.trim_end_matches('\r');
        let places = shown.char_indices().map(|(at, _)| at);
        let mut from = places.clone().nth(column.max(1) - 1);
        if let Some(at) = from
            && let Some(behind) = shown[at..]
                .strip_prefix("?.")
                .or(shown[at..].strip_prefix('.'))
            && behind.trim_start().starts_with(is_of_name)
        {
            from = Some(shown.len() - behind.trim_start().len());
        }
        let from = from.unwrap_or(shown.len());
        Some(Spot {
            line,
            column: shown[..from].chars().count() + 1,
            text: shown.to_string(),
            marked: from..from + length(&shown[from..]),
        })
    }

    /// What is marked.
    pub fn marked(&self) -> &str {
        self.text.get(self.marked.clone()).unwrap_or_default()
    }

    /// The line in three parts, the middle one to be marked, cut to what fits and made safe to print.
    fn around(&self) -> (String, String, String) {
        let line = self.text.as_str();
        let part = |range: Range<usize>| printable(line.get(range).unwrap_or_default());
        let left: Vec<char> = part(0..self.marked.start).chars().collect();
        let marked = part(self.marked.clone());
        let right = part(self.marked.end..line.len());
        let kept = left.len().min(SHOWN_CHARS / 2);
        let mut shown: String = left.iter().skip(left.len() - kept).collect();
        if kept < left.len() {
            shown.insert(0, '…');
        }
        let marked = clipped(&marked, SHOWN_CHARS - kept);
        let room = (SHOWN_CHARS - kept).saturating_sub(marked.chars().count());
        (shown, marked, clipped(&right, room))
    }
}

fn is_of_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// How far the word reaches that a text begins with.
fn length(text: &str) -> usize {
    let while_of = |of: fn(char) -> bool| text.find(|c| !of(c)).unwrap_or(text.len());
    match text.chars().next() {
        None => 0,
        Some(c) if is_of_name(c) => while_of(is_of_name),
        Some(c) if is_operator(c) => while_of(is_operator),
        // A text with its quotes.
        Some(c @ ('"' | '\'')) => text[1..].find(c).map_or(1, |end| end + 2),
        Some(c) => c.len_utf8(),
    }
}

fn is_operator(c: char) -> bool {
    "+-*/%<>=!&|".contains(c)
}

/// One thing that is wrong with what a person wrote. `Display` shows all of it, on several lines.
#[derive(Clone, Copy, Debug)]
pub struct Diagnostic<'a> {
    /// What the text is called: a file's name, or a cell's.
    pub file: &'a str,
    /// Where; `None` when it is the text as a whole.
    pub spot: Option<&'a Spot>,
    /// What is wrong, in a sentence.
    pub what: &'a str,
    /// What would be right.
    pub wanted: Option<&'a str>,
}

impl Diagnostic<'_> {
    /// Where and what, in one line.
    pub fn head(&self) -> String {
        // What other parts say of their own text may stand on several lines.
        let what: Vec<String> = self.what.lines().map(printable).collect();
        let (file, what) = (printable(self.file), what.join("\n"));
        match self.spot {
            None => format!("{file}: {what}"),
            Some(Spot { line, column, .. }) => {
                format!("{file}, line {line}, column {column}: {what}")
            }
        }
    }

    /// All of it, a line each: the head, the line with its mark, what would be right.
    pub fn lines(&self) -> Vec<String> {
        let mut lines = vec![self.head()];
        if let Some(spot) = self.spot {
            let number = spot.line.to_string();
            let margin = " ".repeat(number.len());
            let (left, marked, right) = spot.around();
            let gap = " ".repeat(display_width(&left));
            let marks = "^".repeat(display_width(&marked).max(1));
            lines.push(format!("  {number} | {left}{marked}{right}"));
            lines.push(format!("  {margin} | {gap}{marks}"));
        }
        let wanted = self.wanted.map(printable);
        lines.extend(wanted.map(|wanted| format!("  wanted: {wanted}")));
        lines
    }
}

impl fmt::Display for Diagnostic<'_> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.lines().join("\n"))
    }
}

fn clipped(text: &str, chars: usize) -> String {
    if text.chars().count() <= chars {
        return text.to_owned();
    }
    text.chars().take(chars).chain(['…']).collect()
}

/// What a person wrote may hold anything: nothing in it may move the cursor, colour the terminal or break the mark.
pub fn printable(text: &str) -> String {
    let direction = |c: char| matches!(c, '\u{200e}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    text.chars()
        .filter(|c| *c != '\u{feff}')
        .map(|c| match c {
            '\t' => ' ',
            c if c.is_control() || direction(c) => '\u{fffd}',
            c => c,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marked(text: &str, column: usize) -> (usize, String) {
        let spot = Spot::at(text, 1, column).expect("a line");
        (spot.column, spot.marked().to_string())
    }

    #[test]
    fn a_place_at_a_dot_means_the_name_behind_it() {
        assert_eq!(marked("run.egtt.max()", 4), (5, "egtt".to_string()));
        assert_eq!(marked("run . egtt", 5), (7, "egtt".to_string()));
        assert_eq!(marked("a?.bc", 2), (4, "bc".to_string()));
        assert_eq!(marked("1..", 2), (2, ".".to_string()));
    }

    #[test]
    fn names_and_operators_are_marked_whole() {
        assert_eq!(marked("  volts >= 3", 3), (3, "volts".to_string()));
        assert_eq!(marked("  volts >= 3", 9), (9, ">=".to_string()));
        assert_eq!(marked("é(ü)", 2), (2, "(".to_string()));
        assert_eq!(marked("f(\"a b\")", 3), (3, "\"a b\"".to_string()));
        // Behind the end, and nowhere at all.
        assert_eq!(marked("let x", 40), (6, String::new()));
        assert_eq!(Spot::at("a\nb", 3, 1), None);
        assert_eq!(Spot::at("a\nb", 0, 1), None);
    }

    #[test]
    fn a_problem_is_shown_with_its_line() {
        let spot = Spot::at("fn f() {\r\n\trun.egtt\r\n}", 2, 5).expect("a line");
        let told = Diagnostic {
            file: "own/mine.rhai",
            spot: Some(&spot),
            what: "this log has no `egtt`",
            wanted: Some("did you mean `egt`?"),
        };
        assert_eq!(
            told.to_string(),
            "own/mine.rhai, line 2, column 6: this log has no `egtt`\n  2 |  run.egtt\n    |      ^^^^\n  wanted: did you mean `egt`?"
        );
        let whole = Diagnostic {
            spot: None,
            wanted: None,
            ..told
        };
        assert_eq!(whole.to_string(), "own/mine.rhai: this log has no `egtt`");
        // Nothing in a text gets at the terminal.
        let hostile = Spot::at("\u{1b}[2Jx", 1, 5).expect("a line");
        let told = Diagnostic {
            spot: Some(&hostile),
            ..told
        };
        assert!(!told.to_string().contains('\u{1b}'), "{told}");
    }
}
