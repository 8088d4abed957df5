//! The head of a log laid out in rows and fields under one delimiter, and how well that delimiter explains it.

use std::collections::BTreeMap;

use crate::load::cells::{Cell, Marks, bare, cell};
use crate::load::clock::written_out;
use crate::load::fields::{Shape, all, record};

/// What one field looks like before anything is known of the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Class {
    Empty,
    /// A number under one of the two decimal marks.
    Number,
    /// A time with colons.
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

/// Decimal commas, for trying.
const COMMA: Marks = Marks {
    decimal: b',',
    certain: true,
};

/// Says what a field looks like.
pub(super) fn class(field: &[u8]) -> Class {
    let text = bare(field);
    if text.is_empty() {
        return Class::Empty;
    }
    let has_digit = text.iter().any(u8::is_ascii_digit);
    match (cell(text, Marks::POINT), cell(text, COMMA)) {
        (Cell::Number(_), _) | (_, Cell::Number(_)) if has_digit => Class::Number,
        (Cell::Number(_) | Cell::Blank, _) => Class::Word,
        _ if has_digit && written_out(text).is_some() => Class::Stamp,
        _ => Class::Text,
    }
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

    /// Numbers for the most part.
    pub fn is_data_like(&self) -> bool {
        let count = |test: fn(&Class) -> bool| self.classes.iter().filter(|c| test(c)).count();
        let filled = count(|c| *c != Class::Empty);
        let data = count(|c| c.is_data());
        let numbers = count(|c| matches!(c, Class::Number | Class::Stamp));
        numbers > 0 && data * 10 >= filled * 6
    }
}

/// The head of a log under one delimiter.
#[derive(Clone, Debug)]
pub(super) struct Grid<'a> {
    pub shape: Shape,
    pub rows: Vec<Row<'a>>,
    /// Fields of most data rows, a trailing empty one counted; 0 without data rows.
    pub width: usize,
    /// How well the delimiter explains the head; 0 without data rows.
    pub score: f64,
    /// Data rows, and those of them that have `width` fields.
    pub data_rows: (usize, usize),
}

impl<'a> Grid<'a> {
    /// Lays out the head.
    pub fn new(head: &'a [u8], shape: Shape) -> Self {
        let (mut rows, mut at, mut line) = (Vec::new(), 0, 1);
        while at < head.len() {
            let record = record(head, at, shape, true);
            let text = record.text(head);
            let fields = all(text, shape);
            rows.push(Row {
                line,
                next: record.next,
                text,
                classes: fields.iter().map(|field| class(field)).collect(),
                fields,
            });
            line += record.lines;
            at = record.next;
        }
        let mut grid = Self {
            shape,
            rows,
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
        let mut widths: BTreeMap<usize, usize> = BTreeMap::new();
        for row in self.rows.iter().filter(|row| row.is_data_like()) {
            *widths.entry(row.fields.len()).or_default() += 1;
        }
        let usual = widths
            .iter()
            .max_by_key(|(width, count)| (**count, **width));
        let Some((width, count)) = usual else { return };
        self.data_rows = (widths.values().sum(), *count);
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

    /// Data rows of the usual width.
    pub fn usual_rows(&self) -> impl Iterator<Item = &Row<'a>> {
        let width = self.width;
        self.rows
            .iter()
            .filter(move |row| row.fields.len() == width && row.is_data_like())
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

    /// Position of the first row that holds data and nothing that contradicts its columns.
    pub fn first_clean_row(&self) -> Option<usize> {
        let numbers = self.number_columns();
        let usual = |row: &Row| row.fields.len() == self.width && row.is_data_like();
        let clean = |row: &Row| {
            let mut pairs = numbers.iter().zip(&row.classes);
            usual(row) && pairs.all(|(number, class)| !number || *class != Class::Text)
        };
        let first = self.rows.iter().position(clean);
        first.or_else(|| self.rows.iter().position(usual))
    }
}
