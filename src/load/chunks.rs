//! Cuts the data of a log at line ends into pieces for several cores, and counts lines so that each knows its place.

use rayon::prelude::*;

use super::TINY;
use super::fields::{Shape, record, runs_out};

/// A piece of the data, whole records only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Chunk {
    /// First byte, counted from the start of the data.
    pub start: usize,
    /// Behind the last byte.
    pub end: usize,
    /// Lines of the data before it.
    pub lines_before: usize,
    /// Lines in it, which is also the most rows it can hold.
    pub lines: usize,
    /// Whether there is a quote anywhere in it.
    pub quotes: bool,
}

/// Pieces large enough to be worth a task and small enough to keep all cores busy to the end.
fn piece_bytes(total: usize) -> usize {
    if TINY {
        return 100;
    }
    (total / (rayon::current_num_threads() * 8)).clamp(1 << 16, 1 << 22)
}

/// Cuts up `data`. Where more is to follow (`last` false), what is not known to be a whole record is left out at the end.
pub(crate) fn chunks(data: &[u8], shape: Shape, last: bool) -> Vec<Chunk> {
    let end = if last {
        data.len()
    } else {
        memchr::memrchr(shape.terminator, data).map_or(0, |n| n + 1)
    };
    let piece = piece_bytes(end);
    let mut borders = vec![0];
    while let Some(at) = borders.last().copied().filter(|at| *at < end) {
        let aim = (at + piece).min(end);
        let rest = memchr::memchr(shape.terminator, &data[aim..end]);
        borders.push(rest.map_or(end, |n| aim + n + 1));
    }
    let mut pieces: Vec<Chunk> = borders
        .par_windows(2)
        .map(|pair| {
            let bytes = &data[pair[0]..pair[1]];
            let quotes = memchr::memchr(b'"', bytes).is_some();
            if quotes {
                return walk(data, shape, pair[0], pair[1], last);
            }
            Chunk {
                start: pair[0],
                end: pair[1],
                lines_before: 0,
                lines: lines(bytes, shape.terminator),
                quotes,
            }
        })
        .collect();
    // The first piece starts outside quotes; so does each next one if no record runs over the border before it.
    if pieces
        .iter()
        .zip(&borders[1..])
        .any(|(piece, border)| piece.end != *border)
    {
        pieces = mend(data, shape, &pieces, &borders, last);
    }
    let mut before = 0;
    for piece in &mut pieces {
        piece.lines_before = before;
        before += piece.lines;
    }
    pieces
}

/// Lines in a run of bytes, an unfinished last one included.
pub(crate) fn lines(bytes: &[u8], terminator: u8) -> usize {
    let open = bytes.last().is_some_and(|c| *c != terminator);
    memchr::memchr_iter(terminator, bytes).count() + usize::from(open)
}

/// Goes from record to record until `end` is reached or passed, or a quoted field runs out of the data at hand.
pub(crate) fn walk(data: &[u8], shape: Shape, start: usize, end: usize, last: bool) -> Chunk {
    let (mut at, mut lines) = (start, 0);
    while at < end {
        if !last && runs_out(data, at, shape) {
            break;
        }
        let record = record(data, at, shape, true);
        lines += record.lines;
        at = record.next;
    }
    Chunk {
        start,
        end: at,
        lines_before: 0,
        lines,
        quotes: true,
    }
}

/// Moves borders that fell inside a quoted field. Pieces that start where they were thought to are right already.
fn mend(data: &[u8], shape: Shape, pieces: &[Chunk], borders: &[usize], last: bool) -> Vec<Chunk> {
    let mut mended = Vec::with_capacity(pieces.len());
    let mut at = 0;
    for (piece, border) in pieces.iter().zip(&borders[1..]) {
        if at >= *border {
            continue;
        }
        let chunk = if at == piece.start {
            *piece
        } else {
            walk(data, shape, at, *border, last)
        };
        at = chunk.end;
        mended.push(chunk);
        if at < *border {
            break;
        }
    }
    mended
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMA: Shape = Shape {
        delimiter: b',',
        terminator: b'\n',
    };

    #[test]
    fn pieces_cover_everything_once() {
        let row = "1.25,2.5,\"a\nquoted, \"\"field\"\" over\nlines\",4\n5,6,7,8\n";
        let data = row.repeat(60);
        for text in [
            data.as_str(),
            &data[..data.len() - 1],
            "1,2",
            "\n\n\n",
            "1,\"2\n3,4",
        ] {
            let chunks = chunks(text.as_bytes(), COMMA, true);
            let (mut at, mut before) = (0, 0);
            for chunk in &chunks {
                assert_eq!((chunk.start, chunk.lines_before), (at, before));
                at = chunk.end;
                before += chunk.lines;
            }
            assert_eq!(at, text.len());
            assert_eq!(before, text.lines().count());
        }
        let pieces = chunks(data.as_bytes(), COMMA, true);
        assert!(pieces.len() > 10);
        for piece in &pieces {
            assert!(
                data[piece.start..].starts_with("1.25") || data[piece.start..].starts_with("5,6")
            );
        }
        assert!(chunks(b"", COMMA, true).is_empty());
    }

    #[test]
    fn what_may_go_on_is_left_for_later() {
        let cut = |text: &str| {
            let pieces = chunks(text.as_bytes(), COMMA, false);
            pieces.last().map_or(0, |piece| piece.end)
        };
        assert_eq!(cut("1,2\n3,4\n5,"), 8);
        assert_eq!(cut("1,2"), 0);
        assert_eq!(cut("1,2\n3,\"a\nb"), 4);
        assert_eq!(cut("1,2\n3,\"a\nb\",4"), 4);
        assert_eq!(cut("1,2\n3,\"a\nb\",4\n"), 14);
        let long = format!("{}3,\"a\n{}", "1,2\n".repeat(100), "x\n".repeat(10));
        assert_eq!(cut(&long), 400);
    }
}
