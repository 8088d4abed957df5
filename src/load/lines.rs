//! Row to source line and back, through preambles, skipped rows and quoted line ends.

/// A new entry is made at least after so many rows, so that the text of any row is found by a short walk.
const ROWS_PER_ENTRY: usize = 256;

/// Rows that follow each other line by line, from here on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Entry {
    row: usize,
    line: usize,
    byte: usize,
}

/// Which line each row of a table came from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct RowLines {
    entries: Vec<Entry>,
    rows: usize,
    next_line: usize,
}

impl RowLines {
    /// Adds the next row: its line, and the first byte of its record.
    #[inline]
    pub fn push(&mut self, line: usize, byte: usize) {
        let last = self.entries.last().map_or(0, |entry| entry.row);
        if self.entries.is_empty() || line != self.next_line || self.rows - last >= ROWS_PER_ENTRY {
            self.entries.push(Entry {
                row: self.rows,
                line,
                byte,
            });
        }
        self.rows += 1;
        self.next_line = line + 1;
    }

    /// Takes over the rows of the next part, whose lines and bytes lie further on by the given numbers.
    pub fn append(&mut self, later: &Self, lines: usize, bytes: usize) {
        let moved = later.entries.iter().map(|entry| Entry {
            row: entry.row + self.rows,
            line: entry.line + lines,
            byte: entry.byte + bytes,
        });
        self.entries.extend(moved);
        self.rows += later.rows;
        self.next_line = later.next_line + lines;
    }

    /// Rows held.
    pub const fn rows(&self) -> usize {
        self.rows
    }

    /// The line of a row; of the last row, for a row past the end.
    pub fn line_of(&self, row: usize) -> usize {
        let row = row.min(self.rows.saturating_sub(1));
        self.entry_of(row)
            .map_or(0, |entry| entry.line + (row - entry.row))
    }

    /// The row of a line, if that line became one.
    pub fn row_of(&self, line: usize) -> Option<usize> {
        let after = self.entries.partition_point(|entry| entry.line <= line);
        let entry = self.entries.get(after.checked_sub(1)?)?;
        let row = entry.row + (line - entry.line);
        let end = self.entries.get(after).map_or(self.rows, |next| next.row);
        (row < end).then_some(row)
    }

    /// Where to start looking for the text of a row: the first byte of an earlier record, and how many records on it is.
    /// Rows between follow each other line by line.
    pub fn near(&self, row: usize) -> Option<(usize, usize)> {
        let entry = self.entry_of(row).filter(|_| row < self.rows)?;
        Some((entry.byte, row - entry.row))
    }

    fn entry_of(&self, row: usize) -> Option<&Entry> {
        let after = self.entries.partition_point(|entry| entry.row <= row);
        self.entries.get(after.checked_sub(1)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_find_their_lines() {
        let mut lines = RowLines::default();
        let kept = [3, 4, 5, 8, 9, 20];
        for line in kept {
            lines.push(line, line * 10);
        }
        let mut later = RowLines::default();
        later.push(0, 0);
        later.push(2, 20);
        lines.append(&later, 30, 300);
        let wanted = [3, 4, 5, 8, 9, 20, 30, 32];
        for (row, line) in wanted.into_iter().enumerate() {
            assert_eq!(lines.line_of(row), line);
            assert_eq!(lines.row_of(line), Some(row));
        }
        for line in [0, 2, 6, 7, 10, 21, 31, 33] {
            assert_eq!(lines.row_of(line), None, "{line}");
        }
        assert_eq!(lines.near(4), Some((80, 1)));
        assert_eq!(lines.near(7), Some((320, 0)));
        assert_eq!(lines.near(8), None);
        assert_eq!(lines.rows(), 8);
        assert_eq!(RowLines::default().line_of(0), 0);
    }

    #[test]
    fn long_stretches_keep_their_walks_short() {
        let mut lines = RowLines::default();
        for row in 0..1000 {
            lines.push(row + 5, row * 7);
        }
        assert_eq!(lines.line_of(999), 1004);
        assert_eq!(lines.near(600), Some((512 * 7, 88)));
    }
}
