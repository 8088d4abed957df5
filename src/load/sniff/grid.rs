//! The head of a log laid out in rows and fields under one delimiter, and how well that delimiter explains it.

use std::collections::BTreeMap;

use crate::load::calendar::is_date;
use crate::load::cells::{Cell, Marks, bare, cell};
use crate::load::clock::written_out;
use crate::load::fields::{Shape, all, record};
use crate::load::glued::number_and_unit;

/// What one field looks like before anything is known of the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Class {
    Empty,
    /// A number under one of the two decimal marks.
    Number,
    /// A time with colons, a date, or both.
    Stamp,
    /// A word that stands for a missing value or a switch.
    Word,
    Text,
}

impl Class {
    /// Whether it may stand in a data row.
    pub(super) fn is_data(self) -> bool {
        matches!(self, Self::Number | Self::Stamp | Self::Word)
    }
}

/// So many of the last rows of a head must be usual ones to say that it ends in the data.
const LAST_USUAL_ROWS: usize = 3;
const LAST_ROWS: usize = 10;
/// Of a run of blank rows, the rest says no more than the first of them.
const BLANK_ROWS_KEPT: usize = 50;

/// Says what a field looks like.
pub(super) fn class(field: &[u8]) -> Class {
    let text = bare(field);
    if text.is_empty() {
        return Class::Empty;
    }
    let has_digit = text.iter().any(u8::is_ascii_digit);
    match (cell(text, Marks::POINT), cell(text, Marks::COMMA)) {
        (Cell::Number(_), _) | (_, Cell::Number(_)) if has_digit => Class::Number,
        (Cell::Number(_) | Cell::Blank, _) => Class::Word,
        _ if has_digit && (written_out(text).is_some() || is_date(text)) => Class::Stamp,
        _ if has_digit && number_and_unit(text).is_some() => Class::Number,
        _ => Class::Text,
    }
}

/// What a row of data is expected to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rows {
    /// A sample of each channel: numbers for the most part.
    Samples,
    /// One reading of one channel: a time and a value, and words beside them.
    Readings,
}

/// One record of the head.
#[derive(Clone, Debug)]
pub(super) struct Row<'a> {
    /// Its line, counted from 1.
    pub line: usize,
    /// First byte of the next record.
    pub next: usize,
    pub text: &'a [u8],
    pub fields: Vec<&'a [u8]>,
    pub classes: Vec<Class>,
    /// Whether it holds numbers for the most part, as a row of samples and as one of readings. Asked for each column, so
    /// it is found out once.
    like_data: [bool; 2],
}

impl Row<'_> {
    /// Whether nothing at all stands in it.
    pub fn is_blank(&self) -> bool {
        self.classes.iter().all(|class| *class == Class::Empty)
    }

    /// Fields up to the last one that holds something.
    pub fn filled_width(&self) -> usize {
        let last = self.classes.iter().rposition(|c| *c != Class::Empty);
        last.map_or(0, |last| last + 1)
    }

    /// Words only.
    pub fn has_no_number(&self) -> bool {
        let number = |class: &Class| matches!(class, Class::Number | Class::Stamp);
        !self.classes.iter().any(number)
    }

    /// Numbers for the most part.
    pub fn is_data_like(&self, rows: Rows) -> bool {
        match rows {
            Rows::Samples => self.like_data[0],
            Rows::Readings => self.like_data[1],
        }
    }
}

/// Whether cells are numbers for the most part, as a row of samples and as one of readings.
fn like_data(classes: &[Class]) -> [bool; 2] {
    let count = |test: fn(&Class) -> bool| classes.iter().filter(|c| test(c)).count();
    let filled = count(|c| *c != Class::Empty);
    let data = count(|c| c.is_data());
    let numbers = count(|c| matches!(c, Class::Number | Class::Stamp));
    [(1, 6), (2, 3)].map(|(least, tenths)| numbers >= least && data * 10 >= filled * tenths)
}

/// The head of a log under one delimiter.
#[derive(Clone, Debug)]
pub(super) struct Grid<'a> {
    pub shape: Shape,
    pub rows: Vec<Row<'a>>,
    kind: Rows,
    names_line: usize,
    header_line: usize,
    only_width: Option<usize>,
    /// Fields of most data rows, a trailing empty one counted; 0 without data rows.
    pub width: usize,
    /// How well the delimiter explains the head; 0 without data rows.
    pub score: f64,
    /// Data rows, and those of them that have `width` fields.
    pub data_rows: (usize, usize),
}

impl<'a> Grid<'a> {
    /// Lays out a piece of the head that starts on `first_line`, long runs of blank rows cut short. Rows up to line
    /// `names_line` are no data.
    pub fn new(head: &'a [u8], shape: Shape, first_line: usize, names_line: usize) -> Self {
        let (mut rows, mut at, mut line): (Vec<Row>, _, _) = (Vec::new(), 0, first_line);
        let mut blanks = 0;
        while at < head.len() {
            let record = record(head, at, shape, true);
            let text = record.text(head);
            let fields = all(text, shape);
            let classes: Vec<Class> = fields.iter().map(|field| class(field)).collect();
            let row = Row {
                line,
                next: record.next,
                text,
                like_data: like_data(&classes),
                classes,
                fields,
            };
            line += record.lines;
            at = record.next;
            blanks = if row.is_blank() { blanks + 1 } else { 0 };
            if blanks <= BLANK_ROWS_KEPT {
                rows.push(row);
            }
        }
        let mut grid = Self {
            shape,
            rows,
            kind: Rows::Samples,
            names_line,
            header_line: 0,
            only_width: None,
            width: 0,
            score: 0.0,
            data_rows: (0, 0),
        };
        grid.judge();
        grid
    }

    /// Finds the usual width of data rows, and how purely they hold numbers.
    #[expect(clippy::cast_precision_loss, reason = "counts of cells in the head")]
    fn judge(&mut self) {
        (self.width, self.score, self.data_rows) = (0, 0.0, (0, 0));
        // Rows and bytes of each width. A table of settings above the log may have more rows than the head has of the
        // log, but hardly more bytes.
        let mut widths: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
        for row in self.rows.iter().filter(|row| self.may_be_data(row)) {
            let sum = widths.entry(row.fields.len()).or_default();
            *sum = (sum.0 + 1, sum.1 + row.text.len());
        }
        let usual = widths
            .iter()
            .filter(|(width, _)| self.only_width.is_none_or(|only| only == **width))
            .max_by_key(|(width, (_, bytes))| (*bytes, **width));
        let Some((width, (count, _))) = usual else {
            return;
        };
        self.data_rows = (widths.values().map(|(rows, _)| rows).sum(), *count);
        self.width = *width;
        let (mut filled, mut data) = (0_usize, 0_usize);
        for class in self.usual_rows().flat_map(|row| &row.classes) {
            filled += usize::from(*class != Class::Empty);
            data += usize::from(class.is_data());
        }
        let purity = data as f64 / filled.max(1) as f64;
        // A single field a row explains nothing: any delimiter that does not occur gives that.
        let parts = if self.width >= 2 { 1.0 } else { 0.01 };
        self.score = self.data_rows.1 as f64 * purity * purity * parts;
    }

    /// The line that the sheet says names the channels, or 0.
    pub const fn names_line(&self) -> usize {
        self.names_line
    }

    /// Judges anew, now that the header is known: rows up to its last one, at `header`, are no data.
    pub fn begin_behind(&mut self, header: usize) {
        self.header_line = self.rows.get(header).map_or(0, |row| row.line);
        self.judge();
    }

    /// Whether a line comes after the header, as far as that is known.
    pub fn is_behind_header(&self, line: usize) -> bool {
        line > self.names_line.max(self.header_line)
    }

    /// Whether a row looks like the data that is expected.
    pub fn is_data_like(&self, row: &Row) -> bool {
        row.is_data_like(self.kind)
    }

    /// Judges anew, expecting one reading a row.
    pub fn expect_readings(&mut self) {
        self.kind = Rows::Readings;
        self.judge();
    }

    /// Whether one reading a row is expected.
    pub fn expects_readings(&self) -> bool {
        self.kind == Rows::Readings
    }

    /// Whether many rows of the usual width are none of numbers: then each may hold one reading, and words.
    pub fn leaves_out_many(&self) -> bool {
        let wide = self
            .rows
            .iter()
            .filter(|row| row.fields.len() == self.width);
        let wide = wide
            .filter(|row| !row.is_blank() && self.is_behind_header(row.line))
            .count();
        self.data_rows.1 * 10 < wide * 8
    }

    fn may_be_data(&self, row: &Row) -> bool {
        self.is_behind_header(row.line) && self.is_data_like(row)
    }

    /// Whether a row is a data row of the usual width.
    pub fn is_usual(&self, row: &Row) -> bool {
        row.fields.len() == self.width && self.may_be_data(row)
    }

    /// Data rows of the usual width.
    pub fn usual_rows(&self) -> impl Iterator<Item = &Row<'a>> {
        self.rows.iter().filter(|row| self.is_usual(row))
    }

    /// Takes the last rows for the data, where they are of another width than most: a log may be shorter than a table
    /// of settings above it. False if they are not, or this was tried before.
    pub fn try_last_width(&mut self) -> bool {
        let last = self.rows.iter().rev().filter(|row| !row.is_blank());
        let last = last.take(LAST_ROWS).find(|row| self.is_data_like(row));
        let Some(width) = last.map(|row| row.fields.len()) else {
            return false;
        };
        if self.only_width.is_some() || width == self.width {
            return false;
        }
        self.only_width = Some(width);
        self.header_line = 0;
        self.judge();
        self.ends_in_data()
    }

    /// Whether the end of the head lies among the data rows, so that the data goes on from there.
    pub fn ends_in_data(&self) -> bool {
        let last = self.rows.iter().rev().filter(|row| !row.is_blank());
        let usual = last.take(LAST_ROWS).filter(|row| self.is_usual(row));
        usual.count() >= LAST_USUAL_ROWS
    }

    /// For each column, whether it holds numbers as a rule.
    fn number_columns(&self) -> Vec<bool> {
        let mut counts = vec![(0_usize, 0_usize); self.width];
        for row in self.usual_rows() {
            for (count, class) in counts.iter_mut().zip(&row.classes) {
                count.0 += usize::from(*class != Class::Empty);
                count.1 += usize::from(class.is_data());
            }
        }
        counts
            .iter()
            .map(|(filled, data)| data * 10 >= filled * 6 && *data > 0)
            .collect()
    }

    /// For each row, whether it holds data and nothing that contradicts its columns. If none does, any row of the usual
    /// width will do.
    pub fn clean_rows(&self) -> Vec<bool> {
        let numbers = self.number_columns();
        let clean = |row: &Row| {
            let mut pairs = numbers.iter().zip(&row.classes);
            self.is_usual(row) && pairs.all(|(number, class)| !number || *class != Class::Text)
        };
        let rows: Vec<bool> = self.rows.iter().map(clean).collect();
        if rows.contains(&true) {
            return rows;
        }
        self.rows.iter().map(|row| self.is_usual(row)).collect()
    }
}
