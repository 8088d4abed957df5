//! The text of a plain file in pieces of whole records: each core reads a piece to a place of its own and works on it
//! there, while it is near. What comes out is handed on in the order of the log.
//!
//! Where a record starts is known only from the one before it. Nearly always that is behind a line end, so each piece
//! takes that for granted, and it is found out in order whether it was right. If not, because of a quoted field with line
//! ends in it, the pieces give up and the text has to be gone through from its start, as [`super::waves`] does.

use std::fs::File;
use std::io;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::TINY;
use super::chunks::{lines, walk};
use super::fields::Shape;
use super::in_order::InOrder;
use super::piece::{ABOVE, Piece, note_read};

/// Bytes read beyond a piece at first, for the end of its last record.
const AHEAD: u64 = if TINY { 16 } else { 1 << 14 };
/// A record that runs on further than this beyond its piece is left to those who go through the text from its start.
const FURTHEST: u64 = if TINY { 1 << 12 } else { 1 << 24 };
/// Finished pieces for each core that may wait for one before them.
const WAITING: usize = 4;

/// Plain text, any part of which can be read.
#[derive(Debug)]
pub(crate) struct Plain {
    pub bytes: Bytes,
    /// The first byte of the text in it.
    pub start: u64,
    /// Behind the last one.
    pub end: u64,
}

impl Plain {
    /// What stands before a place.
    fn above(&self, place: u64) -> Vec<u8> {
        let mut room = Vec::new();
        let mut held = Held {
            room: &mut room,
            filled: 0,
            over: false,
            broke: None,
        };
        let from = place.saturating_sub(ABOVE as u64).max(self.start);
        held.fill(self, from, place);
        let filled = held.filled;
        room.truncate(filled);
        room
    }
}

/// Where the bytes lie.
#[derive(Debug)]
pub(crate) enum Bytes {
    Memory(Arc<[u8]>),
    #[cfg_attr(not(unix), expect(dead_code, reason = "read in waves there"))]
    File(File),
}

impl Bytes {
    fn read_at(&self, into: &mut [u8], at: u64) -> io::Result<usize> {
        match self {
            Self::Memory(bytes) => {
                let rest = usize::try_from(at).ok().and_then(|at| bytes.get(at..));
                let rest = rest.unwrap_or_default();
                let count = rest.len().min(into.len());
                into[..count].copy_from_slice(&rest[..count]);
                Ok(count)
            }
            #[cfg(unix)]
            Self::File(file) => std::os::unix::fs::FileExt::read_at(file, into, at),
            #[cfg(not(unix))]
            Self::File(_) => Err(io::ErrorKind::Unsupported.into()),
        }
    }
}

/// Large enough to be worth a turn, small enough to stay in a core's own memory with what is made of it.
fn piece_bytes(total: u64) -> u64 {
    if TINY {
        return 100;
    }
    (total / (rayon::current_num_threads() as u64 * 8)).clamp(1 << 16, 1 << 20)
}

/// How it went.
#[derive(Debug)]
pub(crate) enum Outcome {
    /// All pieces were handed over, up to where the text broke off.
    Over(Option<io::Error>),
    /// The pieces could not be told apart; what was handed over counts for nothing.
    GaveUp,
}

/// Works on all pieces of a text on all cores. `add` gets what came of each, in order, with the lines before it. Neither of
/// the two may wait for other threads, as all of rayon's words do: those may be waiting here for this piece.
pub(crate) fn for_each_piece<T: Send>(
    plain: &Plain,
    shape: Shape,
    work: impl Fn(&Piece) -> T + Sync,
    mut add: impl FnMut(T, usize) + Send,
) -> Outcome {
    let total = plain.end.saturating_sub(plain.start);
    let size = piece_bytes(total);
    let count = total.div_ceil(size);
    let (mut at, mut lines_before, mut outcome) = (plain.start, 0, Outcome::Over(None));
    let take = |read: Result<Worked<T>, Without>| {
        outcome = match read {
            Ok(worked) if worked.place.0 == at => {
                note_read(worked.place.1 - at);
                at = worked.place.1;
                add(worked.made, lines_before);
                lines_before += worked.lines;
                Outcome::Over(worked.broke)
            }
            Ok(_) | Err(Without::Border) => Outcome::GaveUp,
            Err(Without::Start(broke)) => Outcome::Over(broke),
        };
        match outcome {
            Outcome::Over(None) => ControlFlow::Continue(()),
            _ => ControlFlow::Break(()),
        }
    };
    let threads = rayon::current_num_threads();
    let line = InOrder::new(take, threads * WAITING);
    let next = AtomicU64::new(0);
    let turn = || {
        let _guard = line.end_on_panic();
        let mut room = Vec::new();
        while line.wants_more() {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= count {
                return;
            }
            let begin = plain.start + number * size;
            let end = (begin + size).min(plain.end);
            let read = read_piece(plain, shape, (begin, end), &mut room);
            line.hand_in(number, read.map(|read| read.worked_on(&work)));
        }
    };
    rayon::scope(|scope| (0..threads).for_each(|_| scope.spawn(|_| turn())));
    drop(line);
    outcome
}

/// A piece as it was read.
struct Read<'a> {
    piece: Piece<'a>,
    /// Its first byte in the file, and the one behind its last.
    place: (u64, u64),
    broke: Option<io::Error>,
}

impl Read<'_> {
    fn worked_on<T>(self, work: &impl Fn(&Piece) -> T) -> Worked<T> {
        Worked {
            made: work(&self.piece),
            lines: self.piece.lines,
            place: self.place,
            broke: self.broke,
        }
    }
}

/// What came of a piece.
struct Worked<T> {
    made: T,
    lines: usize,
    place: (u64, u64),
    broke: Option<io::Error>,
}

/// Why there is no piece.
enum Without {
    /// No record starts here; what broke off the text, if something did.
    Start(Option<io::Error>),
    /// It is not known where the last record ends.
    Border,
}

/// Reads the records that start from `begin` to before `end`.
fn read_piece<'a>(
    plain: &Plain,
    shape: Shape,
    (begin, end): (u64, u64),
    room: &'a mut Vec<u8>,
) -> Result<Read<'a>, Without> {
    // The byte before tells whether a record starts with the first one.
    let from = begin - u64::from(begin > plain.start);
    let own = (end - from) as usize;
    let mut ahead = AHEAD;
    let mut held = Held {
        room,
        filled: 0,
        over: false,
        broke: None,
    };
    held.fill(plain, from, end + ahead);
    let line_end = |text: &[u8]| memchr::memchr(shape.terminator, text).map(|n| n + 1);
    let mine = &held.text()[..held.filled.min(own)];
    let start = match begin == from {
        true => Some(0),
        false => line_end(mine),
    };
    let Some(start) = start.filter(|start| *start < mine.len()) else {
        return Err(Without::Start(held.broke));
    };
    let mut looked = own - 1;
    let stop = loop {
        let rest = held.text().get(looked..).unwrap_or_default();
        if let Some(found) = line_end(rest).filter(|_| end < plain.end) {
            break looked + found;
        }
        if held.over {
            break held.filled;
        }
        if ahead >= FURTHEST {
            return Err(Without::Border);
        }
        looked = held.filled;
        ahead *= 4;
        held.fill(plain, from, end + ahead);
    };
    let last = held.over && stop == held.filled;
    let broke = held.broke.take().filter(|_| last);
    let (over, all) = (held.over, held.into_text());
    let text = &all[start..stop];
    let place = (from + start as u64, from + stop as u64);
    let above = match last && text.last() != Some(&shape.terminator) {
        true => plain.above(place.0),
        false => Vec::new(),
    };
    let quotes = memchr::memchr(b'"', text).is_some();
    let lines = if quotes {
        let walked = walk(all, shape, start, stop, over);
        if walked.end != stop {
            return Err(Without::Border);
        }
        walked.lines
    } else {
        lines(text, shape.terminator)
    };
    Ok(Read {
        piece: Piece {
            text,
            above,
            lines,
            quotes,
            last,
            broken: broke.is_some(),
        },
        place,
        broke,
    })
}

/// Text in hand.
struct Held<'a> {
    room: &'a mut Vec<u8>,
    filled: usize,
    /// Whether there is no more of it.
    over: bool,
    broke: Option<io::Error>,
}

impl<'a> Held<'a> {
    fn text(&self) -> &[u8] {
        &self.room[..self.filled]
    }

    fn into_text(self) -> &'a [u8] {
        &self.room[..self.filled]
    }

    /// Reads on to before `end`; the first byte in hand is that at `from`.
    fn fill(&mut self, plain: &Plain, from: u64, end: u64) {
        let wanted = (end.min(plain.end) - from) as usize;
        if self.room.len() < wanted {
            self.room.resize(wanted, 0);
        }
        while self.filled < wanted && !self.over {
            let at = from + self.filled as u64;
            match plain.bytes.read_at(&mut self.room[self.filled..wanted], at) {
                Ok(0) => self.over = true,
                Ok(count) => self.filled += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => (self.over, self.broke) = (true, Some(error)),
            }
        }
        self.over |= from + self.filled as u64 >= plain.end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::fields::record;

    const COMMA: Shape = Shape {
        delimiter: b',',
        terminator: b'\n',
    };

    fn plain(text: &str, start: u64) -> Plain {
        Plain {
            bytes: Bytes::Memory(text.as_bytes().into()),
            start,
            end: text.len() as u64,
        }
    }

    /// Of one piece: lines before it, lines in it, and whether it is the last.
    type Seen = (usize, usize, bool);

    /// What the pieces of a text hold, put together; nothing where they gave up.
    fn pieces(text: &str, start: u64) -> Option<(String, Vec<Seen>)> {
        let (mut all, mut seen) = (String::new(), Vec::new());
        let outcome = for_each_piece(
            &plain(text, start),
            COMMA,
            |piece| {
                let text = String::from_utf8_lossy(piece.text).into_owned();
                (text, piece.lines, piece.last)
            },
            |(text, lines, last), before| {
                all.push_str(&text);
                seen.push((before, lines, last));
            },
        );
        match outcome {
            Outcome::Over(None) => Some((all, seen)),
            Outcome::Over(Some(error)) => panic!("{error}"),
            Outcome::GaveUp => None,
        }
    }

    #[test]
    fn pieces_are_the_text() {
        let mut state = 7_u32;
        let mut draw = |most: u32| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) % most
        };
        let mut gave_up = 0;
        for turn in 0..300 {
            let mut text = String::new();
            for _ in 0..draw(40) {
                let length = if draw(9) == 0 { 400 } else { 60 };
                for _ in 0..draw(length) {
                    text.push(char::from(b"0123456789,. "[draw(13) as usize]));
                }
                if turn % 3 == 0 && draw(6) == 0 {
                    text.push_str(",\"in\n\nside\",");
                }
                text.push('\n');
            }
            if turn % 2 == 0 {
                text.push_str("no line end");
            }
            let start = text.find('\n').map_or(0, |at| at as u64 + 1);
            let Some((all, seen)) = pieces(&text, start) else {
                gave_up += 1;
                continue;
            };
            let wanted = &text[start as usize..];
            assert_eq!(all, wanted);
            let (mut at, mut lines) = (0, 0);
            while at < wanted.len() {
                let next = record(wanted.as_bytes(), at, COMMA, true);
                (at, lines) = (next.next, lines + next.lines);
            }
            assert_eq!(seen.iter().map(|piece| piece.1).sum::<usize>(), lines);
            let mut before = 0;
            for (n, piece) in seen.iter().enumerate() {
                assert_eq!((piece.0, piece.2), (before, n + 1 == seen.len()));
                before += piece.1;
            }
        }
        assert!((1..60).contains(&gave_up), "{gave_up}");
    }

    #[test]
    fn a_quoted_field_over_a_border_is_left_to_others() {
        let text = format!("{}1,\"two\nlines\"\n3,4\n", "1,2\n".repeat(24));
        assert_eq!(&text[96..100], "1,\"t");
        assert!(pieces(&text, 0).is_none());
        // Nothing but line ends of records near the border.
        let text = format!("1,\"two\nlines\"\n{}", "1,2\n".repeat(60));
        assert_eq!(pieces(&text, 0).map(|found| found.0), Some(text));
    }

    #[test]
    fn a_record_that_does_not_end_is_left_to_others() {
        let text = format!("1,2\n{}\n3,4\n", "x".repeat(3_000));
        assert_eq!(pieces(&text, 0).map(|found| found.0), Some(text));
        let text = format!("1,2\n{}\n3,4\n", "x".repeat(30_000));
        assert!(pieces(&text, 0).is_none());
    }

    #[test]
    fn a_text_shorter_than_it_was_ends_early() {
        let text = "1,2\n".repeat(60) + "3,";
        let short = Plain {
            end: 10_000,
            ..plain(&text, 0)
        };
        let (mut all, mut last) = (String::new(), false);
        let outcome = for_each_piece(
            &short,
            COMMA,
            |piece| (String::from_utf8_lossy(piece.text).into_owned(), piece.last),
            |(text, is_last), _| {
                all.push_str(&text);
                last = is_last;
            },
        );
        assert!(matches!(outcome, Outcome::Over(None)));
        assert_eq!((all, last), (text, true));
    }

    #[cfg(unix)]
    #[test]
    fn what_cannot_be_read_breaks_the_text_off() -> io::Result<()> {
        let folder = Plain {
            bytes: Bytes::File(File::open(env!("CARGO_MANIFEST_DIR"))?),
            start: 0,
            end: 1_000,
        };
        let outcome = for_each_piece(&folder, COMMA, |_| (), |(), _| panic!("nothing was read"));
        assert!(matches!(outcome, Outcome::Over(Some(_))));
        Ok(())
    }
}
