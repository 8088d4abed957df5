//! A Parquet or Arrow file on disk: its schema, and single columns of it.

use std::fs::{File, Metadata};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use arrow_array::cast::AsArray;
use arrow_array::types::Float64Type;
use arrow_array::{Array, ArrayRef};
use arrow_schema::SchemaRef;
use parquet::arrow::ProjectionMask;
use parquet::arrow::arrow_reader::{
    ArrowReaderMetadata, ArrowReaderOptions, ParquetRecordBatchReaderBuilder,
};
use rayon::prelude::*;

use super::Form;
use super::batches::Batches;
use super::guard::{damaged, guarded};
use crate::load::{Gather, LoadError, Texts};

/// Rows handed over at a time.
const BATCH_ROWS: usize = 1 << 16;

/// A file whose schema is known.
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    name: String,
    seen: Seen,
    schema: SchemaRef,
    kind: Kind,
}

#[derive(Debug)]
enum Kind {
    Parquet(ArrowReaderMetadata),
    Arrow(Batches),
}

/// What the file looked like when it was opened.
#[derive(Debug, PartialEq, Eq)]
struct Seen {
    bytes: u64,
    changed: Option<SystemTime>,
}

impl Seen {
    fn new(about: &Metadata) -> Self {
        Self {
            bytes: about.len(),
            changed: about.modified().ok(),
        }
    }
}

/// A part of the rows: its columns, in the order in which they were asked for.
type Part = Vec<ArrayRef>;

impl Store {
    /// Opens a file and reads its footer.
    pub fn open(path: &Path, form: Form) -> Result<Self, LoadError> {
        let name = path.display().to_string();
        let fail = |error: std::io::Error| LoadError::from_io(path, &error);
        let mut file = File::open(path).map_err(fail)?;
        let seen = Seen::new(&file.metadata().map_err(fail)?);
        let (schema, kind) = match form {
            Form::Parquet => {
                let load = || ArrowReaderMetadata::load(&file, ArrowReaderOptions::new());
                let footer = guarded(&name, form, load)?;
                (Arc::clone(footer.schema()), Kind::Parquet(footer))
            }
            Form::Arrow => {
                let batches = guarded(&name, form, || Batches::of(&mut file))?;
                (Arc::clone(batches.schema()), Kind::Arrow(batches))
            }
        };
        Ok(Self {
            path: path.to_owned(),
            name,
            seen,
            schema,
            kind,
        })
    }

    /// The path as given.
    pub fn name(&self) -> &str {
        &self.name
    }

    pub const fn form(&self) -> Form {
        match self.kind {
            Kind::Parquet(_) => Form::Parquet,
            Kind::Arrow(_) => Form::Arrow,
        }
    }

    pub const fn schema(&self) -> &SchemaRef {
        &self.schema
    }

    /// The place of a field.
    pub fn field(&self, name: &str) -> Result<usize, LoadError> {
        self.schema.index_of(name).map_err(|_| {
            self.wrong(&format!(
                "its column `{name}` is missing: another program changed it"
            ))
        })
    }

    /// Columns of numbers, NaN where there is none.
    pub fn numbers(&self, fields: &[usize], rows: usize) -> Result<Vec<Vec<f64>>, LoadError> {
        let parts = match &self.kind {
            // Each column by itself keeps all cores busy, whatever the rows are grouped into.
            Kind::Parquet(_) => fields
                .par_iter()
                .map(|field| self.one_column(*field, rows))
                .collect(),
            Kind::Arrow(batches) => self.batchwise(batches, fields, rows),
        };
        self.unchanged(parts?)
    }

    /// A column of words.
    pub fn words(&self, field: usize, rows: usize) -> Result<Texts, LoadError> {
        let mut gather = Gather::new(rows);
        let mut row = 0;
        self.each_part(&[field], |part| {
            let words = part.first().and_then(|array| array.as_string_opt::<i32>());
            let words = words.ok_or_else(|| self.not_as_written(field))?;
            for word in words {
                gather.put(row, word.unwrap_or_default());
                row += 1;
            }
            Ok(())
        })?;
        if row != rows {
            return Err(self.other_rows(row, rows));
        }
        self.unchanged(gather.done())
    }

    /// Hands over the whole file, part by part.
    pub fn each(
        &self,
        each: impl FnMut(&[ArrayRef]) -> Result<(), LoadError>,
    ) -> Result<(), LoadError> {
        let fields: Vec<usize> = (0..self.schema.fields().len()).collect();
        self.each_part(&fields, each)?;
        self.unchanged(())
    }

    fn each_part(
        &self,
        fields: &[usize],
        mut each: impl FnMut(&[ArrayRef]) -> Result<(), LoadError>,
    ) -> Result<(), LoadError> {
        match &self.kind {
            Kind::Parquet(footer) => {
                let file = self.file()?;
                let open = || {
                    let mask = ProjectionMask::roots(footer.parquet_schema(), fields.to_vec());
                    ParquetRecordBatchReaderBuilder::new_with_metadata(file, footer.clone())
                        .with_projection(mask)
                        .with_batch_size(BATCH_ROWS)
                        .build()
                };
                let mut reader = guarded(&self.name, self.form(), open)?;
                while let Some(batch) =
                    guarded(&self.name, self.form(), || reader.next().transpose())?
                {
                    each(batch.columns())?;
                }
            }
            Kind::Arrow(batches) => {
                for at in 0..batches.count() {
                    each(&self.batch(batches, at, fields)?)?;
                }
            }
        }
        Ok(())
    }

    /// One column of a Parquet file.
    fn one_column(&self, field: usize, rows: usize) -> Result<Vec<f64>, LoadError> {
        let mut column = self.room(rows)?;
        self.each_part(&[field], |part| {
            let array = part.first().ok_or_else(|| self.not_as_written(field))?;
            self.append(array, field, &mut column)
        })?;
        if column.len() != rows {
            return Err(self.other_rows(column.len(), rows));
        }
        Ok(column)
    }

    /// Columns of an Arrow file, several batches at a time.
    fn batchwise(
        &self,
        batches: &Batches,
        fields: &[usize],
        rows: usize,
    ) -> Result<Vec<Vec<f64>>, LoadError> {
        let room = fields.iter().map(|_| self.room(rows));
        let mut columns: Vec<Vec<f64>> = room.collect::<Result<_, _>>()?;
        let all: Vec<usize> = (0..batches.count()).collect();
        for some in all.chunks(2 * rayon::current_num_threads()) {
            let parts: Result<Vec<Part>, LoadError> = some
                .par_iter()
                .map(|at| self.batch(batches, *at, fields))
                .collect();
            let parts = parts?;
            let columns = columns.par_iter_mut().zip(fields).enumerate();
            columns.try_for_each(|(at, (column, field))| {
                let mut arrays = parts.iter().filter_map(|part| part.get(at));
                arrays.try_for_each(|a| self.append(a, *field, column))
            })?;
        }
        match columns.iter().find(|column| column.len() != rows) {
            Some(column) => Err(self.other_rows(column.len(), rows)),
            None => Ok(columns),
        }
    }

    /// Some columns of one batch of an Arrow file.
    fn batch(&self, batches: &Batches, at: usize, fields: &[usize]) -> Result<Part, LoadError> {
        let mut ordered = fields.to_vec();
        ordered.sort_unstable();
        ordered.dedup();
        let read = || batches.read(&self.path, at, &ordered);
        let batch = guarded(&self.name, self.form(), read)?;
        let column = |field: &usize| {
            let place = ordered.binary_search(field).unwrap_or(usize::MAX);
            let array = batch.columns().get(place).map(Arc::clone);
            array.ok_or_else(|| self.not_as_written(*field))
        };
        fields.iter().map(column).collect()
    }

    fn append(
        &self,
        array: &ArrayRef,
        field: usize,
        column: &mut Vec<f64>,
    ) -> Result<(), LoadError> {
        let numbers = array.as_primitive_opt::<Float64Type>();
        let numbers = numbers.ok_or_else(|| self.not_as_written(field))?;
        let start = column.len();
        column.extend_from_slice(numbers.values());
        if let Some(nulls) = numbers.nulls().filter(|nulls| nulls.null_count() > 0) {
            for (value, known) in column[start..].iter_mut().zip(nulls) {
                if !known {
                    *value = f64::NAN;
                }
            }
        }
        Ok(())
    }

    /// Room for a column, refused where a damaged file asks for more than there is.
    fn room(&self, rows: usize) -> Result<Vec<f64>, LoadError> {
        let mut column = Vec::new();
        column
            .try_reserve_exact(rows)
            .map_err(|_| self.wrong(&format!("it claims to have {rows} rows")))?;
        Ok(column)
    }

    fn file(&self) -> Result<File, LoadError> {
        File::open(&self.path).map_err(|error| LoadError::from_io(&self.path, &error))
    }

    /// Refuses what was read from a file that another program changed meanwhile.
    fn unchanged<T>(&self, read: T) -> Result<T, LoadError> {
        let now = std::fs::metadata(&self.path).map(|about| Seen::new(&about));
        if now.is_ok_and(|now| now == self.seen) {
            Ok(read)
        } else {
            Err(self.wrong("another program changed it while it was read"))
        }
    }

    fn wrong(&self, reason: &str) -> LoadError {
        damaged(&self.name, self.form(), reason)
    }

    fn not_as_written(&self, field: usize) -> LoadError {
        let name = self.schema.fields().get(field).map_or("", |f| f.name());
        self.wrong(&format!(
            "its column `{name}` has another type than it was written with: another program changed it"
        ))
    }

    fn other_rows(&self, rows: usize, wanted: usize) -> LoadError {
        self.wrong(&format!(
            "it has {rows} rows where {wanted} were written: another program changed it"
        ))
    }
}
