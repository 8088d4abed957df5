//! UTF-16 to UTF-8 as it is read.

use std::io::{self, Read};

use encoding_rs::{CoderResult, Decoder};

/// Bytes taken from the file at a time.
const PIECE: usize = 1 << 16;
/// A caller who asks for less gets it from a store, since the decoder wants room for a letter and more.
const STORE: usize = 1 << 10;

/// A reader of UTF-8 over one of another encoding. Broken pairs become the replacement letter, as cells that are no
/// numbers then show.
pub(crate) struct Narrow<R> {
    inner: R,
    decoder: Decoder,
    raw: Vec<u8>,
    at: usize,
    /// What was decoded and not handed on, and how much of it was.
    store: Vec<u8>,
    handed: usize,
    over: bool,
    done: bool,
}

impl<R: Read> Narrow<R> {
    pub fn new(inner: R, encoding: &'static encoding_rs::Encoding) -> Self {
        Self {
            inner,
            decoder: encoding.new_decoder_with_bom_removal(),
            raw: Vec::new(),
            at: 0,
            store: Vec::new(),
            handed: 0,
            over: false,
            done: false,
        }
    }

    /// Decodes what comes next. Nothing comes any more where it gives zero.
    fn decode(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while !self.done {
            if self.at == self.raw.len() && !self.over {
                self.raw.resize(PIECE, 0);
                let count = self.inner.read(&mut self.raw);
                self.raw.truncate(count.as_ref().map_or(0, |count| *count));
                self.at = 0;
                self.over = count? == 0;
            }
            let (result, read, written, _) =
                self.decoder
                    .decode_to_utf8(&self.raw[self.at..], into, self.over);
            self.at += read;
            // A decoder that has finished may not be asked again.
            self.done = self.over && result == CoderResult::InputEmpty;
            if written > 0 {
                return Ok(written);
            }
        }
        Ok(0)
    }
}

impl<R: Read> Read for Narrow<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if into.is_empty() {
            return Ok(0);
        }
        if self.handed == self.store.len() {
            if into.len() >= STORE {
                return self.decode(into);
            }
            let mut store = std::mem::take(&mut self.store);
            store.resize(STORE, 0);
            let decoded = self.decode(&mut store);
            store.truncate(decoded.as_ref().map_or(0, |count| *count));
            (self.store, self.handed) = (store, 0);
            decoded?;
        }
        let left = &self.store[self.handed..];
        let count = into.len().min(left.len());
        into[..count].copy_from_slice(&left[..count]);
        self.handed += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use encoding_rs::{Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};

    use super::*;

    /// Gives at most so many bytes at a time.
    struct Dribble<'a>(&'a [u8], usize);

    impl Read for Dribble<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let count = into.len().min(self.0.len()).min(self.1);
            into[..count].copy_from_slice(&self.0[..count]);
            self.0 = &self.0[count..];
            Ok(count)
        }
    }

    /// Reads a text by so many bytes at a time.
    fn read_by(bytes: &[u8], encoding: &'static Encoding, given: usize, taken: usize) -> Vec<u8> {
        let mut narrow = Narrow::new(Dribble(bytes, given), encoding);
        let (mut text, mut piece) = (Vec::new(), vec![0; taken]);
        loop {
            match narrow.read(&mut piece) {
                Ok(0) => return text,
                Ok(count) => text.extend_from_slice(&piece[..count]),
                Err(error) => panic!("{error}"),
            }
        }
    }

    /// The standard library makes the UTF-16 and reads it back: what comes out is what went in, however it is asked for.
    #[test]
    fn small_reads_give_the_same_text() {
        let line = |n: usize| {
            let odd = ["e", "\u{e9}", "\u{20ac}", "\u{1f525}", "\u{c3}\u{b6}"][n % 5];
            format!("{n},{}{odd}\r\n", "\u{b0}".repeat(n % 7))
        };
        let text: String = (0..400).map(line).collect();
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        for (bytes, encoding) in [(&little, UTF_16LE), (&big, UTF_16BE)] {
            for taken in [1, 2, 3, 7, 8, 31, 1023, 1024, 1025, 70_000] {
                for given in [1, 3, 5000] {
                    let got = read_by(bytes, encoding, given, taken);
                    assert_eq!(got, text.as_bytes(), "{taken} bytes at a time of {given}");
                }
            }
        }
    }

    #[test]
    fn a_broken_end_shows_as_such() {
        // Half a pair, and half a letter.
        for bytes in [&b"1\0,\0\x3d\xd8"[..], b"1\0,\0\x3d"] {
            for taken in [1, 3, 2000] {
                let got = read_by(bytes, UTF_16LE, 100, taken);
                assert_eq!(got, "1,\u{fffd}".as_bytes());
            }
        }
        assert_eq!(
            read_by(b"5 \xb0C", WINDOWS_1252, 1, 1),
            "5 \u{b0}C".as_bytes()
        );
        assert_eq!(read_by(b"", UTF_16LE, 1, 1), b"");
    }
}
