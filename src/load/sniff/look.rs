//! A look at the text of a log, piece by piece from its start, until the data is found behind whatever stands before it.

use std::io::Read;

/// Bytes of a piece: enough for a good look at the data, little enough to be done at once.
const PIECE_BYTES: usize = 1 << 16;
/// A piece of fewer lines than this shows too little, and is made larger, up to a limit.
const LEAST_LINES: usize = 12;
const LARGEST_PIECE: usize = 1 << 25;
/// Lines that a piece takes over from the one before it, blank ones not counted: the header of the data may be among them.
const LINES_KEPT: usize = 40;
/// Carriage returns that end the lines may have one line feed among so many, in a remark or above the log.
const FEEDS_AMONG_RETURNS: usize = 8;
/// Text before the data may be this long; beyond it nobody looks for a log any more.
const LONGEST_PREAMBLE: usize = 1 << 26;
/// Lines before the data that are kept as they are; the others are only counted.
const PREAMBLE_LINES: usize = 1000;
/// Rows of numbers, names of channels among them, hold a digit for so many letters at least.
const LETTERS_PER_DIGIT: usize = 4;

/// Whole lines from somewhere in the text.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub bytes: Vec<u8>,
    /// Where it starts in the text.
    pub start: usize,
    /// Its first line, counted from 1.
    pub first_line: usize,
}

impl Piece {
    /// Whether there can be rows of numbers in it: a quick answer for long stretches of text. Blanks do not count, since
    /// cells may be padded.
    pub fn may_hold_numbers(&self) -> bool {
        let mut lines = self.bytes.split(|c| matches!(c, b'\n' | b'\r'));
        lines.any(|line| {
            let count = |test: fn(&u8) -> bool| line.iter().filter(|c| test(c)).count();
            let (digits, letters) = (count(u8::is_ascii_digit), count(u8::is_ascii_alphabetic));
            digits > 0 && digits * LETTERS_PER_DIGIT >= letters
        })
    }
}

/// A text that is being looked through.
pub(super) struct Look<R> {
    text: R,
    piece: Piece,
    /// The begin of the line that the piece cuts in two.
    rest: Vec<u8>,
    terminator: u8,
    over: bool,
    /// The first lines that were passed by, with their numbers, and how many there were; none of them blank.
    passed: Vec<(usize, Vec<u8>)>,
    passed_lines: usize,
}

impl<R: Read> Look<R> {
    /// Reads the first piece.
    pub fn new(text: R) -> Self {
        let mut look = Self {
            text,
            piece: Piece {
                bytes: Vec::new(),
                start: 0,
                first_line: 1,
            },
            rest: Vec::new(),
            terminator: b'\n',
            over: false,
            passed: Vec::new(),
            passed_lines: 0,
        };
        let bytes = look.read(PIECE_BYTES);
        let feeds = memchr::memchr_iter(b'\n', &bytes).count();
        let bare = |at: &usize| bytes.get(at + 1).is_some_and(|next| *next != b'\n');
        let returns = memchr::memchr_iter(b'\r', &bytes).filter(bare).count();
        let only = feeds == 0 && bytes.contains(&b'\r');
        if only || returns > FEEDS_AMONG_RETURNS * feeds {
            look.terminator = b'\r';
        }
        look.rest = bytes;
        look.take_whole_lines();
        look.make_large_enough();
        look
    }

    /// What ends a line: a line feed, or a carriage return where there is hardly a line feed.
    pub const fn terminator(&self) -> u8 {
        self.terminator
    }

    /// The piece at hand.
    pub const fn piece(&self) -> &Piece {
        &self.piece
    }

    /// Whether the piece reaches to the end of the text.
    pub const fn is_over(&self) -> bool {
        self.over
    }

    /// Lines that were passed by on the way here, blank ones left out: the first of them, and how many there were.
    pub fn passed(&self) -> (&[(usize, Vec<u8>)], usize) {
        (&self.passed, self.passed_lines)
    }

    /// Goes on to the next piece. False at the end of the text, or where it is senseless to look further.
    pub fn go_on(&mut self) -> bool {
        if self.over || self.piece.start > LONGEST_PREAMBLE {
            return false;
        }
        let ends: Vec<usize> = memchr::memchr_iter(self.terminator, &self.piece.bytes).collect();
        let drop = self.lines_to_drop(&ends);
        // No row of a log is that long, and no header that far above its data.
        if drop == 0 && self.piece.bytes.len() + self.rest.len() >= LARGEST_PIECE {
            return false;
        }
        // A piece that keeps much grows by as much again, so that it is not gone over too often.
        let cut_short = drop < ends.len() / 2;
        let more = if cut_short { self.piece.bytes.len() } else { 0 };
        let cut = drop
            .checked_sub(1)
            .and_then(|last| ends.get(last))
            .map_or(0, |end| end + 1);
        let mut from = 0;
        for (n, end) in ends.iter().take(drop).enumerate() {
            let line = &self.piece.bytes[from..*end];
            if !line.trim_ascii().is_empty() {
                self.passed_lines += 1;
                if self.passed.len() < PREAMBLE_LINES {
                    let number = self.piece.first_line + n;
                    self.passed.push((number, line.to_vec()));
                }
            }
            from = end + 1;
        }
        self.piece.bytes.drain(..cut);
        self.piece.start += cut;
        self.piece.first_line += drop;
        self.add(more.max(PIECE_BYTES));
        self.make_large_enough();
        true
    }

    /// How many lines of the piece, that end so, the next one does without.
    fn lines_to_drop(&self, ends: &[usize]) -> usize {
        if ends.len() < 2 * LINES_KEPT {
            return ends.len() / 2;
        }
        let filled = |at: &usize| {
            let start = at.checked_sub(1).map_or(0, |before| ends[before] + 1);
            let nothing = |c: &u8| c.is_ascii_whitespace() || b",;|\"".contains(c);
            !self.piece.bytes[start..ends[*at]].iter().all(nothing)
        };
        let kept = (0..ends.len()).rev().filter(filled).nth(LINES_KEPT - 1);
        kept.or_else(|| (0..ends.len()).find(filled))
            .unwrap_or(ends.len())
    }

    /// Goes on until a line is in the piece, with some lines behind it.
    pub fn go_to_line(&mut self, line: usize) {
        let last = |piece: &Piece, terminator| {
            piece.first_line + memchr::memchr_iter(terminator, &piece.bytes).count()
        };
        while last(&self.piece, self.terminator) < line + LINES_KEPT && self.go_on() {}
    }

    fn make_large_enough(&mut self) {
        let few = |bytes: &[u8], end| memchr::memchr_iter(end, bytes).count() < LEAST_LINES;
        while !self.over
            && self.piece.bytes.len() + self.rest.len() < LARGEST_PIECE
            && few(&self.piece.bytes, self.terminator)
        {
            self.add(self.piece.bytes.len() + self.rest.len());
        }
    }

    fn add(&mut self, more: usize) {
        let bytes = self.read(more);
        self.rest.extend_from_slice(&bytes);
        self.take_whole_lines();
    }

    /// Moves whole lines into the piece: everything, at the end of the text.
    fn take_whole_lines(&mut self) {
        let end = match memchr::memrchr(self.terminator, &self.rest) {
            _ if self.over => self.rest.len(),
            Some(at) => at + 1,
            None => 0,
        };
        self.piece.bytes.extend(self.rest.drain(..end));
    }

    /// Reads on. A text that breaks off ends here; the pass over the data meets the break again and reports it.
    fn read(&mut self, more: usize) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(more);
        let got = self.text.by_ref().take(more as u64).read_to_end(&mut bytes);
        self.over = got.is_err() || bytes.len() < more;
        bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_go_over_the_whole_text() {
        let line = |n: usize| format!("line {n} {}\n", "x".repeat(n % 200));
        let text: String = (1..=5000).map(line).collect();
        let mut look = Look::new(text.as_bytes());
        loop {
            let piece = look.piece();
            let shown = &text.as_bytes()[piece.start..piece.start + piece.bytes.len()];
            assert_eq!(shown, piece.bytes);
            assert!(
                piece
                    .bytes
                    .starts_with(format!("line {} ", piece.first_line).as_bytes())
            );
            let (lines, count) = look.passed();
            assert_eq!(lines.len(), count.min(PREAMBLE_LINES));
            assert!(
                lines
                    .iter()
                    .all(|(n, text)| text.starts_with(format!("line {n} ").as_bytes()))
            );
            if !look.go_on() {
                break;
            }
        }
        assert!(look.is_over() && look.piece().bytes.ends_with(b"line 5000 \n"));
        let mut look = Look::new(text.as_bytes());
        look.go_to_line(4000);
        let piece = look.piece();
        assert!(piece.first_line <= 4000);
        assert!(piece.bytes.windows(10).any(|w| w == b"line 4000 "));
    }

    #[test]
    fn very_long_lines_make_the_piece_larger() {
        let text = format!("{}\n", "name,".repeat(40_000)).repeat(20);
        let look = Look::new(text.as_bytes());
        assert!(memchr::memchr_iter(b'\n', &look.piece().bytes).count() >= LEAST_LINES);
        let endless = vec![b'x'; 300_000];
        let look = Look::new(&endless[..]);
        assert!(look.is_over() && look.piece().bytes.len() == 300_000);
    }
}
