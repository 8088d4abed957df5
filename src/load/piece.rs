//! A piece of the text of a log, as whoever works on it gets it.

use std::sync::atomic::{AtomicU64, Ordering};

/// Bytes of text that were worked on in this process, for whoever watches.
static READ: AtomicU64 = AtomicU64::new(0);

/// Bytes of text of logs that were worked on since the program began; what is gone over twice counts twice.
pub fn bytes_read() -> u64 {
    READ.load(Ordering::Relaxed)
}

pub(super) fn note_read(bytes: u64) {
    READ.fetch_add(bytes, Ordering::Relaxed);
}

/// So much of what stands above a row tells how its cells are written.
pub(super) const ABOVE: usize = 1 << 16;

/// Whole records, one after the other.
#[derive(Clone, Debug)]
pub(crate) struct Piece<'a> {
    pub text: &'a [u8],
    /// What stands above it, as far as somebody may ask for it: for the last piece alone.
    pub above: Vec<u8>,
    /// Lines in it, which is also the most rows it can hold.
    pub lines: usize,
    /// Whether there is a quote anywhere in it.
    pub quotes: bool,
    /// Whether nothing follows, so that a record without a line end may be cut short.
    pub last: bool,
    /// Whether the text broke off behind it.
    pub broken: bool,
}

impl Piece<'_> {
    /// What stands above its record that starts at `at`, wherever the piece begins.
    pub fn above(&self, at: usize) -> Vec<u8> {
        end_of_both(&self.above, &self.text[..at])
    }
}

/// What somebody may ask for of two texts that follow each other.
pub(super) fn end_of_both(first: &[u8], second: &[u8]) -> Vec<u8> {
    let end = |text: &[u8], most: usize| text[text.len().saturating_sub(most)..].to_vec();
    let second = end(second, ABOVE);
    [end(first, ABOVE - second.len()), second].concat()
}
