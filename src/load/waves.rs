//! The text of a log in waves of whole records: while one is worked on, the next is read.

use std::io::Read;

use super::TINY;
use super::chunks::{Chunk, chunks};
use super::fields::Shape;
use super::piece::{Piece, end_of_both, note_read};

/// Bytes read at a time: enough work for all cores, and little enough to stay near them.
const WAVE_BYTES: usize = if TINY { 2_000 } else { 1 << 23 };
/// A line longer than this is no row of a log; its end is left out, so that it cannot fill the memory.
const LONGEST_LINE: usize = if TINY { 1 << 15 } else { 1 << 28 };

/// Whole records, cut up for several cores.
pub(crate) struct Wave<'a> {
    /// The text; chunks count their bytes from its start.
    pub text: &'a [u8],
    pub chunks: &'a [Chunk],
    /// Lines of the data before it.
    pub lines_before: usize,
    /// What stands above it.
    pub above: &'a [u8],
    /// Whether nothing follows, so that a record without a line end may be cut short.
    pub last: bool,
    /// Whether the text broke off behind it.
    pub broken: bool,
}

impl Wave<'_> {
    pub fn piece(&self, chunk: &Chunk) -> Piece<'_> {
        let last = self.last && chunk.end == self.text.len();
        let above = match last {
            true => end_of_both(self.above, &self.text[..chunk.start]),
            false => Vec::new(),
        };
        Piece {
            text: &self.text[chunk.start..chunk.end],
            above,
            lines: chunk.lines,
            quotes: chunk.quotes,
            last,
            broken: self.broken,
        }
    }
}

/// Runs over the text after its first `skip` bytes, wave by wave and in order. `Err` holds what broke off the text;
/// all that came before the break has been handed over.
pub(crate) fn for_each_wave(
    mut text: impl Read + Send,
    skip: usize,
    shape: Shape,
    mut each: impl FnMut(&Wave) + Send,
) -> Result<(), std::io::Error> {
    let mut feed = Feed {
        text: &mut text,
        over: false,
        broke: None,
    };
    feed.skip(skip);
    let (mut now, mut next) = (Vec::new(), Vec::new());
    feed.fill(&mut now, WAVE_BYTES);
    let (mut lines_before, mut above) = (0, Vec::new());
    loop {
        let last = feed.over;
        let cut = chunks(&now, shape, last);
        let used = cut.last().map_or(0, |chunk| chunk.end);
        if used == 0 && !last && now.len() < LONGEST_LINE {
            feed.fill(&mut now, WAVE_BYTES);
            continue;
        }
        // A line that does not end is handed over as far as it goes, and will be reported as no row.
        let endless = used == 0;
        let (cut, used) = if endless {
            (chunks(&now, shape, true), now.len())
        } else {
            (cut, used)
        };
        let wave = Wave {
            text: &now[..used],
            chunks: &cut,
            lines_before,
            above: &above,
            last,
            broken: last && feed.broke.is_some(),
        };
        next.clear();
        next.extend_from_slice(&now[used..]);
        rayon::join(|| each(&wave), || feed.fill(&mut next, WAVE_BYTES));
        note_read(used as u64);
        lines_before += cut.iter().map(|chunk| chunk.lines).sum::<usize>();
        if last {
            return feed.broke.map_or(Ok(()), Err);
        }
        above = end_of_both(&above, &now[..used]);
        std::mem::swap(&mut now, &mut next);
        if endless {
            feed.pass_line(&mut now, shape.terminator);
        }
    }
}

/// Reads on until a buffer holds so many more bytes.
struct Feed<'a, R> {
    text: &'a mut R,
    over: bool,
    broke: Option<std::io::Error>,
}

impl<R: Read> Feed<'_, R> {
    fn fill(&mut self, into: &mut Vec<u8>, more: usize) {
        if self.over {
            return;
        }
        let before = into.len();
        let got = self.text.take(more as u64).read_to_end(into);
        self.over = into.len() - before < more;
        self.broke = got.err();
    }

    /// Reads on behind the line that a buffer begins in the middle of.
    fn pass_line(&mut self, into: &mut Vec<u8>, terminator: u8) {
        loop {
            let end = memchr::memchr(terminator, into).map(|n| n + 1);
            let passed = end.unwrap_or(into.len());
            note_read(passed as u64);
            into.drain(..passed);
            if end.is_some() || self.over {
                return;
            }
            self.fill(into, WAVE_BYTES);
        }
    }

    fn skip(&mut self, bytes: usize) {
        let copied = std::io::copy(&mut self.text.take(bytes as u64), &mut std::io::sink());
        if let Err(error) = copied {
            (self.over, self.broke) = (true, Some(error));
        }
    }
}
