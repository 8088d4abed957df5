//! A run of the carOBD dataset as bare numbers, to be changed and written again.

use std::path::Path;

/// Columns by position.
pub const CLOCK: usize = 0;
pub const RPM: usize = 1;
pub const COOLANT: usize = 5;
pub const VOLTS: usize = 21;
const CELLS: usize = 27;

/// A run.
pub struct Run {
    header: String,
    /// Its rows that have all of their cells.
    pub rows: Vec<Vec<f64>>,
    /// Seconds of each row: the clock counts whole seconds, and while it still waits rows come at the file's own rate.
    pub times: Vec<f64>,
    /// The row in which it first runs.
    pub fired: usize,
}

impl Run {
    /// Reads a file by plain splitting.
    pub fn read(path: &Path) -> Run {
        let text = std::fs::read_to_string(path).expect("the file is text");
        let cells = |line: &str| -> Vec<f64> {
            line.split(',')
                .map(str::trim)
                .filter(|c| !c.is_empty())
                .map(|c| c.parse().expect("a number"))
                .collect()
        };
        let rows = text.lines().skip(1).map(cells);
        let rows: Vec<Vec<f64>> = rows.filter(|r| r.len() == CELLS).collect();
        let first = rows[0][CLOCK];
        let waits = rows.iter().take_while(|r| r[CLOCK] == first).count();
        let each = (rows[rows.len() - 1][CLOCK] - first) / (rows.len() - waits) as f64;
        let times = (0..rows.len()).map(|i| (i as f64 - waits as f64) * each);
        Run {
            header: text.lines().next().expect("a header").to_string(),
            times: times.collect(),
            fired: rows.iter().position(|r| r[RPM] > 600.0).expect("it runs"),
            rows,
        }
    }
    /// The time of its last row.
    pub fn end(&self) -> f64 {
        self.times[self.times.len() - 1]
    }
    /// As it would stand in a file.
    pub fn text(&self) -> String {
        let mut out = self.header.clone();
        for row in &self.rows {
            out.push('\n');
            let cells: Vec<String> = row.iter().map(|v| format!("{v:.6}")).collect();
            out.push_str(&cells.join(", "));
            out.push(',');
        }
        out.push('\n');
        out
    }
}
