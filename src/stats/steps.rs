//! Change points: where a series steps from one level to another and stays.

use super::{mad, median};

/// A step between two levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Time of the first sample on the new level.
    pub at: f64,
    /// Median before it.
    pub before: f64,
    /// Median after it.
    pub after: f64,
    /// The larger of the scaled MADs on its two sides.
    pub scatter: f64,
}

/// Most samples that are searched; denser series are thinned by block medians first.
const MOST: usize = 3_000;
/// A step stands out so many times from the scatter on its sides.
const CLEAR: f64 = 3.0;
/// Fewest samples on each side.
const FEWEST: usize = 3;

/// Looks for steps of at least `least`: the medians of `side` seconds before and after a moment lie so far apart, and three
/// times further than either side scatters. The largest are taken first, and none lies within `side` of another. In the
/// order of time. A slope is no step: what one side drifts within itself counts as its scatter.
pub fn steps(times: &[f64], values: &[f64], least: f64, side: f64) -> Vec<Step> {
    let (times, values) = thinned(times, values);
    let mut found: Vec<(usize, Step)> = Vec::new();
    let (mut from, mut to) = (0, 0);
    for at in 1..times.len() {
        while times[at] - times[from] > side + 1e-9 {
            from += 1;
        }
        while to < times.len() && times[to] - times[at] < side - 1e-9 {
            to += 1;
        }
        let (a, b) = (&values[from..at], &values[at..to]);
        let full =
            times[at] - times[0] >= side / 2.0 && times[times.len() - 1] - times[at] >= side / 2.0;
        if a.len() < FEWEST || b.len() < FEWEST || !full {
            continue;
        }
        let (Some(before), Some(after)) = (median(a), median(b)) else {
            continue;
        };
        if (after - before).abs() < least {
            continue;
        }
        let scatter = mad(a).unwrap_or(0.0).max(mad(b).unwrap_or(0.0));
        if (after - before).abs() >= CLEAR * scatter {
            found.push((
                at,
                Step {
                    at: times[at],
                    before,
                    after,
                    scatter,
                },
            ));
        }
    }
    // Near a step many moments qualify: the one that leaves least over between its two levels is the step.
    let left_over = |at: usize, s: &Step| -> f64 {
        let near = |i: &usize| (times[*i] - s.at).abs() <= side;
        (0..times.len())
            .filter(near)
            .map(|i| (values[i] - if i < at { s.before } else { s.after }).abs())
            .sum::<f64>()
    };
    let mut ranked: Vec<(f64, f64, Step)> = found
        .iter()
        .map(|(at, s)| ((s.after - s.before).abs(), left_over(*at, s), *s))
        .collect();
    ranked.sort_by(|a, b| a.1.total_cmp(&b.1).then(b.0.total_cmp(&a.0)));
    // Moments within one side of each other are one step: runs of them, the best of each run.
    let mut out: Vec<Step> = Vec::new();
    for (_, _, step) in ranked {
        if out.iter().all(|s| (s.at - step.at).abs() > side) {
            out.push(step);
        }
    }
    out.sort_by(|a, b| a.at.total_cmp(&b.at));
    out
}

fn thinned(times: &[f64], values: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let n = times.len().min(values.len());
    let block = n.div_ceil(MOST).max(1);
    let finite = (0..n).filter(|i| values[*i].is_finite());
    let kept: Vec<(f64, f64)> = finite.map(|i| (times[i], values[i])).collect();
    kept.chunks(block)
        .filter_map(|c| {
            let (_, v): (Vec<f64>, Vec<f64>) = c.iter().copied().unzip();
            Some((c.first()?.0, median(&v)?))
        })
        .unzip()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(f: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f64>) {
        let t: Vec<f64> = (0..600).map(|i| f64::from(i) * 0.1).collect();
        // A fixed shake of about 1 %, so that the sides scatter.
        let v = t.iter().map(|t| f(*t) + 0.05 * (t * 37.0).sin()).collect();
        (t, v)
    }

    #[test]
    fn a_step_is_found_where_it_is() {
        let (t, v) = series(|t| if t < 31.25 { 14.2 } else { 13.4 });
        let found = steps(&t, &v, 0.4, 5.0);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].at - 31.3).abs() < 0.15, "{found:?}");
        assert!(
            (found[0].after - found[0].before + 0.8).abs() < 0.05,
            "{found:?}"
        );
    }

    #[test]
    fn several_steps_in_order_and_outliers_are_none() {
        let (t, mut v) = series(|t| {
            if t < 15.0 {
                1.0
            } else if t < 40.0 {
                2.0
            } else {
                1.2
            }
        });
        for i in (0..600).step_by(50) {
            v[i] = 9.0;
        }
        let found = steps(&t, &v, 0.5, 5.0);
        let at: Vec<f64> = found.iter().map(|s| s.at).collect();
        assert_eq!(at.len(), 2, "{found:?}");
        assert!(
            (at[0] - 15.0).abs() < 0.25 && (at[1] - 40.0).abs() < 0.25,
            "{found:?}"
        );
    }

    #[test]
    fn noise_and_slopes_are_no_steps() {
        let (t, v) = series(|_| 14.2);
        assert!(steps(&t, &v, 0.2, 5.0).is_empty());
        let (t, v) = series(|t| 14.2 - 0.1 * t);
        assert!(steps(&t, &v, 0.4, 5.0).is_empty());
        assert!(steps(&[], &[], 0.4, 5.0).is_empty());
    }
}
