//! The one pass over the data: rows that can be used become numbers, all others problems with their line.

use std::sync::Arc;

use rayon::prelude::*;

use super::cells::{Cell, Marks, cell, trim};
use super::chunks::{Chunk, chunks};
use super::clock::{Clock, ClockStyle, stamp};
use super::dialect::Heading;
use super::fields::{Record, field, record, record_and_cuts, split, unquote};
use super::file::words;
use super::lines::RowLines;
use super::problems::{ProblemKind, Problems};
use super::reject::{self, Rejected};
use super::sniff::Layout;
use super::timeline::BreakKind;

/// One column of numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Column {
    /// Position in the log, counted from 0.
    pub column: usize,
    /// One value a row; NaN where the log has none.
    pub values: Vec<f64>,
    /// Rows with a number.
    pub filled: usize,
    /// Rows with nothing, or a word for "missing".
    pub blank: usize,
    /// Rows with something that is no number; their lines are in the problems.
    pub unreadable: usize,
}

/// A place where the clock ran back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClockBreak {
    /// First row after it.
    pub row: usize,
    /// Line of that row, counted from 1.
    pub line: usize,
    /// Stamp of the row before, as logged.
    pub before: String,
    /// Stamp of the row, as logged.
    pub after: String,
    /// What the clock did.
    pub kind: BreakKind,
}

/// The rows of a log that can be used, as numbers.
#[derive(Clone, Debug)]
pub struct Table {
    /// Rows in use.
    pub rows: usize,
    /// Time of each row in seconds, strictly growing.
    pub time_s: Arc<[f64]>,
    /// The clock as logged, in seconds, a round of the clock at midnight added; NaN where blank. `None` without a clock.
    pub clock_s: Option<Arc<[f64]>>,
    /// Rows a second: one over the median time between rows; 0 for a single row.
    pub sample_hz: f64,
    /// Where the clock ran back.
    pub breaks: Vec<ClockBreak>,
    /// What was done to get from the clock to the times, where it was more than reading it.
    pub clock_note: Option<String>,
    /// The columns asked for, in the order in which they were asked for.
    pub columns: Vec<Column>,
    /// Rows and cells that could not be used.
    pub problems: Problems,
    pub(crate) lines: RowLines,
}

impl Table {
    /// Line of the log that a row came from, counted from 1. A row past the end gives the last one's.
    #[must_use]
    pub fn line_of(&self, row: usize) -> usize {
        self.lines.line_of(row)
    }

    /// The row that a line of the log became, if it became one.
    #[must_use]
    pub fn row_of(&self, line: usize) -> Option<usize> {
        self.lines.row_of(line)
    }

    /// Last minus first time, in seconds.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        match (self.time_s.first(), self.time_s.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0.0,
        }
    }
}

/// What the pass over the data hands on.
pub(crate) struct Raw {
    pub columns: Vec<Column>,
    pub stamps_s: Option<Vec<f64>>,
    pub lines: RowLines,
    pub problems: Problems,
}

/// One column to fill: where it stands in a row, where it goes, and whether it is written as a time.
struct Slot {
    column: usize,
    to: usize,
    written: Option<ClockStyle>,
    marks: Marks,
}

/// The pass, with all that it needs to know.
pub(crate) struct Pass<'a> {
    data: &'a [u8],
    layout: &'a Layout,
    headings: &'a [Heading],
    slots: Vec<Slot>,
    /// Column and style of the clock, and whether a row is of no use without its stamp.
    clock: Option<(usize, ClockStyle)>,
    stamps_needed: bool,
}

/// What one chunk gave.
struct Part {
    lines: RowLines,
    problems: Problems,
    /// Blank and unreadable cells of each slot.
    odd: Vec<(usize, usize)>,
}

impl<'a> Pass<'a> {
    pub fn new(
        data: &'a [u8],
        layout: &'a Layout,
        headings: &'a [Heading],
        clock: Option<&Clock>,
        wanted: &[usize],
    ) -> Self {
        let stamps_needed = clock.is_some_and(|clock| clock.forced_hz.is_none());
        let clock = clock.and_then(|clock| Some((clock.column?, clock.style)));
        let slots = wanted.iter().enumerate().map(|(to, column)| Slot {
            column: *column,
            to,
            marks: layout.marks.of(*column),
            written: clock
                .filter(|(at, style)| at == column && style.is_written_out())
                .map(|(_, style)| style),
        });
        Self {
            data,
            layout,
            headings,
            slots: slots.collect(),
            clock,
            stamps_needed,
        }
    }

    /// Goes over all of the data on all cores.
    pub fn run(&self) -> Raw {
        let chunks = chunks(self.data, self.layout.shape);
        let most: usize = chunks.iter().map(|chunk| chunk.lines).sum();
        let stamp_columns = usize::from(self.clock.is_some());
        // Each made by itself: the system hands out zeroed pages, where copies of one would be written on one core.
        let mut columns: Vec<Vec<f64>> = (0..self.slots.len() + stamp_columns)
            .map(|_| vec![0.0; most])
            .collect();
        // Each chunk writes straight into its own stretch of every column; only lost rows leave holes to close.
        let mut stretches: Vec<Vec<&mut [f64]>> = chunks.iter().map(|_| Vec::new()).collect();
        for column in &mut columns {
            let mut rest = column.as_mut_slice();
            for (chunk, stretch) in chunks.iter().zip(&mut stretches) {
                let (mine, others) = rest.split_at_mut(chunk.lines);
                stretch.push(mine);
                rest = others;
            }
        }
        let parts: Vec<Part> = chunks
            .par_iter()
            .zip(stretches)
            .map(|(chunk, stretch)| self.chunk(chunk, stretch))
            .collect();

        let used: Vec<usize> = parts.iter().map(|part| part.lines.rows()).collect();
        columns
            .par_iter_mut()
            .for_each(|column| close_holes(column, &chunks, &used));
        let stamps_s = self.clock.and_then(|_| columns.pop());
        let mut odd = vec![(0, 0); self.slots.len()];
        let (mut lines, mut problems) = (RowLines::default(), Problems::default());
        for (chunk, part) in chunks.iter().zip(parts) {
            lines.append(
                &part.lines,
                chunk.lines_before + self.layout.data_line,
                chunk.start,
            );
            problems.append(part.problems);
            for (sum, more) in odd.iter_mut().zip(part.odd) {
                sum.0 += more.0;
                sum.1 += more.1;
            }
        }
        let slots = self.slots.iter().zip(columns).zip(odd);
        let columns = slots.map(|((slot, values), (blank, unreadable))| Column {
            column: slot.column,
            filled: values.len() - blank - unreadable,
            blank,
            unreadable,
            values,
        });
        Raw {
            columns: columns.collect(),
            stamps_s,
            lines,
            problems,
        }
    }

    /// Goes over one chunk. The last of `columns` takes the stamps, if there is a clock.
    fn chunk(&self, chunk: &Chunk, mut columns: Vec<&mut [f64]>) -> Part {
        let layout = self.layout;
        let bytes = &self.data[chunk.start..chunk.end];
        let is_last = chunk.end == self.data.len();
        let mut part = Part {
            lines: RowLines::default(),
            problems: Problems::default(),
            odd: vec![(0, 0); self.slots.len()],
        };
        let mut cuts: Vec<u32> = Vec::with_capacity(layout.fields + 8);
        let mut odd: Vec<(usize, bool)> = Vec::new();
        let (mut at, mut line) = (0, 0);
        while at < bytes.len() {
            let record = record_and_cuts(bytes, at, layout.shape, chunk.quotes, &mut cuts);
            let text = record.text(bytes);
            odd.clear();
            let row = part.lines.rows();
            let torn = is_last && record.next >= bytes.len() && !record.is_terminated();
            match self.row(text, &cuts, torn, row, &mut columns, &mut odd) {
                Ok(()) => {
                    for (slot, is_blank) in &odd {
                        let count = &mut part.odd[*slot];
                        if *is_blank {
                            count.0 += 1;
                        } else {
                            count.1 += 1;
                            let line = layout.data_line + chunk.lines_before + line;
                            self.note_cell(&mut part.problems, line, text, &cuts, *slot);
                        }
                    }
                    part.lines.push(line, record.start);
                }
                Err(rejected) => {
                    let line = layout.data_line + chunk.lines_before + line;
                    let note = |kind, column, what: String| {
                        part.problems.note(kind, line, column, || what);
                    };
                    reject::explain(rejected, layout, text, &cuts, self.clock.map(|c| c.0), note);
                }
            }
            line += record.lines;
            at = record.next;
        }
        part
    }

    /// Reads one row into place `row` of the columns, or says why it cannot be used.
    #[inline]
    fn row(
        &self,
        text: &[u8],
        cuts: &[u32],
        torn: bool,
        row: usize,
        columns: &mut [&mut [f64]],
        odd: &mut Vec<(usize, bool)>,
    ) -> Result<(), Rejected> {
        let layout = self.layout;
        reject::check_shape(layout, text, cuts, torn)?;
        if layout.header_texts.iter().any(|header| header == text) {
            return Err(Rejected::Text);
        }
        if let (Some((column, style)), Some(stamps)) = (self.clock, columns.last_mut()) {
            let field = field(text, cuts, column).unwrap_or_default();
            let value = match stamp(field, style, layout.marks.of(column)) {
                Cell::Number(value) => value,
                _ if self.stamps_needed => return Err(Rejected::Stamp),
                _ => f64::NAN,
            };
            if let Some(place) = stamps.get_mut(row) {
                *place = value;
            }
        }
        let mut unreadable = false;
        for slot in &self.slots {
            let field = field(text, cuts, slot.column).unwrap_or_default();
            let read = match slot.written {
                None => cell(field, slot.marks),
                Some(style) => stamp(field, style, slot.marks),
            };
            let value = match read {
                Cell::Number(value) => value,
                other => {
                    odd.push((slot.to, other == Cell::Blank));
                    unreadable |= other == Cell::Unreadable;
                    f64::NAN
                }
            };
            if let Some(place) = columns[slot.to].get_mut(row) {
                *place = value;
            }
        }
        // Without a stamp to go by, a row is judged by whether it holds any number at all.
        if !self.stamps_needed
            && (unreadable || odd.len() == self.slots.len())
            && !reject::has_number(layout, text, cuts)
        {
            return Err(Rejected::Text);
        }
        Ok(())
    }

    /// Notes a cell that is no number.
    fn note_cell(
        &self,
        problems: &mut Problems,
        line: usize,
        text: &[u8],
        cuts: &[u32],
        slot: usize,
    ) {
        let column = self.slots[slot].column;
        problems.note(ProblemKind::UnreadableCell, line, Some(column + 1), || {
            let field = field(text, cuts, column).unwrap_or_default();
            let name = self
                .headings
                .get(column)
                .map_or("", |heading| heading.name.as_str());
            let shown = reject::shown(field, self.layout.encoding);
            let hint = reject::decimal_hint(field, self.slots[slot].marks);
            format!("`{shown}` under {name} is not a number{hint}")
        });
    }

    /// The stamp of a row as it stands in the log, found again by a short walk.
    pub fn stamp_text(&self, lines: &RowLines, row: usize) -> Option<String> {
        let (column, _) = self.clock?;
        let (mut at, ahead) = lines.near(row)?;
        let shape = self.layout.shape;
        let mut found: Option<Record> = None;
        for _ in 0..=ahead {
            if at >= self.data.len() {
                return None;
            }
            let record = record(self.data, at, shape, true);
            at = record.next;
            found = Some(record);
        }
        let text = found?.text(self.data);
        let mut cuts = Vec::new();
        split(text, shape.delimiter, true, &mut cuts);
        let field = field(text, &cuts, column)?;
        let text = words(trim(field), self.layout.encoding);
        Some(unquote(&text).into_owned())
    }
}

/// Moves the used rows of all chunks together and cuts off what is left over.
fn close_holes(column: &mut Vec<f64>, chunks: &[Chunk], used: &[usize]) {
    let (mut from, mut to) = (0, 0);
    for (chunk, used) in chunks.iter().zip(used) {
        if from != to {
            column.copy_within(from..from + used, to);
        }
        from += chunk.lines;
        to += used;
    }
    column.truncate(to);
    if column.capacity() / 2 > to {
        column.shrink_to_fit();
    }
}
