//! Logs as Parquet and Arrow files: what `convert` writes, and the way back.
//!
//! A person finds the run under standard names and in standard units, ready for other programs; a review finds the
//! log as it was: its headings, its numbers as logged, its problems with their lines. So what a file is worth does not
//! depend on how the run was understood on the day it was converted: names, units and the sheet are applied anew.
//! Files that other programs wrote are laid out as text and read like any CSV log.

mod batches;
mod columns;
mod facts;
mod foreign;
mod guard;
mod held;
mod keep;
mod layout;
mod pack;
mod store;
mod stored;
#[cfg(test)]
mod tests;
mod words;
mod write;

use std::fs::File;
use std::io::Read;
use std::path::Path;

use crate::load::{Forced, LoadError, Log};
use store::Store;
use stored::StoredLog;

pub use write::{ConvertError, Converted, convert};

/// The two file formats.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Apache Parquet.
    Parquet,
    /// Apache Arrow IPC, the file format with a footer.
    Arrow,
}

impl Form {
    /// What it is called in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Parquet => "Parquet",
            Self::Arrow => "Arrow",
        }
    }

    /// The usual ending of its files.
    #[must_use]
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Parquet => "parquet",
            Self::Arrow => "arrow",
        }
    }

    /// Known by the first bytes, whatever the file is called.
    fn of(start: &[u8]) -> Option<Self> {
        if start.starts_with(b"ARROW1") {
            Some(Self::Arrow)
        } else if start.starts_with(b"PAR1") {
            Some(Self::Parquet)
        } else {
            None
        }
    }
}

/// Opens a Parquet or Arrow file as a log. `None`: it is neither.
///
/// # Errors
/// The file is damaged, or `forced` wants it read otherwise than it was when it was converted.
pub fn open(path: &Path, forced: &Forced) -> Result<Option<Box<dyn Log>>, LoadError> {
    let mut start = [0; 6];
    let about = std::fs::metadata(path);
    // A pipe would lose what is read here; whatever else cannot be opened is told by the reader of text.
    let looked = about.is_ok_and(|about| about.is_file())
        && File::open(path).is_ok_and(|mut file| file.read_exact(&mut start).is_ok());
    let Some(form) = Form::of(&start).filter(|_| looked) else {
        return Ok(None);
    };
    let store = Store::open(path, form)?;
    Ok(Some(match facts::read(&store)? {
        Some(facts) => Box::new(StoredLog::new(store, facts, forced)?),
        None => Box::new(foreign::open(&store, forced)?),
    }))
}
