//! One channel: its samples, when it really was updated, and how long a sample may be believed.

use std::sync::{Arc, OnceLock};

use super::dictionary::Entry;
use crate::units::Unit;

/// Samples that exist: a missing one is not here, so that no number can stand for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// Times, s, ascending.
    pub times: Arc<[f64]>,
    /// Values, as many as times, all finite.
    pub values: Arc<Vec<f64>>,
}

impl Series {
    /// Pairs times with values and leaves out what is no finite number.
    pub fn new(times: &Arc<[f64]>, values: Vec<f64>) -> Series {
        if values.iter().all(|v| v.is_finite()) && values.len() == times.len() {
            return Series {
                times: Arc::clone(times),
                values: values.into(),
            };
        }
        let (t, v): (Vec<f64>, Vec<f64>) = times
            .iter()
            .copied()
            .zip(values)
            .filter(|p| p.1.is_finite())
            .unzip();
        Series {
            times: t.into(),
            values: v.into(),
        }
    }
    /// No samples.
    pub fn empty() -> Series {
        Series {
            times: Arc::from([]),
            values: Arc::default(),
        }
    }
    /// Number of samples.
    pub fn len(&self) -> usize {
        self.values.len()
    }
    /// True without samples.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }
    /// Median distance between samples, s. `None` for fewer than two.
    pub fn spacing(&self) -> Option<f64> {
        let steps: Vec<f64> = self.times.windows(2).map(|w| w[1] - w[0]).collect();
        crate::stats::median(&steps)
    }
}

/// One channel of a run, under its standard name and in its standard unit.
#[derive(Debug)]
pub struct Channel {
    /// Standard name, e.g. `egt_3`.
    pub name: String,
    /// Its line in the dictionary.
    pub entry: &'static Entry,
    /// Header in the log.
    pub column: String,
    /// Unit as the log gave it.
    pub column_unit: Option<String>,
    /// Standard unit.
    pub unit: Unit,
    /// Number in its family, as the header has it.
    pub position: Option<u32>,
    /// The cylinder it belongs to, where that is known.
    pub cylinder: Option<u32>,
    /// The samples.
    pub series: Series,
    rate: OnceLock<Rate>,
}

#[derive(Clone, Debug)]
struct Rate {
    interval_s: f64,
    updates: Series,
    resolution: f64,
}

/// Longest update interval that repeated values are taken for; slower channels leave blanks or change rarely.
const SLOWEST_STAIR_S: f64 = 5.0;
/// A sample is believed for so many update intervals.
const BELIEVED_FOR: f64 = 3.0;

impl Channel {
    /// A channel from its samples.
    pub fn new(
        name: &str,
        entry: &'static Entry,
        column: &str,
        column_unit: Option<String>,
        unit: Unit,
        series: Series,
    ) -> Channel {
        Channel {
            name: name.to_string(),
            entry,
            column: column.to_string(),
            column_unit,
            unit,
            position: None,
            cylinder: None,
            series,
            rate: OnceLock::new(),
        }
    }

    fn rate(&self) -> &Rate {
        self.rate.get_or_init(|| find_rate(&self.series))
    }
    /// The channel's own update interval, s: how often it brings a new reading, not how often rows are written.
    pub fn interval_s(&self) -> f64 {
        self.rate().interval_s
    }
    /// How long after a sample the channel may be taken to stand at it, s. Longer without one is a gap.
    pub fn believed_s(&self) -> f64 {
        BELIEVED_FOR * self.interval_s()
    }
    /// One sample for each update of its own.
    pub fn updates(&self) -> &Series {
        &self.rate().updates
    }
    /// The smallest step between two different readings, in the standard unit; 0 where it never changes.
    pub fn resolution(&self) -> f64 {
        self.rate().resolution
    }
    /// How a sentence names it: `cylinder 3`, `position 3`, `sensor a`, or the standard name.
    pub fn label(&self) -> String {
        // A sensor's letter is also its place in the family, but no position of a cylinder.
        let sensor = self
            .name
            .rsplit_once("sensor_")
            .map(|s| s.1)
            .filter(|s| s.len() == 1);
        match (self.cylinder, sensor, self.position) {
            (Some(cylinder), ..) => format!("cylinder {cylinder}"),
            (None, Some(letter), _) => format!("sensor {letter}"),
            (None, None, Some(position)) => format!("position {position}"),
            (None, None, None) => self.name.clone(),
        }
    }
}

/// A channel that updates at 2 Hz in a 100 Hz file repeats each value 50 times. The repeats show as runs whose lengths
/// are multiples of one number; a slow quantity of coarse resolution also repeats, but at no fixed beat.
fn find_rate(series: &Series) -> Rate {
    // The upper quartile, not the middle: rows written twice, or cells that are missing here and there, leave many short
    // steps between the real ones.
    let steps: Vec<f64> = series.times.windows(2).map(|w| w[1] - w[0]).collect();
    let spacing = crate::stats::quantile(&steps, 0.75).unwrap_or(1.0);
    let values = &series.values;
    let changes: Vec<usize> = (1..values.len())
        .filter(|i| values[*i] != values[*i - 1])
        .collect();
    let resolution = smallest_step(values, &changes);
    let runs: Vec<usize> = changes.windows(2).map(|w| w[1] - w[0]).collect();
    let beat = stair_beat(&runs).filter(|k| *k as f64 * spacing <= SLOWEST_STAIR_S);
    match beat {
        None => Rate {
            interval_s: spacing,
            updates: series.clone(),
            resolution,
        },
        Some(beat) => {
            let mut at = Vec::with_capacity(values.len() / beat + 1);
            let mut since = 0;
            for i in 0..values.len() {
                if i == 0 || values[i] != values[i - 1] || i - since >= beat + beat / 2 {
                    // Inside a long run the beat goes on: the channel reported the same value again.
                    since = if i > 0 && values[i] == values[i - 1] {
                        since + beat
                    } else {
                        i
                    };
                    at.push(since.min(i));
                }
            }
            let updates = Series {
                times: at
                    .iter()
                    .map(|i| series.times[*i])
                    .collect::<Vec<_>>()
                    .into(),
                values: at.iter().map(|i| values[*i]).collect::<Vec<_>>().into(),
            };
            Rate {
                interval_s: beat as f64 * spacing,
                updates,
                resolution,
            }
        }
    }
}

fn stair_beat(runs: &[usize]) -> Option<usize> {
    if runs.len() < 8 {
        return None;
    }
    let mut sorted = runs.to_vec();
    sorted.sort_unstable();
    let beat = sorted[sorted.len() / 10];
    if beat < 3 {
        return None;
    }
    let on_beat = runs
        .iter()
        .filter(|r| {
            let off = **r % beat;
            **r + 1 >= beat && (off <= 1 || beat - off <= 1)
        })
        .count();
    // Three beats of tolerance rows out of `beat` would be hit by chance: demand far more than that.
    let by_chance = 3.0 / beat as f64;
    let share = on_beat as f64 / runs.len() as f64;
    (beat > 3 && share > 0.9 && share > by_chance + 0.2)
        .then_some(beat)
        .or((beat == 3 && runs.iter().all(|r| r % 3 == 0)).then_some(beat))
}

fn smallest_step(values: &[f64], changes: &[usize]) -> f64 {
    let mut steps: Vec<f64> = changes
        .iter()
        .map(|i| (values[*i] - values[*i - 1]).abs())
        .collect();
    if steps.is_empty() {
        return 0.0;
    }
    // The fifth percentile, not the least: unit conversion leaves rounding dust.
    let at = steps.len() / 20;
    *steps.select_nth_unstable_by(at, f64::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sensor_is_named_by_its_letter() {
        let named = |name: &str| {
            let entry = crate::recording::dictionary::entry(name).unwrap();
            let mut c = Channel::new(name, entry, name, None, Unit::NONE, Series::empty());
            c.position = Some(2);
            c.label()
        };
        assert_eq!(named("knock_sensor_b"), "sensor b");
        assert_eq!(named("knock_2"), "position 2");
    }

    fn series(step: f64, values: Vec<f64>) -> Series {
        let times: Arc<[f64]> = (0..values.len())
            .map(|i| i as f64 * step)
            .collect::<Vec<_>>()
            .into();
        Series::new(&times, values)
    }

    #[test]
    fn a_slow_channel_in_fast_rows_is_found_out() {
        // 100 Hz rows, one new reading every half second.
        let values: Vec<f64> = (0..3000)
            .map(|i| ((i / 50) as f64 * 7.3).sin() * 100.0)
            .collect();
        let rate = find_rate(&series(0.01, values));
        assert!((rate.interval_s - 0.5).abs() < 1e-9);
        assert_eq!(rate.updates.len(), 60);
    }

    #[test]
    fn a_coarse_slow_quantity_is_not_taken_for_a_slow_channel() {
        // A temperature that climbs unevenly, 1 degC a step, at 20 Hz.
        let values: Vec<f64> = (0..4000)
            .map(|i| (20.0 + 60.0 * (1.0 - (-f64::from(i) / 1500.0).exp())).floor())
            .collect();
        let rate = find_rate(&series(0.05, values));
        assert!((rate.interval_s - 0.05).abs() < 1e-9);
        assert!((rate.resolution - 1.0).abs() < 1e-9);
    }

    #[test]
    fn missing_cells_are_no_samples() {
        let times: Arc<[f64]> = Arc::from([0.0, 1.0, 2.0, 3.0]);
        let s = Series::new(&times, vec![5.0, f64::NAN, f64::INFINITY, 6.0]);
        assert_eq!(
            (&s.times[..], &s.values[..]),
            (&[0.0, 3.0][..], &[5.0, 6.0][..])
        );
    }
}
