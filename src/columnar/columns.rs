//! The columns of a log on their way into a file: each is packed, and it is noted how it can be had back.

use std::borrow::Cow;

use arrow_schema::DataType;
use parquet::errors::ParquetError;
use rayon::prelude::*;

use super::facts::{How, Kept};
use super::keep::{Relation, relation};
use super::layout;
use super::pack::{self, Packed};
use super::words::Names;
use crate::load::{Column, Heading, LISTED_PER_KIND, LoadError, Log, Problems, Table, Texts};
use crate::recording::{Channel, Recording, Series};

/// Columns without a standard name that are read at a time: each batch is a pass over the file.
const COLUMNS_AT_A_TIME: usize = 32;

/// Why a column could not be packed.
pub enum PackError {
    /// The log cannot be read.
    Log(LoadError),
    /// The library failed.
    Pack(ParquetError),
}

impl From<LoadError> for PackError {
    fn from(error: LoadError) -> Self {
        Self::Log(error)
    }
}

impl From<ParquetError> for PackError {
    fn from(error: ParquetError) -> Self {
        Self::Pack(error)
    }
}

/// The columns of one log, by their place in it.
pub struct Columns<'a> {
    log: &'a dyn Log,
    rec: &'a Recording,
    names: Names,
    packed: Vec<Vec<Packed>>,
    kept: Vec<Option<Kept>>,
}

impl<'a> Columns<'a> {
    /// None yet; `reserved` are names of other fields of the file.
    pub fn new(log: &'a dyn Log, rec: &'a Recording, reserved: &[&str]) -> Self {
        let mut names = Names::default();
        let standard = rec.channels.keys().map(String::as_str);
        for name in reserved.iter().copied().chain(standard) {
            names.give(name);
        }
        let mut kept: Vec<Option<Kept>> = log.headings().iter().map(|_| None).collect();
        if let Some(clock) = log.clock_column().and_then(|column| kept.get_mut(column)) {
            *clock = Some(Kept::of(How::Clock, &Column::default()));
        }
        Self {
            log,
            rec,
            names,
            packed: log.headings().iter().map(|_| Vec::new()).collect(),
            kept,
        }
    }

    /// Packs the channels that were made of the columns of `table`; `channel` gives the one of a column.
    pub fn channels<'b>(
        &mut self,
        table: &Table,
        channel: impl Fn(usize) -> Option<&'b Channel> + Sync,
    ) -> Result<usize, PackError> {
        let (headings, rec) = (self.log.headings(), self.rec);
        let made: Vec<(&Column, &Channel, Packed, Relation)> = table
            .columns
            .par_iter()
            .filter_map(|column| Some((column, channel(column.column)?)))
            .map(|(column, channel)| {
                let logged = spread(column, rec.time.len());
                let standard = on_rows(&rec.time, &logged, &channel.series);
                let understood = rec.understood.iter().find(|u| u.name == channel.name);
                let field = layout::channel(channel, &headings[column.column], understood);
                let packed = pack::numbers(field, &standard)?;
                Ok((column, channel, packed, relation(&logged, &standard)))
            })
            .collect::<Result<_, ParquetError>>()?;
        let count = made.len();
        for (column, channel, packed, relation) in made {
            let place = column.column;
            self.packed[place].push(packed);
            let field = channel.name.clone();
            let how = match relation {
                Relation::Same => How::AsLogged { field },
                Relation::Reversible(way) => How::Converted {
                    field,
                    factor: way.factor,
                    offset: way.offset,
                    decimals: way.decimals,
                },
                Relation::Apart => {
                    let about = format!("as logged; `{field}` is made from it");
                    let heading = &headings[place];
                    let name = self.names.give(told(heading));
                    let field = layout::as_logged(&name, DataType::Float64, heading, Some(about));
                    let logged = spread(column, rec.time.len());
                    self.packed[place].push(pack::numbers(field, &logged)?);
                    How::AsLogged { field: name }
                }
            };
            self.kept[place] = Some(Kept::of(how, column));
        }
        Ok(count)
    }

    /// Packs all other columns as they are.
    pub fn others(&mut self) -> Result<(), PackError> {
        let all = 0..self.kept.len();
        let others: Vec<usize> = all.filter(|column| self.kept[*column].is_none()).collect();
        for some in others.chunks(COLUMNS_AT_A_TIME) {
            let table = self.log.read_apart(some)?;
            // Words where there are more of them than numbers.
            let wordy = |column: &&Column| column.unreadable > column.filled;
            let wordy: Vec<usize> = table
                .columns
                .iter()
                .filter(wordy)
                .map(|c| c.column)
                .collect();
            let words = if wordy.is_empty() {
                None
            } else {
                self.log.texts(&table, &wordy)?
            };
            let words = words.unwrap_or_default();
            let mut work = Vec::new();
            for column in table.columns {
                let place = wordy.iter().position(|c| *c == column.column);
                let words = place.and_then(|at| words.get(at));
                let name = self.names.give(told(&self.log.headings()[column.column]));
                let numbers = match words {
                    None => Some(name.clone()),
                    Some(_) if column.filled > 0 => Some(self.names.give(&name)),
                    Some(_) => None,
                };
                work.push(Plain {
                    name,
                    numbers,
                    words,
                    column,
                });
            }
            let headings = self.log.headings();
            let packed: Vec<(Vec<Packed>, Kept)> = work
                .into_par_iter()
                .map(|plain| plain.pack(headings, table.rows))
                .collect::<Result<_, ParquetError>>()?;
            for (column, (packed, kept)) in some.iter().zip(packed) {
                self.packed[*column].extend(packed);
                self.kept[*column] = Some(kept);
            }
        }
        Ok(())
    }

    /// Notes what a review would report of each column beyond `base`, which it reports whatever it reads.
    pub fn problems(&mut self, base: &Problems) -> Result<(), PackError> {
        let odd = |kept: &Option<Kept>| kept.as_ref().map_or(0, |k| k.unreadable + k.words.min(1));
        let counts: Vec<usize> = self.kept.iter().map(odd).collect();
        // Several columns in one pass, as long as all of their problems are listed.
        let mut groups: Vec<Vec<usize>> = Vec::new();
        let mut listed = usize::MAX;
        for (column, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            listed = listed.saturating_add(*count);
            match groups.last_mut() {
                Some(group) if listed <= LISTED_PER_KIND => group.push(column),
                _ => {
                    groups.push(vec![column]);
                    listed = *count;
                }
            }
        }
        for group in groups {
            let found = self.log.read_apart(&group)?.problems.beyond(base);
            for column in &group {
                let own = if group.len() == 1 {
                    found.clone()
                } else {
                    found.of_column(column + 1)
                };
                if let Some(Some(kept)) = self.kept.get_mut(*column) {
                    kept.problems = own;
                }
            }
        }
        Ok(())
    }

    /// All of them in the order of the log, and how each can be had back.
    pub fn done(self) -> (Vec<Packed>, Vec<Kept>) {
        let clock = || Kept::of(How::Clock, &Column::default());
        (
            self.packed.into_iter().flatten().collect(),
            self.kept
                .into_iter()
                .map(|kept| kept.unwrap_or_else(clock))
                .collect(),
        )
    }
}

/// A column without a standard name.
struct Plain<'a> {
    name: String,
    /// The field of its numbers, where it has some.
    numbers: Option<String>,
    words: Option<&'a Texts>,
    column: Column,
}

impl Plain<'_> {
    fn pack(self, headings: &[Heading], rows: usize) -> Result<(Vec<Packed>, Kept), ParquetError> {
        let heading = &headings[self.column.column];
        let mut packed = Vec::new();
        if let Some(words) = self.words {
            let field = layout::as_logged(&self.name, DataType::Utf8, heading, None);
            packed.push(pack::words(field, words)?);
        }
        if let Some(name) = &self.numbers {
            let beside = (*name != self.name).then(|| format!("the numbers in `{}`", self.name));
            let field = layout::as_logged(name, DataType::Float64, heading, beside);
            packed.push(pack::numbers(field, &spread(&self.column, rows))?);
        }
        let kept = |how| Kept::of(how, &self.column);
        let kept = match (self.words, self.numbers) {
            (None, Some(field)) => kept(How::AsLogged { field }),
            (_, numbers) => kept(How::Words {
                field: self.name.clone(),
                numbers,
            }),
        };
        Ok((packed, kept))
    }
}

/// One number for each row, NaN where the column was not logged.
pub fn spread(column: &Column, rows: usize) -> Cow<'_, [f64]> {
    let Some(at) = &column.at else {
        return Cow::Borrowed(&column.values);
    };
    let mut all = vec![f64::NAN; rows];
    for (row, value) in at.iter().zip(&column.values) {
        if let Some(place) = all.get_mut(*row as usize) {
            *place = *value;
        }
    }
    Cow::Owned(all)
}

/// What a column is called in the file: its heading, or its place where it has none.
fn told(heading: &Heading) -> &str {
    if heading.raw.is_empty() {
        &heading.name
    } else {
        &heading.raw
    }
}

/// The samples of a channel on the rows of the log, NaN where it has none. `logged` shows which rows they came from; a
/// channel whose samples have times of their own stands on the first row at or after each.
fn on_rows(time: &[f64], logged: &[f64], series: &Series) -> Vec<f64> {
    if series.len() == time.len() {
        return series.values.to_vec();
    }
    let mut out = vec![f64::NAN; time.len()];
    let mut samples = series.values.iter();
    if logged.iter().filter(|v| v.is_finite()).count() == series.len() {
        for (place, _) in out.iter_mut().zip(logged).filter(|(_, v)| v.is_finite()) {
            *place = samples.next().copied().unwrap_or(f64::NAN);
        }
        return out;
    }
    let mut row = 0;
    for (at, value) in series.times.iter().zip(samples) {
        while row + 1 < time.len() && time[row] < *at {
            row += 1;
        }
        if let Some(place) = out.get_mut(row) {
            *place = *value;
        }
    }
    out
}
