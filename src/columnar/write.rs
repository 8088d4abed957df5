//! From a log to a Parquet or Arrow file.

use std::path::Path;

use parquet::errors::ParquetError;
use thiserror::Error;

use super::Form;
use super::columns::{Columns, PackError};
use super::facts::{self, Facts, KeptClock, Understood};
use super::held::Held;
use super::layout;
use super::pack::{self, Packed};
use crate::load::{Forced, LoadError, Log, Table};
use crate::recording::{Channel, Recording, map_headings};
use crate::sheet::Sheet;
use crate::whole::{self, Unfinished};

/// The field of the times, s.
pub const TIME: &str = "time";
/// The field of the clock as logged, s, where it is not the times.
pub const CLOCK: &str = "clock";

/// What was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Converted {
    /// Rows.
    pub rows: usize,
    /// Columns of the file.
    pub columns: usize,
    /// Of those, channels under a standard name.
    pub channels: usize,
    /// Size of the file.
    pub bytes: u64,
}

/// Why a log could not be converted.
#[derive(Debug, Error)]
pub enum ConvertError {
    /// The log cannot be read.
    #[error(transparent)]
    Log(#[from] LoadError),
    /// The file cannot be written.
    #[error("{file} could not be written: {reason}")]
    Unwritten {
        /// The file.
        file: String,
        /// What the system or the library said.
        reason: String,
    },
}

/// Writes `log`, read under `sheet`, to a file. What stands there is replaced once all is written.
///
/// # Errors
/// The log cannot be read, or the file cannot be written.
pub fn convert(
    log: &dyn Log,
    sheet: &Sheet,
    forced: &Forced,
    form: Form,
    out: &Path,
) -> Result<Converted, ConvertError> {
    let unwritten = |reason: String| ConvertError::Unwritten {
        file: out.display().to_string(),
        reason,
    };
    let failed = |error: PackError| match error {
        PackError::Log(error) => ConvertError::Log(error),
        PackError::Pack(error) => unwritten(error.to_string()),
    };
    let mapping = map_headings(log, sheet);
    let found = || {
        mapping
            .found
            .iter()
            .filter(|f| Some(f.0) != log.clock_column())
    };
    let base = log.read_apart(&[])?;
    let table = log.read_apart(&found().map(|f| f.0).collect::<Vec<_>>())?;
    let held = Held { log, table };
    let rec = Recording::read(&held, sheet, |_| true)?;
    let mut columns = Columns::new(log, &rec, &[TIME, CLOCK]);
    // The numbers may have shown that a column is another channel than its heading says.
    let guessed = |name: &str| found().any(|f| f.1.name == name);
    let channel = |column: usize| {
        let (_, found) = found().find(|f| f.0 == column)?;
        let heading = log.headings().get(column)?;
        let made_of_it = |c: &&Channel| c.column == heading.raw;
        let named = rec.channel(&found.name).filter(made_of_it);
        named.or_else(|| {
            rec.channels
                .values()
                .find(|c| made_of_it(c) && !guessed(&c.name))
        })
    };
    let channels = columns.channels(&held.table, channel).map_err(failed)?;
    drop(held);
    columns.others().map_err(failed)?;
    columns.problems(&base.problems).map_err(failed)?;
    let (mut packed, kept) = columns.done();

    let pack_error = |error: ParquetError| unwritten(error.to_string());
    let (times, clock) = times(&base).map_err(pack_error)?;
    packed.splice(0..0, times);
    let facts = Facts {
        rows: base.rows,
        rows_read: base.rows_read,
        headings: log.headings().to_vec(),
        columns: kept,
        evidence: log.evidence().to_vec(),
        clock_column: log.clock_column(),
        clock_parts: log.clock_parts(),
        clock,
        clock_note: base.clock_note,
        sample_hz: base.sample_hz,
        problems: base.problems,
        read_as: facts::read_as(log, forced),
        breaks: base.breaks,
    };
    let metadata = metadata(log, &rec, &facts).map_err(|e| unwritten(e.to_string()))?;
    let written = Converted {
        rows: facts.rows,
        columns: packed.len(),
        channels,
        bytes: 0,
    };
    let bytes = write(packed, metadata, form, out).map_err(unwritten)?;
    Ok(Converted { bytes, ..written })
}

/// The times, and the clock as logged where it is not the same.
fn times(base: &Table) -> Result<(Vec<Packed>, KeptClock), ParquetError> {
    let time = layout::seconds(TIME, "time since the start of the log");
    let mut fields = vec![pack::numbers(time, &base.time_s)?];
    let equal = |(a, b): (&f64, &f64)| a.to_bits() == b.to_bits();
    let clock = match &base.clock_s {
        None => KeptClock::Absent,
        Some(clock) if clock.iter().zip(base.time_s.iter()).all(equal) => KeptClock::IsTime,
        Some(clock) => {
            let field = layout::seconds(CLOCK, "the clock as logged");
            fields.push(pack::numbers(field, clock)?);
            KeptClock::Column
        }
    };
    Ok((fields, clock))
}

fn metadata(
    log: &dyn Log,
    rec: &Recording,
    facts: &Facts,
) -> Result<Vec<(String, String)>, serde_json::Error> {
    let source = Path::new(log.name()).file_name().unwrap_or_default();
    let understood = Understood {
        evidence: &rec.evidence,
        problems: &rec.problems,
        clock_breaks: &facts.breaks,
        unmapped: &rec.unmapped,
        questions: &rec.questions,
    };
    let entries = [
        (facts::FORMAT, facts::THIS_FORMAT.to_owned()),
        (
            facts::PROGRAM,
            format!("plugread {}", env!("CARGO_PKG_VERSION")),
        ),
        (facts::SOURCE, source.to_string_lossy().into_owned()),
        (facts::UNDERSTOOD, serde_json::to_string(&understood)?),
        (facts::LOG, serde_json::to_string(facts)?),
    ];
    Ok(entries.map(|(key, value)| (key.to_owned(), value)).into())
}

/// Writes beside the place of the file and moves it there when it is whole. Gives its size.
fn write(
    packed: Vec<Packed>,
    metadata: Vec<(String, String)>,
    form: Form,
    out: &Path,
) -> Result<u64, String> {
    if whole::is_stream(out) {
        return Err("a converted file is written in more than one go, which a pipe cannot take; name a file".to_owned());
    }
    let begin = || Unfinished::of(out).and_then(|file| Ok((file.open()?, file)));
    let (file, first) = begin().map_err(|e| e.to_string())?;
    pack::write_parquet(packed, metadata, file).map_err(|e| e.to_string())?;
    let done = match form {
        Form::Parquet => first,
        Form::Arrow => {
            let (file, second) = begin().map_err(|e| e.to_string())?;
            pack::parquet_to_arrow(first.path(), file).map_err(|e| e.to_string())?;
            second
        }
    };
    let move_it = || -> std::io::Result<u64> {
        let bytes = std::fs::metadata(done.path())?.len();
        done.finish()?;
        Ok(bytes)
    };
    move_it().map_err(|e| e.to_string())
}
