//! Parquet and Arrow files of other programs: laid out as text and read like any CSV log, so that names, units, clock
//! and words for "missing" are found by the same rules.

use std::fmt::Write as _;

use arrow_array::cast::AsArray;
use arrow_array::types::*;
use arrow_array::{Array, ArrayRef};
use arrow_schema::{DataType, Field, TimeUnit};

use super::guard::guarded;
use super::store::Store;
use crate::load::{Forced, Heading, LoadError, Log, LogFile, Table, Texts, from_bytes};

/// A file of another program, as text.
#[derive(Debug)]
pub struct ForeignLog {
    text: LogFile,
    evidence: Vec<String>,
}

/// Lays out a file as text and opens that.
///
/// # Errors
/// The file is damaged, or the text is no log: no clock, no rows, no names.
pub fn open(store: &Store, forced: &Forced) -> Result<ForeignLog, LoadError> {
    let mut text = String::new();
    let fields = store.schema().fields();
    for (place, field) in fields.iter().enumerate() {
        cell(&mut text, place, field.name());
    }
    text.push('\n');
    let units: Vec<&str> = fields.iter().map(|field| unit(field)).collect();
    let has_units = units.iter().any(|unit| !unit.is_empty());
    if has_units {
        for (place, unit) in units.iter().enumerate() {
            cell(&mut text, place, unit);
        }
        text.push('\n');
    }
    let mut rows = 0_usize;
    store.each(|part| {
        let lay_out = || lay_out(part, &mut text);
        rows += guarded(store.name(), store.form(), lay_out)?;
        Ok(())
    })?;
    let form = store.form().name();
    let before = if has_units { 2 } else { 1 };
    let mut evidence = vec![format!(
        "This is a {form} file of {rows} rows and {} columns that another program wrote: it was laid out as text, its row 1 as line {}, and read like any CSV log.",
        fields.len(),
        before + 1,
    )];
    for field in fields
        .iter()
        .filter(|field| !is_readable(field.data_type()))
    {
        evidence.push(format!(
            "Column `{}` holds {}, which are neither numbers nor words: it was left blank.",
            field.name(),
            field.data_type(),
        ));
    }
    let text = from_bytes(store.name(), text.into_bytes(), forced)?;
    evidence.extend(text.dialect().evidence.iter().cloned());
    Ok(ForeignLog { text, evidence })
}

impl Log for ForeignLog {
    fn name(&self) -> &str {
        self.text.name()
    }

    fn headings(&self) -> &[Heading] {
        self.text.headings()
    }

    fn evidence(&self) -> &[String] {
        &self.evidence
    }

    fn clock_column(&self) -> Option<usize> {
        Log::clock_column(&self.text)
    }

    fn clock_parts(&self) -> Vec<usize> {
        Log::clock_parts(&self.text)
    }

    fn read_as(&self) -> Forced {
        self.text.read_as()
    }

    fn read(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        self.text.read(wanted)
    }

    fn read_apart(&self, wanted: &[usize]) -> Result<Table, LoadError> {
        self.text.read_apart(wanted)
    }

    fn texts(&self, table: &Table, wanted: &[usize]) -> Result<Option<Vec<Texts>>, LoadError> {
        self.text.texts(table, wanted)
    }
}

/// The unit of a field: a length of time is written in seconds, others as their metadata say.
fn unit(field: &Field) -> &str {
    match field.data_type() {
        DataType::Duration(_) => "s",
        _ => field.metadata().get("unit").map_or("", String::as_str),
    }
}

/// Writes a field of the text, in quotes where it needs them.
fn cell(text: &mut String, place: usize, words: &str) {
    if place > 0 {
        text.push(',');
    }
    if words.contains([',', '"', '\n', '\r']) {
        text.push('"');
        text.push_str(&words.replace('"', "\"\""));
        text.push('"');
    } else {
        text.push_str(words);
    }
}

fn lay_out(part: &[ArrayRef], text: &mut String) -> Result<usize, std::fmt::Error> {
    let rows = part.first().map_or(0, |array| array.len());
    let mut word = String::new();
    for row in 0..rows {
        for (place, array) in part.iter().enumerate() {
            word.clear();
            write_value(array, row, &mut word)?;
            cell(text, place, &word);
        }
        text.push('\n');
    }
    Ok(rows)
}

/// Kinds that [`write_value`] can write.
fn is_readable(kind: &DataType) -> bool {
    match kind {
        DataType::Dictionary(_, values) => is_readable(values),
        DataType::Null | DataType::Boolean | DataType::Float16 => true,
        DataType::Utf8 | DataType::LargeUtf8 | DataType::Utf8View => true,
        DataType::Decimal128(..) | DataType::Date32 | DataType::Date64 => true,
        DataType::Timestamp(..) | DataType::Duration(_) => true,
        DataType::Time32(_) | DataType::Time64(_) => true,
        kind => kind.is_integer() || kind.is_floating(),
    }
}

/// One value as a log would write it; nothing for a missing one.
fn write_value(array: &ArrayRef, row: usize, out: &mut String) -> std::fmt::Result {
    if array.is_null(row) {
        return Ok(());
    }
    macro_rules! number {
        ($kind:ty) => {
            write!(out, "{}", array.as_primitive::<$kind>().value(row))
        };
    }
    match array.data_type() {
        DataType::Int8 => number!(Int8Type),
        DataType::Int16 => number!(Int16Type),
        DataType::Int32 => number!(Int32Type),
        DataType::Int64 => number!(Int64Type),
        DataType::UInt8 => number!(UInt8Type),
        DataType::UInt16 => number!(UInt16Type),
        DataType::UInt32 => number!(UInt32Type),
        DataType::UInt64 => number!(UInt64Type),
        DataType::Float16 => number!(Float16Type),
        DataType::Float32 => number!(Float32Type),
        DataType::Float64 => number!(Float64Type),
        DataType::Decimal128(..) => {
            out.push_str(&array.as_primitive::<Decimal128Type>().value_as_string(row));
            Ok(())
        }
        DataType::Boolean => out.write_str(if array.as_boolean().value(row) {
            "on"
        } else {
            "off"
        }),
        DataType::Utf8 => out.write_str(array.as_string::<i32>().value(row)),
        DataType::LargeUtf8 => out.write_str(array.as_string::<i64>().value(row)),
        DataType::Utf8View => out.write_str(array.as_string_view().value(row)),
        DataType::Dictionary(..) => {
            let words = array.as_any_dictionary();
            match words.normalized_keys().get(row) {
                Some(key) => write_value(words.values(), *key, out),
                None => Ok(()),
            }
        }
        DataType::Date32 => write_date(
            i64::from(array.as_primitive::<Date32Type>().value(row)),
            out,
        ),
        DataType::Date64 => {
            let ms = array.as_primitive::<Date64Type>().value(row);
            write_moment(ms, 1000, out)
        }
        DataType::Timestamp(unit, _) => {
            write_moment(ticks(array, *unit, row), a_second(*unit), out)
        }
        DataType::Duration(unit) => {
            let (all, each) = (ticks_of_length(array, *unit, row), a_second(*unit));
            let sign = if all < 0 { "-" } else { "" };
            let (whole, rest) = (
                all.unsigned_abs() / each.unsigned_abs(),
                all.unsigned_abs() % each.unsigned_abs(),
            );
            write!(out, "{sign}{whole}")?;
            write_fraction(rest, each, out)
        }
        DataType::Time32(unit) | DataType::Time64(unit) => {
            write_time(ticks_of_day(array, *unit, row), a_second(*unit), out)
        }
        _ => Ok(()),
    }
}

const fn a_second(unit: TimeUnit) -> i64 {
    match unit {
        TimeUnit::Second => 1,
        TimeUnit::Millisecond => 1_000,
        TimeUnit::Microsecond => 1_000_000,
        TimeUnit::Nanosecond => 1_000_000_000,
    }
}

fn ticks(array: &ArrayRef, unit: TimeUnit, row: usize) -> i64 {
    match unit {
        TimeUnit::Second => array.as_primitive::<TimestampSecondType>().value(row),
        TimeUnit::Millisecond => array.as_primitive::<TimestampMillisecondType>().value(row),
        TimeUnit::Microsecond => array.as_primitive::<TimestampMicrosecondType>().value(row),
        TimeUnit::Nanosecond => array.as_primitive::<TimestampNanosecondType>().value(row),
    }
}

fn ticks_of_length(array: &ArrayRef, unit: TimeUnit, row: usize) -> i64 {
    match unit {
        TimeUnit::Second => array.as_primitive::<DurationSecondType>().value(row),
        TimeUnit::Millisecond => array.as_primitive::<DurationMillisecondType>().value(row),
        TimeUnit::Microsecond => array.as_primitive::<DurationMicrosecondType>().value(row),
        TimeUnit::Nanosecond => array.as_primitive::<DurationNanosecondType>().value(row),
    }
}

fn ticks_of_day(array: &ArrayRef, unit: TimeUnit, row: usize) -> i64 {
    match unit {
        TimeUnit::Second => i64::from(array.as_primitive::<Time32SecondType>().value(row)),
        TimeUnit::Millisecond => {
            i64::from(array.as_primitive::<Time32MillisecondType>().value(row))
        }
        TimeUnit::Microsecond => array.as_primitive::<Time64MicrosecondType>().value(row),
        TimeUnit::Nanosecond => array.as_primitive::<Time64NanosecondType>().value(row),
    }
}

/// A moment counted from 1970, as `2026-07-04T10:20:30.250`.
fn write_moment(ticks: i64, each: i64, out: &mut String) -> std::fmt::Result {
    let day = each * 86_400;
    write_date(ticks.div_euclid(day), out)?;
    out.push('T');
    write_time(ticks.rem_euclid(day), each, out)
}

fn write_time(ticks: i64, each: i64, out: &mut String) -> std::fmt::Result {
    let s = ticks / each;
    write!(out, "{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)?;
    write_fraction((ticks % each).unsigned_abs(), each, out)
}

fn write_fraction(rest: u64, each: i64, out: &mut String) -> std::fmt::Result {
    match each {
        1_000 => write!(out, ".{rest:03}"),
        1_000_000 => write!(out, ".{rest:06}"),
        1_000_000_000 => write!(out, ".{rest:09}"),
        _ => Ok(()),
    }
}

/// A day counted from 1970-01-01, by the civil calendar: years counted from 1 March, so that the leap day comes last.
fn write_date(day: i64, out: &mut String) -> std::fmt::Result {
    let day = day.saturating_add(719_468);
    let (era, of_era) = (day.div_euclid(146_097), day.rem_euclid(146_097));
    let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let date = of_year - (153 * month + 2) / 5 + 1;
    let (month, later) = if month < 10 {
        (month + 3, 0)
    } else {
        (month - 9, 1)
    };
    write!(out, "{:04}-{month:02}-{date:02}", year + era * 400 + later)
}
