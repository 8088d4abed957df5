//! Readings of channels to a table: rows at the times at which something was read.

use std::sync::Arc;

use super::clock::{Clock, ClockStyle};
use super::lines::RowLines;
use super::long::{Channel, Readings};
use super::midnight::read_dates_again;
use super::table::{Column, Raw};

/// A channel's own clock that falls by more than this, in seconds, has begun again; less is a reading handed in late.
const LATE_S: f64 = 1.0;
/// In a short log, by more than this share of what the clock has shown so far.
const LATE_SHARE: f64 = 0.1;

/// A log with one row per reading, all of it.
#[derive(Debug)]
pub(crate) struct Long {
    pub readings: Readings,
    /// Where the rows are not simply the stamps in the order of the log.
    moved: Option<Moved>,
    /// How often the clock began its round anew.
    pub rounds: usize,
    /// How its dates were read, where not as it was assumed.
    pub dates: Option<String>,
}

/// Rows that are not simply the stamps in the order of the log.
#[derive(Debug, Default)]
struct Moved {
    /// The first row of each stamp.
    first_rows: Vec<u32>,
    /// The stamp of each row in seconds.
    stamps: Vec<f64>,
    lines: RowLines,
}

impl Long {
    /// Finds the rows: one for each different stamp, and more where a channel was read several times under one.
    pub fn new(mut readings: Readings, clock: &Clock) -> Self {
        let rounds = carry(&mut readings.stamps, clock.style);
        let assumed = clock.style == ClockStyle::DateTime && clock.date_order_assumed;
        let dates = assumed.then(|| read_dates_again(&mut readings.stamps, clock));
        let grows = readings.stamps.windows(2).all(|pair| pair[0] < pair[1]);
        let once = |channel: &Channel| channel.at.windows(2).all(|pair| pair[0] < pair[1]);
        let plain = grows && readings.channels.iter().all(once);
        Self {
            moved: (!plain).then(|| Moved::new(&readings)),
            readings,
            rounds,
            dates: dates.flatten(),
        }
    }

    /// The stamp of each row in seconds.
    fn row_stamps(&self) -> &[f64] {
        match &self.moved {
            Some(moved) => &moved.stamps,
            None => &self.readings.stamps,
        }
    }

    /// The columns at the positions `wanted` of the headings: the clock, then the channels. With `apart`, channels that
    /// were not read in every row say in which ones they were, instead of holding a gap for each of the others.
    pub fn raw(&self, wanted: &[usize], style: ClockStyle, apart: bool) -> Raw {
        let rows = self.row_stamps().len();
        let columns = wanted.iter().map(|column| {
            let channel = column
                .checked_sub(1)
                .and_then(|at| self.readings.channels.get(at));
            let Some(channel) = channel else {
                let per_unit = style.to_seconds(1.0);
                return Column {
                    column: *column,
                    values: self.row_stamps().iter().map(|s| s / per_unit).collect(),
                    filled: rows,
                    ..Column::default()
                };
            };
            let (at, values) = self.placed(channel);
            let whole = at.len() == rows;
            let (at, values) = match apart && !whole {
                true => (Some(at), values),
                false => (None, spread(&at, &values, rows)),
            };
            Column {
                column: *column,
                values,
                at: at.map(Arc::from),
                filled: channel.values.len(),
                blank: channel.blank,
                unreadable: channel.unreadable,
                words: channel.words,
            }
        });
        Raw {
            columns: columns.collect(),
            stamps_s: Some(self.row_stamps().to_vec()),
            lines: match &self.moved {
                Some(moved) => moved.lines.clone(),
                None => self.readings.lines.clone(),
            },
            problems: self.readings.problems.clone(),
            backs: Vec::new(),
            headers: Vec::new(),
            first_stamp: self.readings.first_stamp.clone(),
            broke: None,
        }
    }

    /// The rows and values of a channel, in the order of the rows.
    fn placed(&self, channel: &Channel) -> (Vec<u32>, Vec<f64>) {
        let Some(moved) = &self.moved else {
            return (channel.at.clone(), channel.values.clone());
        };
        let rows = channel.at.iter().map(|at| moved.first_rows[*at as usize]);
        let mut pairs: Vec<(u32, f64)> = rows.zip(channel.values.iter().copied()).collect();
        if !pairs.is_sorted_by_key(|pair| pair.0) {
            pairs.sort_by_key(|pair| pair.0);
        }
        // Several readings under one stamp take the rows that were made for them, in the order of the log.
        let mut last = None;
        let mut nth = 0;
        for (row, _) in &mut pairs {
            nth = if last == Some(*row) { nth + 1 } else { 0 };
            last = Some(*row);
            *row += nth;
        }
        pairs.into_iter().unzip()
    }
}

impl Moved {
    fn new(readings: &Readings) -> Self {
        let stamps = &readings.stamps;
        let starts = restarts(stamps, &readings.channels);
        // The number of each stamp among the different ones, in their order.
        let mut numbers = vec![0_u32; stamps.len()];
        let mut firsts: Vec<u32> = Vec::new();
        for at in order(stamps, &starts) {
            let same = firsts.last().is_some_and(|first| {
                let first = *first as usize;
                stamps[first].total_cmp(&stamps[at as usize]).is_eq()
                    && epoch(&starts, first) == epoch(&starts, at as usize)
            });
            if !same {
                firsts.push(at);
            }
            numbers[at as usize] = row(firsts.len() - 1);
        }
        let mut wanted = vec![1_u32; firsts.len()];
        for channel in &readings.channels {
            for (number, count) in runs(&rows_of(channel, &numbers)) {
                let most = &mut wanted[number as usize];
                *most = (*most).max(row(count));
            }
        }
        let mut moved = Self::default();
        let mut first_row = Vec::with_capacity(firsts.len());
        for (first, rows) in firsts.iter().zip(&wanted) {
            first_row.push(row(moved.stamps.len()));
            for _ in 0..*rows {
                moved.stamps.push(stamps[*first as usize]);
                moved.lines.push(readings.lines.line_of(*first as usize));
            }
        }
        let rows = numbers.into_iter().map(|number| first_row[number as usize]);
        moved.first_rows = rows.collect();
        moved
    }
}

/// One value for each of `rows` rows, NaN where there is none.
fn spread(at: &[u32], values: &[f64], rows: usize) -> Vec<f64> {
    let mut all = vec![f64::NAN; rows];
    for (row, value) in at.iter().zip(values) {
        if let Some(place) = all.get_mut(*row as usize) {
            *place = *value;
        }
    }
    all
}

/// The numbers of a channel's stamps, in order.
fn rows_of(channel: &Channel, numbers: &[u32]) -> Vec<u32> {
    let mut rows: Vec<u32> = channel.at.iter().map(|at| numbers[*at as usize]).collect();
    if !rows.is_sorted() {
        rows.sort_unstable();
    }
    rows
}

/// Equal neighbours and how many there are of each.
fn runs(sorted: &[u32]) -> impl Iterator<Item = (u32, usize)> + '_ {
    sorted
        .chunk_by(|a, b| a == b)
        .map(|run| (run[0], run.len()))
}

fn row(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

/// Carries a clock of day over midnight (an hourless one over the hour). Channels interleave, so that the last stamps of
/// a day may come behind the first of the next: each stamp goes to the round that brings it nearest to the one before.
fn carry(stamps: &mut [f64], style: ClockStyle) -> usize {
    let round = match style {
        ClockStyle::HoursMinutesSeconds => 86_400.0,
        ClockStyle::MinutesSeconds => 3600.0,
        _ => return 0,
    };
    if stamps.iter().any(|s| !(0.0..round).contains(s)) {
        return 0;
    }
    let (mut rounds, mut most, mut last) = (0_i32, 0, f64::NAN);
    for stamp in stamps {
        if last - *stamp > round / 2.0 {
            rounds += 1;
        } else if *stamp - last > round / 2.0 && rounds > 0 {
            rounds -= 1;
        }
        last = *stamp;
        most = most.max(rounds);
        *stamp += round * f64::from(rounds);
    }
    usize::try_from(most).unwrap_or(0)
}

/// Positions of the stamps at which the clock began again: where a channel's own stamps fall, and no restart that was
/// found already lies between.
fn restarts(stamps: &[f64], channels: &[Channel]) -> Vec<usize> {
    let first = stamps.first().copied().unwrap_or(0.0);
    let late = |at: usize| LATE_S.min(LATE_SHARE * (stamps[at] - first).abs());
    let mut falls: Vec<(usize, usize)> = Vec::new();
    for channel in channels {
        for pair in channel.at.windows(2) {
            let (before, after) = (pair[0] as usize, pair[1] as usize);
            if stamps[before] - stamps[after] > late(before) {
                falls.push((after, before));
            }
        }
    }
    falls.sort_unstable();
    let mut starts: Vec<usize> = Vec::new();
    for (after, before) in falls {
        if starts.last().is_none_or(|start| *start <= before) {
            starts.push(after);
        }
    }
    // A channel that is read for the first time may come before those that show the restart.
    for start in &mut starts {
        let nearest =
            (0..=channels.len()).map_while(|back| start.checked_sub(back).filter(|at| *at > 0));
        let fall = nearest
            .into_iter()
            .find(|at| stamps[*at - 1] - stamps[*at] > late(*at - 1));
        *start = fall.unwrap_or(*start);
    }
    starts.dedup();
    starts
}

fn epoch(starts: &[usize], at: usize) -> usize {
    starts.partition_point(|start| *start <= at)
}

/// The stamps in the order of time, one course of the clock after the other.
fn order(stamps: &[f64], starts: &[usize]) -> Vec<u32> {
    let mut order: Vec<u32> = (0..row(stamps.len())).collect();
    let mut from = 0;
    for to in starts.iter().copied().chain([stamps.len()]) {
        let part = &mut order[from..to];
        if !part.is_sorted_by(|a, b| stamps[*a as usize] <= stamps[*b as usize]) {
            part.sort_by(|a, b| stamps[*a as usize].total_cmp(&stamps[*b as usize]));
        }
        from = to;
    }
    order
}
