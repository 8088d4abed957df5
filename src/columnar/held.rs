//! A log of which some columns are in memory already, so that the recording is made from them without a second pass.

use super::columns::spread;
use crate::load::{Forced, Heading, LoadError, Log, Table, Texts};

/// A log and the columns that were read.
#[derive(Debug)]
pub struct Held<'a> {
    /// The log.
    pub log: &'a dyn Log,
    /// What was read of it.
    pub table: Table,
}

impl Log for Held<'_> {
    fn name(&self) -> &str {
        self.log.name()
    }

    fn headings(&self) -> &[Heading] {
        self.log.headings()
    }

    fn evidence(&self) -> &[String] {
        self.log.evidence()
    }

    fn clock_column(&self) -> Option<usize> {
        self.log.clock_column()
    }

    fn clock_parts(&self) -> Vec<usize> {
        self.log.clock_parts()
    }

    fn read_as(&self) -> Forced {
        self.log.read_as()
    }

    fn read(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        let mut table = self.read_apart(wanted)?;
        for column in &mut table.columns {
            if column.at.is_some() {
                column.values = spread(column, table.rows).into_owned();
                column.at = None;
            }
        }
        Ok(table)
    }

    fn read_apart(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        let held = |column: &usize| self.table.columns.iter().find(|c| c.column == *column);
        let columns: Option<Vec<_>> = wanted.iter().map(|c| held(c).cloned()).collect();
        match columns {
            Some(columns) => Ok(Table {
                columns,
                time_s: self.table.time_s.clone(),
                clock_s: self.table.clock_s.clone(),
                breaks: self.table.breaks.clone(),
                clock_note: self.table.clock_note.clone(),
                problems: self.table.problems.clone(),
                lines: self.table.lines.clone(),
                ..self.table
            }),
            None => self.log.read_apart(wanted),
        }
    }

    fn texts(&self, table: &Table, wanted: &[usize]) -> Result<Option<Vec<Texts>>, LoadError> {
        self.log.texts(table, wanted)
    }
}
