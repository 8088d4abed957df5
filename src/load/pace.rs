//! The habits of a clock: how far it moves at a time, and how many rows go by meanwhile.

/// More than this many steps of the clock beyond what its rows fill is a gap in the recording.
const GAP_STEPS: f64 = 1.5;
/// As many rows to a step fix the time to a row or two, so that a gap shows sooner.
const MANY_ROWS: f64 = 4.0;

/// Rows that show one stamp.
#[derive(Clone, Copy, Debug)]
pub(super) struct Run {
    pub(super) first: usize,
    pub(super) rows: usize,
    pub(super) stamp: f64,
}

/// The habits of a clock.
#[derive(Clone, Copy, Debug)]
pub(super) struct Habit {
    pub(super) period: f64,
    pub(super) step: f64,
    pub(super) rows: f64,
}

impl Habit {
    /// Whether so many rows may well last from one stamp to the next; else there is a gap among them.
    pub(super) fn fills(&self, span: f64, count: f64) -> bool {
        let slack = if self.rows >= MANY_ROWS {
            0.5 * self.step + 2.0 * self.period
        } else {
            GAP_STEPS * self.step
        };
        self.is_one_step(span) || span <= count * self.period + slack
    }

    /// Whether a coarse clock moved by one step only: then no row can be missing in between for sure.
    pub(super) fn is_one_step(&self, span: f64) -> bool {
        span <= 1.25 * self.step
    }
}

/// Groups the chosen rows by equal neighbouring stamps.
pub(super) fn runs(stamps: &[f64], rows: &[usize]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        let stamp = stamps[*row];
        match runs.last_mut() {
            #[expect(clippy::float_cmp, reason = "a repeated stamp is the very same number")]
            Some(run) if run.stamp == stamp => run.rows += 1,
            _ => runs.push(Run {
                first: at,
                rows: 1,
                stamp,
            }),
        }
    }
    runs
}

/// Row period, step and rows a step that are typical, each weighted by rows so that a few odd steps do not matter.
/// The first and last stamps are left out where there are others: their rows may be cut off or standing.
pub(super) fn habit(runs: &[Run]) -> Option<Habit> {
    let steps = |runs: &[Run]| -> Vec<(f64, f64, f64)> {
        let pairs = runs.windows(2).filter(|pair| pair[1].stamp > pair[0].stamp);
        #[expect(clippy::cast_precision_loss, reason = "row counts are far below 2^53")]
        pairs
            .map(|pair| (pair[1].stamp - pair[0].stamp, pair[0].rows as f64))
            .map(|(step, rows)| (step / rows, step, rows))
            .collect()
    };
    let mut inner = steps(runs.get(1..).unwrap_or_default());
    if inner.is_empty() {
        inner = steps(runs);
    }
    let by = |pick: fn(&(f64, f64, f64)) -> f64| {
        weighted_median(inner.iter().map(|s| (pick(s), s.2)).collect())
    };
    let rows = by(|s| s.2)?;
    let step = by(|s| s.1)?;
    let middle = by(|s| s.0)?;
    // A coarse clock rounds its steps; their mean over the ordinary ones is truer than any single one.
    let period = if rows >= 2.0 {
        let rough = Habit {
            period: middle,
            step,
            rows,
        };
        let ordinary = inner.iter().filter(|s| {
            let near = s.0 > middle / 3.0 && s.0 < middle * 3.0;
            near && rough.fills(s.1, s.2)
        });
        let (sum, count) = ordinary.fold((0.0, 0.0), |sum, s| (sum.0 + s.1, sum.1 + s.2));
        if count > 0.0 { sum / count } else { middle }
    } else {
        middle
    };
    Some(Habit { period, step, rows })
}

/// The value at half of the total weight.
fn weighted_median(mut pairs: Vec<(f64, f64)>) -> Option<f64> {
    pairs.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let half = pairs.iter().map(|p| p.1).sum::<f64>() / 2.0;
    let mut sum = 0.0;
    pairs
        .iter()
        .find(|(_, weight)| {
            sum += weight;
            sum >= half
        })
        .map(|p| p.0)
}
