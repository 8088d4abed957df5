//! A converted file as the log that it came from.

use std::sync::Arc;

use rayon::prelude::*;

use super::facts::{Facts, How, Kept, KeptClock};
use super::keep::Way;
use super::store::Store;
use super::write::{CLOCK, TIME};
use crate::load::{Column, Forced, Heading, LoadError, Log, Table, Texts};

/// A file that `convert` wrote.
#[derive(Debug)]
pub struct StoredLog {
    store: Store,
    facts: Facts,
}

impl StoredLog {
    /// A file with its facts.
    ///
    /// # Errors
    /// `forced` wants the log read otherwise than it was when it was converted.
    pub fn new(store: Store, facts: Facts, forced: &Forced) -> Result<Self, LoadError> {
        facts.agree(store.name(), forced)?;
        Ok(Self { store, facts })
    }

    fn kept(&self, column: usize) -> Result<&Kept, LoadError> {
        self.facts
            .columns
            .get(column)
            .ok_or_else(|| LoadError::NoSuchColumn {
                file: self.store.name().to_owned(),
                column: column + 1,
                columns: self.facts.columns.len(),
            })
    }

    /// The field of a column's numbers. `None`: it has none.
    fn numbers_of<'a>(&self, kept: &'a Kept) -> Option<&'a str> {
        match &kept.how {
            How::AsLogged { field } | How::Converted { field, .. } => Some(field),
            How::Words { numbers, .. } => numbers.as_deref(),
            How::Clock if self.facts.clock == KeptClock::Column => Some(CLOCK),
            How::Clock => Some(TIME),
        }
    }

    /// The numbers of a column as they were logged.
    fn as_logged(&self, column: usize, kept: &Kept, read: Option<Vec<f64>>) -> Column {
        let mut values = read.unwrap_or_else(|| vec![f64::NAN; self.facts.rows]);
        if let How::Converted {
            factor,
            offset,
            decimals,
            ..
        } = kept.how
        {
            let way = Way {
                factor,
                offset,
                decimals,
            };
            way.back(&mut values);
        }
        Column {
            column,
            values,
            at: None,
            filled: kept.filled,
            blank: kept.blank,
            unreadable: kept.unreadable,
            words: kept.words,
        }
    }
}

impl Log for StoredLog {
    fn name(&self) -> &str {
        self.store.name()
    }

    fn headings(&self) -> &[Heading] {
        &self.facts.headings
    }

    fn evidence(&self) -> &[String] {
        &self.facts.evidence
    }

    fn clock_column(&self) -> Option<usize> {
        self.facts.clock_column
    }

    fn clock_parts(&self) -> Vec<usize> {
        self.facts.clock_parts.clone()
    }

    fn read_as(&self) -> Forced {
        self.facts.read_as.clone()
    }

    fn read(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        let (store, facts) = (&self.store, &self.facts);
        let kept: Vec<&Kept> = wanted
            .iter()
            .map(|column| self.kept(*column))
            .collect::<Result<_, _>>()?;
        let mut fields = vec![store.field(TIME)?];
        if facts.clock == KeptClock::Column {
            fields.push(store.field(CLOCK)?);
        }
        for field in kept.iter().filter_map(|kept| self.numbers_of(kept)) {
            fields.push(store.field(field)?);
        }
        let mut read = store.numbers(&fields, facts.rows)?.into_iter();
        let time_s: Arc<[f64]> = read.next().unwrap_or_default().into();
        let clock_s = match facts.clock {
            KeptClock::Absent => None,
            KeptClock::IsTime => Some(Arc::clone(&time_s)),
            KeptClock::Column => read.next().map(Arc::from),
        };
        let mut problems = facts.problems.clone();
        problems.merge(kept.iter().map(|kept| &kept.problems));
        let numbers: Vec<Option<Vec<f64>>> = kept
            .iter()
            .map(|kept| self.numbers_of(kept).and_then(|_| read.next()))
            .collect();
        let columns = numbers.into_par_iter().zip(wanted).zip(&kept);
        let columns = columns
            .map(|((numbers, column), kept)| self.as_logged(*column, kept, numbers))
            .collect();
        Ok(Table {
            rows: facts.rows,
            rows_read: facts.rows_read,
            time_s,
            clock_s,
            sample_hz: facts.sample_hz,
            breaks: facts.breaks.clone(),
            clock_note: facts.clock_note.clone(),
            columns,
            problems,
            lines: Default::default(),
        })
    }

    fn texts(&self, _: &Table, wanted: &[usize]) -> Result<Option<Vec<Texts>>, LoadError> {
        let words = |column: &usize| match &self.kept(*column)?.how {
            How::Words { field, .. } => {
                let field = self.store.field(field)?;
                self.store.words(field, self.facts.rows)
            }
            _ => Ok(Texts::blank(self.facts.rows)),
        };
        wanted.iter().map(words).collect::<Result<_, _>>().map(Some)
    }
}
