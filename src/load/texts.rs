//! The cells of a column as they are written, for columns that hold words instead of numbers.

use std::collections::HashMap;

use super::cells::trim;
use super::encoding::words;
use super::fields::{field, line_and_cuts, record_and_cuts, unquote};
use super::sniff::Layout;
use super::table::Table;
use super::waves::Wave;

/// One column of words. Logs repeat the same few, so each is kept once.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Texts {
    distinct: Vec<String>,
    /// For each row one more than the place of its word, and 0 for a row without one.
    of_row: Vec<u32>,
}

impl Texts {
    /// Rows without a word, so many.
    #[must_use]
    pub fn blank(rows: usize) -> Self {
        Self {
            distinct: Vec::new(),
            of_row: vec![0; rows],
        }
    }

    /// The word of each row; `None` where the cell is blank.
    pub fn iter(&self) -> impl Iterator<Item = Option<&str>> {
        let word = |at: u32| self.distinct.get((at as usize).checked_sub(1)?);
        self.of_row
            .iter()
            .map(move |at| word(*at).map(String::as_str))
    }
}

/// Gathers the words of several columns.
#[derive(Debug)]
pub struct Gather {
    texts: Texts,
    places: HashMap<Box<str>, u32>,
}

impl Gather {
    /// Starts with blank rows.
    #[must_use]
    pub fn new(rows: usize) -> Self {
        Self {
            texts: Texts::blank(rows),
            places: HashMap::new(),
        }
    }

    /// Writes a word into a row. Blanks around it do not matter; nothing but blanks is no word.
    pub fn put(&mut self, row: usize, word: &str) {
        let Some(place) = self.texts.of_row.get_mut(row).filter(|_| !word.is_empty()) else {
            return;
        };
        if let Some(known) = self.places.get(word) {
            *place = *known;
            return;
        }
        self.texts.distinct.push(word.to_owned());
        // More than four thousand million different words do not fit a log.
        *place = u32::try_from(self.texts.distinct.len()).unwrap_or(0);
        self.places.insert(word.into(), *place);
    }

    /// What was gathered.
    #[must_use]
    pub fn done(self) -> Texts {
        self.texts
    }
}

/// Picks the words of the `wanted` columns out of those records of a wave that are rows of `table`.
pub(crate) fn gather(
    wave: &Wave,
    layout: &Layout,
    table: &Table,
    wanted: &[usize],
    into: &mut [Gather],
) {
    let mut cuts = Vec::new();
    for chunk in wave.chunks {
        let bytes = &wave.text[chunk.start..chunk.end];
        // Up to here each line is a record of its own.
        let mut apart = 0;
        let (mut at, mut line) = (0, layout.data_line + wave.lines_before + chunk.lines_before);
        while at < bytes.len() {
            let (shape, quotes) = (layout.shape, chunk.quotes);
            let (mut record, _) = record_and_cuts(bytes, at, shape, quotes, usize::MAX, &mut cuts);
            // Its quotes were stray ones where its lines became rows.
            let mut below = line + 1..line + record.lines;
            if at < apart || below.any(|line| table.row_of(line).is_some()) {
                apart = apart.max(record.next);
                (record, _) = line_and_cuts(bytes, at, shape, &mut cuts);
            }
            let text = record.text(bytes);
            if let Some(row) = table.row_of(line) {
                for (column, gather) in wanted.iter().zip(into.iter_mut()) {
                    let field = field(text, &cuts, *column).unwrap_or_default();
                    let word = words(trim(field), layout.encoding);
                    gather.put(row, &unquote(&word));
                }
            }
            line += record.lines;
            at = record.next;
        }
    }
}
