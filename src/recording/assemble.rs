//! From a file's columns to a recording: names, units, cylinders.

use std::sync::Arc;

use rayon::prelude::*;

use super::dictionary::{self, HeadingIn, Kind, Mapping, Match};
use super::{Channel, Recording, Series, Understood};
use crate::load::{LoadError, LogFile, Table};
use crate::sheet::Sheet;

/// The scale by which most loggers turn lambda into an air-fuel ratio, whatever the fuel: petrol's customary 14.7
/// (reference values, section 3). The sheet's `fuel.lambda_scale_afr` replaces it.
const CUSTOMARY_AFR: f64 = 14.7;

impl Recording {
    /// Reads the columns that `wanted` asks for (by standard name) and puts them under standard names and units.
    ///
    /// # Errors
    /// The file cannot be read as a log.
    pub fn read(
        log: &LogFile,
        sheet: &Sheet,
        wanted: impl Fn(&str) -> bool,
    ) -> Result<Recording, LoadError> {
        let mapping = map_headings(log, sheet);
        let found: Vec<&(usize, Match)> = mapping
            .found
            .iter()
            .filter(|(column, m)| wanted(&m.name) && Some(*column) != clock_column(log))
            .collect();
        let columns: Vec<usize> = found.iter().map(|f| f.0).collect();
        let table = log.read_apart(&columns)?;
        let mut rec = Recording::on_times(log.name(), Arc::clone(&table.time_s));
        rec.rows = table.rows_read;
        rec.clock = table
            .clock_s
            .as_ref()
            .map(|c| Series::new(&table.time_s, c.to_vec()));
        rec.evidence.clone_from(&log.dialect().evidence);
        rec.evidence.extend(table.clock_note.clone());
        note_columns(&mut rec, log, &mapping);
        note_problems(&mut rec, &table);
        let pairs: Vec<(crate::load::Column, &(usize, Match))> =
            table.columns.into_iter().zip(found).collect();
        let made: Vec<Made> = pairs
            .into_par_iter()
            .map(|(column, (_, m))| make(log, sheet, m, column, &table.time_s))
            .collect();
        for made in made {
            rec.questions.extend(made.question);
            rec.evidence.extend(made.evidence);
            rec.add(made.channel);
        }
        rec.name_cylinders(sheet);
        if let Some(question) = too_many_cylinders(&rec, sheet) {
            rec.questions.push(question);
        }
        Ok(rec)
    }

    /// Gives family members their cylinder: as the header says, as the sheet maps it, or where the family has as many
    /// members as the engine has cylinders and they are numbered from one.
    pub fn name_cylinders(&mut self, sheet: &Sheet) {
        let cylinders = sheet.cylinders();
        let mut sizes: std::collections::BTreeMap<String, (u32, u32)> =
            std::collections::BTreeMap::new();
        for channel in self.channels.values().filter(|c| c.entry.cylinders) {
            if let Some(position) = channel.position {
                let size = sizes.entry(channel.entry.name.clone()).or_insert((0, 0));
                *size = (size.0 + 1, size.1.max(position));
            }
        }
        for channel in self.channels.values_mut().filter(|c| c.entry.cylinders) {
            let Some(position) = channel.position else {
                continue;
            };
            let mapped = sheet
                .sensors
                .egt_cylinder
                .as_ref()
                .filter(|_| channel.entry.name == "egt");
            if let Some(map) = mapped {
                let index = usize::try_from(position).unwrap_or(0).wrapping_sub(1);
                channel.cylinder = map.get(index).copied().or(channel.cylinder);
            } else if channel.cylinder.is_none() {
                let (count, highest) = sizes.get(&channel.entry.name).copied().unwrap_or_default();
                channel.cylinder = cylinders
                    .filter(|n| *n == count && *n == highest)
                    .map(|_| position);
            }
        }
    }
}

/// A column for a cylinder that the sheet does not know: one of the two is wrong, and only the builder can say which.
fn too_many_cylinders(rec: &Recording, sheet: &Sheet) -> Option<String> {
    let known = sheet.cylinders()?;
    let column = rec
        .channels
        .values()
        .filter(|c| c.cylinder.is_some_and(|n| n > known))
        .max_by_key(|c| c.cylinder)?;
    Some(format!(
        "The build sheet says {known} cylinders, and the log has a column `{}`: which is right?",
        column.column
    ))
}

/// The standard names of a file's columns.
pub fn map_headings(log: &LogFile, sheet: &Sheet) -> Mapping {
    let headings: Vec<HeadingIn> = log
        .headings()
        .iter()
        .map(|h| HeadingIn {
            raw: &h.raw,
            name: h.words(),
            unit: h.unit.as_deref(),
        })
        .collect();
    let forced: Vec<(String, String)> = sheet
        .channels
        .iter()
        .map(|(name, header, _)| (name.clone(), header.clone()))
        .collect();
    dictionary::map(&headings, &forced)
}

fn clock_column(log: &LogFile) -> Option<usize> {
    log.dialect().clock.as_ref().and_then(|c| c.column)
}

fn note_columns(rec: &mut Recording, log: &LogFile, mapping: &Mapping) {
    let header = |column: usize| {
        log.headings()
            .get(column)
            .map_or_else(String::new, |h| h.raw.clone())
    };
    for (column, m) in &mapping.found {
        if Some(*column) == clock_column(log) {
            continue;
        }
        rec.understood.push(Understood {
            name: m.name.clone(),
            column: header(*column),
            column_unit: log.headings().get(*column).and_then(|h| h.unit.clone()),
            unit: m.entry.unit.clone(),
            note: m.unit_note.clone(),
        });
    }
    rec.unmapped = mapping
        .unmapped
        .iter()
        .filter(|u| Some(u.0) != clock_column(log))
        .map(|(column, why)| (header(*column), why.clone()))
        .collect();
    for wrong in &mapping.wrong_forced {
        rec.questions.push(format!("The build sheet reads `{}` from a column `{}`: {}. Mend the sheet's [channels], or log that column.", wrong.name, wrong.header, wrong.why));
    }
}

fn note_problems(rec: &mut Recording, table: &Table) {
    rec.problems.extend(table.problems.listed.iter().map(|p| {
        let what = p
            .column
            .map_or_else(|| p.what.clone(), |c| format!("{} (column {c})", p.what));
        (p.line, what)
    }));
    rec.problems
        .extend(table.problems.unlisted().into_iter().map(|text| (0, text)));
}

/// A channel, and what was noticed on the way to it.
struct Made {
    channel: Channel,
    question: Option<String>,
    evidence: Vec<String>,
}

fn make(
    log: &LogFile,
    sheet: &Sheet,
    m: &Match,
    column: crate::load::Column,
    time: &Arc<[f64]>,
) -> Made {
    let heading = log.headings().get(column.column);
    let header = heading.map_or_else(String::new, |h| h.raw.clone());
    let said = heading.and_then(|h| h.unit.clone());
    let times = column.times(time);
    let mut values = column.values;
    let mut evidence = Vec::new();
    if let Some(written) = m.written.filter(|w| w.factor != 1.0 || w.offset != 0.0) {
        for v in &mut values {
            *v = written.to_standard(*v);
        }
    }
    let question = dictionary::sample_check(m, &values);
    if m.afr {
        let scale = sheet.fuel.lambda_scale_afr.unwrap_or(CUSTOMARY_AFR);
        for v in &mut values {
            *v /= scale;
        }
        evidence.push(format!(
            "`{header}` is an air-fuel ratio: divided by {scale} to give lambda."
        ));
    }
    if m.entry.kind == Kind::Counter && counts_per_row(&values) {
        let mut sum = 0.0;
        for v in values.iter_mut().filter(|v| v.is_finite()) {
            sum += *v;
            *v = sum;
        }
        evidence.push(format!(
            "`{header}` falls back as often as it rises: taken for a count in each row, and summed."
        ));
    }
    let series = Series::new(&times, values);
    let mut channel = Channel::new(&m.name, m.entry, &header, said, m.entry.unit(), series);
    channel.position = m.position;
    channel.cylinder = m.position.filter(|_| m.cylinder_said);
    // Worked out here, where all columns are at work side by side, instead of by the first check that asks.
    channel.interval_s();
    Made {
        channel,
        question,
        evidence,
    }
}

/// A running count only climbs, but for a reset now and then. One that falls about as often as it rises is a count for
/// each row.
fn counts_per_row(values: &[f64]) -> bool {
    let known: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    let (mut up, mut down) = (0usize, 0usize);
    for pair in known.windows(2) {
        up += usize::from(pair[1] > pair[0]);
        down += usize::from(pair[1] < pair[0]);
    }
    up >= 4 && down * 2 >= up
}
