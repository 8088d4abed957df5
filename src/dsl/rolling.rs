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
    beats: impl Fn(f64, f64) -> bool + Copy,
) -> Series {
    let half = seconds / 2.0 + 1e-9;
    let (t, v) = (&series.times, &series.values);
    if let Some(reach) = even(t, half, believed) {
        let better = |a: f64, b: f64| if beats(b, a) { b } else { a };
        return Series::of_finite(&series.times, extreme_of_even(v, reach, better));
    }
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

/// To how many samples either side each window reaches, where that is the same for all and nothing is missing in between.
fn even(t: &[f64], half: f64, believed: f64) -> Option<usize> {
    let reach = t.partition_point(|x| x - t[0] <= half).checked_sub(1)?;
    let same = apart(t, 1, |dt| dt <= believed)
        && apart(t, reach, |dt| dt <= half)
        && apart(t, reach + 1, |dt| dt > half);
    same.then_some(reach)
}

/// Whether that holds of every two times so many samples apart.
fn apart(t: &[f64], samples: usize, is: impl Fn(f64) -> bool) -> bool {
    let later = t.get(samples..).unwrap_or_default();
    let pairs = t.iter().zip(later);
    pairs.fold(true, |all, (a, b)| all & is(b - a))
}

/// Samples of which the best are found together.
const CHUNK: usize = 2048;

/// The best of each window that reaches so many samples to either side: of two stretches that together cover it, each of a
/// power of two of samples, which come about by doubling.
fn extreme_of_even(v: &[f64], reach: usize, better: impl Fn(f64, f64) -> f64 + Copy) -> Vec<f64> {
    let n = v.len();
    // At the ends of the series windows are cut short.
    let cut = |i: usize| {
        let window = v[i.saturating_sub(reach)..(i + reach + 1).min(n)].iter();
        window.copied().reduce(better).unwrap_or(f64::NAN)
    };
    let first = reach.min(n);
    let last = n.saturating_sub(reach).max(first);
    let mut out: Vec<f64> = Vec::with_capacity(n);
    out.extend((0..first).map(cut));
    let (mut best, mut next) = (Vec::new(), Vec::new());
    for from in (first..last).step_by(CHUNK) {
        let to = last.min(from + CHUNK);
        best.clear();
        best.extend_from_slice(&v[from - reach..to + reach]);
        let mut length = 1;
        while length * 2 <= 2 * reach + 1 {
            next.clear();
            let pairs = best.iter().zip(&best[length..]);
            next.extend(pairs.map(|(a, b)| better(*a, *b)));
            std::mem::swap(&mut best, &mut next);
            length *= 2;
        }
        let ends = best[2 * reach + 1 - length..].iter();
        out.extend(
            best.iter()
                .zip(ends)
                .take(to - from)
                .map(|(a, b)| better(*a, *b)),
        );
    }
    out.extend((last..n).map(cut));
    out
}

/// The median of each window.
pub fn median(series: &Series, seconds: f64, believed: f64) -> Series {
    let narrow = even(&series.times, seconds / 2.0 + 1e-9, believed).filter(|reach| *reach <= 2);
    let Some(reach) = narrow.filter(|reach| series.len() > 2 * reach) else {
        return sorted(series, seconds, believed, middle);
    };
    let v = &series.values;
    let cut = |i: usize| {
        let mut window = v[i.saturating_sub(reach)..(i + reach + 1).min(v.len())].to_vec();
        window.sort_unstable_by(f64::total_cmp);
        middle(&window)
    };
    let mut out: Vec<f64> = (0..reach).map(cut).collect();
    let least = |a: f64, b: f64| if b < a { b } else { a };
    let most = |a: f64, b: f64| if b < a { a } else { b };
    let of_three = |a: f64, b: f64, c: f64| most(least(a, b), least(most(a, b), c));
    match reach {
        0 => out.extend_from_slice(v),
        1 => out.extend(v.windows(3).map(|w| of_three(w[0], w[1], w[2]))),
        // Of five, the least and the greatest of two pairs are each beaten by two: the median is among the rest.
        _ => out.extend(v.windows(5).map(|w| {
            let low = most(least(w[0], w[1]), least(w[2], w[3]));
            let high = least(most(w[0], w[1]), most(w[2], w[3]));
            of_three(low, high, w[4])
        })),
    }
    out.extend((v.len() - reach..v.len()).map(cut));
    Series::of_finite(&series.times, out)
}

/// What `tell` makes of the sorted values of each window. The window is kept sorted while it moves: one value comes in, one
/// goes out.
pub fn sorted(
    series: &Series,
    seconds: f64,
    believed: f64,
    tell: impl Fn(&[f64]) -> f64,
) -> Series {
    let half = seconds / 2.0 + 1e-9;
    let (t, v) = (&series.times, &series.values);
    let (mut from, mut to, mut island_end) = (0, 0, 0);
    let mut sorted: Vec<f64> = Vec::new();
    let mut out = Vec::with_capacity(series.len());
    let place =
        |sorted: &[f64], value: f64| sorted.partition_point(|x| x.total_cmp(&value).is_lt());
    let even = even(t, half, believed);
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
        if let Some(reach) = even.filter(|reach| i > *reach && i + reach < t.len()) {
            // One goes, one comes: the values between their places move up or down by one.
            swap(&mut sorted, v[i - reach - 1], v[i + reach]);
            (from, to) = (i - reach, i + reach + 1);
            out.push(tell(&sorted));
            continue;
        }
        while to < island_end && t[to] - t[i] <= half {
            if t[i] - t[from] > half && from < to {
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
    let (from, to): (usize, usize) = if sorted.len() <= 48 {
        sorted.iter().fold((0, 0), |(from, to), x| {
            (from + usize::from(*x < old), to + usize::from(*x < new))
        })
    } else {
        let below = |value: f64| sorted.partition_point(|x| *x < value);
        (below(old), below(new))
    };
    // Those between move up or down by one; the old value is itself counted below a larger new one.
    if to > from {
        sorted.copy_within(from + 1..to, from);
        sorted[to - 1] = new;
    } else {
        sorted.copy_within(to..from, to + 1);
        sorted[to] = new;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn even_windows_give_what_looking_at_each_gives() {
        for n in [1_usize, 2, 3, 7, 50, 401] {
            let times: Arc<[f64]> = (0..n).map(|i| i as f64 * 0.01).collect();
            let values: Vec<f64> = (0..n).map(|i| ((i * 7919) % 101) as f64).collect();
            let series = Series::new(&times, values.clone());
            for reach in [0_usize, 1, 2, 3, 10, 31, 32, 60] {
                let seconds = reach as f64 * 0.02;
                let half = seconds / 2.0 + 1e-9;
                let told = even(&times, half, 0.03);
                assert_eq!(
                    told,
                    Some(reach.min(n - 1)),
                    "{n} samples, {reach} to a side"
                );
                let window = |i: usize| &values[i.saturating_sub(reach)..(i + reach + 1).min(n)];
                let most = extreme(&series, seconds, 0.03, |a, b| a >= b);
                let least = extreme(&series, seconds, 0.03, |a, b| a <= b);
                for i in 0..n {
                    let all = || window(i).iter().copied();
                    assert_eq!(
                        Some(most.values[i]),
                        all().reduce(f64::max),
                        "{n} {reach} {i}"
                    );
                    assert_eq!(
                        Some(least.values[i]),
                        all().reduce(f64::min),
                        "{n} {reach} {i}"
                    );
                }
            }
        }
    }

    #[test]
    fn medians_of_even_windows_are_those_of_sorting() {
        for n in [1_usize, 2, 3, 4, 5, 6, 60, 300] {
            let times: Arc<[f64]> = (0..n).map(|i| i as f64 * 0.01).collect();
            for values in [
                (0..n)
                    .map(|i| ((i * 7919) % 101) as f64)
                    .collect::<Vec<f64>>(),
                (0..n).map(|i| ((i * 31) % 3) as f64).collect(),
            ] {
                let series = Series::new(&times, values.clone());
                for reach in [0_usize, 1, 2, 3, 10, 70] {
                    let made = median(&series, reach as f64 * 0.02, 0.03);
                    for i in 0..n {
                        let mut window =
                            values[i.saturating_sub(reach)..(i + reach + 1).min(n)].to_vec();
                        window.sort_by(f64::total_cmp);
                        assert_eq!(made.values[i], middle(&window), "{n} {reach} {i}");
                    }
                }
            }
        }
    }

    #[test]
    fn windows_over_a_gap_or_an_uneven_clock_are_looked_at_one_by_one() {
        let gap: Vec<f64> = (0..40)
            .map(|i| f64::from(i) * 0.1 + f64::from(i / 20))
            .collect();
        assert_eq!(even(&gap, 0.2, 0.3), None);
        let uneven: Vec<f64> = (0..40)
            .map(|i| f64::from(i) * 0.1 + f64::from(i % 2) * 0.04)
            .collect();
        assert_eq!(even(&uneven, 0.2, 0.3), None);
        let series = Series::new(&gap.clone().into(), (0..40).map(f64::from).collect());
        let most = extreme(&series, 0.41, 0.3, |a, b| a >= b);
        assert_eq!(
            (most.values[17], most.values[19], most.values[20]),
            (19.0, 19.0, 22.0)
        );
    }
}
