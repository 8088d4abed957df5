//! Bytes to records and records to fields. The sniffer, the chunk maker and the table pass all use these same rules.
//!
//! A quote opens only at the start of a field, so inch marks and apostrophes inside text do no harm. Inside quotes,
//! delimiters and line ends belong to the field, and a doubled quote is one quote. A field with line ends in it closes where
//! RFC 4180 has it: before a delimiter or a line end. At a quote before anything else, the one that opened was a stray, as the
//! next row has another.

use std::borrow::Cow;

/// An opened quote must close within so many lines and bytes; else it is taken as an ordinary character,
/// so that one torn row cannot swallow the rest of the log.
const QUOTED_LINES: usize = 32;
const QUOTED_BYTES: usize = 1 << 14;

/// The two bytes that part a log into records and fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Shape {
    /// Between fields.
    pub delimiter: u8,
    /// After a record: a line feed, or a carriage return in files that have nothing else.
    pub terminator: u8,
}

/// One record within a run of bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Record {
    /// Its first byte.
    pub start: usize,
    /// Behind its last byte, line end left out.
    pub end: usize,
    /// Where the next record starts.
    pub next: usize,
    /// How many lines of the file it covers.
    pub lines: usize,
}

impl Record {
    /// Its bytes, without carriage returns at the end.
    pub fn text<'a>(&self, bytes: &'a [u8]) -> &'a [u8] {
        let mut text = &bytes[self.start..self.end];
        while let [head @ .., b'\r'] = text {
            text = head;
        }
        text
    }

    /// Whether a line end was there to close it.
    pub const fn is_terminated(&self) -> bool {
        self.next > self.end
    }
}

/// The record that starts at `at`, which must lie inside `bytes`. `quotes` false skips the search for them.
#[inline]
pub(crate) fn record(bytes: &[u8], at: usize, shape: Shape, quotes: bool) -> Record {
    let line = line(bytes, at, shape);
    if quotes && memchr::memchr(b'"', &bytes[line.start..line.end]).is_some() {
        return quoted_record(bytes, line, shape).0;
    }
    line
}

/// Whether the record that starts at `at` opens a quoted field that the data at hand does not settle: more of it may
/// close the field.
pub(crate) fn runs_out(bytes: &[u8], at: usize, shape: Shape) -> bool {
    let first = line(bytes, at, shape);
    if memchr::memchr(b'"', &bytes[first.start..first.end]).is_none() {
        return false;
    }
    let (record, settled) = quoted_record(bytes, first, shape);
    // What closed in a line of which there may be more may go on after all.
    !settled || (record != first && !record.is_terminated())
}

#[inline]
fn line(bytes: &[u8], at: usize, shape: Shape) -> Record {
    let found = memchr::memchr(shape.terminator, &bytes[at..]);
    let end = found.map_or(bytes.len(), |n| at + n);
    Record {
        start: at,
        end,
        next: if found.is_some() { end + 1 } else { end },
        lines: 1,
    }
}

/// Adds the lines that a quoted field runs into. Also whether the data at hand settles it: false where the field was given up
/// because they end.
fn quoted_record(bytes: &[u8], first: Record, shape: Shape) -> (Record, bool) {
    let mut whole = first;
    let mut quotes = Quotes::Start;
    quotes.follow(&bytes[first.start..first.end], shape.delimiter);
    while quotes.are_open() {
        if whole.lines >= QUOTED_LINES || whole.end - whole.start > QUOTED_BYTES {
            return (first, true);
        }
        if !whole.is_terminated() || whole.next >= bytes.len() {
            return (first, false);
        }
        let more = line(bytes, whole.next, shape);
        let text = &bytes[more.start..more.end];
        if !may_close(text, shape.delimiter) {
            return (first, true);
        }
        quotes.follow(text, shape.delimiter);
        whole.end = more.end;
        whole.next = more.next;
        whole.lines += 1;
    }
    (whole, true)
}

/// Whether the first quote of a line that is not one of two closes a field, or there is none.
fn may_close(line: &[u8], delimiter: u8) -> bool {
    let mut at = 0;
    while let Some(found) = memchr::memchr(b'"', &line[at..]) {
        let behind = &line[at + found + 1..];
        if behind.first() != Some(&b'"') {
            let ends = |c: &&u8| **c == delimiter || !matches!(**c, b' ' | b'\t' | b'\r');
            return behind.iter().find(ends).is_none_or(|c| *c == delimiter);
        }
        at += found + 2;
    }
    true
}

/// Where a scan stands with respect to quotes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Quotes {
    /// Before the first character of a field.
    Start,
    /// In a field, quotes being ordinary there.
    Plain,
    Inside,
    /// Behind a quote that closes the field, or is the first of a doubled one.
    Closing,
}

impl Quotes {
    /// Takes the bytes of a line.
    fn follow(&mut self, line: &[u8], delimiter: u8) {
        for c in line {
            self.step(*c, delimiter);
        }
    }

    /// Takes one byte; true if it is a delimiter that parts fields.
    fn step(&mut self, c: u8, delimiter: u8) -> bool {
        let parts = *self != Self::Inside && c == delimiter;
        *self = match (*self, c) {
            _ if parts => Self::Start,
            (Self::Inside, b'"') => Self::Closing,
            (Self::Start | Self::Closing, b'"') | (Self::Inside, _) => Self::Inside,
            (Self::Start, b' ' | b'\t') => Self::Start,
            _ => Self::Plain,
        };
        parts
    }

    /// Whether the field still runs on.
    fn are_open(self) -> bool {
        self == Self::Inside
    }
}

/// The record that starts at `at`, with the places of its first delimiters written to `cuts`: at least so many of them as
/// the first `wanted` fields have, or all. Gives the record and how many delimiters it has altogether.
#[inline]
pub(crate) fn record_and_cuts(
    bytes: &[u8],
    at: usize,
    shape: Shape,
    quotes: bool,
    wanted: usize,
    cuts: &mut Vec<u32>,
) -> (Record, usize) {
    let line = line(bytes, at, shape);
    let text = line.text(bytes);
    // Nearly all quoted fields end in their own line: one scan then does for the record and for its fields.
    if quotes && memchr::memchr(b'"', text).is_some() {
        if split_quoted(text, shape.delimiter, cuts) {
            return (line, cuts.len());
        }
        let (whole, _) = quoted_record(bytes, line, shape);
        split(whole.text(bytes), shape.delimiter, true, cuts);
        return (whole, cuts.len());
    }
    cuts.clear();
    let seen = split_plain(text, shape.delimiter, wanted, cuts);
    // What lies behind the last field that somebody asked for is only counted.
    let rest = memchr::memchr_iter(shape.delimiter, &text[seen..]).count();
    let count = cuts.len() + rest;
    (line, count)
}

/// The same for a line of which it is known that no field runs over its end.
pub(crate) fn line_and_cuts(
    bytes: &[u8],
    at: usize,
    shape: Shape,
    cuts: &mut Vec<u32>,
) -> (Record, usize) {
    let line = line(bytes, at, shape);
    split(line.text(bytes), shape.delimiter, true, cuts);
    (line, cuts.len())
}

/// Writes the places of the delimiters in a record to `cuts`.
pub(crate) fn split(text: &[u8], delimiter: u8, quotes: bool, cuts: &mut Vec<u32>) {
    if quotes && memchr::memchr(b'"', text).is_some() {
        split_quoted(text, delimiter, cuts);
        return;
    }
    cuts.clear();
    split_plain(text, delimiter, usize::MAX, cuts);
}

/// Minds the quotes; false if one is never closed, so that it was an ordinary character after all.
fn split_quoted(text: &[u8], delimiter: u8, cuts: &mut Vec<u32>) -> bool {
    cuts.clear();
    let mut state = Quotes::Start;
    for (at, c) in text.iter().enumerate() {
        if state.step(*c, delimiter) {
            cuts.push(place(at));
        }
    }
    if state.are_open() {
        // The fields before the one with the stray quote stay what they are.
        let from = cuts.last().map_or(0, |cut| *cut as usize + 1);
        let rest = memchr::memchr_iter(delimiter, &text[from..]);
        cuts.extend(rest.map(|at| place(from + at)));
    }
    !state.are_open()
}

/// Records longer than 4 GiB do not happen: they would be one field of one row.
#[inline]
fn place(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

const LOW: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x8080_8080_8080_8080;

/// Looks at 64 bytes at a time: most fields are so short that a search from one delimiter to the next would
/// spend its time starting up. Stops behind a block once there are `wanted` cuts; gives the bytes looked at.
fn split_plain(text: &[u8], delimiter: u8, wanted: usize, cuts: &mut Vec<u32>) -> usize {
    let pattern = LOW * u64::from(delimiter);
    let mut blocks = text.chunks_exact(64);
    let mut base = 0_u32;
    for block in &mut blocks {
        let mut mask = 0_u64;
        for (n, word) in block.chunks_exact(8).enumerate() {
            let mut bytes = [0_u8; 8];
            bytes.copy_from_slice(word);
            // Exact test for zero bytes, then the eight top bits gathered into one byte.
            let odd = u64::from_le_bytes(bytes) ^ pattern;
            let zero = !(((odd & !HIGH).wrapping_add(!HIGH)) | odd | !HIGH);
            mask |= ((zero >> 7).wrapping_mul(0x0102_0408_1020_4080) >> 56) << (8 * n);
        }
        while mask != 0 {
            cuts.push(base + mask.trailing_zeros());
            mask &= mask - 1;
        }
        base += 64;
        if cuts.len() >= wanted {
            return base as usize;
        }
    }
    for (at, c) in blocks.remainder().iter().enumerate() {
        if *c == delimiter {
            cuts.push(base + place(at));
        }
    }
    text.len()
}

/// Field `n` of a record, counted from 0; `None` past the end.
#[inline]
pub(crate) fn field<'a>(text: &'a [u8], cuts: &[u32], n: usize) -> Option<&'a [u8]> {
    let (start, end) = ends(text, cuts, n)?;
    text.get(start..end)
}

/// Where field `n` of a record starts, and the place behind it.
#[inline]
pub(crate) fn ends(text: &[u8], cuts: &[u32], n: usize) -> Option<(usize, usize)> {
    let start = match n {
        0 => 0,
        _ => *cuts.get(n - 1)? as usize + 1,
    };
    let end = cuts.get(n).map_or(text.len(), |cut| *cut as usize);
    Some((start, end))
}

/// All fields of a record.
pub(crate) fn all(text: &[u8], shape: Shape) -> Vec<&[u8]> {
    let mut cuts = Vec::new();
    split(text, shape.delimiter, true, &mut cuts);
    (0..=cuts.len())
        .filter_map(|n| field(text, &cuts, n))
        .collect()
}

/// A field as text: outer blanks and quotes gone, doubled quotes single.
pub(crate) fn unquote(field: &str) -> Cow<'_, str> {
    let text = field.trim();
    let inner = text.strip_prefix('"').and_then(|t| t.strip_suffix('"'));
    match inner {
        Some(inner) if inner.contains("\"\"") => Cow::Owned(inner.trim().replace("\"\"", "\"")),
        Some(inner) => Cow::Borrowed(inner.trim()),
        None => Cow::Borrowed(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMA: Shape = Shape {
        delimiter: b',',
        terminator: b'\n',
    };

    fn fields(text: &str) -> Vec<String> {
        let fields = all(text.as_bytes(), COMMA);
        fields
            .iter()
            .map(|f| unquote(&String::from_utf8_lossy(f)).into_owned())
            .collect()
    }

    #[test]
    fn quoted_and_padded_fields() {
        assert_eq!(fields("a,b,c"), ["a", "b", "c"]);
        assert_eq!(fields(" a , \"b, c\" ,\"\""), ["a", "b, c", ""]);
        assert_eq!(fields("\"say \"\"hot\"\"\",1"), ["say \"hot\"", "1"]);
        assert_eq!(fields("6\" pipe,2"), ["6\" pipe", "2"]);
        assert_eq!(fields("\"open,2"), ["\"open", "2"]);
        assert_eq!(fields("a,"), ["a", ""]);
        assert_eq!(fields(""), [""]);
    }

    /// The blockwise search against one byte at a time, over every byte value and block border.
    #[test]
    fn blockwise_split_finds_what_a_plain_loop_finds() {
        let mut state = 3_u32;
        for length in 0..300 {
            let text: Vec<u8> = (0..length)
                .map(|_| {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    let c = (state >> 24) as u8;
                    if c.is_multiple_of(5) { b';' } else { c }
                })
                .collect();
            for delimiter in [b';', b',', 0, 0x80, 0xFF, b';' ^ 1] {
                let mut cuts = Vec::new();
                split_plain(&text, delimiter, usize::MAX, &mut cuts);
                let wanted: Vec<u32> = (0..length)
                    .filter(|n| text[*n as usize] == delimiter)
                    .collect();
                assert_eq!(cuts, wanted);
                let mut some = Vec::new();
                let shape = Shape {
                    delimiter,
                    terminator: b'\n',
                };
                if !text.contains(&b'\n') && !text.ends_with(b"\r") && !text.is_empty() {
                    let (_, count) = record_and_cuts(&text, 0, shape, false, 3, &mut some);
                    assert_eq!((count, &wanted[..some.len()]), (wanted.len(), &some[..]));
                    assert!(some.len() >= wanted.len().min(3));
                }
            }
        }
    }

    #[test]
    fn a_quoted_line_end_belongs_to_the_record() {
        let bytes = b"1,\"two\nlines\",3\r\n4,5,6";
        let first = record(bytes, 0, COMMA, true);
        assert_eq!(first.text(bytes), b"1,\"two\nlines\",3");
        assert_eq!((first.lines, first.next), (2, 17));
        let second = record(bytes, first.next, COMMA, true);
        assert_eq!(second.text(bytes), b"4,5,6");
        assert!(!second.is_terminated());
    }

    #[test]
    fn an_unclosed_quote_costs_one_line() {
        let bytes = b"1,\"2\n3,4\n5,6\n";
        let first = record(bytes, 0, COMMA, true);
        assert_eq!((first.lines, first.next), (1, 5));
    }
}
