//! From a file's columns to a recording: names, units, cylinders.

use std::sync::Arc;

use rayon::prelude::*;

use super::dictionary::{self, HeadingIn, Kind, Mapping, Match};
use super::numbers::{Numbers, Rest};
use super::reading::{self, Air, Reading, Unread};
use super::{Channel, Recording, Series, Understood, polled};
use crate::load::{LoadError, Log, ProblemKind, Table};
use crate::sheet::Sheet;

impl Recording {
    /// Reads the columns that `wanted` asks for (by standard name) and puts them under standard names and units.
    ///
    /// # Errors
    /// The file cannot be read as a log.
    pub fn read(
        log: &dyn Log,
        sheet: &Sheet,
        wanted: impl Fn(&str) -> bool,
    ) -> Result<Recording, LoadError> {
        let mapping = map_headings(log, sheet);
        let clock = log.clock_column();
        let readable = || mapping.found.iter().filter(|f| Some(f.0) != clock);
        // Where a wanted column does not say its unit, the others of its kind may show it.
        let doubts = readable().any(|(_, m)| wanted(&m.name) && reading::may_need_witnesses(m));
        let found: Vec<&(usize, Match)> = readable()
            .filter(|(_, m)| wanted(&m.name) || (doubts && reading::bears_witness(m)))
            .collect();
        let columns: Vec<usize> = found.iter().map(|f| f.0).collect();
        // Each column at its own times: a log with one row per reading would hold a gap in nearly every cell else.
        let mut table = log.read_apart(&columns)?;
        let mut rec = Recording::on_times(log.name(), Arc::clone(&table.time_s));
        rec.rows = table.rows_read;
        rec.clock = table
            .clock_s
            .as_ref()
            .map(|c| Series::new(&table.time_s, c.to_vec()));
        rec.evidence.extend_from_slice(log.evidence());
        rec.evidence.extend(table.clock_note.clone());
        note_columns(&mut rec, log, &mapping);
        note_problems(&mut rec, &table);
        let columns = std::mem::take(&mut table.columns);
        rec.take(log, sheet, &found, columns);
        rec.channels.retain(|name, _| wanted(name));
        rec.name_cylinders(sheet);
        if let Some(question) = too_many_cylinders(&rec, sheet) {
            rec.questions.push(question);
        }
        Ok(rec)
    }

    /// Decides how the columns are read, and makes channels of them.
    fn take(
        &mut self,
        log: &dyn Log,
        sheet: &Sheet,
        found: &[&(usize, Match)],
        columns: Vec<crate::load::Column>,
    ) {
        let times: Vec<Arc<[f64]>> = columns.iter().map(|c| c.times(&self.time)).collect();
        let speed = found.iter().position(|f| f.1.name == "rpm");
        let speed = speed.map(|at| (&columns[at].values[..], &times[at][..]));
        let rest = Rest::find(speed);
        let unread: Vec<Unread> = columns
            .par_iter()
            .zip(&times)
            .zip(found)
            .map(|((column, times), (at, m))| Unread {
                found: m,
                header: log.headings().get(*at).map_or("", |h| &h.raw),
                numbers: Numbers::of(&column.values, times, &rest),
            })
            .collect();
        let mut readings = reading::decide(&unread, sheet);
        for (reading, column) in readings.iter_mut().zip(&columns) {
            // Words for on and off, and nothing else but 0 and 1: a probe that cannot be read reads neither.
            if column.words > 0 && !reading.entry.unit().is_none() && reading.left_out.is_none() {
                reading.left_out =
                    Some("it holds words for on and off, and no readings".to_owned());
            }
        }
        let series = |at: usize| (&columns[at].values[..], &times[at][..]);
        let air = Air::of(&unread, &readings, series, sheet);
        let made: Vec<Option<Made>> = columns
            .into_par_iter()
            .zip(times)
            .zip(readings.par_iter().zip(&unread))
            .map(|((column, times), (reading, unread))| {
                let said = log.headings().get(column.column);
                let said = said.and_then(|h| h.unit.clone());
                make(reading, unread, said, column.values, &times, air.as_ref())
            })
            .collect();
        for (made, (reading, unread)) in made.into_iter().zip(readings.iter().zip(&unread)) {
            self.evidence.extend(reading.because.iter().cloned());
            self.note_reading(reading, unread);
            let Some(made) = made else {
                continue;
            };
            self.evidence.extend(made.evidence);
            if reading.entry.unit == "A" && reading.from != reading::UnitFrom::Sheet {
                let rest = unread
                    .numbers
                    .at_rest()
                    .map(|v| reading.written.to_standard(v));
                self.questions
                    .push(reading::sign_question(&made.channel, rest));
            }
            self.add(made.channel);
        }
        self.questions.extend(reading::questions(&readings));
        self.questions
            .extend(reading::wrong_words(sheet).iter().map(ToString::to_string));
        self.in_turn = polled::settle(&mut self.channels);
        if let Some(turn) = &self.in_turn {
            self.evidence.push(format!(
                "{} columns are read in turn: each of them once in about {:.1} s, in rows of its own, and repeated until it comes round again. What stands in one row is up to {:.1} s apart.",
                turn.names.len(), turn.interval_s, turn.interval_s
            ));
        }
    }

    /// Puts what was decided into the list of columns.
    fn note_reading(&mut self, reading: &Reading, unread: &Unread) {
        let at = self
            .understood
            .iter()
            .position(|u| u.name == unread.found.name && u.column == unread.header);
        let Some(at) = at else {
            return;
        };
        if let Some(why) = &reading.left_out {
            self.understood.remove(at);
            let why = format!("looks like `{}`, but {why}", reading.name);
            self.unmapped.push((unread.header.to_owned(), Some(why)));
            return;
        }
        let known = &mut self.understood[at];
        known.name.clone_from(&reading.name);
        known.unit.clone_from(&reading.entry.unit);
        known.read_in = reading.read_in();
        known.unit_from = reading.from;
        if reading.from != reading::UnitFrom::Nobody && reading.from != reading::UnitFrom::Heading {
            // The note says in which unit it would have been read.
            known.note = None;
        }
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
pub fn map_headings(log: &dyn Log, sheet: &Sheet) -> Mapping {
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

fn note_columns(rec: &mut Recording, log: &dyn Log, mapping: &Mapping) {
    let header = |column: usize| {
        log.headings()
            .get(column)
            .map_or_else(String::new, |h| h.raw.clone())
    };
    for (column, m) in &mapping.found {
        if Some(*column) == log.clock_column() {
            continue;
        }
        rec.understood.push(Understood {
            name: m.name.clone(),
            column: header(*column),
            column_unit: log.headings().get(*column).and_then(|h| h.unit.clone()),
            unit: m.entry.unit.clone(),
            read_in: m.entry.unit.clone(),
            unit_from: if m.written.is_some() || m.afr {
                reading::UnitFrom::Heading
            } else {
                reading::UnitFrom::Nobody
            },
            note: m.unit_note.clone(),
        });
    }
    let parts = log.clock_parts();
    let why = |column, why: &Option<String>| match parts.contains(&column) {
        true => Some("part of the clock".to_owned()),
        false => why.clone(),
    };
    rec.unmapped = mapping
        .unmapped
        .iter()
        .filter(|u| Some(u.0) != log.clock_column())
        .map(|(column, said)| (header(*column), why(*column, said)))
        .collect();
    for wrong in &mapping.wrong_forced {
        rec.questions.push(format!("The build sheet reads `{}` from a column `{}`: {}. Mend the sheet's [channels], or log that column.", wrong.name, wrong.header, wrong.why));
    }
}

/// One row of numbers in so many that cannot be used is more than a torn row here and there.
const MANY_LOST: usize = 20;

fn note_problems(rec: &mut Recording, table: &Table) {
    let lost = [ProblemKind::FieldCount, ProblemKind::NoStamp];
    let lost: usize = lost.iter().map(|kind| table.problems.count(*kind)).sum();
    let all = table.rows_read + lost;
    if lost > 0 && lost * MANY_LOST >= all {
        rec.questions.push(format!(
            "{lost} of {all} rows could not be used, so what happened in them is not judged: is the export whole?"
        ));
    }
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
    evidence: Option<String>,
}

fn make(
    reading: &Reading,
    unread: &Unread,
    said: Option<String>,
    mut values: Vec<f64>,
    time: &Arc<[f64]>,
    air: Option<&Air>,
) -> Option<Made> {
    if reading.left_out.is_some() {
        return None;
    }
    let written = reading.written;
    if written.factor != 1.0 || written.offset != 0.0 {
        for v in &mut values {
            *v = written.to_standard(*v);
        }
    }
    if let Some(air) = air {
        air.moved(reading.footing, &mut values, time);
    }
    let entry = reading.entry;
    let summed = entry.kind == Kind::Counter && reading::per_row(&values, reading.counts);
    let mut series = Series::new(time, values);
    let mut evidence = None;
    if summed {
        series = reading::counted(&series);
        evidence = Some(format!(
            "`{}` falls back as often as it rises: taken for a count in each row, and summed.",
            unread.header
        ));
    }
    let header = unread.header;
    let mut channel = Channel::new(&reading.name, entry, header, said, entry.unit(), series);
    channel.position = unread.found.position;
    channel.cylinder = channel.position.filter(|_| unread.found.cylinder_said);
    // Worked out here, where all columns are at work side by side, instead of by the first check that asks.
    channel.interval_s();
    Some(Made { channel, evidence })
}
