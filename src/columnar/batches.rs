//! The batches of an Arrow file. Of a large batch only the bytes of the wanted columns are read.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use arrow_array::RecordBatch;
use arrow_buffer::Buffer;
use arrow_ipc::reader::{FileDecoder, FileReaderBuilder, read_footer_length};
use arrow_ipc::{Block, MetadataVersion, root_as_footer, root_as_message};
use arrow_schema::{ArrowError, DataType, Schema, SchemaRef};

/// Bytes before the description of a batch: a mark and a length.
const PREFIX: usize = 8;
/// The end of the file: length of the footer, and the magic word.
const TRAILER: usize = 10;

/// Where the batches of a file lie.
#[derive(Debug)]
pub struct Batches {
    schema: SchemaRef,
    version: MetadataVersion,
    blocks: Vec<Block>,
    bytes: u64,
}

impl Batches {
    /// Reads the footer.
    pub fn of(file: &mut File) -> Result<Self, ArrowError> {
        let schema = FileReaderBuilder::new().build(&mut *file)?.schema();
        let bytes = file.seek(SeekFrom::End(0))?;
        let mut trailer = [0; TRAILER];
        file.seek(SeekFrom::End(-(TRAILER as i64)))?;
        file.read_exact(&mut trailer)?;
        let length = read_footer_length(trailer)?;
        let mut footer = vec![0; length];
        file.seek(SeekFrom::Start(
            bytes.saturating_sub((TRAILER + length) as u64),
        ))?;
        file.read_exact(&mut footer)?;
        let footer = root_as_footer(&footer).map_err(|e| ArrowError::ParseError(e.to_string()))?;
        let blocks = footer
            .recordBatches()
            .map(|blocks| blocks.iter().copied().collect());
        Ok(Self {
            schema,
            version: footer.version(),
            blocks: blocks.unwrap_or_default(),
            bytes,
        })
    }

    pub const fn schema(&self) -> &SchemaRef {
        &self.schema
    }

    pub const fn count(&self) -> usize {
        self.blocks.len()
    }

    /// Some columns of one batch, in the order of the file, each once.
    pub fn read(
        &self,
        path: &Path,
        at: usize,
        fields: &[usize],
    ) -> Result<RecordBatch, ArrowError> {
        let mut file = File::open(path)?;
        let batch = match self.blocks.get(at) {
            Some(block) if is_plain(&self.schema) => self.sparse(&mut file, block, fields)?,
            _ => {
                let builder = FileReaderBuilder::new().with_projection(fields.to_vec());
                let mut reader = builder.build(file)?;
                reader.set_index(at)?;
                reader.next().transpose()?
            }
        };
        batch.ok_or_else(|| ArrowError::IpcError("one of its batches is missing".to_owned()))
    }

    /// Leaves the bytes of other columns as zeros, which cost nothing until somebody looks at them.
    fn sparse(
        &self,
        file: &mut File,
        block: &Block,
        fields: &[usize],
    ) -> Result<Option<RecordBatch>, ArrowError> {
        let misplaced = || ArrowError::IpcError("a batch lies outside of the file".to_owned());
        let head = usize::try_from(block.metaDataLength()).map_err(|_| misplaced())?;
        let body = usize::try_from(block.bodyLength()).map_err(|_| misplaced())?;
        let start = u64::try_from(block.offset()).map_err(|_| misplaced())?;
        let length = head.checked_add(body).ok_or_else(misplaced)?;
        let end = start.checked_add(length as u64).ok_or_else(misplaced)?;
        if end > self.bytes || head < PREFIX {
            return Err(misplaced());
        }
        let mut bytes = vec![0; length];
        file.seek(SeekFrom::Start(start))?;
        file.read_exact(&mut bytes[..head])?;
        let described = bytes[PREFIX..head].to_vec();
        let message =
            root_as_message(&described).map_err(|e| ArrowError::ParseError(e.to_string()))?;
        let buffers = message
            .header_as_record_batch()
            .and_then(|batch| batch.buffers());
        let mut buffers = buffers.iter().flatten();
        for (place, field) in self.schema.fields().iter().enumerate() {
            for buffer in buffers.by_ref().take(parts(field.data_type())) {
                if !fields.contains(&place) {
                    continue;
                }
                let from = usize::try_from(buffer.offset()).map_err(|_| misplaced())?;
                let size = usize::try_from(buffer.length()).map_err(|_| misplaced())?;
                let into = from
                    .checked_add(size)
                    .and_then(|to| bytes[head..].get_mut(from..to));
                let into = into.ok_or_else(misplaced)?;
                file.seek(SeekFrom::Start(start + (head + from) as u64))?;
                file.read_exact(into)?;
            }
        }
        let decoder = FileDecoder::new(self.schema.clone(), self.version);
        let decoder = decoder.with_projection(fields.to_vec());
        decoder.read_record_batch(block, &Buffer::from_vec(bytes))
    }
}

/// Buffers of a column of numbers or words: which are missing, where words end, the values. 0: some other kind.
const fn parts(kind: &DataType) -> usize {
    match kind {
        DataType::Float64 => 2,
        DataType::Utf8 => 3,
        _ => 0,
    }
}

fn is_plain(schema: &Schema) -> bool {
    schema
        .fields()
        .iter()
        .all(|field| parts(field.data_type()) > 0)
}
