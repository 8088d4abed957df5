//! The recording: one run under standard names, in standard units, on one clock in seconds.
//!
//! Columns are masked and multi-rate: a channel holds only the samples that exist and knows its own update times.

mod assemble;
mod channel;
pub mod dictionary;
mod numbers;
mod polled;
mod rate;
mod reading;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::sync::Arc;

pub use assemble::map_headings;
pub use channel::{Channel, Series, all_finite};
pub use polled::InTurn;
pub use rate::Pace;
pub use reading::{UnitFrom, wrong_words as wrong_units};

use crate::span::{Span, Spans};

/// A column of the file that has a standard name, whether it was needed and read or not.
#[derive(Clone, Debug, PartialEq)]
pub struct Understood {
    /// Standard name.
    pub name: String,
    /// Header in the log.
    pub column: String,
    /// Unit in the log, where it said one.
    pub column_unit: Option<String>,
    /// Standard unit.
    pub unit: String,
    /// What its numbers were read in, as the build sheet's `[units]` would have it.
    pub read_in: String,
    /// Who said so.
    pub unit_from: UnitFrom,
    /// How its unit was understood, where that is worth telling.
    pub note: Option<String>,
}

/// One run.
#[derive(Debug, Default)]
pub struct Recording {
    /// File name as the person gave it.
    pub path: String,
    /// Data rows in use.
    pub rows: usize,
    /// Time of each row, s, strictly ascending.
    pub time: Arc<[f64]>,
    /// The clock as it was logged, s, beside the time in use; for the check that judges the clock.
    pub clock: Option<Series>,
    /// Median row period, s.
    pub row_s: f64,
    /// Stretches without rows.
    pub gaps: Spans,
    /// Channels by standard name.
    pub channels: BTreeMap<String, Channel>,
    /// Columns that have a standard name, in the order of the file.
    pub understood: Vec<Understood>,
    /// Columns that fit no standard name: header, and why where there is a reason worth telling.
    pub unmapped: Vec<(String, Option<String>)>,
    /// What could not be used: source line (0 for the whole file) and what is wrong.
    pub problems: Vec<(usize, String)>,
    /// Questions that the file itself raises, such as a unit that looks wrong.
    pub questions: Vec<String>,
    /// Plain sentences on how the file was read.
    pub evidence: Vec<String>,
    /// Where the logger reads its columns one after the other.
    pub in_turn: Option<InTurn>,
}

/// Rows further apart than this many row periods, and than [`GAP_LEAST_S`], are a gap.
const GAP_ROWS: f64 = 5.0;
const GAP_LEAST_S: f64 = 0.25;

impl Recording {
    /// An empty recording on the given row times; channels are added with [`Recording::add`].
    pub fn on_times(path: &str, time: Arc<[f64]>) -> Recording {
        let row_s = channel::step_quantile(&time, 0.5).unwrap_or(1.0);
        let far = (GAP_ROWS * row_s).max(GAP_LEAST_S);
        let gaps = time
            .windows(2)
            .filter(|w| w[1] - w[0] > far)
            .map(|w| Span {
                from_s: w[0],
                to_s: w[1],
            })
            .collect();
        Recording {
            path: path.to_string(),
            rows: time.len(),
            row_s,
            gaps: Spans::new(gaps),
            time,
            ..Recording::default()
        }
    }

    /// Adds a channel under its name.
    pub fn add(&mut self, channel: Channel) {
        self.channels.insert(channel.name.clone(), channel);
    }
    /// A channel by its standard name.
    pub fn channel(&self, name: &str) -> Option<&Channel> {
        self.channels.get(name)
    }
    /// The channels of a numbered family that have readings, by number: `family("egt_")`.
    pub fn family(&self, stem: &str) -> Vec<&Channel> {
        let mut list: Vec<&Channel> = self
            .channels
            .values()
            .filter(|c| !c.series.is_empty())
            .filter(|c| {
                c.name.strip_prefix(stem).is_some_and(|n| {
                    !n.is_empty() && (n.bytes().all(|b| b.is_ascii_digit()) || n.len() == 1)
                })
            })
            .collect();
        list.sort_by_key(|c| (c.position, c.name.clone()));
        list
    }
    /// Columns whose unit nobody says, for a starter sheet: standard name, what they were read in, and why.
    pub fn unsaid_units(&self) -> Vec<(String, String, String)> {
        let asked = |name: &str| {
            dictionary::entry(name)
                .is_some_and(|e| e.unit_if_absent.is_none() && !e.unit.is_empty())
        };
        let why = |u: &Understood| match u.unit_from {
            UnitFrom::Numbers => {
                Some("Its heading does not say; its numbers leave no other reading.")
            }
            UnitFrom::Nobody if asked(&u.name) => Some("Its heading does not say; it was read so."),
            _ => None,
        };
        let list = self.understood.iter();
        list.filter_map(|u| Some((u.name.clone(), u.read_in.clone(), why(u)?.to_owned())))
            .collect()
    }
    /// First time, s; 0 for an empty run.
    pub fn start_s(&self) -> f64 {
        self.time.first().copied().unwrap_or(0.0)
    }
    /// Last time, s; 0 for an empty run.
    pub fn end_s(&self) -> f64 {
        self.time.last().copied().unwrap_or(0.0)
    }
    /// Last minus first time, s.
    pub fn duration_s(&self) -> f64 {
        self.end_s() - self.start_s()
    }
    /// Rows per second, from the median row period.
    pub fn sample_hz(&self) -> f64 {
        if self.row_s > 0.0 {
            1.0 / self.row_s
        } else {
            0.0
        }
    }
    /// The time covered by rows: the whole run without its gaps.
    pub fn covered(&self) -> Spans {
        Spans::one(self.start_s(), self.end_s()).except(&self.gaps)
    }
}
