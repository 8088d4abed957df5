//! Guesses how a log is written from its head, and keeps in plain sentences what speaks for each guess.
//!
//! Only the head is looked at; the table pass reports every row that turns out otherwise.

mod blame;
mod candidate;
mod clock_column;
mod clock_parts;
mod clock_unit;
mod columns;
mod course;
mod decimal;
mod describe;
mod forced;
mod grid;
mod header;
mod headings;
mod long_shape;
mod look;
mod rate;
mod started;

use std::io::Read;

use super::blanks::Blanks;
use super::cells::LogMarks;
use super::dialect::{Dialect, Encoding, Forced, Heading};
use super::error::LoadError;
use super::fields::{Shape, record};
use super::file::Source;
use super::problems::Problems;
use super::torn::LastCells;
use super::words::{ClockName, clock_name, name_and_unit};
use describe::About;
use forced::Wanted;
use grid::Grid;
pub(crate) use headings::tell_apart;
pub(crate) use long_shape::LongShape;
use look::Look;

/// Delimiters tried, the less common in text first, so that they win a tie.
const DELIMITERS: [u8; 4] = [b'\t', b';', b'|', b','];

/// What the table pass needs to know of a log.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    pub shape: Shape,
    /// Whether runs of blanks part the fields: the text is then read through [`Blanks`], and the delimiter is a tab.
    pub blanks: bool,
    pub marks: LogMarks,
    pub encoding: Encoding,
    /// Fields of a whole row, a trailing empty one not counted.
    pub fields: usize,
    /// The fewest that a row may have: some loggers leave off empty cells at the end.
    pub least_fields: usize,
    /// Whether a last row of full width without a line end must be cut short all the same.
    pub whole_rows_end: bool,
    /// First byte of the data, and its line counted from 1.
    pub data_start: usize,
    pub data_line: usize,
    /// Names and units as written, to know them again further down.
    pub header_texts: Vec<Vec<u8>>,
    pub header_cells: Vec<Vec<String>>,
    /// How the last cells of rows are written, to know a row that is cut off.
    pub last_cells: LastCells,
}

/// All that was found out.
#[derive(Debug)]
pub(crate) struct Sniffed {
    pub dialect: Dialect,
    pub headings: Vec<Heading>,
    pub layout: Layout,
    /// Where headings and rows do not fit each other.
    pub remarks: Problems,
    /// Columns of words for on and off, of which the evidence says so.
    pub switches: Vec<usize>,
    /// What to say when the log is to be read and has no clock.
    pub clockless: Option<LoadError>,
    /// The columns of readings, where each row holds one.
    pub long: Option<LongShape>,
}

/// Looks at the head of a log.
pub(crate) fn sniff(source: &Source, forced: &Forced) -> Result<Sniffed, LoadError> {
    blame::forced_entry(source, forced, sniff_as(source, forced))
}

fn sniff_as(source: &Source, forced: &Forced) -> Result<Sniffed, LoadError> {
    let wanted = Wanted::check(&source.name, forced)?;
    let text = || source.head().chain(BehindHead::new(source));
    if wanted.delimiter == Some(b' ') {
        return sniff_text(source, forced, wanted.with_blanks(), Blanks::new(text()));
    }
    let found = sniff_text(source, forced, wanted, text());
    let explained = match &found {
        Ok(found) => found.dialect.fields >= 2,
        Err(error) => matches!(error, LoadError::BadForced { .. }),
    };
    if explained || wanted.delimiter.is_some() {
        return found;
    }
    // Nothing parts the fields, so perhaps blanks do.
    match sniff_text(source, forced, wanted.with_blanks(), Blanks::new(text())) {
        Ok(again) if again.dialect.fields >= 2 => Ok(again),
        Err(error @ LoadError::NamesWithBlanks { fields: 2.., .. }) => Err(error),
        _ => found,
    }
}

fn sniff_text(
    source: &Source,
    forced: &Forced,
    wanted: Wanted,
    text: impl Read,
) -> Result<Sniffed, LoadError> {
    let mut look = Look::new(text);
    if let Some(line) = wanted.lines.names {
        look.go_to_line(line.max(wanted.lines.units.unwrap_or(0)));
    }
    // What was found in a piece whose end did not lie in the data, or that showed no clock; and what was wrong first.
    let mut second_best: Option<(Rank, Sniffed)> = None;
    let mut wrong: Option<LoadError> = None;
    loop {
        let about = About::new(source, forced, wanted, &look);
        let piece = look.piece();
        if piece.may_hold_numbers() || look.is_over() {
            let mut explained = false;
            // Rows of samples with so many words beside them that they look like readings, and are none.
            let mut wordy: Option<Sniffed> = None;
            let mut has_samples = false;
            for (mut grid, rival) in about.readings(piece) {
                if explained && grid.expects_readings() {
                    break;
                }
                let ends_in_data = grid.ends_in_data();
                match about.describe(&mut grid, rival, piece.start) {
                    Err(error @ LoadError::BadForced { .. }) => return Err(error),
                    _ if grid.score <= 0.0 => {}
                    Ok(found) if grid.expects_readings() && found.long.is_none() => {
                        let sure = ends_in_data && found.dialect.clock.is_some();
                        wordy = wordy.or_else(|| sure.then_some(found));
                    }
                    Err(_) if grid.expects_readings() => {}
                    Ok(found) => {
                        has_samples = true;
                        explained |= found.dialect.clock.is_some();
                        let rank = (found.dialect.clock.is_some(), ends_in_data, grid.score);
                        if rank.0 && rank.1 {
                            return Ok(found);
                        }
                        if second_best.as_ref().is_none_or(|best| best.0 < rank) {
                            second_best = Some((rank, found));
                        }
                    }
                    Err(error) => wrong = wrong.or(Some(error)),
                }
            }
            if let Some(found) = wordy.filter(|_| !has_samples) {
                return Ok(found);
            }
        }
        if !look.go_on() {
            break;
        }
    }
    match (second_best, wrong) {
        (Some((_, found)), _) => Ok(found),
        (None, Some(error)) => Err(error),
        (None, None) => Err(without_data(source, &look.piece().bytes, look.terminator())),
    }
}

/// The text behind the head of a source, opened only if it is asked for.
struct BehindHead<'a> {
    source: &'a Source,
    text: Option<Box<dyn Read + Send>>,
}

impl<'a> BehindHead<'a> {
    fn new(source: &'a Source) -> Self {
        Self { source, text: None }
    }
}

impl Read for BehindHead<'_> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        if let Some(text) = &mut self.text {
            return text.read(into);
        }
        // What keeps the text from being opened again is met and reported by the pass over the data.
        let mut text = self.source.text().map_err(std::io::Error::other)?;
        let known = self.source.head().len() as u64;
        std::io::copy(&mut text.by_ref().take(known), &mut std::io::sink())?;
        self.text.insert(text).read(into)
    }
}

/// Whether there is a clock, whether the rows go on to the end of the piece, and how well the delimiter explains them.
type Rank = (bool, bool, f64);

/// No row of numbers anywhere: is it a log that never began, or no log?
fn without_data(source: &Source, head: &[u8], terminator: u8) -> LoadError {
    let file = source.name.clone();
    for delimiter in DELIMITERS {
        let grid = Grid::new(
            head,
            Shape {
                delimiter,
                terminator,
            },
            1,
            0,
        );
        let filled: Vec<_> = grid.rows.iter().filter(|row| !row.is_blank()).collect();
        for row in filled.iter().skip(filled.len().saturating_sub(2)) {
            let cells = header::cells(row, source.encoding);
            let clock = |cell: &String| clock_name(&name_and_unit(cell).0) == ClockName::Exact;
            let short = cells.iter().all(|cell| cell.len() <= 40);
            let names = cells.iter().any(clock) || filled.len() == 1;
            if cells.len() >= 2 && short && names {
                return LoadError::HeaderOnly {
                    file,
                    line: row.line,
                };
            }
        }
    }
    LoadError::AllText { file }
}

/// The end of the first `rows` records of the data, for a look at a few rows only.
pub(crate) fn end_of_rows(data: &[u8], shape: Shape, rows: usize) -> usize {
    let mut at = 0;
    for _ in 0..rows {
        if at >= data.len() {
            break;
        }
        at = record(data, at, shape, true).next;
    }
    at
}
