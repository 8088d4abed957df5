//! A table of rows that were read by other means than the pass over a file.

use std::sync::Arc;

use super::clock::Clock;
use super::lines::RowLines;
use super::log_file::{from_first, rate};
use super::problems::Problems;
use super::rollover::carry_on;
use super::table::{Column, Table};
use super::timeline::timeline;

impl Table {
    /// Gives rows that somebody else read their times, in the way of a log's own: `stamps_s` are the readings of the clock
    /// in seconds, none where `clock` has a forced rate, and `lines` the line of each row, counted from 1. Nothing is said
    /// of breaks of the clock. `None` when the clock never moves forward.
    #[must_use]
    pub fn of_rows(
        clock: &Clock,
        mut stamps_s: Vec<f64>,
        columns: Vec<Column>,
        problems: Problems,
        lines: &[usize],
    ) -> Option<Self> {
        carry_on(&mut stamps_s, clock);
        let (time_s, sample_hz) = if let Some(hz) = clock.forced_hz {
            #[expect(clippy::cast_precision_loss, reason = "row numbers are far below 2^53")]
            let times: Vec<f64> = (0..lines.len()).map(|row| row as f64 / hz).collect();
            (times, hz)
        } else {
            let counted = clock.from_first.then(|| from_first(&stamps_s));
            let made = timeline(counted.as_deref().unwrap_or(&stamps_s))?;
            (made.time_s, rate(made.period_s))
        };
        let mut kept = RowLines::default();
        for line in lines {
            kept.push(*line);
        }
        Some(Self {
            rows: lines.len(),
            rows_read: lines.len(),
            time_s: time_s.into(),
            clock_s: (!stamps_s.is_empty()).then(|| Arc::from(stamps_s)),
            sample_hz,
            breaks: Vec::new(),
            clock_note: None,
            columns,
            problems,
            lines: kept,
        })
    }
}
