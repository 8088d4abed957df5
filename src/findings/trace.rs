//! Small series for one plot: what a finding wants to show, thinned so that a page stays light.

use crate::span::Spans;
use crate::units::Unit;

/// A picture as data. Drawn over time where `across` is `None`, else one quantity against another.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// What it shows, a few words.
    pub title: String,
    /// The horizontal axis when it is not time.
    pub across: Option<Across>,
    /// Unit of the vertical axis, shared by all series.
    pub unit: Unit,
    /// One line (over time) or cloud of points (against another quantity) each.
    pub series: Vec<Series>,
    /// Level lines such as a limit.
    pub lines: Vec<Line>,
    /// Stretches of time to shade: where the finding lies.
    pub marked: Spans,
}

/// A horizontal axis that is not time.
#[derive(Clone, Debug, PartialEq)]
pub struct Across {
    /// What it is called, e.g. `rpm`.
    pub name: String,
    /// Its unit.
    pub unit: Unit,
    /// Seconds of the run behind each point of the first series; empty where that is not known.
    pub seconds: Vec<f64>,
}

impl Across {
    /// An axis for points of which no time is known.
    pub fn of(name: &str, unit: Unit) -> Across {
        Across {
            name: name.to_string(),
            unit,
            seconds: Vec::new(),
        }
    }
    /// True where both show the same quantity under the same name.
    pub fn like(&self, other: &Across) -> bool {
        (&self.name, self.unit) == (&other.name, other.unit)
    }
}

/// One named series of points `(x, y)`, x ascending in a time plot. A NaN y breaks the line: nothing was logged there.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// Its name in the legend, e.g. `egt_4`.
    pub label: String,
    /// Points, in standard units; at most [`Series::MOST`].
    pub points: Vec<(f64, f64)>,
}

/// A level across the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its name, e.g. `limit`.
    pub label: String,
    /// Height, in the trace's unit.
    pub at: f64,
}

impl Series {
    /// Points kept for one series: more than the pixels of a page are wide.
    pub const MOST: usize = 1600;

    /// A series over time, thinned by keeping the least and the greatest value of each bucket, so that no peak is
    /// lost. Where two samples are further apart than `gap_s`, the line is broken.
    pub fn over_time(label: &str, times: &[f64], values: &[f64], gap_s: f64) -> Series {
        let mut points = Vec::new();
        let bucket = times.len().div_ceil(Series::MOST / 4).max(1);
        let mut last_t = f64::NEG_INFINITY;
        for (ts, vs) in times.chunks(bucket).zip(values.chunks(bucket)) {
            if let Some(&first) = ts.first()
                && last_t.is_finite()
                && first - last_t > gap_s
            {
                points.push((last_t, f64::NAN));
            }
            if bucket <= 2 {
                points.extend(ts.iter().copied().zip(vs.iter().copied()));
            } else {
                let (mut low, mut high) = (0, 0);
                for (i, v) in vs.iter().enumerate() {
                    if *v < vs[low] {
                        low = i;
                    }
                    if *v > vs[high] {
                        high = i;
                    }
                }
                for i in [low.min(high), low.max(high)] {
                    points.push((ts[i], vs[i]));
                }
            }
            last_t = ts.last().copied().unwrap_or(last_t);
        }
        Series {
            label: label.to_string(),
            points,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_peaks_and_gaps() {
        let times: Vec<f64> = (0..100_000)
            .map(|i| f64::from(i) * 0.01 + if i >= 50_000 { 60.0 } else { 0.0 })
            .collect();
        let mut values = vec![1.0; times.len()];
        values[31_234] = 99.0;
        let series = Series::over_time("egt_1", &times, &values, 5.0);
        assert!(series.points.len() <= Series::MOST);
        assert!(series.points.contains(&(times[31_234], 99.0)));
        assert_eq!(series.points.iter().filter(|p| p.1.is_nan()).count(), 1);
    }
}
