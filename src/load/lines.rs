//! Row to source line and back, through preambles, skipped rows and quoted line ends.

/// Rows that follow each other line by line, from here on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Entry {
    row: usize,
    line: usize,
}

/// Which line each row of a table came from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct RowLines {
    entries: Vec<Entry>,
    rows: usize,
    next_line: usize,
}

impl RowLines {
    /// Adds the next row, by its line.
    #[inline]
    pub fn push(&mut self, line: usize) {
        if line != self.next_line || self.entries.is_empty() {
            self.entries.push(Entry {
                row: self.rows,
                line,
            });
        }
        self.rows += 1;
        self.next_line = line + 1;
    }

    /// Takes over the rows of the next part, whose lines lie further on by the given number.
    pub fn append(&mut self, later: &Self, lines: usize) {
        for (at, entry) in later.entries.iter().enumerate() {
            let line = entry.line + lines;
            // A part that goes on where the last one ended needs no entry of its own.
            if at > 0 || self.entries.is_empty() || line != self.next_line {
                self.entries.push(Entry {
                    row: entry.row + self.rows,
                    line,
                });
            }
        }
        self.rows += later.rows;
        if later.rows > 0 {
            self.next_line = later.next_line + lines;
        }
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
            lines.push(line);
        }
        let mut later = RowLines::default();
        later.push(0);
        later.push(2);
        lines.append(&later, 30);
        let wanted = [3, 4, 5, 8, 9, 20, 30, 32];
        for (row, line) in wanted.into_iter().enumerate() {
            assert_eq!(lines.line_of(row), line);
            assert_eq!(lines.row_of(line), Some(row));
        }
        for line in [0, 2, 6, 7, 10, 21, 31, 33] {
            assert_eq!(lines.row_of(line), None, "{line}");
        }
        assert_eq!(lines.rows(), 8);
        assert_eq!(RowLines::default().line_of(0), 0);
    }

    #[test]
    fn parts_that_follow_each_other_join() {
        let mut lines = RowLines::default();
        for part in 0..10 {
            let mut next = RowLines::default();
            (0..5).for_each(|line| next.push(line));
            lines.append(&next, 3 + part * 5);
        }
        assert_eq!((lines.entries.len(), lines.line_of(49)), (1, 52));
    }
}
