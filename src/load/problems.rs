//! Rows and cells that could not be used, each with its line, so that nothing is lost in silence.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// How many problems of one kind are kept with their line; the rest are only counted.
pub const LISTED_PER_KIND: usize = 20;

/// What sort of trouble a problem is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProblemKind {
    /// The headings and the rows do not fit each other.
    Heading,
    /// A row with nothing in it.
    BlankRow,
    /// A comment, footer, marker or title among the data.
    TextRow,
    /// The names row or the units row once more.
    RepeatedHeader,
    /// A row of other names in the place of the names.
    OtherNames,
    /// Too few or too many fields.
    FieldCount,
    /// A quote that would take in rows of numbers up to the next one.
    StrayQuote,
    /// The last row, broken off while it was written.
    CutRow,
    /// A row without a stamp that can be read.
    NoStamp,
    /// A row with a reading, and no word on the channel that was read.
    NoChannel,
    /// A cell that is neither a number nor a known word for "missing", "on" or "off".
    UnreadableCell,
    /// Packed data, or the disk, that breaks off; what came before is used.
    Torn,
    /// The file grew while it was read.
    StillWritten,
}

impl ProblemKind {
    /// Every kind, in the order in which they are summed up.
    pub const ALL: [Self; 13] = [
        Self::Heading,
        Self::BlankRow,
        Self::TextRow,
        Self::RepeatedHeader,
        Self::OtherNames,
        Self::FieldCount,
        Self::StrayQuote,
        Self::CutRow,
        Self::NoStamp,
        Self::NoChannel,
        Self::UnreadableCell,
        Self::Torn,
        Self::StillWritten,
    ];

    /// What one or several of them are called, for "and 312 more ...".
    #[must_use]
    pub const fn plural(self) -> &'static str {
        match self {
            Self::Heading => "remarks on the headings",
            Self::BlankRow => "blank rows",
            Self::TextRow => "rows of text",
            Self::RepeatedHeader => "repeated header rows",
            Self::OtherNames => "rows of other names",
            Self::FieldCount => "rows with a wrong number of fields",
            Self::StrayQuote => "stray quotes",
            Self::CutRow => "rows cut short",
            Self::NoStamp => "rows without a usable stamp",
            Self::NoChannel => "readings of no channel",
            Self::UnreadableCell => "cells that are not numbers",
            Self::Torn => "breaks in the data",
            Self::StillWritten => "signs that it is still written",
        }
    }

    /// Whether a problem of this kind cost a whole row.
    #[must_use]
    pub const fn loses_a_row(self) -> bool {
        !matches!(
            self,
            Self::Heading
                | Self::StrayQuote
                | Self::UnreadableCell
                | Self::Torn
                | Self::StillWritten
        )
    }
}

/// One row or cell that could not be used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problem {
    /// Source line, counted from 1.
    pub line: usize,
    /// Field within the line, counted from 1, where one field is to blame.
    pub column: Option<usize>,
    /// What sort of trouble.
    pub kind: ProblemKind,
    /// What is wrong, in words.
    pub what: String,
}

/// All problems of a table: the first of each kind with their lines, the rest as counts.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problems {
    /// At most [`LISTED_PER_KIND`] of each kind, in the order of their lines.
    pub listed: Vec<Problem>,
    /// How many there are of each kind, in the order of [`ProblemKind::ALL`], kinds without any left out.
    pub counts: Vec<(ProblemKind, usize)>,
    /// How many there are altogether, listed or not.
    pub total: usize,
}

impl Problems {
    /// Nothing but counts: how many of `kind`.
    #[must_use]
    pub fn count(&self, kind: ProblemKind) -> usize {
        self.counts
            .iter()
            .find(|(counted, _)| *counted == kind)
            .map_or(0, |(_, count)| *count)
    }

    /// Rows that the file holds and the table does not.
    #[must_use]
    pub fn rows_lost(&self) -> usize {
        let lost = self.counts.iter().filter(|(kind, _)| kind.loses_a_row());
        lost.map(|(_, count)| count).sum()
    }

    /// One line for each kind of which more were found than are listed: "and 312 more blank rows".
    #[must_use]
    pub fn unlisted(&self) -> Vec<String> {
        let mut lines = Vec::new();
        for (kind, count) in &self.counts {
            let listed = self.listed.iter().filter(|p| p.kind == *kind).count();
            if *count > listed {
                lines.push(format!("and {} more {}", count - listed, kind.plural()));
            }
        }
        lines
    }

    /// Counts a problem and keeps it while there is room; `what` is only worded when it is kept.
    pub(crate) fn note(
        &mut self,
        kind: ProblemKind,
        line: usize,
        column: Option<usize>,
        what: impl FnOnce() -> String,
    ) {
        if self.add(kind, 1) < LISTED_PER_KIND {
            self.listed.push(Problem {
                line,
                column,
                kind,
                what: what(),
            });
        }
    }

    /// Takes over the problems of the next part of the file, whose lines lie further on by the given number.
    pub(crate) fn append(&mut self, later: Self, lines: usize) {
        for problem in later.listed {
            let listed = self.listed.iter().filter(|p| p.kind == problem.kind);
            if listed.count() < LISTED_PER_KIND {
                self.listed.push(Problem {
                    line: problem.line + lines,
                    ..problem
                });
            }
        }
        for (kind, count) in later.counts {
            self.add(kind, count);
        }
    }

    /// Takes over problems that are not of a later part but of the same rows, such as those of another column: the first
    /// of all by line are kept.
    pub(crate) fn merge<'a>(&mut self, others: impl IntoIterator<Item = &'a Self>) {
        for other in others {
            self.listed.extend(other.listed.iter().cloned());
            for (kind, count) in &other.counts {
                self.add(*kind, *count);
            }
        }
        self.sort();
        let mut kept: BTreeMap<ProblemKind, usize> = BTreeMap::new();
        self.listed.retain(|problem| {
            let kept = kept.entry(problem.kind).or_insert(0);
            *kept += 1;
            *kept <= LISTED_PER_KIND
        });
    }

    /// What is here and not in `fewer`.
    pub(crate) fn beyond(&self, fewer: &Self) -> Self {
        let mut known = fewer.listed.clone();
        let mut more = Self::default();
        for problem in &self.listed {
            match known.iter().position(|k| k == problem) {
                Some(at) => drop(known.swap_remove(at)),
                None => more.listed.push(problem.clone()),
            }
        }
        for (kind, count) in &self.counts {
            let count = count.saturating_sub(fewer.count(*kind));
            if count > 0 {
                more.add(*kind, count);
            }
        }
        more
    }

    /// Those listed that are to blame on one field of the line, counted from 1.
    pub(crate) fn of_column(&self, column: usize) -> Self {
        let mut own = Self::default();
        for problem in self.listed.iter().filter(|p| p.column == Some(column)) {
            own.add(problem.kind, 1);
            own.listed.push(problem.clone());
        }
        own
    }

    /// Puts the listed problems in the order of their lines.
    pub(crate) fn sort(&mut self) {
        self.listed.sort_by_key(|p| (p.line, p.column));
    }

    /// Adds to a count and says what it was before.
    fn add(&mut self, kind: ProblemKind, more: usize) -> usize {
        self.total += more;
        match self.counts.binary_search_by_key(&kind, |(k, _)| *k) {
            Ok(at) => {
                let before = self.counts[at].1;
                self.counts[at].1 += more;
                before
            }
            Err(at) => {
                self.counts.insert(at, (kind, more));
                0
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_the_first_and_counts_the_rest() {
        let mut problems = Problems::default();
        for line in 0..LISTED_PER_KIND + 312 {
            problems.note(ProblemKind::BlankRow, line, None, || "blank row".into());
        }
        problems.note(ProblemKind::CutRow, 900, None, || "cut".into());
        assert_eq!(problems.listed.len(), LISTED_PER_KIND + 1);
        assert_eq!(problems.total, LISTED_PER_KIND + 313);
        assert_eq!(problems.unlisted(), ["and 312 more blank rows"]);
        assert_eq!(problems.rows_lost(), LISTED_PER_KIND + 313);
    }

    #[test]
    fn parts_join_without_losing_counts() {
        let mut first = Problems::default();
        let mut later = Problems::default();
        for line in 0..15 {
            first.note(ProblemKind::TextRow, line, None, String::new);
            later.note(ProblemKind::TextRow, 100 + line, None, String::new);
        }
        later.note(ProblemKind::UnreadableCell, 7, Some(3), String::new);
        first.append(later, 0);
        first.sort();
        assert_eq!(first.count(ProblemKind::TextRow), 30);
        assert_eq!(first.total, 31);
        assert_eq!(first.rows_lost(), 30);
        assert_eq!(first.listed.len(), LISTED_PER_KIND + 1);
        assert_eq!(first.listed[8].column, Some(3));
    }
}
