//! The plainest reader that gives a review: one thread, one line after the other, `str::parse` for numbers. It is told how
//! the log is written by whoever wrote it, and guesses nothing. The program's reader must come to the same review.

use std::collections::BTreeMap;

use plugread::load::{
    Clock, ClockStyle, Column, Forced, Heading, LISTED_PER_KIND, LoadError, Log, Problem,
    ProblemKind, Problems, Table, Texts,
};

/// How a log is written, as its author knows.
#[derive(Clone, Debug)]
pub struct Facts {
    pub delimiter: char,
    pub decimal: char,
    /// The mark between thousands.
    pub group: Option<char>,
    /// Lines of the names and the units, and the line behind them, counted from 1.
    pub names_line: usize,
    pub units_line: Option<usize>,
    pub data_line: usize,
    /// Column of the clock and what it counts; `None` with a rate in rows a second.
    pub clock: Result<(usize, ClockStyle), f64>,
    /// Whether the clock shows a time of day.
    pub from_first: bool,
    /// Brackets around units.
    pub brackets: [char; 2],
    /// Every row ends in a delimiter.
    pub trailing: bool,
}

/// A record: its line, its cells as written, whether its line end is there.
struct Record {
    line: usize,
    text: String,
    cells: Vec<String>,
    ended: bool,
}

/// A log that was read whole.
#[derive(Debug)]
pub struct PlainLog {
    name: String,
    headings: Vec<Heading>,
    facts: Facts,
    lines: Vec<usize>,
    stamps: Vec<f64>,
    cells: Vec<Vec<String>>,
    lost: Vec<Problem>,
}

const MISSING: [&str; 13] = [
    "", "nan", "---", "--", "-", "n/a", "na", "inf", "-inf", "+inf", "1.#inf", "-1.#inf", "null",
];

/// Parts a text into records and those into cells, quote by quote.
fn records(text: &str, delimiter: char) -> Vec<Record> {
    let end = if text.contains('\n') { '\n' } else { '\r' };
    let mut out = Vec::new();
    let (mut line, mut start_line) = (1, 1);
    let (mut cell, mut record, mut cells) = (String::new(), String::new(), Vec::new());
    // Inside quotes; and whether nothing but blanks came before in this cell.
    let (mut inside, mut fresh) = (false, true);
    let mut letters = text.chars().peekable();
    while let Some(c) = letters.next() {
        if c == end {
            line += 1;
        }
        if !inside && c == end {
            let text = record.trim_end_matches('\r').to_owned();
            cells.push(cell.trim_end_matches('\r').to_owned());
            out.push(Record {
                line: start_line,
                text,
                cells: std::mem::take(&mut cells),
                ended: true,
            });
            (cell, record, fresh, start_line) = (String::new(), String::new(), true, line);
            continue;
        }
        record.push(c);
        match c {
            '"' if inside && letters.peek() == Some(&'"') => {
                letters.next();
                record.push('"');
                cell.push('"');
            }
            '"' if inside => inside = false,
            '"' if fresh => {
                inside = true;
                cell.clear();
            }
            _ if c == delimiter && !inside => {
                cells.push(std::mem::take(&mut cell));
                fresh = true;
                continue;
            }
            _ => cell.push(c),
        }
        fresh = fresh && !inside && c.is_whitespace();
    }
    if !record.is_empty() {
        cells.push(cell);
        out.push(Record {
            line: start_line,
            text: record,
            cells,
            ended: false,
        });
    }
    out
}

impl Facts {
    /// A cell as a number; `Err(true)` where it is neither a number nor a word for nothing.
    fn number(&self, cell: &str) -> Result<f64, bool> {
        let text = cell.trim();
        let small = text.to_lowercase();
        if MISSING.contains(&small.as_str()) {
            return Err(false);
        }
        if ["on", "yes", "true", "open"].contains(&small.as_str()) {
            return Ok(1.0);
        }
        if ["off", "no", "false", "closed"].contains(&small.as_str()) {
            return Ok(0.0);
        }
        let text: String = text.chars().filter(|c| Some(*c) != self.group).collect();
        let text = text.replace(self.decimal, ".");
        let digits = text
            .chars()
            .all(|c| c.is_ascii_digit() || "+-.eE".contains(c));
        text.parse().ok().filter(|_| digits).ok_or(true)
    }

    /// A stamp in seconds.
    fn stamp(&self, cell: &str, style: ClockStyle) -> Option<f64> {
        if matches!(
            style,
            ClockStyle::HoursMinutesSeconds | ClockStyle::MinutesSeconds
        ) {
            let parts: Vec<&str> = cell.trim().split(':').collect();
            let wanted = if style == ClockStyle::MinutesSeconds {
                2
            } else {
                3
            };
            let (last, before) = parts.split_last().filter(|_| parts.len() == wanted)?;
            let whole = before.iter().try_fold(0.0, |sum, part| {
                Some((sum + part.parse::<f64>().ok()?) * 60.0)
            })?;
            return Some(whole + self.number(last).ok()?);
        }
        let number = self.number(cell).ok()?;
        Some(match style {
            ClockStyle::Milliseconds => number / 1e3,
            ClockStyle::Microseconds => number / 1e6,
            _ => number,
        })
    }
}

/// A cell or row shortened for a message.
fn shown(text: &str) -> String {
    let text = text.trim();
    let short: String = text
        .chars()
        .take(40)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().count() > 40 {
        format!("{short}...")
    } else {
        short
    }
}

/// Reads a log. Panics where the facts are wrong: they are the test's.
pub fn read(name: &str, text: &str, facts: &Facts) -> PlainLog {
    let records = records(text, facts.delimiter);
    let at = |line: usize| {
        records
            .iter()
            .find(|r| r.line == line)
            .expect("a line of the header")
    };
    let mut names: Vec<String> = at(facts.names_line)
        .cells
        .iter()
        .map(|c| c.trim().to_owned())
        .collect();
    let units: Vec<String> = facts
        .units_line
        .map(|line| at(line).cells.iter().map(|c| c.trim().to_owned()).collect())
        .unwrap_or_default();
    if facts.trailing && names.last().is_some_and(String::is_empty) {
        names.pop();
    }
    let mut log = PlainLog {
        name: name.to_owned(),
        headings: headings(&names, &units, facts),
        facts: facts.clone(),
        lines: Vec::new(),
        stamps: Vec::new(),
        cells: Vec::new(),
        lost: Vec::new(),
    };
    for record in records.iter().filter(|r| r.line >= facts.data_line) {
        if let Some((kind, column, what)) = log.take(record, &names, &units) {
            log.lost.push(Problem {
                line: record.line,
                column,
                kind,
                what,
            });
        }
    }
    log
}

/// Names and units of the columns.
fn headings(names: &[String], units: &[String], facts: &Facts) -> Vec<Heading> {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let one = |(column, raw): (usize, &String)| {
        let [open, close] = facts.brackets;
        let inside = raw
            .strip_suffix(close)
            .and_then(|text| text.rsplit_once(open));
        let (name, unit) = match inside {
            Some((name, unit)) => (
                name.trim().to_owned(),
                Some(unit.trim().to_owned()).filter(|u| !u.is_empty()),
            ),
            None => (
                raw.clone(),
                units.get(column).filter(|u| !u.is_empty()).cloned(),
            ),
        };
        let name = if name.is_empty() {
            format!("column {}", column + 1)
        } else {
            name
        };
        let nth = seen
            .entry(name.clone())
            .and_modify(|n| *n += 1)
            .or_insert(1);
        let name = if *nth > 1 {
            format!("{name} ({nth})")
        } else {
            name
        };
        Heading {
            column,
            raw: raw.clone(),
            name,
            unit,
            nth: *nth,
        }
    };
    names.iter().enumerate().map(one).collect()
}

impl PlainLog {
    /// Takes a record as a row, or says why not.
    fn take(
        &mut self,
        record: &Record,
        names: &[String],
        units: &[String],
    ) -> Option<(ProblemKind, Option<usize>, String)> {
        let mut cells = record.cells.clone();
        if cells.iter().all(|c| c.trim().is_empty()) {
            return Some((ProblemKind::BlankRow, None, "blank row".to_owned()));
        }
        for (header, which) in [(names, "names"), (units, "units")] {
            let filled = header.iter().filter(|c| !c.is_empty()).count();
            let same = header
                .iter()
                .zip(&cells)
                .filter(|(a, b)| !a.is_empty() && a.as_str() == b.trim())
                .count();
            if same > 0 && same * 10 >= filled * 8 {
                return Some((
                    ProblemKind::RepeatedHeader,
                    None,
                    format!("the {which} row once more"),
                ));
            }
        }
        let style = self.facts.clock.ok().map_or(ClockStyle::Seconds, |c| c.1);
        let readable = |c: &String| {
            c.contains(|c: char| c.is_ascii_digit())
                && (self.facts.number(c).is_ok() || self.facts.stamp(c, style).is_some())
        };
        if !cells.iter().any(readable) {
            let what = if record.text.trim().starts_with('#') {
                "a comment"
            } else {
                "text instead of numbers"
            };
            return Some((
                ProblemKind::TextRow,
                None,
                format!("{what}: `{}`", shown(&record.text)),
            ));
        }
        let expected = self.headings.len();
        while cells.len() > expected && cells.last().is_some_and(|c| c.trim().is_empty()) {
            cells.pop();
        }
        if cells.len() != expected {
            let ends_bare = record.text.trim_end().ends_with(self.facts.delimiter);
            let found = record.cells.len() - usize::from(ends_bare);
            let fields = if found == 1 { "field" } else { "fields" };
            let what = format!("{found} {fields} where {expected} are expected");
            return Some(if record.ended || cells.len() > expected {
                (ProblemKind::FieldCount, None, what)
            } else {
                (
                    ProblemKind::CutRow,
                    None,
                    format!("the last row is cut short: {what}"),
                )
            });
        }
        if let Ok((column, style)) = self.facts.clock {
            let cell = &cells[column];
            match self.facts.stamp(cell, style) {
                Some(stamp) => self.stamps.push(stamp),
                None => {
                    let blank = MISSING.contains(&cell.trim().to_lowercase().as_str());
                    let what = if blank {
                        "the clock cell is blank".to_owned()
                    } else {
                        format!("the clock cell reads `{}`, which is no time", shown(cell))
                    };
                    return Some((ProblemKind::NoStamp, Some(column + 1), what));
                }
            }
        }
        self.lines.push(record.line);
        self.cells.push(cells);
        None
    }

    fn clock(&self) -> Clock {
        let (column, style) = self
            .facts
            .clock
            .map_or((None, ClockStyle::FromSampleRate), |(c, s)| (Some(c), s));
        Clock {
            column,
            style,
            from_first: self.facts.from_first,
            forced_hz: self.facts.clock.err(),
            ..Clock::default()
        }
    }
}

impl Log for PlainLog {
    fn name(&self) -> &str {
        &self.name
    }

    fn headings(&self) -> &[Heading] {
        &self.headings
    }

    fn evidence(&self) -> &[String] {
        &[]
    }

    fn clock_column(&self) -> Option<usize> {
        self.facts.clock.ok().map(|c| c.0)
    }

    fn read_as(&self) -> Forced {
        Forced::default()
    }

    fn read(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        let mut all = self.lost.clone();
        let columns = wanted.iter().map(|column| {
            let mut out = Column {
                column: *column,
                ..Column::default()
            };
            for (cells, line) in self.cells.iter().zip(&self.lines) {
                match self.facts.number(&cells[*column]) {
                    Ok(number) => {
                        out.filled += 1;
                        out.values.push(number);
                        continue;
                    }
                    Err(false) => out.blank += 1,
                    Err(true) => {
                        out.unreadable += 1;
                        let name = &self.headings[*column].name;
                        all.push(Problem {
                            line: *line,
                            column: Some(column + 1),
                            kind: ProblemKind::UnreadableCell,
                            what: format!(
                                "`{}` under {name} is not a number",
                                shown(&cells[*column])
                            ),
                        });
                    }
                }
                out.values.push(f64::NAN);
            }
            out
        });
        let columns: Vec<Column> = columns.collect();
        let table = Table::of_rows(
            &self.clock(),
            self.stamps.clone(),
            columns,
            listed(all),
            &self.lines,
        );
        Ok(table.expect("a clock that moves"))
    }

    fn texts(&self, _table: &Table, _wanted: &[usize]) -> Result<Option<Vec<Texts>>, LoadError> {
        Ok(None)
    }
}

/// The first problems of each kind with their lines, and how many there are.
fn listed(mut all: Vec<Problem>) -> Problems {
    all.sort_by_key(|p| (p.line, p.column));
    let mut out = Problems {
        total: all.len(),
        ..Problems::default()
    };
    for kind in ProblemKind::ALL {
        let of_kind: Vec<&Problem> = all.iter().filter(|p| p.kind == kind).collect();
        if !of_kind.is_empty() {
            out.counts.push((kind, of_kind.len()));
        }
        out.listed
            .extend(of_kind.into_iter().take(LISTED_PER_KIND).cloned());
    }
    out.listed.sort_by_key(|p| (p.line, p.column));
    out
}
