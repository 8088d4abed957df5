//! Rolling windows: centred, cut short at the ends, never over a gap.

use crate::recording::Series;
use crate::stop;

/// What a rolling window tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Window {
    /// Its median.
    Median,
    /// Its least value.
    Least,
    /// Its greatest value.
    Greatest,
    /// Its scaled median absolute deviation.
    Mad,
}

/// The middle of sorted values.
pub fn middle(sorted: &[f64]) -> f64 {
    sorted.len().checked_sub(1).map_or(f64::NAN, |last| {
        0.5 * (sorted[last / 2] + sorted[last.div_ceil(2)])
    })
}

/// The least or greatest of a moving window: candidates only, each of them beaten by none that came after it.
pub fn extreme(
    series: &Series,
    seconds: f64,
    believed: f64,
    beats: fn(f64, f64) -> bool,
) -> Series {
    let half = seconds / 2.0 + 1e-9;
    let (t, v) = (&series.times, &series.values);
    let mut out = Vec::with_capacity(series.len());
    let mut queue: std::collections::VecDeque<usize> = std::collections::VecDeque::new();
    let (mut to, mut island_end) = (0, 0);
    for i in 0..series.len() {
        if stop::asked_at(i) {
            return Series::empty();
        }
        if i == island_end {
            island_end = i + 1;
            while island_end < t.len() && t[island_end] - t[island_end - 1] <= believed {
                island_end += 1;
            }
            to = i;
            queue.clear();
        }
        while to < island_end && t[to] - t[i] <= half {
            while queue.back().is_some_and(|last| beats(v[to], v[*last])) {
                queue.pop_back();
            }
            queue.push_back(to);
            to += 1;
        }
        while queue.front().is_some_and(|first| t[i] - t[*first] > half) {
            queue.pop_front();
        }
        out.push(queue.front().map_or(f64::NAN, |first| v[*first]));
    }
    Series::new(&series.times, out)
}

/// What `tell` makes of the sorted values of each window. The window is kept sorted while it moves: one value comes in, one
/// goes out.
pub fn sorted(series: &Series, seconds: f64, believed: f64, tell: fn(&[f64]) -> f64) -> Series {
    let half = seconds / 2.0 + 1e-9;
    let (t, v) = (&series.times, &series.values);
    let (mut from, mut to, mut island_end) = (0, 0, 0);
    let mut sorted: Vec<f64> = Vec::new();
    let mut out = Vec::with_capacity(series.len());
    let place =
        |sorted: &[f64], value: f64| sorted.partition_point(|x| x.total_cmp(&value).is_lt());
    for i in 0..series.len() {
        if stop::asked_at(i) {
            return Series::empty();
        }
        if i == island_end {
            island_end = i + 1;
            while island_end < t.len() && t[island_end] - t[island_end - 1] <= believed {
                island_end += 1;
            }
            (from, to) = (i, i);
            sorted.clear();
        }
        while to < island_end && t[to] - t[i] <= half {
            if t[i] - t[from] > half && from < to {
                // One goes, one comes: the values between their places move up or down by one.
                swap(&mut sorted, v[from], v[to]);
                from += 1;
            } else {
                let at = place(&sorted, v[to]);
                sorted.insert(at, v[to]);
            }
            to += 1;
        }
        while t[i] - t[from] > half {
            let at = place(&sorted, v[from]);
            sorted.remove(at);
            from += 1;
        }
        out.push(tell(&sorted));
    }
    Series::new(&series.times, out)
}

/// Puts a value into the place of another and keeps the order. Short windows are counted through: no branch to guess
/// wrongly.
fn swap(sorted: &mut [f64], old: f64, new: f64) {
    let below = |value: f64| {
        if sorted.len() <= 128 {
            sorted.iter().map(|x| usize::from(*x < value)).sum()
        } else {
            sorted.partition_point(|x| *x < value)
        }
    };
    let (from, to): (usize, usize) = (below(old), below(new));
    // Those between move up or down by one; the old value is itself counted below a larger new one.
    if to > from {
        sorted.copy_within(from + 1..to, from);
        sorted[to - 1] = new;
    } else {
        sorted.copy_within(to..from, to + 1);
        sorted[to] = new;
    }
}
