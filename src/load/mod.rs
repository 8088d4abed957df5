//! Bytes of a CSV log to a table of numbers.
//!
//! [`open`] looks at the head of a file and says how it is written ([`Dialect`]) and what its columns are called
//! ([`Heading`]). [`LogFile::read`] then goes over the data once, parses only the columns asked for, gives each row
//! a time that grows, and accounts for every row and cell that it could not use ([`Problems`]).
//!
//! Nothing here knows what a channel means. The pass is our own because a general CSV reader keeps no account of
//! lines, ends at the first ragged row, or turns cells into nothing without a word.

mod blanks;
mod calendar;
mod cells;
mod chunks;
mod clock;
mod dialect;
mod encoding;
mod error;
mod fields;
mod file;
mod glued;
mod in_order;
mod joined;
mod lines;
mod log;
mod log_file;
mod long;
mod midnight;
mod moment;
mod of_rows;
mod pace;
mod packed;
mod piece;
mod pieces;
mod pivot;
mod problems;
mod reject;
mod rollover;
mod sniff;
mod stray;
mod switches;
mod table;
mod texts;
mod thousands;
mod timeline;
mod torn;
mod waves;
mod wide;
mod words;

#[cfg(test)]
mod tests;

/// Whether text is worked on in tiny parts, so that small tests cross their borders too.
const TINY: bool = cfg!(any(test, fuzzing));

pub use clock::{Clock, ClockStyle};
pub use dialect::{DateOrder, Dialect, Encoding, Forced, Heading};
pub use error::LoadError;
pub use file::logs_in;
pub use log::Log;
pub use log_file::{LogFile, from_bytes, open};
pub use piece::bytes_read;
pub use problems::{LISTED_PER_KIND, Problem, ProblemKind, Problems};
pub use table::{ClockBreak, Column, Table};
pub use texts::{Gather, Texts};
pub use timeline::BreakKind;
