//! Thinning for drawing: the least and the greatest value of each pixel stay, so that no peak is lost.

use crate::findings::Series;
use crate::recording;

/// Pixels across the field of a picture on a sharp screen.
const PIXELS: usize = 1200;

/// A series over time: for each pixel its first, least, greatest and last sample. Where two samples are further apart
/// than `gap_s` the line is broken.
pub fn thinned(label: &str, series: &recording::Series, gap_s: f64) -> Series {
    let (times, values) = (&series.times, &series.values);
    let mut points: Vec<(f64, f64)> = Vec::new();
    let (from, to) = match (times.first(), times.last()) {
        (Some(from), Some(to)) if to > from => (*from, *to),
        _ => {
            points.extend(times.iter().copied().zip(values.iter().copied()));
            return Series {
                label: label.to_string(),
                points,
            };
        }
    };
    let pixel = |t: f64| ((t - from) / (to - from) * PIXELS as f64) as usize;
    let mut start = 0;
    for i in 1..=times.len() {
        let gap = i < times.len() && times[i] - times[i - 1] > gap_s;
        if !gap && i < times.len() && pixel(times[i]) == pixel(times[start]) {
            continue;
        }
        let mut kept = [start, start, start, i - 1];
        for at in start..i {
            if values[at] < values[kept[1]] {
                kept[1] = at;
            }
            if values[at] > values[kept[2]] {
                kept[2] = at;
            }
        }
        kept.sort_unstable();
        let mut last = None;
        for at in kept {
            if last != Some(at) {
                points.push((times[at], values[at]));
            }
            last = Some(at);
        }
        if gap {
            points.push((times[i - 1], f64::NAN));
        }
        start = i;
    }
    Series {
        label: label.to_string(),
        points,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn peaks_and_gaps_survive() {
        let times: Arc<[f64]> = (0..1_000_000)
            .map(|i| f64::from(i) * 0.01 + if i >= 500_000 { 600.0 } else { 0.0 })
            .collect::<Vec<_>>()
            .into();
        let mut values = vec![1.0; times.len()];
        (values[312_345], values[700_001]) = (99.0, -5.0);
        let all = recording::Series::new(&times, values);
        let drawn = thinned("egt_1", &all, 5.0);
        assert!(
            drawn.points.len() <= 4 * PIXELS + 8,
            "{}",
            drawn.points.len()
        );
        assert!(drawn.points.contains(&(times[312_345], 99.0)));
        assert!(drawn.points.contains(&(times[700_001], -5.0)));
        assert_eq!(drawn.points.iter().filter(|p| p.1.is_nan()).count(), 1);
        assert!(drawn.points.windows(2).all(|w| w[0].0 <= w[1].0));
    }

    #[test]
    fn a_short_series_stays_whole() {
        let times: Arc<[f64]> = vec![0.0, 1.0, 2.0].into();
        let few = recording::Series::new(&times, vec![3.0, 1.0, 2.0]);
        assert_eq!(
            thinned("x", &few, 9.0).points,
            [(0.0, 3.0), (1.0, 1.0), (2.0, 2.0)]
        );
        let one: Arc<[f64]> = vec![4.0].into();
        let one = recording::Series::new(&one, vec![3.0]);
        assert_eq!(thinned("x", &one, 9.0).points, [(4.0, 3.0)]);
        assert_eq!(
            crate::plots::cloud_of(&[1.0, 1.0, f64::NAN], &[2.0, 2.0, 3.0]),
            [(1.0, 2.0)]
        );
    }
}
