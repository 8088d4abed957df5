//! The finished log: columns under workshop headers, and its CSV text.

/// One column.
#[derive(Debug, Clone)]
pub struct Column {
    /// Header as written, unit in brackets.
    pub header: &'static str,
    /// Digits after the point.
    pub decimals: usize,
    /// Cells; `None` where the channel had no new sample in that row.
    pub cells: Vec<Option<f64>>,
}

/// A log as a logger would have written it.
#[derive(Debug, Clone)]
pub struct Log {
    pub(super) preamble: Vec<String>,
    pub(super) columns: Vec<Column>,
}

impl Log {
    /// Number of data rows.
    pub fn rows(&self) -> usize {
        self.columns.first().map_or(0, |c| c.cells.len())
    }

    /// Every header in order.
    pub fn headers(&self) -> Vec<&'static str> {
        self.columns.iter().map(|c| c.header).collect()
    }

    /// Cells of a column, by its whole header or by the header without its unit.
    pub fn column(&self, header: &str) -> Option<&[Option<f64>]> {
        self.columns
            .iter()
            .find(|c| c.header == header || c.header.split(" (").next() == Some(header))
            .map(|c| c.cells.as_slice())
    }

    /// The log as CSV: preamble, one row of names, rows.
    pub fn to_csv(&self) -> String {
        let mut out = String::with_capacity(self.rows() * self.columns.len() * 4 + 2048);
        for line in &self.preamble {
            out.push_str(line);
            out.push('\n');
        }
        out.push_str(&self.headers().join(","));
        out.push('\n');
        for row in 0..self.rows() {
            for (i, column) in self.columns.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                if let Some(value) = column.cells[row] {
                    write_fixed(&mut out, value, column.decimals);
                }
            }
            out.push('\n');
        }
        out
    }
}

/// Writes `value` with so many decimals: whole numbers only, much faster than the general formatter.
fn write_fixed(out: &mut String, value: f64, decimals: usize) {
    let scale = 10_u64.pow(decimals as u32);
    let whole = (value.abs() * scale as f64).round() as u64;
    if value < 0.0 && whole > 0 {
        out.push('-');
    }
    let mut digits = [b'0'; 24];
    let mut at = digits.len();
    let mut rest = whole;
    loop {
        at -= 1;
        digits[at] = b'0' + (rest % 10) as u8;
        rest /= 10;
        if digits.len() - at == decimals {
            at -= 1;
            digits[at] = b'.';
        } else if rest == 0 && (decimals == 0 || digits.len() - at > decimals + 1) {
            break;
        }
    }
    out.extend(digits[at..].iter().map(|&d| char::from(d)));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the standard library's formatter.
    #[test]
    fn fixed_numbers() {
        for (value, decimals) in [
            (0.0, 0),
            (7.0, 0),
            (1100.0, 0),
            (-40.0, 0),
            (0.05, 2),
            (14.18, 2),
            (-0.31, 2),
            (-0.001, 2),
            (123.456, 3),
            (0.9, 3),
        ] {
            let mut out = String::new();
            write_fixed(&mut out, value, decimals);
            let want = format!("{value:.decimals$}").replace("-0.00", "0.00");
            assert_eq!(out, want);
        }
    }
}
