//! How often a channel really brings a new reading.
//!
//! A slow channel in a fast file stands still between its readings: blank cells, which are no samples at all, or the
//! same value again in each row. The repeats show as stretches of rows whose lengths are multiples of one beat. A slow
//! quantity of coarse resolution also repeats itself, at no fixed beat; and one that climbs evenly changes at even
//! distances, but by one step of its resolution each time. Only what is neither of these is taken for a slow channel.

mod beat;
mod look;

use super::Series;
use beat::Beat;
use look::{Breaks, Look};

/// How a channel's readings lie in the rows of its log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// Each row that has a cell of this channel brings a new reading.
    Own,
    /// A reading is repeated in the rows up to the next one.
    Repeated,
    /// As [`Pace::Repeated`], but it changes too seldom to show its own beat: taken from the columns beside it.
    Beside,
    /// It never changes: how often it is read does not show.
    Still,
    /// It changes too seldom, or too evenly, to show how often it is read.
    Unclear,
}

/// What was found out about a channel's rate.
#[derive(Clone, Debug)]
pub(super) struct Rate {
    /// Distance of its own readings, s.
    pub interval_s: f64,
    /// One sample for each reading of its own.
    pub updates: Series,
    /// The smallest step between two different readings; 0 where it never changes.
    pub resolution: f64,
    /// How it was understood.
    pub pace: Pace,
}

/// Longest beat that repeated values are taken for, s; what stands still for longer changes rarely.
const SLOWEST_S: f64 = 30.0;

/// Finds a channel's own rate from its samples alone.
pub(super) fn find(series: &Series) -> Rate {
    let spacing = spacing(series);
    let as_written = |look: &Look, pace| Rate {
        interval_s: spacing,
        updates: series.clone(),
        resolution: look.resolution,
        pace,
    };
    let look = Look::at(series);
    if look.restless() {
        return as_written(&look, Pace::Own);
    }
    let breaks = Breaks::of(series, spacing);
    let look = look.seen(&breaks, &series.values);
    let runs = breaks.runs();
    match Beat::find(&runs, look.leaps, SLOWEST_S / spacing) {
        Some(beat) => {
            let interval = beat.rows * breaks.row_s(beat).unwrap_or(spacing);
            held(
                series,
                interval,
                &breaks,
                beat,
                look.resolution,
                Pace::Repeated,
            )
        }
        None if breaks.changes() == 0 => as_written(&look, Pace::Still),
        None if beat::moves_freely(&runs) => as_written(&look, Pace::Own),
        None => as_written(&look, Pace::Unclear),
    }
}

/// The rate of a channel that does not show its own, in a log whose other columns are read every `interval_s`. `None`
/// where its changes speak against it: where all columns are read in turn, only if they come sooner; else, if they do
/// not lie on that beat.
pub(super) fn beside(
    series: &Series,
    interval_s: f64,
    in_turn: bool,
    resolution: f64,
) -> Option<Rate> {
    let spacing = spacing(series);
    let breaks = Breaks::of(series, spacing);
    let rows = interval_s / breaks.mean_row_s()?;
    let beat = Beat::given(&breaks.runs(), rows, in_turn)?;
    Some(held(
        series,
        interval_s,
        &breaks,
        beat,
        resolution,
        Pace::Beside,
    ))
}

fn held(
    series: &Series,
    interval_s: f64,
    breaks: &Breaks,
    beat: Beat,
    resolution: f64,
    pace: Pace,
) -> Rate {
    let at = breaks.updates(beat);
    let pick = |from: &[f64]| -> Vec<f64> { at.iter().map(|i| from[*i]).collect() };
    Rate {
        interval_s,
        updates: Series {
            times: pick(&series.times).into(),
            values: pick(&series.values).into(),
        },
        resolution,
        pace,
    }
}

/// The rows in which a channel changes: for seeing whether columns are read in turn. At most so many.
pub(super) fn change_rows(series: &Series, most: usize) -> Vec<f64> {
    const BLOCK: usize = 512;
    let values = &series.values;
    let mut rows = Vec::new();
    let mut from = 1;
    while from < values.len() && rows.len() < most {
        let to = (from + BLOCK).min(values.len());
        let pairs = values[from - 1..to - 1].iter().zip(&values[from..to]);
        // Mostly nothing changes, and that is seen at once.
        if pairs.fold(false, |any, (a, b)| any | (a != b)) {
            let changes = (from..to).filter(|i| values[*i] != values[*i - 1]);
            rows.extend(changes.map(|i| series.times[i]));
        }
        from = to;
    }
    rows.truncate(most);
    rows
}

/// The usual distance of samples, s. The upper quartile, not the middle: rows written twice, or cells that are missing
/// here and there, leave many short steps between the real ones.
fn spacing(series: &Series) -> f64 {
    series
        .step_quantile(0.75)
        .filter(|s| *s > 0.0)
        .unwrap_or(1.0)
}

#[cfg(test)]
mod tests;
