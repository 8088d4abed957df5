//! How one column lags behind another.

use super::column::Column;
use super::lazy::hold;
use super::thin::averaged;
use crate::recording::Series;
use crate::stats;

/// A fitted first-order lag.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lag {
    /// Time constant, s.
    pub tau: f64,
    /// Share of the movement explained, 0..=1.
    pub explained: f64,
    /// Movement of the one per movement of the other.
    pub gain: f64,
}

const SHORTEST_S: f64 = 0.1;
const LONGEST_S: f64 = 60.0;
/// Tries over the whole range, evenly in the logarithm, then so many steps towards the top between the best's neighbours.
const TRIES: i32 = 8;
const NARROWINGS: i32 = 5;
const GOLDEN: f64 = 0.618_033_988_749_895;
/// A fit takes about so many samples: denser ones are averaged in blocks, for samples far closer together than the
/// shortest time constant say nothing more.
const MOST: f64 = 4_000.0;

/// Tries time constants evenly in the logarithm, with scale and offset by least squares for each.
pub fn behind(column: &Column, other: &Column) -> Option<Lag> {
    let (ys, input) = (column.series(), other.series());
    if ys.len() < 10 || input.len() < 10 {
        return None;
    }
    let block = (SHORTEST_S / 2.0).max(input.spacing()? * input.len() as f64 / MOST);
    let believed = other.lazy.believed_s().max(2.0 * block);
    let (ys, input) = (
        averaged(&ys, block, column.lazy.believed_s()),
        averaged(&input, block, other.lazy.believed_s()),
    );
    let pairs = Pairs::new(&input, &ys, believed)?;
    let step = (LONGEST_S / SHORTEST_S).ln() / f64::from(TRIES);
    let tau = |place: f64| SHORTEST_S * (place * step).exp();
    let first: [f64; TRIES as usize + 1] = std::array::from_fn(|i| tau(i as f64));
    let at = |place: f64| {
        let [lag] = pairs.fit(&input, [tau(place)], believed);
        lag
    };
    let coarse = pairs.fit(&input, first, believed).into_iter().enumerate();
    let coarse = coarse.filter_map(|(i, lag)| Some((i as f64, lag?)));
    let (place, mut best) = coarse.max_by(|a, b| a.1.explained.total_cmp(&b.1.explained))?;
    // The share explained has one top: the golden section closes in on it from both neighbours.
    let (mut low, mut high) = ((place - 1.0).max(0.0), (place + 1.0).min(f64::from(TRIES)));
    let inner = |low: f64, high: f64| (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut a, mut b) = inner(low, high);
    let [left, right] = pairs.fit(&input, [tau(a), tau(b)], believed);
    let (mut left, mut right) = (left?, right?);
    for _ in 0..NARROWINGS {
        // One of the two inner places is an inner place of the narrower stretch as well.
        if left.explained >= right.explained {
            (high, b, right) = (b, a, left);
            a = inner(low, high).0;
            left = at(a)?;
        } else {
            (low, a, left) = (a, b, right);
            b = inner(low, high).1;
            right = at(b)?;
        }
    }
    for lag in [left, right] {
        if lag.explained > best.explained {
            best = lag;
        }
    }
    Some(best)
}

/// Which sample of the one stands at each sample of the other: the same for every time constant tried.
struct Pairs {
    at: Vec<usize>,
    ys: Vec<f64>,
    syy: f64,
}

impl Pairs {
    /// `None` for fewer than 10 pairs, or where the other hardly moves.
    fn new(input: &Series, ys: &Series, believed: f64) -> Option<Pairs> {
        #[expect(clippy::cast_precision_loss, reason = "numbers of samples")]
        let numbers = (0..input.len()).map(|i| i as f64).collect();
        let places = hold(&Series::new(&input.times, numbers), &ys.times, believed);
        let known = places.iter().zip(ys.values.iter());
        let known = known.filter(|p| p.0.is_finite());
        let (at, mut ys): (Vec<usize>, Vec<f64>) = known.map(|(at, y)| (*at as usize, *y)).unzip();
        if at.len() < 10 {
            return None;
        }
        let my = ys.iter().sum::<f64>() / ys.len() as f64;
        ys.iter_mut().for_each(|y| *y -= my);
        let syy = ys.iter().map(|y| y * y).sum();
        Some(Pairs { at, ys, syy })
    }

    /// Gain and share explained for each of these time constants, s, by least squares.
    fn fit<const N: usize>(
        &self,
        input: &Series,
        taus: [f64; N],
        believed: f64,
    ) -> [Option<Lag>; N] {
        let shown = stats::lagged_by(&input.times, &input.values, taus, believed);
        let xs = || {
            self.at
                .iter()
                .map(|at| shown.get(*at).copied().unwrap_or([0.0; N]))
        };
        let mut mean = [0.0; N];
        for x in xs() {
            mean.iter_mut().zip(x).for_each(|(sum, x)| *sum += x);
        }
        mean.iter_mut().for_each(|sum| *sum /= self.at.len() as f64);
        let (mut sxx, mut sxy) = ([0.0; N], [0.0; N]);
        for (x, y) in xs().zip(&self.ys) {
            for i in 0..N {
                let off = x[i] - mean[i];
                sxx[i] += off * off;
                sxy[i] += off * y;
            }
        }
        std::array::from_fn(|i| {
            let moves = sxx[i] > 1e-9 && self.syy > 1e-9;
            moves.then(|| Lag {
                tau: taus[i],
                explained: (sxy[i] * sxy[i] / (sxx[i] * self.syy)).min(1.0),
                gain: sxy[i] / sxx[i],
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;
    use std::sync::Arc;

    #[test]
    fn finds_the_time_constant_of_a_made_lag() {
        let times: Arc<[f64]> = (0..2000)
            .map(|i| f64::from(i) * 0.1)
            .collect::<Vec<_>>()
            .into();
        let input: Vec<f64> = times
            .iter()
            .map(|t| {
                if (t / 25.0) as i64 % 2 == 0 {
                    400.0
                } else {
                    700.0
                }
            })
            .collect();
        let shown = stats::lagged(&times, &input, 4.0, 1.0)
            .iter()
            .map(|v| 30.0 + 0.8 * v)
            .collect();
        let make = |v: Vec<f64>| {
            Column::made(
                "x",
                Series::new(&times, v),
                Unit::standard("degC"),
                0.1,
                0.3,
            )
        };
        let lag = behind(&make(shown), &make(input)).expect("both move");
        assert!(
            (lag.tau - 4.0).abs() < 0.6 && (lag.gain - 0.8).abs() < 0.05 && lag.explained > 0.98,
            "{lag:?}"
        );
    }
}
