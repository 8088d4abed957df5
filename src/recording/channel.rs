//! One channel: its samples, when it really was updated, and how long a sample may be believed.

use std::sync::{Arc, OnceLock};

use super::dictionary::Entry;
use super::rate::{self, Pace, Rate};
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
        if values.len() == times.len() && all_finite(&values) {
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
    /// Pairs times with as many values that are known to be finite.
    pub fn of_finite(times: &Arc<[f64]>, values: Vec<f64>) -> Series {
        debug_assert!(values.len() == times.len() && all_finite(&values));
        Series {
            times: Arc::clone(times),
            values: values.into(),
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
        self.step_quantile(0.5)
    }
    /// A quantile of the distances between samples, s. Of a long series some thousand are looked at, in stretches spread
    /// over the run.
    pub fn step_quantile(&self, q: f64) -> Option<f64> {
        step_quantile(&self.times, q)
    }
}

/// Distances of so many neighbours in a row are looked at, in so many places.
const STEPS_IN_ROW: usize = 64;
const STEP_PLACES: usize = 64;

/// See [`Series::step_quantile`].
pub(super) fn step_quantile(times: &[f64], q: f64) -> Option<f64> {
    let steps = times.len().checked_sub(1)?;
    let step = |i: usize| times[i + 1] - times[i];
    let seen: Vec<f64> = if steps <= STEPS_IN_ROW * STEP_PLACES {
        (0..steps).map(step).collect()
    } else {
        let from = |place: usize| (steps - STEPS_IN_ROW) * place / (STEP_PLACES - 1);
        (0..STEP_PLACES)
            .flat_map(|place| from(place)..from(place) + STEPS_IN_ROW)
            .map(step)
            .collect()
    };
    crate::stats::quantile(&seen, q)
}

/// Whether all are numbers, looked at by the block: an early end within one would cost more than it saves.
pub fn all_finite(values: &[f64]) -> bool {
    values
        .chunks(1024)
        .all(|block| block.iter().fold(true, |all, v| all & v.is_finite()))
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
        self.rate.get_or_init(|| rate::find(&self.series))
    }
    /// Takes over a rate that the columns beside it showed, where its own changes agree with it.
    pub(super) fn paced_beside(&mut self, interval_s: f64, in_turn: bool) {
        if let Some(rate) = rate::beside(&self.series, interval_s, in_turn, self.resolution()) {
            self.rate = OnceLock::from(rate);
        }
    }
    /// How its readings lie in the rows.
    pub fn pace(&self) -> Pace {
        self.rate().pace
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
        let rate = rate::find(&series(0.01, values));
        assert!((rate.interval_s - 0.5).abs() < 1e-9);
        assert_eq!(rate.updates.len(), 60);
    }

    #[test]
    fn a_coarse_slow_quantity_is_not_taken_for_a_slow_channel() {
        // A temperature that climbs unevenly, 1 degC a step, at 20 Hz.
        let values: Vec<f64> = (0..4000)
            .map(|i| (20.0 + 60.0 * (1.0 - (-f64::from(i) / 1500.0).exp())).floor())
            .collect();
        let rate = rate::find(&series(0.05, values));
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
