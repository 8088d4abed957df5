//! Files with everything that goes wrong in a log, and what has to be read of each.

use std::collections::BTreeSet;

use proptest::prelude::*;

const NAMES: [&str; 9] = [
    "rpm",
    "MAP (kPa)",
    "Battery (V)",
    "EGT 1 (degC)",
    "Aux",
    "",
    "rpm",
    "Lap, sector",
    "Oil \"hot\"",
];
const MARKS: [char; 4] = [',', ';', '\t', '|'];
const BLANKS: [&str; 8] = ["", " ", "NaN", "---", "n/a", "-", "inf", "1.#INF"];
const JUNK: [&str; 6] = ["x?", "5 kPa", "12:3x", "--5", "err 7", "\u{b0}"];
const NOTES: [&str; 6] = [
    "",
    "dry",
    "a, b; c|d",
    "said \"go\"",
    "two\nlines",
    "three\n\nlines, \"so\"",
];
const TEXTS: [&str; 4] = ["lap marker", "# pit stop", "end of run", "*** power ***"];
/// Rows at the start that are good, so that nothing about the form is left to chance.
const SURE: usize = 5;

#[derive(Clone, Debug)]
pub enum Cell {
    /// Digits, decimals, quoted.
    Number(i32, u8, bool),
    Blank(u8),
    Junk(u8),
}

#[derive(Clone, Debug)]
pub enum Row {
    Good(Vec<Cell>, u8),
    /// So many fields too few.
    Short(u8, Vec<Cell>),
    Long(Vec<Cell>),
    Blank(u8),
    Text(u8),
    Header,
    /// The clock cell is blank, or junk.
    NoStamp(bool, Vec<Cell>),
}

#[derive(Clone, Debug)]
pub struct File {
    pub names: Vec<u8>,
    pub clock_at: u8,
    pub notes: bool,
    pub mark: u8,
    pub comma: bool,
    /// LF, CRLF, CR, or LF and CRLF in turn.
    pub ends: u8,
    pub preamble: u8,
    pub rows: Vec<Row>,
    /// Fields of a last row that breaks off.
    pub torn: Option<u8>,
    pub last_end: bool,
}

fn cells() -> impl Strategy<Value = Vec<Cell>> {
    let cell = prop_oneof![
        12 => (-99_999..99_999_i32, 0..4_u8, any::<bool>()).prop_map(|(n, d, q)| Cell::Number(n, d, q && n % 3 == 0)),
        3 => (0..8_u8).prop_map(Cell::Blank),
        1 => (0..6_u8).prop_map(Cell::Junk),
    ];
    prop::collection::vec(cell, 8)
}

fn rows() -> impl Strategy<Value = Row> {
    prop_oneof![
        24 => (cells(), 0..6_u8).prop_map(|(cells, note)| Row::Good(cells, note)),
        1 => (1..9_u8, cells()).prop_map(|(n, cells)| Row::Short(n, cells)),
        1 => cells().prop_map(Row::Long),
        1 => (0..3_u8).prop_map(Row::Blank),
        1 => (0..4_u8).prop_map(Row::Text),
        1 => Just(Row::Header),
        1 => (any::<bool>(), cells()).prop_map(|(blank, cells)| Row::NoStamp(blank, cells)),
    ]
}

/// Where most headings are empty, nobody can tell the row of names: such a file is refused, which has a test of its own.
fn mostly_named(mut names: Vec<u8>) -> Vec<u8> {
    let width = names.len() + 1;
    let mut filled = 1;
    for name in &mut names {
        if NAMES[usize::from(*name)].is_empty() && 2 * filled < width {
            *name = 0;
        }
        filled += usize::from(!NAMES[usize::from(*name)].is_empty());
    }
    names
}

/// A last row that ends in a blank cell and has no line end is told as cut short, for nobody can know it from one.
fn end_filled(rows: &mut [Row]) {
    if let Some(Row::Good(cells, _)) = rows.last_mut() {
        for cell in cells.iter_mut().filter(|c| matches!(c, Cell::Blank(_))) {
            *cell = Cell::Number(7, 0, false);
        }
    }
}

pub fn files() -> impl Strategy<Value = File> {
    let form = (
        prop::collection::vec(0..9_u8, 1..8),
        0..8_u8,
        any::<bool>(),
        0..4_u8,
        any::<bool>(),
        0..4_u8,
        0..4_u8,
    );
    let body = (
        prop::collection::vec(rows(), 0..120),
        prop::option::weighted(0.3, 1..9_u8),
        any::<bool>(),
    );
    (form, body).prop_map(|(form, mut body)| File {
        names: mostly_named(form.0),
        clock_at: form.1,
        notes: form.2,
        mark: form.3,
        comma: form.4,
        ends: form.5,
        preamble: form.6,
        rows: {
            if !body.2 {
                end_filled(&mut body.0);
            }
            body.0
        },
        torn: body.1,
        last_end: body.2,
    })
}

/// What has to come out.
#[derive(Debug, Default)]
pub struct Wanted {
    /// Line of each row in use.
    pub lines: Vec<usize>,
    /// Cells of each row in use, by column: a number, or `None` with whether it is reported.
    pub cells: Vec<Vec<Result<f64, bool>>>,
    pub lost: BTreeSet<usize>,
    pub unreadable: Vec<(usize, usize)>,
    pub last_may_be_cut: bool,
}

impl Wanted {
    /// The last row after all is one that was lost.
    pub fn without_last(&mut self) {
        if let (Some(line), Some(_)) = (self.lines.pop(), self.cells.pop()) {
            self.unreadable.retain(|(at, _)| *at != line);
            self.lost.insert(line);
        }
    }
}

struct Page<'a> {
    file: &'a File,
    text: String,
    line: usize,
    stamp: usize,
    wanted: Wanted,
}

impl File {
    pub fn width(&self) -> usize {
        self.names.len() + 1 + usize::from(self.notes)
    }

    fn mark(&self) -> char {
        MARKS[usize::from(self.mark)]
    }

    fn decimal(&self) -> char {
        if self.comma && self.mark() != ',' {
            ','
        } else {
            '.'
        }
    }

    fn clock_at(&self) -> usize {
        usize::from(self.clock_at) % (self.names.len() + 1)
    }

    fn header(&self) -> Vec<String> {
        let mut names: Vec<String> = self
            .names
            .iter()
            .map(|n| NAMES[usize::from(*n)].to_owned())
            .collect();
        names.insert(self.clock_at(), "time (s)".to_owned());
        if self.notes {
            names.push("Note".to_owned());
        }
        names
    }
}

impl Page<'_> {
    fn end(&mut self) {
        let end = match self.file.ends {
            0 => "\n",
            1 => "\r\n",
            2 => "\r",
            _ => ["\n", "\r\n"][self.line % 2],
        };
        self.text.push_str(end);
        self.line += 1;
    }

    /// Writes fields as one record; those that need them stand in quotes.
    fn record(&mut self, fields: &[String]) {
        let mark = self.file.mark();
        for (n, field) in fields.iter().enumerate() {
            if n > 0 {
                self.text.push(mark);
            }
            let done = field.starts_with('"')
                && field.ends_with('"')
                && field.len() > 1
                && !field[1..field.len() - 1].contains('"');
            if !done && field.contains([mark, '"', '\n']) {
                self.text
                    .push_str(&format!("\"{}\"", field.replace('"', "\"\"")));
            } else {
                self.text.push_str(field);
            }
            self.line += field.matches('\n').count();
        }
    }

    /// A stamp that grows.
    fn stamp(&mut self) -> (String, f64) {
        self.stamp += 1;
        let text = format!("{}.{}", self.stamp / 10, self.stamp % 10);
        let value = text.parse().expect("a number");
        (text.replace('.', &self.file.decimal().to_string()), value)
    }

    fn cell(&self, cell: &Cell) -> (String, Result<f64, bool>) {
        match cell {
            Cell::Number(n, decimals, quoted) => {
                let scale = 10_i32.pow(u32::from(*decimals));
                let sign = if *n < 0 { "-" } else { "" };
                let (whole, part) = (n.abs() / scale, n.abs() % scale);
                let text = match decimals {
                    0 => format!("{sign}{whole}"),
                    d => format!("{sign}{whole}.{part:0width$}", width = usize::from(*d)),
                };
                let value = text.parse().expect("a number");
                let text = text.replace('.', &self.file.decimal().to_string());
                (
                    if *quoted { format!("\"{text}\"") } else { text },
                    Ok(value),
                )
            }
            Cell::Blank(n) => (BLANKS[usize::from(*n)].to_owned(), Err(false)),
            Cell::Junk(n) => (JUNK[usize::from(*n)].to_owned(), Err(true)),
        }
    }

    /// All fields of a row, and what has to be read of them.
    fn fields(
        &mut self,
        cells: &[Cell],
        note: u8,
        stamp: (String, f64),
    ) -> (Vec<String>, Vec<Result<f64, bool>>) {
        let made = cells
            .iter()
            .take(self.file.names.len())
            .map(|c| self.cell(c));
        let (mut fields, mut values): (Vec<String>, Vec<_>) = made.unzip();
        fields.insert(self.file.clock_at(), stamp.0);
        values.insert(self.file.clock_at(), Ok(stamp.1));
        if self.file.notes {
            let note = NOTES[usize::from(note)];
            // A file that ends its lines with CR alone can hold no LF.
            fields.push(if self.file.ends == 2 {
                note.replace('\n', " ")
            } else {
                note.to_owned()
            });
        }
        (fields, values)
    }

    fn row(&mut self, row: &Row) {
        let at = self.line;
        match row {
            Row::Good(cells, note) => {
                let stamp = self.stamp();
                let (fields, values) = self.fields(cells, *note, stamp);
                self.record(&fields);
                for (column, value) in values.iter().enumerate() {
                    if *value == Err(true) {
                        self.wanted.unreadable.push((at, column + 1));
                    }
                }
                self.wanted.lines.push(at);
                self.wanted.cells.push(values);
            }
            Row::Short(fewer, cells) => {
                let stamp = self.stamp();
                let (fields, _) = self.fields(cells, 1, stamp);
                let kept = fields.len().saturating_sub(usize::from(*fewer)).max(1);
                self.record(&fields[..kept.min(fields.len() - 1)]);
                self.lose(at);
            }
            Row::Long(cells) => {
                let stamp = self.stamp();
                let (mut fields, _) = self.fields(cells, 1, stamp);
                fields.push("17".to_owned());
                self.record(&fields);
                self.lose(at);
            }
            Row::Blank(how) => {
                let blank = match how {
                    0 => String::new(),
                    1 => "   ".to_owned(),
                    _ => self.file.mark().to_string().repeat(self.file.width() - 1),
                };
                self.text.push_str(&blank);
                self.lose(at);
            }
            Row::Text(n) => {
                self.text.push_str(TEXTS[usize::from(*n)]);
                self.lose(at);
            }
            Row::Header => {
                self.record(&self.file.header());
                self.lose(at);
            }
            Row::NoStamp(blank, cells) => {
                let stamp = if *blank { "" } else { "later" };
                let (fields, _) = self.fields(cells, 1, (stamp.to_owned(), 0.0));
                self.record(&fields);
                self.lose(at);
            }
        }
        self.end();
    }

    fn lose(&mut self, line: usize) {
        self.wanted.lost.insert(line);
    }
}

/// Writes the file, and works out what has to be read of it.
pub fn written(file: &File) -> (String, Wanted) {
    let mut page = Page {
        file,
        text: String::new(),
        line: 1,
        stamp: 0,
        wanted: Wanted::default(),
    };
    for n in 0..file.preamble {
        page.text
            .push_str(["Run log", "# set 4", ""][usize::from(n) % 3]);
        page.end();
    }
    let header = file.header();
    page.record(&header);
    page.end();
    for n in 0..SURE {
        let cells = (0..8)
            .map(|c| Cell::Number(i32::try_from(n * 10 + c).expect("small") + 11, 1, false))
            .collect();
        page.row(&Row::Good(cells, 1));
    }
    for row in &file.rows {
        page.row(row);
    }
    if let Some(fields) = file.torn {
        let cells: Vec<Cell> = (0..8).map(|n| Cell::Number(n + 100, 1, false)).collect();
        let stamp = page.stamp();
        let (all, _) = page.fields(&cells, 1, stamp);
        let at = page.line;
        page.record(&all[..usize::from(fields).min(all.len() - 1)]);
        page.lose(at);
    } else if !file.last_end {
        while page.text.ends_with(['\n', '\r']) {
            page.text.pop();
        }
        // Blank last rows lost their line ends, and are no lines any more.
        let lines = page
            .text
            .replace("\r\n", "\n")
            .matches(['\n', '\r'])
            .count()
            + 1;
        page.wanted.lost.retain(|line| *line <= lines);
        // Nobody can tell whether a last row without a line end is whole.
        page.wanted.last_may_be_cut = matches!(file.rows.last(), None | Some(Row::Good(..)));
    }
    (page.text, page.wanted)
}
