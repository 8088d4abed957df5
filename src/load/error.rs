//! What can keep a log from being read at all, said to the person at the car.
//!
//! Trouble that leaves something usable is never an error here: it is a [`Problem`](super::Problem) of the table.

#![expect(missing_docs, reason = "each message says what its fields are")]

use std::io;
use std::path::Path;

use thiserror::Error;

/// What to do about rows that are not in the order in which they were recorded.
pub(crate) const SORT_ROWS: &str = "sort its rows by that column, the earliest first, or name another clock with `clock` under `[log]` in the build sheet";

/// What to do about a column that is no clock.
pub(crate) const OTHER_CLOCK: &str = "name another column with `clock`, or put `sample_hz = 100` (rows a second), under `[log]` in the build sheet";

/// Why a log could not be loaded. Each message is one sentence: what, which file, what to do.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LoadError {
    /// No file of that name.
    #[error("{file}: there is no such file; check the name and the folder")]
    Missing { file: String },
    /// A folder was named where a log is wanted.
    #[error("{file} is a folder; name one CSV log inside it")]
    Folder { file: String },
    /// The file is there but this user may not read it.
    #[error(
        "{file} may not be read by this user; change its permissions or copy it to a folder of your own"
    )]
    NotPermitted { file: String },
    /// The disk, card or network failed while reading.
    #[error("{file} could not be read ({reason}); copy it from the logger again")]
    Unreadable { file: String, reason: String },
    /// No bytes, or nothing but blank lines.
    #[error("{file} is empty; copy it from the logger again")]
    Empty { file: String },
    /// Bytes that are no text.
    #[error("{file} is not a text file; export the log from the logger as CSV")]
    NotText { file: String },
    /// A known format that is no CSV.
    #[error("{file} is {what}, not a CSV log; {advice}")]
    OtherFormat {
        file: String,
        what: String,
        advice: String,
    },
    /// A packed file that breaks off or is damaged, with nothing usable before the break.
    #[error(
        "{file}: the {packing} data cannot be unpacked ({reason}); copy it from the logger again"
    )]
    Torn {
        file: String,
        packing: &'static str,
        reason: String,
    },
    /// An archive without a log.
    #[error("{file} is a zip archive without a CSV log: {inside}; name the log of a run")]
    NoLogInside { file: String, inside: String },
    /// An archive of several logs where one is wanted.
    #[error("{file} holds {count} logs; name one of them as {one}")]
    SeveralInside {
        file: String,
        count: usize,
        one: String,
    },
    /// Another program shortened or replaced the file while it was read.
    #[error(
        "{file} was changed by another program while it was read; wait until the copy is done, then review it again"
    )]
    Changed { file: String },
    /// A Parquet or Arrow file that is cut short, damaged, or was changed by another program.
    #[error(
        "{file}: the {form} data cannot be read ({reason}); copy the file again, or convert the log again"
    )]
    Damaged {
        file: String,
        form: &'static str,
        reason: String,
    },
    /// A Parquet or Arrow file of another program, packed in a way that this one does not know.
    #[error(
        "{file} is a {form} file packed with {packing}, which is not read here; write it again with lz4 or without packing"
    )]
    NotUnpacked {
        file: String,
        form: &'static str,
        packing: &'static str,
    },
    /// A converted file of a later version of this program.
    #[error(
        "{file} was written by a newer plugread (format {format}); update plugread, or convert the log again with this one"
    )]
    NewerFormat { file: String, format: String },
    /// The sheet forces another reading than the one under which the log was converted.
    #[error(
        "{file} was converted {was}, and the build sheet wants `{entry} = {value}` under `[log]`; convert the CSV log again with this sheet, or review that"
    )]
    ConvertedOtherwise {
        file: String,
        entry: String,
        value: String,
        was: String,
    },
    /// Text throughout: no row of numbers anywhere.
    #[error("{file} holds text but no rows of numbers; name the CSV log of a run")]
    AllText { file: String },
    /// Channel names, and nothing under them.
    #[error("{file} names its channels in line {line} but has no data rows; record the run again")]
    HeaderOnly { file: String, line: usize },
    /// Numbers, and no row that says what they are.
    #[error(
        "{file} starts with numbers in line {line} and never names its channels; add a first row with the channel names"
    )]
    NoNames { file: String, line: usize },
    /// Commas between fields and before fractions.
    #[error(
        "{file} has {fields} fields a row from line {line} on where {named} channels are named: the comma parts the fields and marks the decimals as well; export the log with semicolons or tabs between the fields"
    )]
    CommasDoBoth {
        file: String,
        line: usize,
        named: usize,
        fields: usize,
    },
    /// Another header in the middle: what follows would be read under the wrong names.
    #[error(
        "{file} names its columns anew in line {line}, and not as before; split the file there and review each part by itself"
    )]
    NamesChange { file: String, line: usize },
    /// Columns parted by blanks, and names with blanks inside.
    #[error(
        "{file}: blanks part the fields, and line {line} has {named} words where the rows under it have {fields} numbers; export the log with commas or tabs between the fields, or write the names without blanks inside"
    )]
    NamesWithBlanks {
        file: String,
        line: usize,
        named: usize,
        fields: usize,
    },
    /// A log with one row per reading whose names are free text.
    #[error(
        "{file} seems to hold one reading a row, but column {column} names more than {most} channels; export the log with one column per channel"
    )]
    TooManyChannels {
        file: String,
        column: usize,
        most: usize,
    },
    /// Neither a clock column nor a forced sample rate.
    #[error(
        "{file} has no column that is known to count time; put `sample_hz = 100` (rows a second) under `[log]` in the build sheet, or name the column that does there: `clock = \"its heading\"`"
    )]
    NoClock { file: String },
    /// A column that should be the clock and cannot be.
    #[error("{file}: the clock column `{column}` {does}; {advice}")]
    ClockUnusable {
        file: String,
        column: String,
        does: String,
        advice: String,
    },
    /// The clock column shows the same stamp in every row.
    #[error(
        "{file}: the clock column `{column}` shows `{stamp}` in all {rows} rows; put `sample_hz = 100` (rows a second) under `[log]` in the build sheet"
    )]
    ClockStands {
        file: String,
        column: String,
        stamp: String,
        rows: usize,
    },
    /// There were rows, and not one of them could be used.
    #[error(
        "{file} has {rows} rows under its channel names and none of them could be used (line {line}: {first}); check `[log]` in the build sheet or export the log again"
    )]
    NoUsableRows {
        file: String,
        rows: usize,
        line: usize,
        first: String,
    },
    /// A forced entry of the build sheet that cannot be meant.
    #[error(
        "`{entry} = {value}` under `[log]` in the build sheet cannot be used for {file}; {wanted}"
    )]
    BadForced {
        file: String,
        entry: &'static str,
        value: String,
        wanted: &'static str,
    },
    /// A column position past the end of the headings.
    #[error(
        "{file} has {columns} columns, so column {column} cannot be read; ask for one of its headings"
    )]
    NoSuchColumn {
        file: String,
        column: usize,
        columns: usize,
    },
}

impl LoadError {
    /// Turns what the operating system said about `path` into a sentence for the user.
    pub(crate) fn from_io(path: &Path, error: &io::Error) -> Self {
        let file = path.display().to_string();
        match error.kind() {
            io::ErrorKind::NotFound => Self::Missing { file },
            io::ErrorKind::PermissionDenied => Self::NotPermitted { file },
            io::ErrorKind::IsADirectory => Self::Folder { file },
            _ => Self::Unreadable {
                file,
                reason: error.to_string(),
            },
        }
    }
}
