//! Columns parted by runs of blanks, as printed tables are: put into tabs as the text is read.
//!
//! Only logs that no other delimiter explains are read so. Lines stay lines, so that problems still name the right ones.

use std::io::{self, Read};

/// Bytes taken from the text at a time.
const PIECE: usize = 1 << 16;
/// A line longer than this is handed on in parts.
const LONGEST_LINE: usize = 1 << 22;

/// A reader that puts one tab where the inner one has a run of blanks.
pub(crate) struct Blanks<R> {
    inner: R,
    raw: Vec<u8>,
    made: Vec<u8>,
    at: usize,
    over: bool,
}

impl<R: Read> Blanks<R> {
    pub const fn new(inner: R) -> Self {
        Self {
            inner,
            raw: Vec::new(),
            made: Vec::new(),
            at: 0,
            over: false,
        }
    }
}

impl<R: Read> Read for Blanks<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while self.at == self.made.len() && !(self.over && self.raw.is_empty()) {
            let before = self.raw.len();
            if !self.over {
                self.raw.resize(before + PIECE, 0);
                let got = self.inner.read(&mut self.raw[before..]);
                self.raw.truncate(before + got.as_ref().map_or(0, |n| *n));
                self.over = got? == 0;
            }
            let end = memchr::memrchr2(b'\n', b'\r', &self.raw[before..]);
            let end = match end {
                _ if self.over || self.raw.len() > LONGEST_LINE => self.raw.len(),
                Some(at) => before + at + 1,
                None => continue,
            };
            (self.at, self.made) = (0, Vec::with_capacity(end));
            for line in self.raw[..end].split_inclusive(|c| is_line_end(*c)) {
                part(line, &mut self.made);
            }
            self.raw.drain(..end);
        }
        let count = into.len().min(self.made.len() - self.at);
        into[..count].copy_from_slice(&self.made[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

const fn is_line_end(c: u8) -> bool {
    c == b'\n' || c == b'\r'
}

const fn is_blank(c: u8) -> bool {
    c == b' ' || c == b'\t'
}

/// Puts tabs into one line. Names may have single blanks inside where the columns stand further apart.
fn part(line: &[u8], into: &mut Vec<u8>) {
    let ends = line.iter().rev().take_while(|c| is_line_end(**c)).count();
    let (text, end) = line.split_at(line.len() - ends);
    let mut text = text.trim_ascii();
    if let Some(comment) = text.strip_prefix(b"#") {
        into.push(b'#');
        text = comment.trim_ascii_start();
    }
    let fields = |single: bool| {
        let mut fields: Vec<(usize, usize)> = Vec::new();
        let (mut start, mut at, mut quoted) = (0, 0, false);
        while at < text.len() {
            let run = text[at..].iter().take_while(|c| is_blank(**c)).count();
            if run > 0 && !quoted && (single || run > 1 || text[at] == b'\t') {
                fields.push((start, at));
                start = at + run;
            }
            quoted ^= text[at] == b'"' && (quoted || at == start);
            at += run.max(1);
        }
        fields.push((start, text.len()));
        fields
    };
    let mut found = fields(true);
    let numbers = found.iter().filter(|(start, end)| {
        let field = &text[*start..*end];
        let first = field.iter().find(|c| !b"+-.,\"".contains(c));
        first.is_some_and(u8::is_ascii_digit)
    });
    if numbers.count() * 2 < found.len() {
        let wide = fields(false);
        if wide.len() > 1 {
            found = wide;
        }
    }
    for (nth, (start, end)) in found.into_iter().enumerate() {
        if nth > 0 {
            into.push(b'\t');
        }
        into.extend_from_slice(&text[start..end]);
    }
    into.extend_from_slice(end);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_blanks_become_tabs() {
        for (text, wanted) in [
            ("0.00  900   98.5\r\n", "0.00\t900\t98.5\r\n"),
            ("   0.00 900 98.5  \n\n", "0.00\t900\t98.5\n\n"),
            ("Time RPM MAP\n", "Time\tRPM\tMAP\n"),
            ("Time  Engine speed   MAP\n", "Time\tEngine speed\tMAP\n"),
            ("Time\tEngine speed\n", "Time\tEngine speed\n"),
            ("# Time RPM\n", "#Time\tRPM\n"),
            ("\"Engine speed\" MAP\n", "\"Engine speed\"\tMAP\n"),
            ("NaN  12 13\n", "NaN\t12\t13\n"),
            ("-0.5 +4 .5", "-0.5\t+4\t.5"),
            ("", ""),
            ("\n \n", "\n\n"),
        ] {
            let mut made = String::new();
            let read = Blanks::new(text.as_bytes()).read_to_string(&mut made);
            assert!(read.is_ok());
            assert_eq!(made, wanted, "{text:?}");
        }
    }

    #[test]
    fn pieces_do_not_matter() {
        struct Dribble<'a>(&'a [u8]);
        impl Read for Dribble<'_> {
            fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
                let count = into.len().min(self.0.len()).min(7);
                into[..count].copy_from_slice(&self.0[..count]);
                self.0 = &self.0[count..];
                Ok(count)
            }
        }
        let line = |n: usize| format!("  {n}   {}  {}\n", n * 3, "9".repeat(n % 50 + 1));
        let text: String = (0..500).map(line).collect();
        let wanted: String = (0..500)
            .map(|n| format!("{n}\t{}\t{}\n", n * 3, "9".repeat(n % 50 + 1)))
            .collect();
        let mut made = String::new();
        let read = Blanks::new(Dribble(text.as_bytes())).read_to_string(&mut made);
        assert!(read.is_ok());
        assert_eq!(made, wanted);
    }
}
