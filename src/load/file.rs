//! Opens a log and gives its text in order: unpacked, and in UTF-8 where it was UTF-16.
//!
//! Nothing is mapped: a logger or a copy program may still write the file, and shortening a mapped file ends the
//! process that reads it. Text comes in pieces, so that a log may be larger than the memory.

use std::fs::{File, Metadata};
use std::io::{Cursor, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use encoding_rs::{UTF_16BE, UTF_16LE};

use super::dialect::Encoding;
use super::encoding::{LOOK_BYTES, encoding_of, is_junk, mark_of, other_format};
use super::error::LoadError;
use super::packed::{self, Packing};
use super::pieces::{Bytes, Plain};
use super::wide::Narrow;

/// How much of its end is kept, to know it again.
const END_BYTES: usize = 1 << 12;
/// How much text is kept from the start, for the guesses on how it is written.
const HEAD_BYTES: usize = 1 << 22;

/// A log whose text can be read from its start, as often as wanted.
#[derive(Debug)]
pub(crate) struct Source {
    /// What the file is called in messages.
    pub name: String,
    /// How its bytes stood for letters in the file.
    pub encoding: Encoding,
    /// How it is packed.
    pub packing: Packing,
    /// Zero bytes at the end: space that a logger set aside and never filled, as after a power cut.
    pub padding: u64,
    origin: Origin,
    /// The last bytes of a plain file before that space, and where they stand.
    end: (u64, Vec<u8>),
    /// Bytes of a byte order mark, where the text keeps its encoding.
    skip: usize,
    head: Vec<u8>,
    whole: bool,
}

/// Where the bytes lie.
#[derive(Clone, Debug)]
enum Origin {
    Memory(Arc<[u8]>),
    File { path: PathBuf, seen: Seen },
}

/// What a file looked like when it was opened.
#[derive(Clone, Debug, PartialEq, Eq)]
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

/// What happened to the file since it was opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Since {
    /// Nothing.
    Same,
    /// It grew by so many bytes.
    Grew(u64),
    /// It was shortened or written anew.
    Changed,
}

impl Source {
    /// Opens a file, or an entry of a zip archive as `archive.zip/run.csv`. Pipes and the like are read to their end.
    pub fn open(path: &Path, forced: Option<Encoding>) -> Result<Self, LoadError> {
        let fail = |error: std::io::Error| LoadError::from_io(path, &error);
        let name = path.display().to_string();
        let about = match std::fs::metadata(path) {
            Ok(about) => about,
            Err(error) => {
                return match inside_archive(path) {
                    Some((archive, entry)) => Self::open_entry(&name, &archive, &entry, forced),
                    None => Err(fail(error)),
                };
            }
        };
        if about.is_dir() {
            return Err(LoadError::Folder { file: name });
        }
        if is_device(&about) {
            return Err(LoadError::OtherFormat {
                file: name,
                what: "a device".into(),
                advice: "name the CSV log of a run".into(),
            });
        }
        let mut file = File::open(path).map_err(fail)?;
        if !about.is_file() {
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).map_err(fail)?;
            return Self::from_bytes(&name, bytes, forced);
        }
        let mut look = Vec::new();
        file.by_ref()
            .take(LOOK_BYTES as u64)
            .read_to_end(&mut look)
            .map_err(fail)?;
        let packing = if packed::is_zip(&look) {
            only(&name, packed::entries_of(path)?)?
        } else {
            Packing::of(&look)
        };
        let origin = Origin::File {
            path: path.to_owned(),
            seen: Seen::new(&about),
        };
        Self::new(name, origin, packing, forced)
    }

    fn open_entry(
        name: &str,
        archive: &Path,
        entry: &str,
        forced: Option<Encoding>,
    ) -> Result<Self, LoadError> {
        let about =
            std::fs::metadata(archive).map_err(|error| LoadError::from_io(archive, &error))?;
        let entries = packed::entries_of(archive)?;
        let found = entries.into_iter().find(|found| found.name == entry);
        let Some(found) = found else {
            return Err(LoadError::Missing {
                file: name.to_owned(),
            });
        };
        let origin = Origin::File {
            path: archive.to_owned(),
            seen: Seen::new(&about),
        };
        Self::new(name.to_owned(), origin, Packing::Zip(found), forced)
    }

    /// Takes bytes that are already there.
    pub fn from_bytes(
        name: &str,
        bytes: Vec<u8>,
        forced: Option<Encoding>,
    ) -> Result<Self, LoadError> {
        let packing = if packed::is_zip(&bytes) {
            only(name, packed::entries(name, Cursor::new(&bytes))?)?
        } else {
            Packing::of(&bytes)
        };
        let origin = Origin::Memory(bytes.into());
        Self::new(name.to_owned(), origin, packing, forced)
    }

    /// Finds out what the bytes are, and keeps the first of them.
    fn new(
        name: String,
        origin: Origin,
        packing: Packing,
        forced: Option<Encoding>,
    ) -> Result<Self, LoadError> {
        let (padding, end) = match packing {
            Packing::Plain => origin.end().map_err(|e| unreadable(&name, &e))?,
            _ => Default::default(),
        };
        let mut source = Self {
            name,
            encoding: Encoding::Utf8,
            packing,
            padding,
            origin,
            end,
            skip: 0,
            head: Vec::new(),
            whole: false,
        };
        let look = source.first_bytes(LOOK_BYTES)?;
        if let Some((what, advice)) = other_format(&look) {
            return Err(LoadError::OtherFormat {
                file: source.name,
                what: what.into(),
                advice: advice.into(),
            });
        }
        (source.encoding, source.skip) = forced.map_or_else(
            || encoding_of(&look),
            |forced| (forced, mark_of(&look, forced)),
        );
        // The last letter's own zero byte is no padding.
        source.padding = match source.encoding {
            Encoding::Utf16Le => source.padding.saturating_sub(1) & !1,
            Encoding::Utf16Be => source.padding & !1,
            _ => source.padding,
        };
        let mut text = source.text()?;
        let mut head = Vec::new();
        let read = text.by_ref().take(HEAD_BYTES as u64).read_to_end(&mut head);
        match read {
            Ok(_) => source.whole = head.len() < HEAD_BYTES,
            Err(error) if head.is_empty() => return Err(source.torn(&error)),
            // What came before the break may be worth reading; the pass over the data meets it again and reports it.
            Err(_) => source.whole = false,
        }
        source.head = head;
        source.checked()
    }

    /// The first bytes, unpacked but not decoded.
    fn first_bytes(&self, most: usize) -> Result<Vec<u8>, LoadError> {
        let mut look = Vec::new();
        let bytes = self.bytes()?;
        match bytes.take(most as u64).read_to_end(&mut look) {
            Err(error) if look.is_empty() => Err(self.torn(&error)),
            _ => Ok(look),
        }
    }

    /// Refuses what is no text.
    fn checked(self) -> Result<Self, LoadError> {
        // Space that was set aside and never filled may be packed with the rest.
        let filled = self
            .head
            .iter()
            .rposition(|c| *c != 0)
            .map_or(0, |at| at + 1);
        let look = &self.head[..filled.min(LOOK_BYTES)];
        let file = || self.name.clone();
        let zeros = filled == 0 && !self.head.is_empty();
        if zeros || (!look.is_empty() && is_junk(look, self.encoding)) {
            return Err(LoadError::NotText { file: file() });
        }
        if self.whole && self.head.trim_ascii().is_empty() {
            return Err(match self.padding {
                0 => LoadError::Empty { file: file() },
                _ => LoadError::NotText { file: file() },
            });
        }
        Ok(self)
    }

    /// The first text, byte order mark left out: all of it for most logs, the first megabytes of a large one.
    pub fn head(&self) -> &[u8] {
        &self.head
    }

    /// Bytes of text to come, where that is known: for making room.
    pub fn size(&self) -> Option<u64> {
        match (&self.origin, &self.packing) {
            (Origin::Memory(bytes), Packing::Plain) => Some(bytes.len() as u64),
            (Origin::File { seen, .. }, Packing::Plain) => Some(seen.bytes),
            _ => None,
        }
    }

    /// The text from its start.
    ///
    /// # Errors
    /// The file cannot be opened any more.
    pub fn text(&self) -> Result<Box<dyn Read + Send>, LoadError> {
        let mut bytes = self.bytes()?;
        let decoder = match self.encoding {
            Encoding::Utf16Le => UTF_16LE,
            Encoding::Utf16Be => UTF_16BE,
            _ => {
                let mut mark = vec![0; self.skip];
                bytes.read_exact(&mut mark).map_err(|e| self.torn(&e))?;
                return Ok(bytes);
            }
        };
        Ok(Box::new(Narrow::new(bytes, decoder)))
    }

    /// The text from its byte `start` on, where any part of it can be read as it stands.
    ///
    /// # Errors
    /// The file cannot be opened any more.
    pub fn plain(&self, start: usize) -> Result<Option<Plain>, LoadError> {
        let wide = matches!(self.encoding, Encoding::Utf16Le | Encoding::Utf16Be);
        if self.packing != Packing::Plain || wide || !cfg!(unix) {
            return Ok(None);
        }
        let (bytes, size) = match &self.origin {
            Origin::Memory(bytes) => (Bytes::Memory(Arc::clone(bytes)), bytes.len() as u64),
            Origin::File { path, seen } => {
                let file = File::open(path).map_err(|error| LoadError::from_io(path, &error))?;
                (Bytes::File(file), seen.bytes)
            }
        };
        let start = (self.skip + start) as u64;
        Ok(Some(Plain {
            bytes,
            start,
            end: (size - self.padding).max(start),
        }))
    }

    /// The unpacked bytes from their start, without padding.
    fn bytes(&self) -> Result<Box<dyn Read + Send>, LoadError> {
        let fail = |error: std::io::Error| unreadable(&self.name, &error);
        match &self.origin {
            Origin::Memory(bytes) => {
                let all = bytes.len() - self.padding as usize;
                let bytes = Cursor::new(Slice(Arc::clone(bytes), all));
                self.packing.unpack(bytes).map_err(fail)
            }
            Origin::File { path, seen } => {
                let file = File::open(path).map_err(|error| LoadError::from_io(path, &error))?;
                match self.packing {
                    // Not beyond what was there when it was opened, so that a growing log is one log.
                    Packing::Plain => Ok(Box::new(file.take(seen.bytes - self.padding))),
                    _ => self.packing.unpack(file).map_err(fail),
                }
            }
        }
    }

    /// What happened to the file since it was opened.
    pub fn since(&self) -> Since {
        let Origin::File { path, seen } = &self.origin else {
            return Since::Same;
        };
        let Ok(now) = std::fs::metadata(path).map(|about| Seen::new(&about)) else {
            return Since::Changed;
        };
        if now == *seen {
            Since::Same
        } else if now.bytes > seen.bytes && self.holds_what_it_did(path) {
            Since::Grew(now.bytes - seen.bytes)
        } else {
            Since::Changed
        }
    }

    /// Whether a file begins as before, and has the same bytes where it ended.
    fn holds_what_it_did(&self, path: &Path) -> bool {
        let mut begin = vec![0; self.head.len().min(LOOK_BYTES)];
        let read = self.text().map(|mut text| text.read_exact(&mut begin));
        let (at, end) = &self.end;
        let again = || -> std::io::Result<Vec<u8>> {
            let mut again = vec![0; end.len()];
            let mut file = File::open(path)?;
            file.seek(SeekFrom::Start(*at))?;
            file.read_exact(&mut again).map(|()| again)
        };
        matches!(read, Ok(Ok(())))
            && self.head.starts_with(&begin)
            && again().is_ok_and(|again| again == *end)
    }

    /// The words for bytes that cannot be read or unpacked.
    pub fn torn(&self, error: &std::io::Error) -> LoadError {
        match self.packing.name() {
            Some(packing) => LoadError::Torn {
                file: self.name.clone(),
                packing,
                reason: error.to_string(),
            },
            None => unreadable(&self.name, error),
        }
    }
}

/// Shared bytes up to a length.
struct Slice(Arc<[u8]>, usize);

impl AsRef<[u8]> for Slice {
    fn as_ref(&self) -> &[u8] {
        &self.0[..self.1]
    }
}

impl Origin {
    /// Counts the zero bytes at the end. Also, of a file that may change, where the last bytes before them stand, and these.
    fn end(&self) -> std::io::Result<(u64, (u64, Vec<u8>))> {
        let zeros = |bytes: &[u8]| bytes.iter().rev().take_while(|c| **c == 0).count();
        let (path, seen) = match self {
            Self::Memory(bytes) => return Ok((zeros(bytes) as u64, Default::default())),
            Self::File { path, seen } => (path, seen),
        };
        let mut file = File::open(path)?;
        let mut end = seen.bytes;
        let mut piece = vec![0; LOOK_BYTES];
        while end > 0 {
            let start = end.saturating_sub(LOOK_BYTES as u64);
            file.seek(SeekFrom::Start(start))?;
            let piece = &mut piece[..(end - start) as usize];
            file.read_exact(piece)?;
            let filled = piece.len() - zeros(piece);
            if filled > 0 {
                let from = filled.saturating_sub(END_BYTES);
                let last = (start + from as u64, piece[from..filled].to_vec());
                return Ok((seen.bytes - start - filled as u64, last));
            }
            end = start;
        }
        Ok((seen.bytes, Default::default()))
    }
}

/// A device may never end.
#[cfg(unix)]
fn is_device(about: &Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    let kind = about.file_type();
    kind.is_char_device() || kind.is_block_device()
}

#[cfg(not(unix))]
fn is_device(_: &Metadata) -> bool {
    false
}

fn unreadable(name: &str, error: &std::io::Error) -> LoadError {
    LoadError::Unreadable {
        file: name.to_owned(),
        reason: error.to_string(),
    }
}

/// The one log of an archive.
fn only(name: &str, mut entries: Vec<packed::Entry>) -> Result<Packing, LoadError> {
    match entries.first() {
        Some(first) if entries.len() > 1 => Err(LoadError::SeveralInside {
            file: name.to_owned(),
            count: entries.len(),
            one: format!("{name}/{}", first.name),
        }),
        _ => entries
            .pop()
            .map(Packing::Zip)
            .ok_or_else(|| LoadError::NoLogInside {
                file: name.to_owned(),
                inside: "it is empty".to_owned(),
            }),
    }
}

/// The logs behind a name: the entries of a zip archive as `archive.zip/run.csv`, else the file itself.
///
/// # Errors
/// The archive is broken, locked or holds no log.
pub fn logs_in(path: &Path) -> Result<Vec<PathBuf>, LoadError> {
    let mut look = [0; 4];
    let is_zip = path.is_file()
        && File::open(path)
            .and_then(|mut file| file.read_exact(&mut look))
            .is_ok_and(|()| packed::is_zip(&look));
    if !is_zip {
        return Ok(vec![path.to_owned()]);
    }
    let entries = packed::entries_of(path)?;
    if entries.len() == 1 {
        return Ok(vec![path.to_owned()]);
    }
    Ok(entries.iter().map(|entry| path.join(&entry.name)).collect())
}

/// The archive and the entry of a path that goes through a file.
fn inside_archive(path: &Path) -> Option<(PathBuf, String)> {
    let archive = path.ancestors().skip(1).find(|part| part.is_file())?;
    let entry = path.strip_prefix(archive).ok()?;
    let parts: Option<Vec<&str>> = entry.iter().map(|part| part.to_str()).collect();
    Some((archive.to_owned(), parts?.join("/")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::encoding::words;

    fn source(bytes: &[u8]) -> Result<Source, LoadError> {
        Source::from_bytes("run.csv", bytes.to_vec(), None)
    }

    fn encoding(bytes: &[u8]) -> Option<(Encoding, Vec<u8>)> {
        let source = source(bytes).ok()?;
        Some((source.encoding, source.head().to_vec()))
    }

    fn wide(text: &str, order: fn(u16) -> [u8; 2]) -> Vec<u8> {
        text.encode_utf16().flat_map(order).collect()
    }

    #[test]
    fn encodings() {
        let text = "time,Temp (°C)\n0,1\n";
        let utf8 = text.as_bytes();
        assert_eq!(encoding(utf8), Some((Encoding::Utf8, utf8.to_vec())));
        let marked = [b"\xef\xbb\xbf", utf8].concat();
        assert_eq!(
            encoding(&marked),
            Some((Encoding::Utf8WithMark, utf8.to_vec()))
        );
        let marked_text = format!("\u{feff}{text}");
        for (bytes, wanted) in [
            (wide(&marked_text, u16::to_le_bytes), Encoding::Utf16Le),
            (wide(&marked_text, u16::to_be_bytes), Encoding::Utf16Be),
            (wide(text, u16::to_le_bytes), Encoding::Utf16Le),
            (wide(text, u16::to_be_bytes), Encoding::Utf16Be),
        ] {
            assert_eq!(encoding(&bytes), Some((wanted, utf8.to_vec())));
        }
        let latin = b"time,Temp (\xb0C)\n0,1\n";
        assert_eq!(encoding(latin).map(|e| e.0), Some(Encoding::Windows1252));
        assert_eq!(words(latin, Encoding::Windows1252), text);
    }

    #[test]
    fn what_is_no_log() {
        let what = |bytes: &[u8]| source(bytes).err();
        assert!(matches!(what(b""), Some(LoadError::Empty { .. })));
        assert!(matches!(
            what(b"\xef\xbb\xbf"),
            Some(LoadError::Empty { .. })
        ));
        assert!(matches!(what(b" \r\n\r\n"), Some(LoadError::Empty { .. })));
        assert!(matches!(
            what(b"\x00\x01\x02\x03abc"),
            Some(LoadError::NotText { .. })
        ));
        let high: Vec<u8> = (0..2000_u32).map(|n| (n * 37 % 223 + 32) as u8).collect();
        assert!(matches!(what(&high), Some(LoadError::NotText { .. })));
        for other in [
            &b"{\"a\": 1}"[..],
            b" [ {\"a\": 1} ]",
            b"[1, 2]",
            b"<?xml version",
            b"BZh9....",
            b"%PDF-1.4",
        ] {
            assert!(matches!(what(other), Some(LoadError::OtherFormat { .. })));
        }
        assert!(what(b"[Header]\ntime,rpm\n0,1\n").is_none());
        assert!(matches!(what(&[0; 50]), Some(LoadError::NotText { .. })));
    }

    #[test]
    fn space_set_aside_and_never_filled_is_left_out() {
        let le = wide("\u{feff}a,b\n0,1\n", u16::to_le_bytes);
        let padded = [&le[..], &[0; 500]].concat();
        assert_eq!(
            encoding(&padded),
            Some((Encoding::Utf16Le, b"a,b\n0,1\n".to_vec()))
        );
        let text = b"time,rpm\n0,1\n";
        let padded = [&text[..], &[0; 5000]].concat();
        assert_eq!(encoding(&padded), Some((Encoding::Utf8, text.to_vec())));
    }
}
