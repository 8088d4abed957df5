//! What a converted file says about the log it came from: enough to give the log back as it was.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::guard::damaged;
use super::store::Store;
use crate::load::{ClockBreak, Column, Forced, Heading, LoadError, Log, Problems};

/// Keys of the file's metadata. The number in `FORMAT` says how the others are to be read.
pub const FORMAT: &str = "plugread.format";
/// The program that wrote it.
pub const PROGRAM: &str = "plugread.program";
/// The name of the log.
pub const SOURCE: &str = "plugread.source";
/// What was understood of the log, for people: see [`Understood`].
pub const UNDERSTOOD: &str = "plugread.understood";
/// How to get the log back: see [`Facts`].
pub const LOG: &str = "plugread.log";
/// The format that this program writes.
pub const THIS_FORMAT: &str = "1";

/// Keys of a column's metadata.
pub mod column {
    /// Unit of the numbers.
    pub const UNIT: &str = "unit";
    /// Heading in the log.
    pub const COLUMN: &str = "column";
    /// Unit as the log gave it.
    pub const COLUMN_UNIT: &str = "column_unit";
    /// Standard name.
    pub const STANDARD_NAME: &str = "standard_name";
    /// What it measures.
    pub const QUANTITY: &str = "quantity";
    /// Number in its family, as the heading has it.
    pub const POSITION: &str = "position";
    /// The cylinder it belongs to, where that is known.
    pub const CYLINDER: &str = "cylinder";
    /// What its numbers were read in.
    pub const READ_IN: &str = "read_in";
    /// How its unit was understood.
    pub const NOTE: &str = "note";
    /// What a column is for that stands beside the channel made from it.
    pub const ABOUT: &str = "about";
}

/// The log as it was before it was converted.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Facts {
    /// Rows of the file.
    pub rows: usize,
    /// Rows of the log in use.
    pub rows_read: usize,
    /// Its columns, in order.
    pub headings: Vec<Heading>,
    /// How each of them is kept, in the same order.
    pub columns: Vec<Kept>,
    /// How it was understood.
    pub evidence: Vec<String>,
    /// The column that gave the times.
    pub clock_column: Option<usize>,
    /// Columns that are a part of the clock beside it.
    #[serde(default)]
    pub clock_parts: Vec<usize>,
    /// How the clock as logged is kept.
    pub clock: KeptClock,
    /// What was done to get from the clock to the times.
    pub clock_note: Option<String>,
    /// Where the clock ran back.
    pub breaks: Vec<ClockBreak>,
    /// Rows a second.
    pub sample_hz: f64,
    /// What could not be used, whichever columns are read.
    pub problems: Problems,
    /// The reading under which it was converted.
    pub read_as: Forced,
}

/// The clock as logged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum KeptClock {
    /// There was none.
    Absent,
    /// It gives the times as it stands.
    IsTime,
    /// In a column of its own.
    Column,
}

/// One column of the log.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Kept {
    /// Where its numbers as logged come from.
    pub how: How,
    /// Rows with a number.
    pub filled: usize,
    /// Rows with nothing.
    pub blank: usize,
    /// Rows with something that is no number.
    pub unreadable: usize,
    /// Rows with a word for on or off.
    pub words: usize,
    /// What could not be used of this column.
    pub problems: Problems,
}

/// The way from a field of the file to the numbers as logged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// The field holds them.
    AsLogged {
        /// Its name.
        field: String,
    },
    /// The field holds them in the standard unit: take off `offset`, divide by `factor`, round to `decimals`.
    Converted {
        /// Its name.
        field: String,
        /// Standard units in one unit of the log.
        factor: f64,
        /// Added after multiplying.
        offset: f64,
        /// Decimals with which they were logged.
        decimals: i32,
    },
    /// The field holds words.
    Words {
        /// Its name.
        field: String,
        /// The field of the numbers that are among them, if there are any.
        numbers: Option<String>,
    },
    /// It is the clock.
    Clock,
}

/// What was understood of the log, in words. It is not read back: names and units are found anew in each review.
#[derive(Clone, Debug, Serialize)]
pub struct Understood<'a> {
    /// How it was read.
    pub evidence: &'a [String],
    /// What could not be used: line (0 for the whole file) and what is wrong.
    pub problems: &'a [(usize, String)],
    /// Places where the clock ran back.
    pub clock_breaks: &'a [ClockBreak],
    /// Columns without a standard name, and why where there is a reason worth telling.
    pub unmapped: &'a [(String, Option<String>)],
    /// Questions that the log raises.
    pub questions: &'a [String],
}

/// Reads the facts of a file. `None`: some other program wrote it.
pub fn read(store: &Store) -> Result<Option<Facts>, LoadError> {
    let schema = store.schema();
    let metadata = schema.metadata();
    let Some(format) = metadata.get(FORMAT) else {
        return Ok(None);
    };
    let wrong = |reason: &str| damaged(store.name(), store.form(), reason);
    if format != THIS_FORMAT {
        return Err(LoadError::NewerFormat {
            file: store.name().to_owned(),
            format: format.clone(),
        });
    }
    let log = metadata
        .get(LOG)
        .ok_or_else(|| wrong("the account of its log is missing"))?;
    let facts: Facts = serde_json::from_str(log)
        .map_err(|_| wrong("the account of its log cannot be understood"))?;
    if facts.headings.len() != facts.columns.len() {
        return Err(wrong("the account of its log contradicts itself"));
    }
    Ok(Some(facts))
}

impl Facts {
    /// Refuses a sheet that wants the log read otherwise than it was.
    pub fn agree(&self, file: &str, forced: &Forced) -> Result<(), LoadError> {
        let entries = |forced: &Forced| match serde_json::to_value(forced) {
            Ok(Value::Object(entries)) => entries,
            _ => Map::new(),
        };
        let was = entries(&self.read_as);
        for (entry, wanted) in entries(forced)
            .iter()
            .filter(|(_, wanted)| !wanted.is_null())
        {
            let was = was.get(entry).unwrap_or(&Value::Null);
            if was != wanted {
                return Err(LoadError::ConvertedOtherwise {
                    file: file.to_owned(),
                    entry: entry.clone(),
                    value: wanted.to_string(),
                    was: match was {
                        Value::Null => "without one".to_owned(),
                        was => format!("with `{entry} = {was}`"),
                    },
                });
            }
        }
        Ok(())
    }
}

impl Kept {
    /// How a column is kept, with the counts of its cells.
    pub fn of(how: How, column: &Column) -> Self {
        Self {
            how,
            filled: column.filled,
            blank: column.blank,
            unreadable: column.unreadable,
            words: column.words,
            problems: Problems::default(),
        }
    }
}

/// The reading of a log, and what the sheet forced about it beyond what shows in the reading.
pub fn read_as(log: &dyn Log, forced: &Forced) -> Forced {
    let overlaid = || -> Option<Forced> {
        let Value::Object(mut all) = serde_json::to_value(log.read_as()).ok()? else {
            return None;
        };
        let Value::Object(more) = serde_json::to_value(forced).ok()? else {
            return None;
        };
        all.extend(more.into_iter().filter(|(_, value)| !value.is_null()));
        serde_json::from_value(Value::Object(all)).ok()
    };
    overlaid().unwrap_or_else(|| log.read_as())
}
