//! Opens a log and makes its bytes readable: mapped or copied, decoded where they are UTF-16.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use encoding_rs::{Encoding as Decoder, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use memmap2::Mmap;

use super::dialect::Encoding;
use super::error::LoadError;

/// Smaller files are copied: that is as quick, and a copy cannot change under the reader.
const MAP_FROM_BYTES: u64 = 1 << 23;
/// How much of the file shows what it is.
const LOOK_BYTES: usize = 1 << 16;

/// The bytes of a log, in UTF-8 or a one-byte encoding from `start` on.
#[derive(Debug)]
pub(crate) struct Source {
    /// What the file is called in messages.
    pub name: String,
    /// How its bytes stood for letters in the file.
    pub encoding: Encoding,
    /// Zero bytes at the end: space that a logger set aside and never filled, as after a power cut.
    pub padding: usize,
    bytes: Bytes,
    start: usize,
}

#[derive(Debug)]
enum Bytes {
    Copied(Vec<u8>),
    Mapped(Mmap),
}

impl Source {
    /// Opens a file. Pipes and the like are read to their end.
    pub fn open(path: &Path) -> Result<Self, LoadError> {
        let fail = |error: std::io::Error| LoadError::from_io(path, &error);
        let name = path.display().to_string();
        let about = std::fs::metadata(path).map_err(fail)?;
        if about.is_dir() {
            return Err(LoadError::Folder { file: name });
        }
        let mut file = File::open(path).map_err(fail)?;
        if about.is_file() && about.len() >= MAP_FROM_BYTES {
            // SAFETY: the bytes are only ever read. Another program that shortens the file meanwhile would end this
            // one; a log is written once, by the logger, and copying large ones first would double time and memory.
            #[allow(unsafe_code, reason = "mapping a file has no safe form")]
            let map = unsafe { Mmap::map(&file) }.map_err(fail)?;
            return Self::decode(name, Bytes::Mapped(map));
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(fail)?;
        Self::decode(name, Bytes::Copied(bytes))
    }

    /// Takes bytes that are already there.
    pub fn from_bytes(name: &str, bytes: Vec<u8>) -> Result<Self, LoadError> {
        Self::decode(name.to_owned(), Bytes::Copied(bytes))
    }

    /// The text, byte order mark left out.
    pub fn text(&self) -> &[u8] {
        let bytes = self.bytes.all();
        let end = bytes.len() - self.padding;
        bytes.get(self.start..end).unwrap_or_default()
    }

    /// Finds out what the bytes are, and turns UTF-16 into UTF-8.
    fn decode(name: String, bytes: Bytes) -> Result<Self, LoadError> {
        let all = bytes.all();
        let look = &all[..all.len().min(LOOK_BYTES)];
        if let Some((what, advice)) = other_format(look) {
            return Err(LoadError::OtherFormat {
                file: name,
                what: what.into(),
                advice: advice.into(),
            });
        }
        let marked = Decoder::for_bom(look);
        let wide = match marked {
            Some((decoder, _)) => (decoder != UTF_8).then_some(decoder),
            None => wide_without_mark(look),
        };
        if let Some(decoder) = wide {
            let (text, _, _) = decoder.decode(all);
            let encoding = if decoder == UTF_16LE {
                Encoding::Utf16Le
            } else {
                Encoding::Utf16Be
            };
            let bytes = Bytes::Copied(text.into_owned().into_bytes());
            return Self::checked(name, encoding, bytes, 0);
        }
        if let Some((_, length)) = marked {
            return Self::checked(name, Encoding::Utf8WithMark, bytes, length);
        }
        let encoding = if is_utf8(look) {
            Encoding::Utf8
        } else {
            Encoding::Windows1252
        };
        Self::checked(name, encoding, bytes, 0)
    }

    /// Refuses what is no text.
    fn checked(
        name: String,
        encoding: Encoding,
        bytes: Bytes,
        start: usize,
    ) -> Result<Self, LoadError> {
        let source = Self {
            name,
            encoding,
            padding: bytes.all().iter().rev().take_while(|c| **c == 0).count(),
            bytes,
            start,
        };
        let text = source.text();
        let look = &text[..text.len().min(LOOK_BYTES)];
        let file = source.name.clone();
        if !look.is_empty() && is_junk(look, encoding) {
            return Err(LoadError::NotText { file });
        }
        if text.trim_ascii().is_empty() && source.padding == 0 {
            return Err(LoadError::Empty { file });
        }
        if text.trim_ascii().is_empty() {
            return Err(LoadError::NotText { file });
        }
        Ok(source)
    }
}

impl Bytes {
    fn all(&self) -> &[u8] {
        match self {
            Self::Copied(bytes) => bytes,
            Self::Mapped(map) => map,
        }
    }
}

/// Bytes of the file as text for people.
pub(crate) fn words(bytes: &[u8], encoding: Encoding) -> String {
    match encoding {
        Encoding::Windows1252 => WINDOWS_1252
            .decode_without_bom_handling(bytes)
            .0
            .into_owned(),
        _ => String::from_utf8_lossy(bytes).into_owned(),
    }
}

/// UTF-8 up to a letter that the end of the look cut in two.
fn is_utf8(look: &[u8]) -> bool {
    match std::str::from_utf8(look) {
        Ok(_) => true,
        Err(error) => error.error_len().is_none() && look.len() == LOOK_BYTES,
    }
}

/// Formats that are met where a log is expected, by their first bytes.
fn other_format(look: &[u8]) -> Option<(&'static str, &'static str)> {
    const EXPORT: &str = "export the log as CSV";
    const UNPACK: &str = "unpack it and name the CSV inside";
    let known: [(&[u8], &str, &str); 7] = [
        (
            b"PK\x03\x04",
            "a spreadsheet or a zip archive",
            "save or unpack it as CSV",
        ),
        (b"\x1f\x8b", "packed with gzip", UNPACK),
        (b"BZh", "packed with bzip2", UNPACK),
        (b"\xfd7zXZ\0", "packed with xz", UNPACK),
        (b"\x28\xb5\x2f\xfd", "packed with zstd", UNPACK),
        (b"%PDF-", "a PDF", EXPORT),
        (b"\xd0\xcf\x11\xe0", "an old spreadsheet", "save it as CSV"),
    ];
    if let Some((_, what, advice)) = known.iter().find(|known| look.starts_with(known.0)) {
        return Some((what, advice));
    }
    let text = look.strip_prefix(b"\xef\xbb\xbf").unwrap_or(look);
    let mut letters = text.iter().filter(|c| !c.is_ascii_whitespace());
    match (letters.next(), letters.next()) {
        (Some(b'{'), Some(b'"' | b'}')) => Some(("JSON", EXPORT)),
        (Some(b'['), Some(b'{' | b'[' | b']' | b'"' | b'-' | b'0'..=b'9')) => {
            Some(("JSON", EXPORT))
        }
        (Some(b'<'), Some(b'?' | b'!' | b'a'..=b'z' | b'A'..=b'Z')) => {
            Some(("XML or a web page", EXPORT))
        }
        _ => None,
    }
}

/// UTF-16 without a mark shows zero bytes in every other place.
fn wide_without_mark(look: &[u8]) -> Option<&'static Decoder> {
    let zeros = |odd: usize| {
        look.iter()
            .skip(odd)
            .step_by(2)
            .filter(|c| **c == 0)
            .count()
    };
    let (even, odd, half) = (zeros(0), zeros(1), look.len() / 2);
    if half < 4 {
        None
    } else if odd * 10 > half * 8 && even * 10 < half {
        Some(UTF_16LE)
    } else if even * 10 > half * 8 && odd * 10 < half {
        Some(UTF_16BE)
    } else {
        None
    }
}

/// Text has hardly any control characters, and in a Western encoding not many letters past ASCII.
fn is_junk(look: &[u8], encoding: Encoding) -> bool {
    let controls = look
        .iter()
        .filter(|c| **c < b' ' && !matches!(**c, b'\t' | b'\n' | b'\r' | 0x0C | 0x1A))
        .count();
    let high = look.iter().filter(|c| !c.is_ascii()).count();
    controls * 200 > look.len() || (encoding == Encoding::Windows1252 && high * 4 > look.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(bytes: &[u8]) -> Result<Source, LoadError> {
        Source::from_bytes("run.csv", bytes.to_vec())
    }

    fn encoding(bytes: &[u8]) -> Option<(Encoding, Vec<u8>)> {
        let source = source(bytes).ok()?;
        Some((source.encoding, source.text().to_vec()))
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
            b"PK\x03\x04....",
            b"\x1f\x8b....",
        ] {
            assert!(matches!(what(other), Some(LoadError::OtherFormat { .. })));
        }
        assert!(what(b"[Header]\ntime,rpm\n0,1\n").is_none());
        assert!(matches!(what(&[0; 50]), Some(LoadError::NotText { .. })));
    }

    #[test]
    fn space_set_aside_and_never_filled_is_left_out() {
        let text = b"time,rpm\n0,1\n";
        let padded = [&text[..], &[0; 5000]].concat();
        assert_eq!(encoding(&padded), Some((Encoding::Utf8, text.to_vec())));
    }
}
