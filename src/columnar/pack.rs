//! Columns packed one by one, so that a log need not be in memory as numbers all at once, and put together at the end.
//!
//! Readings change little from row to row: with the bytes of the numbers parted by weight (byte stream split) most of
//! them repeat, and a quick packer does the rest.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufWriter, Write, sink};
use std::path::Path;
use std::sync::Arc;

use arrow_array::{ArrayRef, Float64Array, StringArray};
use arrow_ipc::writer::FileWriter;
use arrow_schema::{DataType, Field, Schema};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use parquet::arrow::arrow_writer::{ArrowColumnChunk, ArrowRowGroupWriterFactory, compute_leaves};
use parquet::arrow::{ArrowSchemaConverter, add_encoded_arrow_schema_to_metadata};
use parquet::basic::{Compression, Encoding};
use parquet::errors::ParquetError;
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::file::writer::SerializedFileWriter;

use crate::load::Texts;

/// Rows that are packed as one group: the size at which several readers share the work of one file.
const GROUP_ROWS: usize = 1 << 18;
/// Rows of one batch of an Arrow file.
const BATCH_ROWS: usize = 1 << 16;

/// One column, packed.
pub struct Packed {
    field: Field,
    chunks: Vec<ArrowColumnChunk>,
}

/// Packs numbers; NaN becomes "none".
pub fn numbers(field: Field, values: &[f64]) -> Result<Packed, ParquetError> {
    let some = |value: &f64| value.is_finite().then_some(*value);
    let groups = values
        .chunks(GROUP_ROWS)
        .map(|group| Arc::new(group.iter().map(some).collect::<Float64Array>()) as ArrayRef);
    pack(field, groups)
}

/// Packs words.
pub fn words(field: Field, words: &Texts) -> Result<Packed, ParquetError> {
    let mut words = words.iter().peekable();
    let groups = std::iter::from_fn(|| {
        words.peek()?;
        let group: StringArray = words.by_ref().take(GROUP_ROWS).collect();
        Some(Arc::new(group) as ArrayRef)
    });
    pack(field, groups)
}

fn pack(field: Field, groups: impl Iterator<Item = ArrayRef>) -> Result<Packed, ParquetError> {
    let schema = Arc::new(Schema::new(vec![field.clone()]));
    let root = ArrowSchemaConverter::new()
        .convert(&schema)?
        .root_schema_ptr();
    // The file writer only lends its schema and its properties; nothing is written through it.
    // Bytes of one place side by side pack well, but only numbers have them.
    let properties = match field.data_type() {
        DataType::Float64 => properties().set_encoding(Encoding::BYTE_STREAM_SPLIT),
        _ => properties(),
    };
    let lender = SerializedFileWriter::new(sink(), root, Arc::new(properties.build()))?;
    let factory = ArrowRowGroupWriterFactory::new(&lender, schema);
    let mut chunks = Vec::new();
    for (number, array) in groups.enumerate() {
        for mut writer in factory.create_column_writers(number)? {
            for leaf in compute_leaves(&field, &array)? {
                writer.write(&leaf)?;
            }
            chunks.push(writer.close()?);
        }
    }
    Ok(Packed { field, chunks })
}

fn properties() -> parquet::file::properties::WriterPropertiesBuilder {
    WriterProperties::builder()
        .set_created_by(format!("plugread {}", env!("CARGO_PKG_VERSION")))
        .set_compression(Compression::LZ4_RAW)
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_dictionary_enabled(false)
}

/// Writes a Parquet file of packed columns.
pub fn write_parquet(
    columns: Vec<Packed>,
    metadata: Vec<(String, String)>,
    out: File,
) -> Result<(), ParquetError> {
    let fields: Vec<Field> = columns.iter().map(|column| column.field.clone()).collect();
    let schema =
        Schema::new_with_metadata(fields, metadata.into_iter().collect::<BTreeMap<_, _>>());
    let root = ArrowSchemaConverter::new()
        .convert(&schema)?
        .root_schema_ptr();
    let mut properties = properties().build();
    add_encoded_arrow_schema_to_metadata(&schema, &mut properties);
    let file = BufWriter::new(out);
    let mut writer = SerializedFileWriter::new(file, root, Arc::new(properties))?;
    let mut columns: Vec<_> = columns.into_iter().map(|c| c.chunks.into_iter()).collect();
    loop {
        let chunks: Vec<ArrowColumnChunk> = columns.iter_mut().filter_map(Iterator::next).collect();
        if chunks.is_empty() {
            break;
        }
        let mut group = writer.next_row_group()?;
        for chunk in chunks {
            chunk.append_to_row_group(&mut group)?;
        }
        group.close()?;
    }
    writer.into_inner()?.flush()?;
    Ok(())
}

/// Writes a Parquet file once more as an Arrow file, batch by batch. Nothing is squeezed there: a Parquet file is for
/// keeping, an Arrow file for reading at once.
pub fn parquet_to_arrow(parquet: &Path, out: File) -> Result<(), ParquetError> {
    let builder = ParquetRecordBatchReaderBuilder::try_new(File::open(parquet)?)?;
    let file = BufWriter::new(out);
    let mut writer = FileWriter::try_new(file, builder.schema())?;
    for batch in builder.with_batch_size(BATCH_ROWS).build()? {
        writer.write(&batch?)?;
    }
    writer.finish()?;
    writer.get_mut().flush()?;
    Ok(())
}
