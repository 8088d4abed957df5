//! Whether a row that ends with the file is whole.
//!
//! Many writers put no line end behind the last row, so that alone says nothing. A row cut off by a power cut loses digits
//! at its end, and `10` where all others read like `1020` must not pass for a reading.

use super::cells::{bare, trim};
use super::fields::{all, field};
use super::sniff::Layout;

/// Rows above it that a last row is compared with.
const ROWS_ABOVE: usize = 8;
/// So many cells alike are a habit.
const HABIT: usize = 2;

/// How the last cells of whole rows are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct LastCells {
    /// Cells that hold something, and those that do not.
    filled: usize,
    blank: usize,
    /// The fewest digits before the fraction.
    digits: usize,
    /// Digits of the fraction, where all cells have the same number.
    decimals: Option<usize>,
}

impl LastCells {
    pub fn new<'a>(cells: impl Iterator<Item = &'a [u8]>, decimal: u8) -> Self {
        let mut seen = Self::default();
        for cell in cells.map(bare) {
            if cell.is_empty() {
                seen.blank += 1;
                continue;
            }
            let (digits, decimals) = form(cell, decimal);
            if seen.filled == 0 {
                (seen.digits, seen.decimals) = (digits, Some(decimals));
            }
            seen.filled += 1;
            seen.digits = seen.digits.min(digits);
            seen.decimals = seen.decimals.filter(|usual| *usual == decimals);
        }
        seen
    }
}

/// Digits before and behind the decimal mark.
fn form(cell: &[u8], decimal: u8) -> (usize, usize) {
    let mark = memchr::memchr(decimal, cell).unwrap_or(cell.len());
    let digits = |text: &[u8]| text.iter().filter(|c| c.is_ascii_digit()).count();
    let behind = cell.get(mark + 1..).unwrap_or_default();
    (digits(&cell[..mark]), digits(behind))
}

/// Whether a last row of full width and without a line end has lost its end. `before` is what stands above it.
#[cold]
pub(crate) fn breaks_off(layout: &Layout, text: &[u8], cuts: &[u32], before: &[u8]) -> bool {
    // All other rows end in a delimiter, or the power went.
    if layout.whole_rows_end {
        return true;
    }
    let Some(column) = layout.fields.checked_sub(1) else {
        return false;
    };
    let raw = trim(field(text, cuts, column).unwrap_or_default());
    if raw.len() > 1 && raw.starts_with(b"\"") && raw.ends_with(b"\"") {
        return false;
    }
    let decimal = layout.marks.of(column).decimal;
    let above = LastCells::new(last_cells_above(layout, before), decimal);
    let usual = if above.filled + above.blank >= HABIT {
        above
    } else {
        layout.last_cells
    };
    if usual.filled < HABIT {
        return false;
    }
    let cell = bare(raw);
    if cell.is_empty() {
        return usual.blank == 0;
    }
    let (digits, decimals) = form(cell, decimal);
    let fixed = usual.decimals.filter(|usual| *usual > 0);
    match fixed {
        Some(usual) => decimals < usual,
        None => digits < usual.digits || cell.last() == Some(&decimal),
    }
}

/// The last cells of the whole rows above.
fn last_cells_above<'a>(
    layout: &'a Layout,
    before: &'a [u8],
) -> impl Iterator<Item = &'a [u8]> + 'a {
    let mut end = before.len();
    let lines = std::iter::from_fn(move || {
        let line_end = end.checked_sub(1)?;
        let start = memchr::memrchr(layout.shape.terminator, &before[..line_end]);
        let start = start.map_or(0, |at| at + 1);
        let line = &before[start..line_end];
        end = start;
        Some(line)
    });
    lines
        .take(4 * ROWS_ABOVE)
        .filter_map(|line| {
            let fields = all(line, layout.shape);
            (fields.len() == layout.fields).then(|| fields.last().copied())?
        })
        .take(ROWS_ABOVE)
}
