//! What a reader may ask of a log, however it is stored.

use std::fmt::Debug;

use super::dialect::{Forced, Heading};
use super::error::LoadError;
use super::table::Table;
use super::texts::Texts;

/// A log whose columns can be read: a CSV file, or a file that `convert` wrote.
pub trait Log: Debug + Send + Sync {
    /// What it is called: its path as given.
    fn name(&self) -> &str;

    /// Its columns, in order.
    fn headings(&self) -> &[Heading];

    /// Plain sentences: how it was understood, and why.
    fn evidence(&self) -> &[String];

    /// The column that gives the times, counted from 0. `None` where the rows are counted off.
    fn clock_column(&self) -> Option<usize>;

    /// Columns that are a part of the clock beside that one, counted from 0: a date, or the fraction of each second.
    fn clock_parts(&self) -> Vec<usize> {
        Vec::new()
    }

    /// The reading in use, in the words in which the build sheet can force one.
    fn read_as(&self) -> Forced;

    /// Reads the columns at the positions `wanted` (counted from 0), and the clock.
    ///
    /// # Errors
    /// When no row can be used, when there is no clock, or when a position is past the last heading.
    fn read(&self, wanted: &[usize]) -> Result<Table, LoadError>;

    /// As [`Log::read`], but a column that was not logged in every row may say in which of them it was
    /// ([`Column::at`](super::Column)) instead of being spread over all.
    ///
    /// # Errors
    /// As [`Log::read`].
    fn read_apart(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        self.read(wanted)
    }

    /// The cells of the columns `wanted` as they are written, in the rows of `table`. `None` where a row has no cells of
    /// its own.
    ///
    /// # Errors
    /// The file cannot be read any more.
    fn texts(&self, table: &Table, wanted: &[usize]) -> Result<Option<Vec<Texts>>, LoadError>;
}
