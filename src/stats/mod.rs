//! Robust statistics: medians, MAD, Theil-Sen, exact Poisson intervals, false discovery, heating and lag fits.
//!
//! Plain functions over slices. None of them panics; an empty input gives `None`.

mod blocks;
mod order;
mod share;
mod steps;

pub use blocks::{medians, middle_row, sort_rows};
pub use share::wilson_interval;
pub use steps::{Step, steps};

use statrs::distribution::{Binomial, ContinuousCDF, DiscreteCDF, Gamma, Poisson};

/// Turns a median absolute deviation into the standard deviation of a normal distribution: `1 / ppf(0.75)`
/// (Hampel 1974; value as in the reference values, section 11).
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// The q-quantile (0..=1) with linear interpolation between order statistics.
pub fn quantile(values: &[f64], q: f64) -> Option<f64> {
    if values.iter().fold(true, |all, v| all & v.is_finite()) {
        quantile_of_finite(values, q)
    } else {
        quantile_of(values.to_vec(), q)
    }
}

/// The same of values that are known to be finite.
pub fn quantile_of_finite(values: &[f64], q: f64) -> Option<f64> {
    // A handful, such as the cylinders of one moment, is brought into order where it stands: no memory is asked for.
    let mut few = [0.0; 64];
    if let Some(few) = few.get_mut(..values.len()) {
        few.copy_from_slice(values);
        return (!few.is_empty()).then(|| parted(few, q));
    }
    let place = q.clamp(0.0, 1.0) * (values.len() - 1) as f64;
    match order::at_rank(values, place.floor() as usize) {
        Some((a, b)) => Some(a + (b - a) * place.fract()),
        None => Some(parted(&mut values.to_vec(), q)),
    }
}

/// The same of finite values that lie in several places.
pub fn quantile_of_parts(parts: &[&[f64]], q: f64) -> Option<f64> {
    let count: usize = parts.iter().map(|part| part.len()).sum();
    let place = q.clamp(0.0, 1.0) * count.checked_sub(1)? as f64;
    match order::at_rank_of(parts, place.floor() as usize) {
        Some((a, b)) => Some(a + (b - a) * place.fract()),
        None => quantile_of_finite(&parts.concat(), q),
    }
}

/// A quantile of finite values, at least one, brought into another order.
fn parted(values: &mut [f64], q: f64) -> f64 {
    let at = q.clamp(0.0, 1.0) * (values.len() - 1) as f64;
    let low = at.floor() as usize;
    let (_, &mut a, above) = values.select_nth_unstable_by(low, f64::total_cmp);
    let b = above.iter().copied().min_by(f64::total_cmp).unwrap_or(a);
    a + (b - a) * (at - low as f64)
}

/// The same of values that need not be kept in their order.
pub fn quantile_of(mut v: Vec<f64>, q: f64) -> Option<f64> {
    v.retain(|x| x.is_finite());
    if v.is_empty() {
        return None;
    }
    let at = q.clamp(0.0, 1.0) * (v.len() - 1) as f64;
    let low = at.floor() as usize;
    if let Some((a, b)) = order::at_rank(&v, low) {
        return Some(a + (b - a) * (at - low as f64));
    }
    Some(parted(&mut v, q))
}

/// Several quantiles of the same values, in rising order of `q`; NaN where there are no values. Each parts only what lies above
/// the one before.
pub fn quantiles_of<const N: usize>(mut v: Vec<f64>, q: [f64; N]) -> [f64; N] {
    v.retain(|x| x.is_finite());
    let mut parted = 0;
    q.map(|q| {
        let Some(last) = v.len().checked_sub(1) else {
            return f64::NAN;
        };
        let at = q.clamp(0.0, 1.0) * last as f64;
        let low = at.floor() as usize;
        let from = if low >= parted { parted } else { 0 };
        let (_, &mut a, above) = v[from..].select_nth_unstable_by(low - from, f64::total_cmp);
        let b = above.iter().copied().min_by(f64::total_cmp).unwrap_or(a);
        parted = low;
        a + (b - a) * (at - low as f64)
    })
}

/// The middle value.
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Arithmetic mean.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Median absolute deviation from the median, scaled to a standard deviation.
pub fn mad(values: &[f64]) -> Option<f64> {
    let middle = median(values)?;
    let apart: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    Some(median(&apart)? * MAD_TO_SIGMA)
}

/// Median absolute deviation from the median of values in ascending order, scaled to a standard deviation; NaN for none. The
/// deviations are two ascending lists, one to each side of the median, so the middle one is found without sorting again.
pub fn mad_of_sorted(sorted: &[f64]) -> f64 {
    let n = sorted.len();
    if n == 0 {
        return f64::NAN;
    }
    let middle = 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]);
    let half = n.div_ceil(2);
    // The k smallest deviations are a stretch of k neighbours: the one whose further end lies nearest to the middle.
    let reach = |k: usize| {
        let (mut low, mut high) = (0, n - k);
        while low < high {
            let at = (low + high) / 2;
            if middle - sorted[at] > sorted[at + k] - middle {
                low = at + 1;
            } else {
                high = at;
            }
        }
        (middle - sorted[low]).max(sorted[low + k - 1] - middle)
    };
    let spread = if n % 2 == 1 {
        reach(half)
    } else {
        0.5 * (reach(half) + reach(half + 1))
    };
    spread * MAD_TO_SIGMA
}

/// A line `y = slope * x + intercept`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineFit {
    /// Median of the pairwise slopes.
    pub slope: f64,
    /// Median of `y - slope * x`.
    pub intercept: f64,
    /// Lower end of the 95 % interval of the slope (Sen 1968).
    pub low: f64,
    /// Upper end of it.
    pub high: f64,
}

/// Most points that [`theil_sen`] takes; more are thinned by block medians first, since samples so close together
/// repeat each other anyway.
const THEIL_SEN_MOST: usize = 400;

/// Theil-Sen slope (Theil 1950) with Sen's interval (1968). Fewer than 3 points, or one x only, give `None`.
pub fn theil_sen(x: &[f64], y: &[f64]) -> Option<LineFit> {
    let mut points: Vec<(f64, f64)> = x
        .iter()
        .copied()
        .zip(y.iter().copied())
        .filter(|p| p.0.is_finite() && p.1.is_finite())
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    if points.len() > THEIL_SEN_MOST {
        let block = points.len().div_ceil(THEIL_SEN_MOST);
        points = points
            .chunks(block)
            .filter_map(|c| {
                let (xs, ys): (Vec<f64>, Vec<f64>) = c.iter().copied().unzip();
                Some((median(&xs)?, median(&ys)?))
            })
            .collect();
    }
    if points.len() < 3 {
        return None;
    }
    let mut slopes = Vec::with_capacity(points.len() * (points.len() - 1) / 2);
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            if b.0 > a.0 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    if slopes.is_empty() {
        return None;
    }
    slopes.sort_unstable_by(f64::total_cmp);
    let slope = median(&slopes)?;
    let rests: Vec<f64> = points.iter().map(|p| p.1 - slope * p.0).collect();
    let n = points.len() as f64;
    let spread = 1.96 * (n * (n - 1.0) * (2.0 * n + 5.0) / 18.0).sqrt();
    let pairs = slopes.len() as f64;
    let last = slopes.len() - 1;
    // The ranks of Sen (1968), rounded as the reference library does, and kept inside the list.
    let low = (((pairs - spread) / 2.0).round() - 1.0).clamp(0.0, last as f64) as usize;
    let high = ((pairs + spread) / 2.0).round().clamp(0.0, last as f64) as usize;
    Some(LineFit {
        slope,
        intercept: median(&rests)?,
        low: slopes[low],
        high: slopes[high],
    })
}

/// Exact central interval of a Poisson count (Garwood 1936): `chi2(a/2, 2k)/2 .. chi2(1 - a/2, 2k + 2)/2`, through the
/// gamma distribution of the same shape. `confidence` e.g. 0.95.
pub fn poisson_interval(count: f64, confidence: f64) -> (f64, f64) {
    let tail = (1.0 - confidence.clamp(0.5, 0.999_999)) / 2.0;
    let count = count.max(0.0);
    let at = |shape: f64, p: f64| Gamma::new(shape, 1.0).map_or(f64::NAN, |g| g.inverse_cdf(p));
    let low = if count == 0.0 { 0.0 } else { at(count, tail) };
    (low, at(count + 1.0, 1.0 - tail))
}

/// Chance of `count` or more events where `expected` are.
pub fn poisson_at_least(count: f64, expected: f64) -> f64 {
    if count <= 0.0 {
        return 1.0;
    }
    if expected <= 0.0 {
        return 0.0;
    }
    Poisson::new(expected).map_or(f64::NAN, |p| p.sf(count as u64 - 1))
}

/// Chance that `count` or more of `of` events fall to one side where each does so with chance `share` (0..=1). With the share
/// of the exposure it is the exact test between two Poisson rates (Przyborowski and Wilenski 1940).
pub fn binomial_at_least(count: f64, of: f64, share: f64) -> f64 {
    if count <= 0.0 {
        return 1.0;
    }
    if count > of {
        return 0.0;
    }
    Binomial::new(share.clamp(0.0, 1.0), of as u64).map_or(f64::NAN, |b| b.sf(count as u64 - 1))
}

/// Which of many tests stand when the share of false alarms among them is kept at `share` (Benjamini and Hochberg
/// 1995).
pub fn discoveries(p_values: &[f64], share: f64) -> Vec<bool> {
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|a, b| p_values[*a].total_cmp(&p_values[*b]));
    let n = p_values.len() as f64;
    let passed = order
        .iter()
        .enumerate()
        .rev()
        .find(|(rank, i)| p_values[**i] <= share * (*rank as f64 + 1.0) / n)
        .map_or(0, |(rank, _)| rank + 1);
    let mut out = vec![false; p_values.len()];
    for i in &order[..passed] {
        out[*i] = true;
    }
    out
}

/// Straight-line interpolation in a table of ascending `x`; held at both ends.
pub fn interpolate(table: &[(f64, f64)], x: f64) -> Option<f64> {
    let first = table.first()?;
    let last = table.last()?;
    if x <= first.0 {
        return Some(first.1);
    }
    if x >= last.0 {
        return Some(last.1);
    }
    let at = table.partition_point(|p| p.0 <= x);
    let (a, b) = (table.get(at.checked_sub(1)?)?, table.get(at)?);
    Some(a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0))
}

/// `y = end + (start - end) * exp(-(t - t0) / tau)`: heating or cooling towards an end value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ApproachFit {
    /// Value towards which it goes. Not finite where the curve is as good as straight.
    pub end: f64,
    /// Fitted value at the first time.
    pub start: f64,
    /// Time constant, s. Not finite where the curve is as good as straight.
    pub tau: f64,
    /// Slope at the last time, per s.
    pub slope: f64,
    /// Fitted value at the last time.
    pub now: f64,
    /// Scaled MAD of what the curve leaves over.
    pub scatter: f64,
}

/// Fits an exponential approach by searching the time constant, with least squares for the rest (the model is linear
/// once tau is fixed). Falls back to a straight line where that leaves no more over, so that a short stretch never
/// claims an end value it has not shown. At least 6 points are needed.
pub fn approach(times: &[f64], values: &[f64]) -> Option<ApproachFit> {
    let n = times.len().min(values.len());
    if n < 6 {
        return None;
    }
    let (t0, t1) = (times[0], times[n - 1]);
    let length = t1 - t0;
    if length <= 0.0 {
        return None;
    }
    // y = a + b * f(t); returns (a, b, sum of squares left).
    let linear = |f: &dyn Fn(f64) -> f64| {
        let (mut sf, mut sy, mut sff, mut sfy) = (0.0, 0.0, 0.0, 0.0);
        for (t, y) in times.iter().zip(values) {
            let g = f(*t);
            sf += g;
            sy += y;
            sff += g * g;
            sfy += g * y;
        }
        let count = n as f64;
        let det = count * sff - sf * sf;
        let b = if det.abs() < 1e-12 {
            0.0
        } else {
            (count * sfy - sf * sy) / det
        };
        let a = (sy - b * sf) / count;
        let left: f64 = times
            .iter()
            .zip(values)
            .map(|(t, y)| (y - a - b * f(*t)).powi(2))
            .sum();
        (a, b, left)
    };
    let straight = linear(&|t| (t - t0) / length);
    let mut best: Option<(f64, f64, f64, f64)> = None;
    let steps = 60;
    for i in 0..=steps {
        // Time constants from a tenth of the stretch to ten times it, evenly in the logarithm.
        let tau = length * 10f64.powf(-1.0 + 2.0 * f64::from(i) / f64::from(steps));
        let (a, b, left) = linear(&|t| (-(t - t0) / tau).exp());
        if best.is_none_or(|x| left < x.3) {
            best = Some((tau, a, b, left));
        }
    }
    let (tau, a, b, left) = best?;
    let rest = |f: &dyn Fn(f64) -> f64| {
        let off: Vec<f64> = times.iter().zip(values).map(|(t, y)| y - f(*t)).collect();
        mad(&off).unwrap_or(0.0)
    };
    // A curve needs to explain clearly more than a line, and to have bent within the stretch.
    if left < straight.2 * 0.8 && tau < length * 3.0 {
        let curve = |t: f64| a + b * (-(t - t0) / tau).exp();
        let end_decay = (-length / tau).exp();
        Some(ApproachFit {
            end: a,
            start: a + b,
            tau,
            slope: -b * end_decay / tau,
            now: curve(t1),
            scatter: rest(&curve),
        })
    } else {
        let line = |t: f64| straight.0 + straight.1 * (t - t0) / length;
        Some(ApproachFit {
            end: f64::INFINITY,
            start: straight.0,
            tau: f64::INFINITY,
            slope: straight.1 / length,
            now: line(t1),
            scatter: rest(&line),
        })
    }
}

/// First-order lag: what a sensor with time constant `tau` seconds shows of the series. Restarts after gaps over
/// `gap_s`.
pub fn lagged(times: &[f64], values: &[f64], tau: f64, gap_s: f64) -> Vec<f64> {
    let shown = lagged_by(times, values, [tau], gap_s);
    shown.into_iter().map(|[shown]| shown).collect()
}

/// The same for several time constants at once: each waits for its own last value, so they cost little more than one.
pub fn lagged_by<const N: usize>(
    times: &[f64],
    values: &[f64],
    taus: [f64; N],
    gap_s: f64,
) -> Vec<[f64; N]> {
    let mut out: Vec<[f64; N]> = Vec::with_capacity(values.len());
    // Steps are mostly alike, or take turns between two lengths, and the exponential is what costs.
    let (mut step, mut keep) = (f64::NAN, [0.0; N]);
    let (mut other_step, mut other_keep) = (f64::NAN, [0.0; N]);
    let mut before: Option<(f64, f64)> = None;
    let mut last = [0.0; N];
    for (t, v) in times.iter().zip(values) {
        match before {
            Some((t_before, v_before)) if t - t_before <= gap_s => {
                let dt = t - t_before;
                let alike = |step: f64| (dt - step).abs() <= 1e-9;
                if !alike(step) {
                    std::mem::swap(&mut step, &mut other_step);
                    std::mem::swap(&mut keep, &mut other_keep);
                    if !alike(step) {
                        // A sensor without any lag keeps nothing.
                        let kept = |tau: f64| if tau > 0.0 { (-dt / tau).exp() } else { 0.0 };
                        (step, keep) = (dt, taus.map(kept));
                    }
                }
                // The input is taken as a straight line between samples, its mean over the step.
                let input = 0.5 * (v + v_before);
                for ((last, keep), tau) in last.iter_mut().zip(&keep).zip(&taus) {
                    let shown = *last * keep + input * (1.0 - keep);
                    *last = if *tau > 0.0 { shown } else { *v };
                }
            }
            _ => last = [*v; N],
        }
        before = Some((*t, *v));
        out.push(last);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, by: f64) {
        assert!((a - b).abs() <= by, "{a} is not within {by} of {b}");
    }

    #[test]
    fn several_quantiles_at_once_are_those_one_by_one() {
        for n in [1_usize, 2, 5, 40, 1000] {
            let values: Vec<f64> = (0..n).map(|i| ((i * 7919) % 997) as f64).collect();
            for qs in [[0.1, 0.5, 0.9], [0.5, 0.5, 1.0], [0.9, 0.1, 0.0]] {
                let one_by_one = qs.map(|q| quantile(&values, q).unwrap());
                assert_eq!(quantiles_of(values.clone(), qs), one_by_one, "{n} {qs:?}");
            }
        }
        assert!(quantiles_of(vec![f64::NAN], [0.5])[0].is_nan());
    }

    /// Reference values, section 11: reproduced there in scipy 1.17.1 and statsmodels 0.15.0.
    #[test]
    fn mad_of_the_egt_example() {
        let egt = [712.0, 705.0, 718.0, 709.0, 640.0, 715.0, 711.0, 708.0];
        near(median(&egt).unwrap(), 710.0, 1e-12);
        near(mad(&egt).unwrap(), 5.18911, 1e-5);
        near(
            mad(&[1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0]).unwrap(),
            1.4826,
            1e-4,
        );
    }

    #[test]
    fn mad_of_sorted_values_is_the_mad() {
        let mut state = 7u64;
        for n in 1..40 {
            let mut values: Vec<f64> = (0..n)
                .map(|_| {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1);
                    ((state >> 40) % 23) as f64
                })
                .collect();
            values.sort_by(f64::total_cmp);
            near(mad_of_sorted(&values), mad(&values).unwrap(), 1e-12);
        }
        assert!(mad_of_sorted(&[]).is_nan());
    }

    /// Reference values, section 11 (scipy.stats.theilslopes).
    #[test]
    fn theil_sen_of_the_voltage_example() {
        let t: Vec<f64> = (0..10).map(f64::from).collect();
        let v = [
            14.20, 14.18, 14.17, 14.14, 14.13, 12.00, 14.08, 14.07, 14.05, 14.03,
        ];
        let fit = theil_sen(&t, &v).unwrap();
        near(fit.slope, -0.02, 1e-9);
        near(fit.intercept, 14.205, 1e-9);
        near(fit.low, -0.02, 1e-9);
        near(fit.high, -0.0175, 1e-9);
    }

    /// Exact Poisson intervals: reference values, section 11 (Garwood 1936; statsmodels "exact-c").
    #[test]
    fn poisson_table() {
        for (k, low, high) in [
            (0.0, 0.0, 3.68888),
            (1.0, 0.02532, 5.57164),
            (3.0, 0.61867, 8.76727),
            (7.0, 2.81436, 14.42268),
            (12.0, 6.20058, 20.96159),
            (50.0, 37.11096, 65.91877),
        ] {
            let (l, h) = poisson_interval(k, 0.95);
            near(l, low, 2e-5);
            near(h, high, 2e-5);
        }
        let (l, h) = poisson_interval(7.0, 0.95);
        near(l / 0.45, 6.25, 0.01);
        near(h / 0.45, 32.05, 0.01);
    }

    /// Reference values, section 11: 7 and 2 events in equal time, exact two-sided p 0.180.
    #[test]
    fn binomial_tail() {
        near(2.0 * binomial_at_least(7.0, 9.0, 0.5), 0.180, 5e-4);
        near(binomial_at_least(0.0, 9.0, 0.5), 1.0, 1e-12);
        near(binomial_at_least(3.0, 3.0, 1.0 / 6.0), 1.0 / 216.0, 1e-12);
        near(binomial_at_least(4.0, 3.0, 0.5), 0.0, 1e-12);
    }

    #[test]
    fn poisson_tail_and_discoveries() {
        near(poisson_at_least(1.0, 2.0), 1.0 - (-2.0f64).exp(), 1e-12);
        near(poisson_at_least(0.0, 2.0), 1.0, 1e-12);
        // Benjamini and Hochberg (1995), their example of 15 p-values at 5 %: four stand. From memory.
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
            0.5719, 0.6528, 0.7590, 1.0,
        ];
        assert_eq!(discoveries(&p, 0.05).iter().filter(|d| **d).count(), 4);
    }

    /// State of charge by the BCI table, straight between its points: reference values, section 6.
    #[test]
    fn interpolation_of_the_charge_table() {
        let table = [
            (11.89, 0.0),
            (12.06, 25.0),
            (12.24, 50.0),
            (12.45, 75.0),
            (12.65, 100.0),
        ];
        for (volts, charge) in [
            (12.60, 93.75),
            (12.50, 81.25),
            (12.35, 63.10),
            (12.20, 44.44),
            (12.00, 16.18),
            (13.0, 100.0),
        ] {
            near(interpolate(&table, volts).unwrap(), charge, 0.01);
        }
    }

    /// Cooling example of the reference values, section 12: Ta 25, T0 95, tau 1800 s.
    #[test]
    fn approach_finds_the_cooling_example() {
        let t: Vec<f64> = (0..=36).map(|i| f64::from(i) * 100.0).collect();
        let y: Vec<f64> = t
            .iter()
            .map(|t| 25.0 + 70.0 * (-t / 1800.0).exp())
            .collect();
        let fit = approach(&t, &y).unwrap();
        near(fit.tau, 1800.0, 60.0);
        near(fit.end, 25.0, 1.5);
        near(fit.now, 34.47, 0.1);
    }

    #[test]
    fn a_straight_climb_claims_no_end() {
        let t: Vec<f64> = (0..60).map(f64::from).collect();
        let y: Vec<f64> = t.iter().map(|t| 80.0 + 0.04 * t).collect();
        let fit = approach(&t, &y).unwrap();
        assert!(fit.tau.is_infinite());
        near(fit.slope, 0.04, 1e-9);
    }

    /// First-order step answer: 63.21 % after tau, 86.47 % after two (reference values, section 12).
    #[test]
    fn lag_answers_a_step() {
        let t: Vec<f64> = (0..1001).map(|i| f64::from(i) * 0.01).collect();
        let step: Vec<f64> = t.iter().map(|t| if *t > 0.0 { 1.0 } else { 0.0 }).collect();
        let shown = lagged(&t, &step, 2.0, 1.0);
        near(shown[200], 0.6321, 2e-3);
        near(shown[400], 0.8647, 2e-3);
    }
}
