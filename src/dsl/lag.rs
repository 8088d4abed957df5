//! How one column lags behind another.

use super::column::Column;
use super::lazy::hold;
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
const TRIES: i32 = 48;

/// Tries time constants evenly in the logarithm, with scale and offset by least squares for each.
pub fn behind(column: &Column, other: &Column) -> Option<Lag> {
    let ys = column.series();
    let input = other.series();
    if ys.len() < 10 || input.len() < 10 {
        return None;
    }
    let believed = other.lazy.believed_s();
    let mut best: Option<Lag> = None;
    for i in 0..=TRIES {
        let tau = SHORTEST_S * (LONGEST_S / SHORTEST_S).powf(f64::from(i) / f64::from(TRIES));
        let shown = stats::lagged(&input.times, &input.values, tau, believed);
        let shown = crate::recording::Series::new(&input.times, shown);
        let xs = hold(&shown, &ys.times, believed);
        let Some((gain, explained)) = fit(&xs, &ys.values) else {
            continue;
        };
        if best.is_none_or(|b| explained > b.explained) {
            best = Some(Lag {
                tau,
                explained,
                gain,
            });
        }
    }
    best
}

fn fit(xs: &[f64], ys: &[f64]) -> Option<(f64, f64)> {
    let pairs: Vec<(f64, f64)> = xs
        .iter()
        .copied()
        .zip(ys.iter().copied())
        .filter(|p| p.0.is_finite())
        .collect();
    if pairs.len() < 10 {
        return None;
    }
    let n = pairs.len() as f64;
    let (mx, my) = (
        pairs.iter().map(|p| p.0).sum::<f64>() / n,
        pairs.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for (x, y) in pairs {
        sxx += (x - mx).powi(2);
        sxy += (x - mx) * (y - my);
        syy += (y - my).powi(2);
    }
    (sxx > 1e-9 && syy > 1e-9).then(|| (sxy / sxx, (sxy * sxy / (sxx * syy)).min(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::Series;
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
