//! UTF-16 to UTF-8 as it is read.

use std::io::{self, Read};

use encoding_rs::{CoderResult, Decoder};

/// Bytes taken from the file at a time.
const PIECE: usize = 1 << 16;
/// Room that the decoder wants for one letter.
const LEAST: usize = 8;

/// A reader of UTF-8 over one of another encoding. Broken pairs become the replacement letter, as cells that are no
/// numbers then show.
pub(crate) struct Narrow<R> {
    inner: R,
    decoder: Decoder,
    raw: Vec<u8>,
    at: usize,
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
            over: false,
            done: false,
        }
    }
}

impl<R: Read> Read for Narrow<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.done || into.is_empty() {
            return Ok(0);
        }
        if into.len() < LEAST {
            return Err(io::Error::other("too little room for one letter"));
        }
        loop {
            if self.at == self.raw.len() && !self.over {
                self.raw.resize(PIECE, 0);
                let count = self.inner.read(&mut self.raw)?;
                self.raw.truncate(count);
                self.at = 0;
                self.over = count == 0;
            }
            let (result, read, written, _) =
                self.decoder
                    .decode_to_utf8(&self.raw[self.at..], into, self.over);
            self.at += read;
            // A decoder that has finished may not be asked again.
            self.done = self.over && result == CoderResult::InputEmpty;
            if written > 0 || self.done {
                return Ok(written);
            }
        }
    }
}
