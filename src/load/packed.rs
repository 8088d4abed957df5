//! Packed logs: gzip, zstd and zip, unpacked as they are read and never as a whole.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use flate2::CrcReader;
use flate2::bufread::{DeflateDecoder, MultiGzDecoder};
use ruzstd::decoding::{FrameDecoder, StreamingDecoder};
use zip::{CompressionMethod, ZipArchive};

use super::error::LoadError;

/// How the bytes of a log are packed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Packing {
    /// Not at all.
    Plain,
    /// One or several gzip members.
    Gzip,
    /// One or several zstd frames.
    Zstd,
    /// One entry of a zip archive.
    Zip(Entry),
}

/// Where an entry of a zip archive lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Entry {
    /// Its name in the archive.
    pub name: String,
    start: u64,
    size: u64,
    deflated: bool,
    crc: u32,
}

impl Packing {
    /// What it is called in a sentence; `None` where nothing is packed.
    pub const fn name(&self) -> Option<&'static str> {
        match self {
            Self::Plain => None,
            Self::Gzip => Some("gzip"),
            Self::Zstd => Some("zstd"),
            Self::Zip(_) => Some("zip"),
        }
    }

    /// The packing that the first bytes show; a zip archive is left to [`entries`].
    pub fn of(look: &[u8]) -> Self {
        if look.starts_with(b"\x1f\x8b") {
            Self::Gzip
        } else if look.starts_with(b"\x28\xb5\x2f\xfd") {
            Self::Zstd
        } else {
            Self::Plain
        }
    }

    /// A reader of the unpacked bytes.
    pub fn unpack<R: Read + Seek + Send + 'static>(
        &self,
        mut from: R,
    ) -> io::Result<Box<dyn Read + Send>> {
        Ok(match self {
            Self::Plain => Box::new(from),
            Self::Gzip => Box::new(MultiGzDecoder::new(BufReader::with_capacity(1 << 16, from))),
            Self::Zstd => Box::new(Frames::new(BufReader::with_capacity(1 << 16, from))),
            Self::Zip(entry) => {
                from.seek(SeekFrom::Start(entry.start))?;
                let raw = BufReader::with_capacity(1 << 16, from.take(entry.size));
                let crc = entry.crc;
                if entry.deflated {
                    Box::new(Summed::new(DeflateDecoder::new(raw), crc))
                } else {
                    Box::new(Summed::new(raw, crc))
                }
            }
        })
    }
}

/// Compares the checksum at the end.
struct Summed<R> {
    inner: CrcReader<R>,
    crc: u32,
}

impl<R: Read> Summed<R> {
    fn new(inner: R, crc: u32) -> Self {
        Self {
            inner: CrcReader::new(inner),
            crc,
        }
    }
}

impl<R: Read> Read for Summed<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(into)?;
        if count == 0 && !into.is_empty() && self.inner.crc().sum() != self.crc {
            return Err(io::Error::new(
                io::ErrorKind::InvalidData,
                "its checksum is wrong",
            ));
        }
        Ok(count)
    }
}

/// zstd frames one after the other, as tools that append write them.
struct Frames<R: BufRead> {
    state: State<Watched<R>>,
    ended: Arc<AtomicBool>,
}

/// Notes that the end was reached, for the decoder does not tell a cut from damage.
struct Watched<R> {
    inner: R,
    ended: Arc<AtomicBool>,
}

impl<R: BufRead> Watched<R> {
    fn note(&mut self, asked: usize, got: usize) {
        if asked > 0 && got == 0 {
            self.ended.store(true, Ordering::Relaxed);
        }
    }
}

impl<R: BufRead> Read for Watched<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(into)?;
        self.note(into.len(), count);
        Ok(count)
    }
}

enum State<R: Read> {
    Between(R),
    Inside(Box<StreamingDecoder<R, FrameDecoder>>),
    Over,
}

impl<R: BufRead> Frames<R> {
    fn new(from: R) -> Self {
        let ended = Arc::new(AtomicBool::new(false));
        let inner = from;
        Self {
            state: State::Between(Watched {
                inner,
                ended: Arc::clone(&ended),
            }),
            ended,
        }
    }

    fn broken(&self, error: impl std::fmt::Display) -> io::Error {
        let kind = if self.ended.load(Ordering::Relaxed) {
            io::ErrorKind::UnexpectedEof
        } else {
            io::ErrorKind::InvalidData
        };
        io::Error::new(kind, error.to_string())
    }
}

impl<R: BufRead> Read for Frames<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if into.is_empty() {
            return Ok(0);
        }
        loop {
            match std::mem::replace(&mut self.state, State::Over) {
                State::Over => return Ok(0),
                State::Between(mut from) => {
                    if from.inner.fill_buf()?.is_empty() {
                        return Ok(0);
                    }
                    let decoder = StreamingDecoder::new(from).map_err(|e| self.broken(e))?;
                    self.state = State::Inside(Box::new(decoder));
                }
                State::Inside(mut decoder) => {
                    let count = decoder.read(into).map_err(|e| self.broken(e))?;
                    if count > 0 {
                        self.state = State::Inside(decoder);
                        return Ok(count);
                    }
                    self.state = State::Between(decoder.into_inner());
                }
            }
        }
    }
}

/// True for the first bytes of a zip archive, an empty one included.
pub(crate) fn is_zip(look: &[u8]) -> bool {
    look.starts_with(b"PK\x03\x04") || look.starts_with(b"PK\x05\x06")
}

/// The entries of a zip archive that may be logs, in the order of the archive.
///
/// # Errors
/// The archive is broken, locked, a spreadsheet, or holds nothing that could be a log.
pub(crate) fn entries(file: &str, from: impl Read + Seek) -> Result<Vec<Entry>, LoadError> {
    let torn = |reason: String| LoadError::Torn {
        file: file.to_owned(),
        packing: "zip",
        reason,
    };
    let mut archive = ZipArchive::new(from).map_err(|error| torn(error.to_string()))?;
    let (mut logs, mut others) = (Vec::new(), Vec::new());
    for index in 0..archive.len() {
        // Raw: an entry that is packed in a way we cannot read must still give its name.
        let entry = archive
            .by_index_raw(index)
            .map_err(|error| torn(error.to_string()))?;
        let name = entry.name().map_err(|error| torn(error.to_string()))?;
        let name = name.into_owned();
        if name == "[Content_Types].xml" || name == "mimetype" {
            return Err(LoadError::OtherFormat {
                file: file.to_owned(),
                what: "a spreadsheet or an office document".into(),
                advice: "save the sheet with the log as CSV".into(),
            });
        }
        if entry.is_dir() || hidden(&name) {
            continue;
        }
        if !may_be_a_log(&name) {
            others.push(name);
            continue;
        }
        if entry.encrypted() {
            return Err(LoadError::OtherFormat {
                file: file.to_owned(),
                what: format!("a zip archive whose `{name}` is locked with a password"),
                advice: "unpack it and name the CSV inside".into(),
            });
        }
        let deflated = match entry.compression() {
            CompressionMethod::Stored => false,
            CompressionMethod::Deflated => true,
            other => {
                return Err(LoadError::OtherFormat {
                    file: file.to_owned(),
                    what: format!("a zip archive whose `{name}` is packed with {other}"),
                    advice: "unpack it and name the CSV inside".into(),
                });
            }
        };
        let Some(start) = entry.data_start() else {
            return Err(torn(format!("`{name}` has no data")));
        };
        logs.push(Entry {
            start,
            size: entry.compressed_size(),
            deflated,
            crc: entry.crc32(),
            name,
        });
    }
    // Text beside tables is a note, and no second log.
    if logs.iter().any(|log| is_table(&log.name)) {
        logs.retain(|log| is_table(&log.name));
    }
    if logs.is_empty() {
        return Err(LoadError::NoLogInside {
            file: file.to_owned(),
            inside: match others.len() {
                0 => "it is empty".to_owned(),
                1..=3 => format!("it holds {}", others.join(", ")),
                n => format!("it holds {} and {} more", others[..3].join(", "), n - 3),
            },
        });
    }
    Ok(logs)
}

/// What some systems add of their own accord.
fn hidden(name: &str) -> bool {
    name.split('/')
        .any(|part| part.starts_with('.') || part == "__MACOSX")
}

/// Endings under which loggers write text; a name without any may be a log, too.
fn may_be_a_log(name: &str) -> bool {
    let known = ["csv", "txt", "tsv", "log", "dat", "asc", "tab", "text"];
    let ending = Path::new(name).extension().and_then(|e| e.to_str());
    ending.is_none_or(|ending| known.contains(&ending.to_ascii_lowercase().as_str()))
}

/// Whether the ending says that it is a table.
fn is_table(name: &str) -> bool {
    let ending = Path::new(name).extension().and_then(|e| e.to_str());
    ending.is_some_and(|e| ["csv", "tsv", "tab"].contains(&e.to_ascii_lowercase().as_str()))
}

/// As [`entries`], for a file.
pub(crate) fn entries_of(path: &Path) -> Result<Vec<Entry>, LoadError> {
    let file = File::open(path).map_err(|error| LoadError::from_io(path, &error))?;
    entries(&path.display().to_string(), BufReader::new(file))
}
