//! Places in the sheet's text, and problems shown at them.

use std::collections::BTreeMap;
use std::fmt::{self, Write as _};
use std::ops::Range;
use std::path::PathBuf;
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Spot, printable};

/// A place in the sheet's text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// First byte.
    pub from: usize,
    /// Byte after the last; equal to `from` where something is missing.
    pub to: usize,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// The text of a sheet, kept so that a later stage can still show the line it complains about.
#[derive(Clone, Debug, Default)]
pub(super) struct Source {
    name: String,
    text: Arc<str>,
    /// First byte of each line: counting line ends anew for every place would take minutes on a large sheet.
    starts: Arc<[usize]>,
    /// Key and value of each entry that was written, by dotted name.
    places: BTreeMap<String, (Place, Place)>,
}

impl Source {
    pub(super) fn new(name: &str, text: &str) -> Self {
        let ends = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        Self {
            name: name.to_owned(),
            text: text.into(),
            starts: std::iter::once(0)
                .chain(ends.map(|(at, _)| at + 1))
                .collect(),
            places: BTreeMap::new(),
        }
    }

    pub(super) fn text(&self) -> &str {
        &self.text
    }

    pub(super) fn keep(&mut self, dotted: &str, key: Place, value: Place) {
        self.places.insert(dotted.to_owned(), (key, value));
    }

    pub(super) fn place(&self, dotted: &str) -> Option<(Place, Place)> {
        self.places.get(dotted).copied()
    }

    /// A byte range as a place. Ranges outside the text are drawn to its end.
    pub(super) fn at(&self, range: Range<usize>) -> Place {
        let from = self.boundary(range.start);
        let to = self.boundary(range.end).max(from);
        let (line, start) = self.line_of(from);
        let in_line = self.text.get(start..from).unwrap_or_default();
        // The mark at the head of a file that some editors write is no column.
        let in_line = in_line.trim_start_matches('\u{feff}');
        Place {
            from,
            to,
            line,
            column: in_line.chars().count() + 1,
        }
    }

    /// Number of the line that holds a byte, from 1, and its first byte.
    fn line_of(&self, byte: usize) -> (usize, usize) {
        let line = self.starts.partition_point(|start| *start <= byte);
        let start = line.checked_sub(1).and_then(|index| self.starts.get(index));
        (line.max(1), start.copied().unwrap_or(0))
    }

    /// The nearest character border at or before a byte.
    fn boundary(&self, byte: usize) -> usize {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        byte
    }

    pub(super) fn problem_of_whole(&self, what: &str, wanted: &str) -> Problem {
        Problem::of_whole_file(&self.name, what.to_owned(), wanted)
    }

    pub(super) fn problem(&self, place: Place, what: &str, wanted: &str) -> Problem {
        // A place may come from another sheet: measured anew against this text it is at worst a wrong line, no panic.
        let from = self.boundary(place.from);
        let (_, start) = self.line_of(from);
        let rest = self.text.get(start..).unwrap_or_default();
        let line = rest.lines().next().unwrap_or_default();
        let start_in_line = (from - start).min(line.len());
        let end_in_line = (self.boundary(place.to).max(from) - start).min(line.len());
        Problem {
            file: self.name.clone(),
            place: Some(place),
            line_text: line.to_owned(),
            underline: start_in_line..end_in_line,
            what: what.to_owned(),
            wanted: wanted.to_owned(),
        }
    }
}

/// One thing wrong with a sheet. Its `Display` shows file, line, column, the line with the place underlined, and what is
/// wanted instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// What the sheet is called, as a rule the file's name.
    pub file: String,
    /// Where; `None` when it is the file as a whole.
    pub place: Option<Place>,
    /// The text of the line, empty when there is no place.
    pub line_text: String,
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub wanted: String,
    underline: Range<usize>,
}

impl Problem {
    pub(super) fn of_whole_file(file: &str, what: String, wanted: &str) -> Self {
        Self {
            file: file.to_owned(),
            place: None,
            line_text: String::new(),
            what,
            wanted: wanted.to_owned(),
            underline: 0..0,
        }
    }

    /// Sorts what concerns the whole file first, then in the order of the text.
    pub(super) fn order(&self) -> Option<usize> {
        self.place.map(|place| place.from)
    }

    /// The text under the underline, within its first line; empty where something is missing.
    pub fn underlined(&self) -> &str {
        self.line_text
            .get(self.underline.clone())
            .unwrap_or_default()
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let spot = self.place.map(|place| Spot {
            line: place.line,
            column: place.column,
            text: self.line_text.clone(),
            marked: self.underline.clone(),
        });
        Diagnostic {
            file: &self.file,
            spot: spot.as_ref(),
            what: &self.what,
            wanted: Some(&self.wanted),
        }
        .fmt(out)
    }
}

/// Why a build sheet was refused.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    /// The file could not be read at all.
    #[error("the build sheet {} could not be read: {why}", printable(&path.display().to_string()))]
    Unreadable {
        /// The file that was asked for.
        path: PathBuf,
        /// Why, in plain words.
        why: String,
    },
    /// The sheet was read and something in it is wrong; every problem, in the order of the lines.
    #[error("{}", all_of(.0))]
    Wrong(Vec<Problem>),
}

impl SheetError {
    /// The single problems; none when the file could not be read.
    pub fn problems(&self) -> &[Problem] {
        match self {
            Self::Unreadable { .. } => &[],
            Self::Wrong(problems) => problems,
        }
    }

    /// This error and another as one. A file that could not be read outweighs all else.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Wrong(mut problems), Self::Wrong(more)) => {
                problems.extend(more);
                problems.sort_by_key(Problem::order);
                Self::Wrong(problems)
            }
            (unreadable @ Self::Unreadable { .. }, _) | (_, unreadable) => unreadable,
        }
    }
}

fn all_of(problems: &[Problem]) -> String {
    let mut text = String::new();
    for (index, problem) in problems.iter().enumerate() {
        let gap = if index == 0 { "" } else { "\n\n" };
        // Writing to a String cannot fail.
        let _ = write!(text, "{gap}{problem}");
    }
    if problems.len() > 1 {
        let _ = write!(
            text,
            "\n\n{} problems in the build sheet; nothing of it was used.",
            problems.len()
        );
    }
    text
}
