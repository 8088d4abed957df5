//! Shares: their intervals.

use statrs::distribution::{ContinuousCDF, Normal};

/// Interval of a share, `count` of `of` (Wilson 1927), both ends 0..=1. `confidence` e.g. 0.95. `None` where there is nothing
/// to count from.
pub fn wilson_interval(count: f64, of: f64, confidence: f64) -> Option<(f64, f64)> {
    if !(of > 0.0 && (0.0..=of).contains(&count)) {
        return None;
    }
    let z = Normal::standard().inverse_cdf(0.5 + confidence.clamp(0.5, 0.999_999) / 2.0);
    let share = count / of;
    let middle = share + z * z / (2.0 * of);
    let half = z * (share * (1.0 - share) / of + z * z / (4.0 * of * of)).sqrt();
    let scale = 1.0 + z * z / of;
    let low = if count == 0.0 {
        0.0
    } else {
        (middle - half) / scale
    };
    let high = if count == of {
        1.0
    } else {
        (middle + half) / scale
    };
    Some((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference values, section 11 (statsmodels 0.15.0).
    #[test]
    fn wilson_table() {
        for (count, of, low, high) in [
            (0.0, 20.0, 0.0, 0.161_125),
            (1.0, 20.0, 0.008_881, 0.236_131),
            (5.0, 20.0, 0.111_862, 0.468_701),
            (10.0, 20.0, 0.299_298, 0.700_702),
            (8.0, 10.0, 0.490_162, 0.943_318),
            (7.0, 450.0, 0.007_555, 0.031_757),
            (45.0, 450.0, 0.075_578, 0.131_193),
        ] {
            let (l, h) = wilson_interval(count, of, 0.95).unwrap();
            assert!(
                (l - low).abs() < 1e-6 && (h - high).abs() < 1e-6,
                "{count} of {of}: {l} {h}"
            );
        }
        assert_eq!(wilson_interval(3.0, 2.0, 0.95), None);
    }
}
