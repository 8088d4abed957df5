//! What the first bytes of a file show: how they stand for letters, or that they are no text.

use encoding_rs::{Encoding as Decoder, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::dialect::Encoding;

/// How much of the file shows what it is.
pub(super) const LOOK_BYTES: usize = 1 << 16;

/// What the first bytes show, and how many of them are a mark.
pub(super) fn encoding_of(look: &[u8]) -> (Encoding, usize) {
    let marked = Decoder::for_bom(look);
    let wide = match marked {
        Some((decoder, _)) => (decoder != UTF_8).then_some(decoder),
        None => wide_without_mark(look),
    };
    match (wide, marked) {
        (Some(decoder), _) if decoder == UTF_16LE => (Encoding::Utf16Le, 0),
        (Some(_), _) => (Encoding::Utf16Be, 0),
        (None, Some((_, length))) => (Encoding::Utf8WithMark, length),
        (None, None) if is_utf8(look) => (Encoding::Utf8, 0),
        (None, None) => (Encoding::Windows1252, 0),
    }
}

/// The mark to skip where the sheet forces the encoding.
pub(super) fn mark_of(look: &[u8], forced: Encoding) -> usize {
    match (forced, Decoder::for_bom(look)) {
        (Encoding::Utf8 | Encoding::Utf8WithMark, Some((decoder, length))) if decoder == UTF_8 => {
            length
        }
        _ => 0,
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
pub(super) fn other_format(look: &[u8]) -> Option<(&'static str, &'static str)> {
    const EXPORT: &str = "export the log as CSV";
    const UNPACK: &str = "unpack it and name the CSV inside";
    let known: [(&[u8], &str, &str); 9] = [
        (b"PK\x03\x04", "packed twice", UNPACK),
        (b"\x1f\x8b", "packed twice", UNPACK),
        (b"\x28\xb5\x2f\xfd", "packed twice", UNPACK),
        (b"7z\xbc\xaf\x27\x1c", "packed with 7z", UNPACK),
        (b"Rar!", "packed with rar", UNPACK),
        (b"BZh", "packed with bzip2", UNPACK),
        (b"\xfd7zXZ\0", "packed with xz", UNPACK),
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

/// So many zero bytes in a row are a hole that a power cut left in a text.
const HOLE: usize = 64;

/// Text has hardly any control characters but in holes, and in a Western encoding not many letters past ASCII.
pub(super) fn is_junk(look: &[u8], encoding: Encoding) -> bool {
    let controls = look
        .iter()
        .filter(|c| **c < b' ' && !matches!(**c, b'\t' | b'\n' | b'\r' | 0x0C | 0x1A))
        .count();
    let zeros = look.chunk_by(|a, b| (*a == 0) == (*b == 0));
    let holes = zeros.filter(|run| run[0] == 0 && run.len() >= HOLE);
    let holes: usize = holes.map(<[u8]>::len).sum();
    let (controls, length) = (controls - holes, look.len() - holes);
    let high = look.iter().filter(|c| !c.is_ascii()).count();
    length == 0
        || controls * 200 > length
        || (encoding == Encoding::Windows1252 && high * 4 > length)
}
