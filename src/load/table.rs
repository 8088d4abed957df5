//! The one pass over the data: rows that can be used become numbers, all others problems with their line.

use std::io::Read;
use std::sync::{Arc, Mutex};

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::cells::{Cell, Last, Marks, cell, trim};
use super::clock::{Clock, StampPlan};
use super::dialect::Heading;
use super::encoding::words;
use super::fields::{ends, field, line_and_cuts, record_and_cuts, split, unquote};
use super::lines::RowLines;
use super::piece::Piece;
use super::pieces::{Outcome, Plain, for_each_piece};
use super::problems::{ProblemKind, Problems};
use super::reject::{self, Rejected};
use super::sniff::Layout;
use super::stray::{note_stray, takes_in_rows};
use super::timeline::BreakKind;
use super::waves::{Wave, for_each_wave};

/// One column of numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Column {
    /// Position in the log, counted from 0.
    pub column: usize,
    /// One value a row; NaN where the log has none. Where `at` is given, one for each row listed there.
    pub values: Vec<f64>,
    /// The rows of the values, ascending, where the column was read apart ([`super::LogFile::read_apart`]) and was not
    /// logged in every row.
    pub at: Option<Arc<[u32]>>,
    /// Rows with a number.
    pub filled: usize,
    /// Rows with nothing, or a word for "missing".
    pub blank: usize,
    /// Rows with something that is no number; their lines are in the problems.
    pub unreadable: usize,
    /// Rows with a word for on or off, which count as filled.
    pub words: usize,
}

impl Column {
    /// The times of its values, in seconds; `time_s` are those of the rows.
    #[must_use]
    pub fn times(&self, time_s: &Arc<[f64]>) -> Arc<[f64]> {
        let time = |row: &u32| time_s.get(*row as usize).copied();
        match &self.at {
            None => Arc::clone(time_s),
            Some(rows) => rows.iter().filter_map(time).collect(),
        }
    }
}

/// A place where the clock ran back or the logger began anew.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
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
    /// Rows of the table.
    pub rows: usize,
    /// Rows of the log in use: as many as those of the table, but for a log with one row per reading, where they are
    /// its readings.
    pub rows_read: usize,
    /// Time of each row in seconds, strictly growing.
    pub time_s: Arc<[f64]>,
    /// The clock as logged, in seconds, a round of the clock at midnight added; NaN where blank. `None` without a clock.
    pub clock_s: Option<Arc<[f64]>>,
    /// Rows a second: one over the median time between rows; 0 for a single row.
    pub sample_hz: f64,
    /// Where the clock ran back, or the header stands once more because the logger restarted.
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
    /// Where the stamps run back: the row, and both stamps as written.
    pub backs: Vec<Back>,
    /// Rows before which the header stands once more, because the logger restarted.
    pub headers: Vec<usize>,
    /// The first stamp as written.
    pub first_stamp: Option<String>,
    /// What broke off the text before its end.
    pub broke: Option<std::io::Error>,
}

/// A stamp that is less than the one before it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Back {
    pub row: usize,
    pub before: String,
    pub after: String,
}

/// Steps back that are kept as written.
const BACKS_KEPT: usize = 1000;

/// One column to fill: where it stands in a row, where it goes, and whether it is written as a time.
struct Slot {
    column: usize,
    to: usize,
    written: Option<StampPlan>,
    marks: Marks,
}

/// The pass, with all that it needs to know.
pub(crate) struct Pass<'a> {
    layout: &'a Layout,
    headings: &'a [Heading],
    slots: Vec<Slot>,
    /// How to read the stamps, and whether a row is of no use without its own.
    clock: Option<StampPlan>,
    stamps_needed: bool,
    /// Fields up to the last one that is read; those behind it are only counted.
    fields_wanted: usize,
}

/// What one piece gave.
struct Part {
    /// Columns one after the other, each with room for `room` rows; the last one takes the stamps, if there is a clock.
    cells: Vec<f64>,
    room: usize,
    /// Lines, those of the problems too, are counted from the start of the piece.
    lines: RowLines,
    problems: Problems,
    /// Blank and unreadable cells of each slot.
    odd: Vec<(usize, usize)>,
    backs: Vec<Back>,
    /// Rows before which a header stands.
    headers: Vec<usize>,
    /// First and last stamp as written.
    ends: Option<(String, String)>,
}

/// All parts so far, put together in the order of the log.
struct Sum {
    columns: Vec<Vec<f64>>,
    lines: RowLines,
    problems: Problems,
    odd: Vec<(usize, usize)>,
    backs: Vec<Back>,
    headers: Vec<usize>,
    first_stamp: Option<String>,
    last_stamp: Option<String>,
    has_clock: bool,
    /// The line on which the data starts.
    first_line: usize,
    /// Bytes of text to come, until room was made for them.
    bytes: Option<u64>,
}

impl<'a> Pass<'a> {
    pub fn new(
        layout: &'a Layout,
        headings: &'a [Heading],
        clock: Option<&Clock>,
        wanted: &[usize],
    ) -> Self {
        let stamps_needed = clock.is_some_and(|clock| clock.forced_hz.is_none());
        let clock = clock.and_then(|clock| clock.plan(&layout.marks));
        let slots = wanted.iter().enumerate().map(|(to, column)| Slot {
            column: *column,
            to,
            marks: layout.marks.of(*column),
            written: clock.filter(|plan| plan.reads(*column)),
        });
        // Without a stamp to go by, any field may be the one that makes a row usable.
        let last = wanted.iter().copied().max().unwrap_or(0);
        let last = last.max(clock.map_or(0, |plan| plan.last_column()));
        let fields_wanted = if stamps_needed { last + 1 } else { usize::MAX };
        Self {
            layout,
            headings,
            slots: slots.collect(),
            clock,
            stamps_needed,
            fields_wanted,
        }
    }

    /// Columns of numbers that it makes, the stamps included.
    fn columns(&self) -> usize {
        self.slots.len() + usize::from(self.clock.is_some())
    }

    /// Goes over all of the text on all cores. `bytes`: how much there is, where that is known.
    pub fn run(&self, text: impl Read + Send, bytes: Option<u64>) -> Raw {
        let (start, shape) = (self.layout.data_start, self.layout.shape);
        let mut sum = Sum::new(self, bytes);
        let outcome = for_each_wave(text, start, shape, |wave: &Wave| {
            let chunks = wave.chunks.par_iter();
            let parts: Vec<Part> = chunks
                .map(|chunk| self.piece(&wave.piece(chunk), Vec::new()))
                .collect();
            sum.make_room(
                parts.iter().map(|part| part.lines.rows()).sum(),
                wave.text.len(),
            );
            for (part, chunk) in parts.into_iter().zip(wave.chunks) {
                sum.add(part, wave.lines_before + chunk.lines_before);
            }
        });
        self.raw(sum, outcome.err())
    }

    /// The same for text of which any part can be read; nothing where its pieces cannot be told apart.
    pub fn run_pieces(&self, plain: &Plain) -> Option<Raw> {
        let mut sum = Sum::new(self, Some(plain.end - plain.start));
        // Memory that was written before is nearer than new.
        let spare: Mutex<Vec<Vec<f64>>> = Mutex::default();
        let outcome = for_each_piece(
            plain,
            self.layout.shape,
            |piece| {
                let room = spare.lock().ok().and_then(|mut spare| spare.pop());
                let part = self.piece(piece, room.unwrap_or_default());
                (part, piece.text.len())
            },
            |(part, bytes), lines_before| {
                sum.make_room(part.lines.rows(), bytes);
                let room = sum.add(part, lines_before);
                if let Ok(mut spare) = spare.lock() {
                    spare.push(room);
                }
            },
        );
        match outcome {
            Outcome::Over(broke) => Some(self.raw(sum, broke)),
            Outcome::GaveUp => None,
        }
    }

    fn raw(&self, mut sum: Sum, broke: Option<std::io::Error>) -> Raw {
        let stamps_s = self.clock.and_then(|_| sum.columns.pop());
        let slots = self.slots.iter().zip(sum.columns).zip(sum.odd);
        let columns = slots.map(|((slot, mut values), (blank, unreadable))| {
            if values.capacity() / 2 > values.len() {
                values.shrink_to_fit();
            }
            Column {
                column: slot.column,
                at: None,
                filled: values.len() - blank - unreadable,
                blank,
                unreadable,
                words: 0,
                values,
            }
        });
        Raw {
            columns: columns.collect(),
            stamps_s,
            lines: sum.lines,
            problems: sum.problems,
            backs: sum.backs,
            headers: sum.headers,
            first_stamp: sum.first_stamp,
            broke,
        }
    }

    /// Goes over one piece. `cells` is room for its numbers, whatever stands in it.
    fn piece(&self, piece: &Piece, mut cells: Vec<f64>) -> Part {
        let layout = self.layout;
        let bytes = piece.text;
        // A row that can be used has all its delimiters: blank lines by the million are none, and take no room.
        let room = piece
            .lines
            .min((bytes.len() + 1) / layout.least_fields.max(1));
        cells.resize(self.columns() * room, 0.0);
        let mut part = Part {
            cells,
            room,
            lines: RowLines::default(),
            problems: Problems::default(),
            odd: vec![(0, 0); self.slots.len()],
            backs: Vec::new(),
            headers: Vec::new(),
            ends: None,
        };
        let mut cuts: Vec<u32> = Vec::with_capacity(layout.fields + 8);
        let mut odd: Vec<(usize, bool)> = Vec::new();
        let mut last = vec![Last::default(); self.slots.len()];
        // Up to here each line is a record of its own.
        let mut apart = 0;
        let (mut at, mut line) = (0, 0);
        let (mut first_stamp, mut last_stamp): (Option<&[u8]>, &[u8]) = (None, b"");
        let mut last_value = f64::NEG_INFINITY;
        while at < bytes.len() {
            let (mut record, mut count) = record_and_cuts(
                bytes,
                at,
                layout.shape,
                piece.quotes,
                self.fields_wanted,
                &mut cuts,
            );
            if record.lines > 1 {
                let clock = self.clock.as_ref();
                if at >= apart && takes_in_rows(layout, clock, record.text(bytes)) {
                    note_stray(&mut part.problems, line, record.lines);
                    apart = record.next;
                }
                if at < apart {
                    (record, count) = line_and_cuts(bytes, at, layout.shape, &mut cuts);
                }
            }
            let text = record.text(bytes);
            odd.clear();
            let row = part.lines.rows();
            let unended = piece.last && record.next >= bytes.len() && !record.is_terminated();
            // Not even half of a line end stands behind it: it may have been cut.
            let torn = (unended && text.len() == record.end - record.start)
                .then(|| piece.above(record.start));
            // A row out of the ordinary is looked at in all its fields.
            let usual = count + 1 == layout.fields
                || (count == layout.fields && text.last() == Some(&layout.shape.delimiter));
            if count > cuts.len() && (!usual || unended) {
                split(text, layout.shape.delimiter, piece.quotes, &mut cuts);
            }
            let read = if unended && piece.broken {
                Err(Rejected::Torn)
            } else {
                self.row(
                    text,
                    (&cuts, count),
                    torn.as_deref(),
                    row,
                    &mut part,
                    (&mut odd, &mut last),
                )
            };
            match read {
                Ok(stamp) => {
                    for (slot, is_blank) in &odd {
                        let count = &mut part.odd[*slot];
                        if *is_blank {
                            count.0 += 1;
                        } else {
                            count.1 += 1;
                            self.note_cell(&mut part.problems, line, text, &cuts, *slot);
                        }
                    }
                    if let Some(plan) = &self.clock {
                        let written = field(text, &cuts, plan.column).unwrap_or_default();
                        if stamp < last_value && part.backs.len() < BACKS_KEPT {
                            part.backs.push(Back {
                                row,
                                before: self.as_written(last_stamp),
                                after: self.as_written(written),
                            });
                        }
                        last_value = stamp;
                        last_stamp = written;
                        first_stamp.get_or_insert(written);
                    }
                    part.lines.push(line);
                }
                Err(rejected) => {
                    split(text, layout.shape.delimiter, piece.quotes, &mut cuts);
                    let mut headed = false;
                    let note = |kind, column, what: String| {
                        headed |= kind == ProblemKind::RepeatedHeader;
                        part.problems.note(kind, line, column, || what);
                    };
                    reject::explain(rejected, layout, text, &cuts, self.clock.as_ref(), note);
                    if headed {
                        part.headers.push(row);
                    }
                }
            }
            line += record.lines;
            at = record.next;
        }
        part.ends = first_stamp.map(|first| (self.as_written(first), self.as_written(last_stamp)));
        part
    }

    /// A stamp as it stands in the log.
    fn as_written(&self, field: &[u8]) -> String {
        let text = words(trim(field), self.layout.encoding);
        unquote(&text).into_owned()
    }

    /// Reads one row into place `row` of the columns and gives its stamp, or says why it cannot be used.
    #[inline]
    fn row(
        &self,
        text: &[u8],
        (cuts, count): (&[u32], usize),
        torn: Option<&[u8]>,
        row: usize,
        part: &mut Part,
        (odd, last): (&mut Vec<(usize, bool)>, &mut [Last]),
    ) -> Result<f64, Rejected> {
        let layout = self.layout;
        reject::check_shape(layout, text, cuts, count, torn)?;
        if layout.header_texts.iter().any(|header| header == text) {
            return Err(Rejected::Text);
        }
        let mut time = f64::NAN;
        if let Some(plan) = &self.clock {
            time = match plan.read(|column| field(text, cuts, column).unwrap_or_default()) {
                Cell::Number(value) => value,
                _ if self.stamps_needed => return Err(Rejected::Stamp),
                _ => f64::NAN,
            };
            if let Some(place) = part.cells.get_mut(self.slots.len() * part.room + row) {
                *place = time;
            }
        }
        let mut unreadable = false;
        for (slot, last) in self.slots.iter().zip(last) {
            let (start, end) = ends(text, cuts, slot.column).unwrap_or_default();
            let field = || text.get(start..end).unwrap_or_default();
            let read = match &slot.written {
                None => last
                    .short(text, start, end, slot.marks.decimal)
                    .map_or_else(|| cell(field(), slot.marks), Cell::Number),
                Some(plan) => plan.read_column(slot.column, field()),
            };
            let value = match read {
                Cell::Number(value) => value,
                other => {
                    odd.push((slot.to, other == Cell::Blank));
                    unreadable |= other == Cell::Unreadable;
                    f64::NAN
                }
            };
            if let Some(place) = part.cells.get_mut(slot.to * part.room + row) {
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
        Ok(time)
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
}

impl Sum {
    fn new(pass: &Pass, bytes: Option<u64>) -> Self {
        Self {
            columns: vec![Vec::new(); pass.columns()],
            lines: RowLines::default(),
            problems: Problems::default(),
            odd: vec![(0, 0); pass.slots.len()],
            backs: Vec::new(),
            headers: Vec::new(),
            first_stamp: None,
            last_stamp: None,
            has_clock: pass.clock.is_some(),
            first_line: pass.layout.data_line,
            bytes,
        }
    }

    /// Makes room for the whole log, as its first rows and their bytes let expect. Memory that is never written costs
    /// nothing.
    #[expect(clippy::cast_precision_loss, reason = "an estimate")]
    fn make_room(&mut self, rows: usize, read: usize) {
        let Some(bytes) = self.bytes.take().filter(|bytes| *bytes > read as u64) else {
            return;
        };
        let most = rows as f64 * (bytes as f64 / read.max(1) as f64) * 1.02;
        let most = most.min(bytes as f64) as usize;
        // Where there is no such room, the columns grow with their rows.
        let _ = self
            .columns
            .iter_mut()
            .try_for_each(|c| c.try_reserve(most));
    }

    /// Adds the next part, which so many lines of the data stand before, and gives back the room that its cells took.
    fn add(&mut self, part: Part, lines_before: usize) -> Vec<f64> {
        for (at, column) in self.columns.iter_mut().enumerate() {
            let from = at * part.room;
            column.extend_from_slice(&part.cells[from..from + part.lines.rows()]);
        }
        let rows = self.lines.rows();
        if let Some((first, last)) = part.ends {
            self.join(rows, &first);
            self.last_stamp = Some(last);
            self.first_stamp.get_or_insert(first);
        }
        let backs = part.backs.into_iter().map(|back| Back {
            row: back.row + rows,
            ..back
        });
        self.backs.extend(backs);
        self.backs.truncate(BACKS_KEPT);
        self.headers
            .extend(part.headers.iter().map(|row| row + rows));
        let first_line = self.first_line + lines_before;
        self.lines.append(&part.lines, first_line);
        self.problems.append(part.problems, first_line);
        for (sum, more) in self.odd.iter_mut().zip(part.odd) {
            sum.0 += more.0;
            sum.1 += more.1;
        }
        part.cells
    }

    /// Keeps the stamps where one part runs back behind the one before it.
    fn join(&mut self, row: usize, first: &str) {
        let Some(stamps) = self.columns.last().filter(|_| self.has_clock) else {
            return;
        };
        let pair = row
            .checked_sub(1)
            .and_then(|b| Some((stamps.get(b)?, stamps.get(row)?)));
        if let (Some((before, now)), Some(last)) = (pair, &self.last_stamp)
            && now < before
        {
            self.backs.push(Back {
                row,
                before: last.clone(),
                after: first.to_owned(),
            });
        }
    }
}
