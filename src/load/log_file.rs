//! A log that has been opened: what was found out about it, and the way to its numbers.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

use super::blanks::Blanks;
use super::clock::Clock;
use super::dialect::{Dialect, Forced, Heading};
use super::error::{LoadError, SORT_ROWS};
use super::file::{Since, Source};
use super::log::Log;
use super::long::{LongPass, MOST_CHANNELS, Readings};
use super::pivot::Long;
use super::problems::{ProblemKind, Problems};
use super::rollover::carry_on;
use super::sniff::{Sniffed, end_of_rows, sniff};
use super::switches::settle;
use super::table::{ClockBreak, Pass, Raw, Table};
use super::texts::{self, Gather, Texts};
use super::timeline::{BreakKind, Timeline, timeline};
use super::waves::for_each_wave;

/// A log whose dialect and headings are known and whose numbers have not been read yet.
#[derive(Debug)]
pub struct LogFile {
    source: Source,
    sniffed: Sniffed,
    /// All readings, where each row of the log holds one: their channels are known only when all were seen.
    long: Option<Long>,
}

/// Opens a log and finds out how it is written. The whole file is not read yet.
///
/// # Errors
/// When there is no such file, it may not be read, or it is no CSV log with named channels and numbers.
pub fn open(path: &Path, forced: &Forced) -> Result<LogFile, LoadError> {
    LogFile::new(Source::open(path, forced.encoding)?, forced)
}

/// As [`open`], for bytes that are already there; `name` is what messages call them.
///
/// # Errors
/// As [`open`].
pub fn from_bytes(name: &str, bytes: Vec<u8>, forced: &Forced) -> Result<LogFile, LoadError> {
    LogFile::new(Source::from_bytes(name, bytes, forced.encoding)?, forced)
}

impl LogFile {
    fn new(source: Source, forced: &Forced) -> Result<Self, LoadError> {
        let mut log = Self {
            sniffed: sniff(&source, forced)?,
            source,
            long: None,
        };
        if log.sniffed.long.is_some() {
            log.read_long()?;
        }
        Ok(log)
    }

    /// Reads a log with one row per reading, and makes a heading of each channel.
    fn read_long(&mut self) -> Result<(), LoadError> {
        let mut readings = Readings::default();
        let broke = self.gather(self.text()?, &mut readings);
        let Some(shape) = &self.sniffed.long else {
            return Ok(());
        };
        let (file, column, value) = (self.source.name.clone(), shape.channel + 1, shape.value);
        if readings.overflowed {
            let most = MOST_CHANNELS;
            return Err(LoadError::TooManyChannels { file, column, most });
        }
        if let Some(error) = &broke {
            let line = readings.lines.line_of(readings.lines.rows()) + 1;
            self.note_break(error, readings.rows, line, &mut readings.problems)?;
        }
        let dialect = &mut self.sniffed.dialect;
        let Some(clock) = &mut dialect.clock else {
            return Ok(());
        };
        let evidence = &mut dialect.evidence;
        readings.join_units(dialect.encoding, evidence);
        if let Some(heading) = clock.column.and_then(|at| self.sniffed.headings.get(at)) {
            let heading = heading.clone();
            self.sniffed.headings = readings.headings(&heading, dialect.encoding, evidence);
        }
        // From here on the columns are the clock and the channels.
        (clock.column, clock.date_column, clock.fraction) = (Some(0), None, None);
        let said = self.sniffed.switches.contains(&value);
        readings.settle(&self.sniffed.headings, said);
        let long = Long::new(readings, clock);
        evidence.push(format!(
            "It has {} readings of {} channels; each channel keeps the times at which it was read.",
            long.readings.rows,
            long.readings.channels.len()
        ));
        if long.rounds > 0 {
            evidence.push("The clock began its round anew and was carried on.".to_owned());
        }
        evidence.extend(long.dates.clone());
        self.long = Some(long);
        Ok(())
    }

    /// Adds the readings of a text to `sum`, and gives what broke the text off.
    fn gather(&self, text: impl Read + Send, sum: &mut Readings) -> Option<std::io::Error> {
        let shape = self.sniffed.long.as_ref()?;
        let pass = LongPass::new(&self.sniffed.layout, shape)?;
        pass.run(text, sum)
    }

    /// What the log is called: its path as given.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.source.name
    }

    /// How it is written.
    #[must_use]
    pub fn dialect(&self) -> &Dialect {
        &self.sniffed.dialect
    }

    /// Its columns, in order.
    #[must_use]
    pub fn headings(&self) -> &[Heading] {
        &self.sniffed.headings
    }

    /// Reads the columns at the positions `wanted` (counted from 0), and the clock.
    ///
    /// # Errors
    /// When no row can be used, when there is neither a clock nor a forced sample rate, when the clock stands still,
    /// or when a position is past the last heading.
    pub fn read(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        self.read_either(wanted, false)
    }

    /// As [`LogFile::read`], but a channel of a log with one row per reading is not spread over all rows: it says in which
    /// of them it was read ([`Column::at`](super::Column)). Such a log may have as many rows as readings, and a gap in
    /// every other row for each of them would fill the memory.
    ///
    /// # Errors
    /// As [`LogFile::read`].
    pub fn read_apart(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        self.read_either(wanted, true)
    }

    /// The text from its start, fit for the layout.
    fn text(&self) -> Result<Box<dyn Read + Send>, LoadError> {
        let text = self.source.text()?;
        Ok(match self.sniffed.layout.blanks {
            true => Box::new(Blanks::new(text)),
            false => text,
        })
    }

    fn read_either(&self, wanted: &[usize], apart: bool) -> Result<Table, LoadError> {
        let read = match &self.long {
            Some(long) => self.read_long_part(wanted, long, apart),
            None => self.read_part(wanted, |pass| {
                // Text that is made anew as it is read has no places.
                let layout = &self.sniffed.layout;
                let plain = match layout.blanks {
                    true => None,
                    false => self.source.plain(layout.data_start)?,
                };
                let raw = plain.and_then(|plain| pass.run_pieces(&plain));
                raw.map_or_else(|| Ok(pass.run(self.text()?, self.source.size())), Ok)
            }),
        };
        match read {
            // Emptied or overwritten meanwhile: that is what is wrong, and not its rows.
            Err(LoadError::NoUsableRows { .. }) if self.source.since() == Since::Changed => {
                Err(LoadError::Changed {
                    file: self.source.name.clone(),
                })
            }
            read => self.unchanged(read?),
        }
    }

    /// As [`LogFile::read`], for at most the first `rows` records of the data only.
    ///
    /// # Errors
    /// As [`LogFile::read`].
    pub fn head(&self, wanted: &[usize], rows: usize) -> Result<Table, LoadError> {
        let (start, shape) = (self.sniffed.layout.data_start, self.sniffed.layout.shape);
        let mut tabbed = Vec::new();
        let mut head = self.source.head();
        if self.sniffed.layout.blanks && Blanks::new(head).read_to_end(&mut tabbed).is_ok() {
            head = &tabbed;
        }
        let end = start + end_of_rows(head.get(start..).unwrap_or_default(), shape, rows);
        let head = &head[..end.min(head.len())];
        match (&self.long, &self.sniffed.dialect.clock) {
            (Some(long), Some(clock)) => {
                let mut readings = long.readings.emptied();
                self.gather(head, &mut readings);
                readings.join_again();
                readings.settle(self.headings(), true);
                self.read_long_part(wanted, &Long::new(readings, clock), false)
            }
            _ => self.read_part(wanted, |pass| Ok(pass.run(head, None))),
        }
    }

    /// Refuses what was read from a file that another program changed meanwhile; says so where it only grew.
    fn unchanged(&self, mut table: Table) -> Result<Table, LoadError> {
        match self.source.since() {
            Since::Same => {}
            Since::Grew(bytes) => {
                let line = table.line_of(table.rows) + 1;
                table.problems.note(ProblemKind::StillWritten, line, None, || {
                    format!(
                        "the file grew by {bytes} bytes while it was read: it may still be written, and only what was there at first was used"
                    )
                });
            }
            Since::Changed => {
                return Err(LoadError::Changed {
                    file: self.source.name.clone(),
                });
            }
        }
        Ok(table)
    }

    fn read_part(
        &self,
        wanted: &[usize],
        run: impl FnOnce(&Pass) -> Result<Raw, LoadError>,
    ) -> Result<Table, LoadError> {
        let Sniffed {
            layout, headings, ..
        } = &self.sniffed;
        let clock = self.clock_for(wanted)?;
        let pass = Pass::new(layout, headings, Some(clock), wanted);
        let mut raw = run(&pass)?;
        settle(
            &mut raw.columns,
            &layout.marks,
            &self.sniffed.switches,
            headings,
            &raw.lines,
            &mut raw.problems,
        );
        if let Some(error) = raw.broke.take() {
            let rows = raw.lines.rows();
            let line = raw.lines.line_of(rows) + 1;
            self.note_break(&error, rows, line, &mut raw.problems)?;
        }
        let rows = raw.lines.rows();
        self.table(raw, clock, rows)
    }

    fn read_long_part(
        &self,
        wanted: &[usize],
        long: &Long,
        apart: bool,
    ) -> Result<Table, LoadError> {
        let clock = self.clock_for(wanted)?;
        let raw = long.raw(wanted, clock.style, apart);
        self.table(raw, clock, long.readings.rows)
    }

    /// The clock, if the columns wanted are there.
    fn clock_for(&self, wanted: &[usize]) -> Result<&Clock, LoadError> {
        let (file, columns) = (|| self.source.name.clone(), self.headings().len());
        if let Some(column) = wanted.iter().find(|column| **column >= columns) {
            return Err(LoadError::NoSuchColumn {
                file: file(),
                column: column + 1,
                columns,
            });
        }
        let clock = self.sniffed.dialect.clock.as_ref();
        clock.ok_or_else(|| {
            let clockless = self.sniffed.clockless.clone();
            clockless.unwrap_or_else(|| LoadError::NoClock { file: file() })
        })
    }

    /// Notes that the text breaks off behind so many rows, or refuses it.
    fn note_break(
        &self,
        error: &std::io::Error,
        rows: usize,
        line: usize,
        problems: &mut Problems,
    ) -> Result<(), LoadError> {
        // Cut short: what came before is good. Damaged: nobody knows from where on.
        if rows == 0 || error.kind() != std::io::ErrorKind::UnexpectedEof {
            return Err(self.source.torn(error));
        }
        problems.note(ProblemKind::Torn, line, None, || self.broke(error));
        Ok(())
    }

    /// Gives the rows their times. `rows_read`: rows of the log in use.
    fn table(&self, mut raw: Raw, clock: &Clock, rows_read: usize) -> Result<Table, LoadError> {
        let mut problems = self.sniffed.remarks.clone();
        problems.merge([&std::mem::take(&mut raw.problems)]);
        let renamed = problems
            .listed
            .iter()
            .find(|p| p.kind == ProblemKind::OtherNames);
        if let Some(renamed) = renamed {
            return Err(LoadError::NamesChange {
                file: self.source.name.clone(),
                line: renamed.line,
            });
        }
        let rows = raw.lines.rows();
        if rows == 0 {
            let first = problems.listed.iter().find(|p| p.kind.loses_a_row());
            return Err(LoadError::NoUsableRows {
                file: self.source.name.clone(),
                rows: problems.rows_lost(),
                line: first.map_or(self.sniffed.layout.data_line, |p| p.line),
                first: first.map_or_else(|| "no rows".to_owned(), |p| p.what.clone()),
            });
        }
        let times = self.times(&mut raw, clock)?;
        Ok(Table {
            rows,
            rows_read,
            sample_hz: times.sample_hz,
            time_s: times.time_s.into(),
            clock_s: raw.stamps_s.map(Arc::from),
            breaks: times.breaks,
            clock_note: times.note,
            columns: raw.columns,
            problems,
            lines: raw.lines,
        })
    }

    /// The words for a text that breaks off.
    fn broke(&self, error: &std::io::Error) -> String {
        let packed = self.source.packing.name();
        let what = packed.map_or_else(|| "the file".to_owned(), |name| format!("the {name} data"));
        format!("{what} breaks off here ({error}): what came before it was used")
    }

    /// Gives each row its time, from the stamps or the forced rate.
    fn times(&self, raw: &mut Raw, clock: &Clock) -> Result<Times, LoadError> {
        let rows = raw.lines.rows();
        let carried = raw
            .stamps_s
            .as_mut()
            .map_or_else(Vec::new, |stamps| carry_on(stamps, clock));
        if let Some(hz) = clock.forced_hz {
            #[expect(clippy::cast_precision_loss, reason = "row numbers are far below 2^53")]
            let time_s = (0..rows).map(|row| row as f64 / hz).collect();
            return Ok(Times {
                time_s,
                sample_hz: hz,
                breaks: breaks(raw, &[], &[]),
                note: {
                    let said = match self.dialect().rate_line {
                        None => "the build sheet says".to_owned(),
                        Some(line) => format!("line {line} of the log says"),
                    };
                    let counted =
                        format!("The times were counted off at {hz} rows a second, as {said}.");
                    let all = [Some(counted), restarts(raw)];
                    Some(all.into_iter().flatten().collect::<Vec<_>>().join(" "))
                },
            });
        }
        let stamps = raw.stamps_s.as_deref().unwrap_or_default();
        let from_first = clock.from_first.then(|| from_first(stamps));
        let Some(made) = timeline(from_first.as_deref().unwrap_or(stamps)) else {
            let heading = clock.column.and_then(|column| self.headings().get(column));
            let column = heading.map_or_else(String::new, |heading| heading.name.clone());
            if stamps.windows(2).any(|pair| pair[1] < pair[0]) {
                return Err(LoadError::ClockUnusable {
                    file: self.source.name.clone(),
                    column,
                    does: "never shows a later time than in the row before".to_owned(),
                    advice: SORT_ROWS.to_owned(),
                });
            }
            return Err(LoadError::ClockStands {
                file: self.source.name.clone(),
                column,
                stamp: raw.first_stamp.clone().unwrap_or_default(),
                rows,
            });
        };
        let mut said = carried;
        said.extend(restarts(raw));
        let note = note(&made, said);
        let sample_hz = rate(made.period_s);
        Ok(Times {
            breaks: breaks(raw, stamps, &made.breaks),
            time_s: made.time_s,
            sample_hz,
            note,
        })
    }
}

/// Rows a second, to a millionth: the differences of stamps carry the rounding of doubles, and 99.999999999 Hz is 100 Hz.
pub(crate) fn rate(period_s: f64) -> f64 {
    match period_s {
        period if period > 0.0 => (1e6 / period).round() / 1e6,
        _ => 0.0,
    }
}

/// Stamps counted from the first one.
pub(crate) fn from_first(stamps: &[f64]) -> Vec<f64> {
    let zero = stamps.first().copied().unwrap_or(0.0);
    // The difference of two doubles carries their rounding, and a check that asks for "at least one second" must not
    // answer by it: what the stamps were written with is found again. A moment of this century leaves a double about a
    // quarter of a microsecond, a time of day far less.
    let grain = if zero.abs() >= 1e5 { 1e6 } else { 1e9 };
    let since = stamps.iter().map(|stamp| stamp - zero);
    since.map(|time| (time * grain).round() / grain).collect()
}

/// The times and what is to be said about them.
struct Times {
    time_s: Vec<f64>,
    sample_hz: f64,
    breaks: Vec<ClockBreak>,
    note: Option<String>,
}

/// Gives the breaks their lines and their stamps as written.
fn breaks(raw: &Raw, stamps: &[f64], found: &[(usize, BreakKind)]) -> Vec<ClockBreak> {
    let in_seconds = |row: usize| {
        stamps
            .get(row)
            .map_or_else(String::new, |s| format!("{s} s"))
    };
    let break_at = |(row, kind): &(usize, BreakKind)| {
        let written = raw.backs.iter().find(|back| back.row == *row);
        let (before, after) = written.map_or_else(
            || (in_seconds(row.saturating_sub(1)), in_seconds(*row)),
            |back| (back.before.clone(), back.after.clone()),
        );
        ClockBreak {
            row: *row,
            line: raw.lines.line_of(*row),
            before,
            after,
            kind: *kind,
        }
    };
    // A header in the middle is where the logger restarted, whatever its clock did there.
    let mut all: BTreeMap<usize, BreakKind> = found.iter().copied().collect();
    let rows = raw.lines.rows();
    for row in raw.headers.iter().filter(|row| (1..rows).contains(row)) {
        all.insert(*row, BreakKind::Restart);
    }
    all.into_iter().map(|found| break_at(&found)).collect()
}

/// Says where the header stands once more.
fn restarts(raw: &Raw) -> Option<String> {
    let rows = raw.lines.rows();
    let mut places: Vec<usize> = raw.headers.clone();
    places.retain(|row| (1..rows).contains(row));
    places.dedup();
    let line = raw.lines.line_of(*places.first()?);
    Some(match places.len() {
        1 => format!(
            "The header stands once more before line {line}, so the logger restarted there: the log was kept as one, with a break."
        ),
        n => format!(
            "The header stands once more in {n} places, the first before line {line}, so the logger restarted there: the log was kept as one, with breaks."
        ),
    })
}

/// What was done to get from stamps to times.
fn note(made: &Timeline, carried: Vec<String>) -> Option<String> {
    let mut sentences = carried;
    if let Some((rows, step)) = made.shared {
        sentences.push(format!(
            "The clock moves by {step:.6} s at a time and about {rows:.0} rows share each stamp, so they were spread evenly between the steps."
        ));
    }
    if made.standing_rows > 0 {
        sentences.push(format!(
            "The clock stands at its first stamp for {} rows; they were placed before it at the usual row period.",
            made.standing_rows
        ));
    }
    match made.breaks.len() {
        0 => {}
        1 => sentences.push(
            "The clock runs back once; the rows were kept in the order of the log.".to_owned(),
        ),
        n => sentences.push(format!(
            "The clock runs back {n} times; the rows were kept in the order of the log."
        )),
    }
    (!sentences.is_empty()).then(|| sentences.join(" "))
}

impl Log for LogFile {
    fn name(&self) -> &str {
        Self::name(self)
    }

    fn headings(&self) -> &[Heading] {
        Self::headings(self)
    }

    fn evidence(&self) -> &[String] {
        &self.dialect().evidence
    }

    fn clock_column(&self) -> Option<usize> {
        self.dialect().clock.as_ref()?.column
    }

    fn clock_parts(&self) -> Vec<usize> {
        self.sniffed.dialect.clock.map_or_else(Vec::new, |clock| {
            let fraction = clock.fraction.map(|part| part.0);
            [clock.date_column, fraction]
                .into_iter()
                .flatten()
                .collect()
        })
    }

    fn read_as(&self) -> Forced {
        let (dialect, clock) = (self.dialect(), self.dialect().clock.as_ref());
        let heading = Log::clock_column(self).and_then(|column| self.headings().get(column));
        Forced {
            delimiter: Some(dialect.delimiter),
            decimal: Some(dialect.decimal),
            sample_hz: clock.and_then(|clock| clock.forced_hz),
            names_line: Some(dialect.names_line),
            units_line: Some(dialect.units_line.unwrap_or(0)),
            clock: heading.map(|heading| heading.raw.clone()),
            clock_unit: clock.map(|clock| clock.style),
            encoding: Some(dialect.encoding),
            date_order: clock.map(|clock| clock.date_order),
        }
    }

    fn read(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        Self::read(self, wanted)
    }

    fn read_apart(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        Self::read_apart(self, wanted)
    }

    fn texts(&self, table: &Table, wanted: &[usize]) -> Result<Option<Vec<Texts>>, LoadError> {
        // A row of such a table is made of several lines, each with a channel of its own.
        if self.long.is_some() {
            return Ok(None);
        }
        let layout = &self.sniffed.layout;
        let mut gathers: Vec<Gather> = wanted.iter().map(|_| Gather::new(table.rows)).collect();
        // What breaks off the text was noted by the pass that made the table.
        let _ = for_each_wave(self.text()?, layout.data_start, layout.shape, |wave| {
            texts::gather(wave, layout, table, wanted, &mut gathers);
        });
        Ok(Some(gathers.into_iter().map(Gather::done).collect()))
    }
}
