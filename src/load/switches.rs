//! Words for on and off.
//!
//! Whether `OFF` is a reading or the logger's way to say that a sensor cannot be read shows only in the whole column: a
//! fan that is off for the first ten minutes looks like a probe that is. So the pass marks such words, and the column is
//! settled when all of it is there: among zeros, ones and blanks they are 0 and 1, among other numbers they are no readings.

use rayon::prelude::*;

use super::cells::{Kind, LogMarks};
use super::dialect::Heading;
use super::lines::RowLines;
use super::problems::{ProblemKind, Problems};
use super::table::Column;

/// Words for a switch that is off (even places) and on (odd places), in lower case.
const SWITCH: [&str; 12] = [
    "off", "on", "no", "yes", "false", "true", "closed", "open", "inactive", "active", "disabled",
    "enabled",
];

/// A quiet NaN whose low bits tell a word: a table that is never settled then has no value there, not a wrong one.
const MARK: u64 = 0x7FF8_5357_0000_0000;

/// A word for on or off as it was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct SwitchWord(u8);

impl SwitchWord {
    /// The word that a text is, if it is one.
    pub fn find(text: &[u8]) -> Option<Self> {
        let is = |word: &&str| word.as_bytes().eq_ignore_ascii_case(text);
        let at = SWITCH.iter().position(is)?;
        let capitals = text.iter().filter(|c| c.is_ascii_uppercase()).count();
        let case = if capitals == text.len() {
            2
        } else {
            u8::from(capitals > 0)
        };
        Some(Self(u8::try_from(at).ok()? * 3 + case))
    }

    /// The value that stands for it until the whole column is known.
    pub fn mark(self) -> f64 {
        f64::from_bits(MARK | u64::from(self.0))
    }

    /// The word that a value stands for, if it is such a mark.
    pub fn of(value: f64) -> Option<Self> {
        let bits = value.to_bits() ^ MARK;
        let known = u8::try_from(bits).ok()?;
        (usize::from(known) < SWITCH.len() * 3).then_some(Self(known))
    }

    /// Whether it says on.
    pub const fn is_on(self) -> bool {
        self.0 / 3 % 2 == 1
    }

    /// Whether it is `open`, which is also what an unplugged sensor is called.
    pub fn is_open(self) -> bool {
        SWITCH.get(usize::from(self.0 / 3)) == Some(&"open")
    }

    /// As it was written, capitals inside left out.
    pub fn text(self) -> String {
        let word = SWITCH.get(usize::from(self.0 / 3)).copied().unwrap_or("");
        match self.0 % 3 {
            0 => word.to_owned(),
            1 => word[..1].to_ascii_uppercase() + &word[1..],
            _ => word.to_ascii_uppercase(),
        }
    }
}

/// Among zeros and ones, words that all say the same are readings only where they make up so large a share.
const SHARE_OF_WORDS: usize = 10;

/// What one column holds besides numbers.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Seen {
    /// Rows with a word for on, with one for off, and with `open`, which is one for on.
    on: usize,
    off: usize,
    open: usize,
    /// The first row with a word.
    first: usize,
    /// Rows with 0 or 1.
    bits: usize,
    /// A number other than 0 and 1, if there is one.
    pub other_number: Option<f64>,
}

impl Seen {
    pub fn new(values: &[f64]) -> Self {
        let mut seen = Self::default();
        for (row, value) in values.iter().enumerate() {
            if value.is_nan() {
                let Some(word) = SwitchWord::of(*value) else {
                    continue;
                };
                if seen.words() == 0 {
                    seen.first = row;
                }
                let count = if word.is_on() {
                    &mut seen.on
                } else {
                    &mut seen.off
                };
                *count += 1;
                seen.open += usize::from(word.is_open());
            } else if *value == 0.0 || *value == 1.0 {
                seen.bits += 1;
            } else if seen.other_number.is_none() {
                seen.other_number = Some(*value);
            }
        }
        seen
    }

    const fn words(&self) -> usize {
        self.on + self.off
    }

    /// Whether its words are readings. Nothing but `open` is what an unplugged sensor shows, and one `OFF` among a
    /// thousand zeros is what a channel that happens to rest shows when it cannot be read.
    pub const fn is_switch(&self) -> bool {
        let both = self.on > 0 && self.off > 0;
        let many = self.words() * SHARE_OF_WORDS >= self.words() + self.bits;
        self.other_number.is_none()
            && self.words() > 0
            && self.open < self.words()
            && (both || many)
    }
}

/// Turns the marks in all columns into 1 and 0, or into cells that could not be read. `said` are the columns of which
/// the evidence already says that they hold such words.
pub(crate) fn settle(
    columns: &mut [Column],
    marks: &LogMarks,
    said: &[usize],
    headings: &[Heading],
    lines: &RowLines,
    problems: &mut Problems,
) {
    let open = |column: &Column| marks.of(column.column).kind == Kind::Open;
    let seen: Vec<Seen> = columns
        .par_iter_mut()
        .map(|column| {
            if !open(column) {
                return Seen::default();
            }
            let seen = Seen::new(&column.values);
            if seen.is_switch() {
                for value in &mut column.values {
                    if let Some(word) = SwitchWord::of(*value) {
                        *value = f64::from(u8::from(word.is_on()));
                    }
                }
            }
            seen
        })
        .collect();
    let mut reported: Vec<usize> = Vec::new();
    let mut found: Vec<Problems> = Vec::new();
    for (column, seen) in columns.iter_mut().zip(seen) {
        if seen.words() == 0 {
            continue;
        }
        // A column asked for twice is told of once, but holds the same both times.
        let at = column.column;
        let again = reported.contains(&at);
        reported.push(at);
        let name = headings.get(at).map_or("", |heading| heading.name.as_str());
        let mut own = Problems::default();
        if seen.is_switch() {
            column.words = seen.words();
            if !again && !said.contains(&at) {
                own.note(
                    ProblemKind::Heading,
                    lines.line_of(seen.first),
                    Some(at + 1),
                    || {
                        format!(
                            "{name} holds words for on and off from here on, which its first rows do not show; they are read as 1 and 0"
                        )
                    },
                );
            }
            found.push(own);
            continue;
        }
        column.filled -= seen.words();
        column.unreadable += seen.words();
        for (row, value) in column.values.iter_mut().enumerate() {
            let Some(word) = SwitchWord::of(*value) else {
                continue;
            };
            *value = f64::NAN;
            if again {
                continue;
            }
            own.note(
                ProblemKind::UnreadableCell,
                lines.line_of(row),
                Some(at + 1),
                || {
                    let word = word.text();
                    match seen.other_number {
                        Some(number) => format!(
                            "`{word}` under {name} is no reading: the column holds numbers such as {number}"
                        ),
                        None if seen.bits > 0 => format!(
                            "`{word}` under {name} is no reading: the column holds 0 or 1 nearly everywhere else"
                        ),
                        None => format!(
                            "`{word}` under {name} is no reading: the column holds nothing else, as a sensor without connection does"
                        ),
                    }
                },
            );
        }
        found.push(own);
    }
    // Which of them are listed does not depend on which other columns are read.
    problems.merge(&found);
}
