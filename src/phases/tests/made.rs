//! Building recordings, and comparing spans.

use std::sync::Arc;

use crate::phases::Phases;
use crate::recording::{Channel, Recording, Series, dictionary};
use crate::units::Unit;

/// The value of one channel at a moment.
pub type Curve = Box<dyn Fn(f64) -> f64>;

/// A channel of a test under its standard name; the unit does not matter to the finders.
pub fn channel(name: &str, series: Series) -> Channel {
    let entry = dictionary::entry(name).unwrap();
    Channel::new(name, entry, name, None, Unit::NONE, series)
}

/// A recording on the given times. A curve that gives no number leaves the sample out.
pub fn on(times: Vec<f64>, curves: &[(&str, Curve)]) -> Recording {
    let time: Arc<[f64]> = times.into();
    let mut rec = Recording::on_times("made.csv", Arc::clone(&time));
    for (name, curve) in curves {
        let values = time.iter().map(|t| curve(*t)).collect();
        rec.add(channel(name, Series::new(&time, values)));
    }
    rec
}

/// Row times from `from` to `to`, s, at `hz`.
pub fn grid(from: f64, to: f64, hz: f64) -> Vec<f64> {
    let rows = ((to - from) * hz).round() as usize;
    (0..=rows).map(|i| from + i as f64 / hz).collect()
}

/// Straight lines between corners, held at the ends.
pub fn lines(corners: &[(f64, f64)]) -> Curve {
    let corners = corners.to_vec();
    Box::new(move |t| crate::stats::interpolate(&corners, t).unwrap_or(f64::NAN))
}

/// Fails unless a phase has exactly these spans, each end within `slack` s.
#[track_caller]
pub fn expect(phases: &Phases, name: &str, wanted: &[(f64, f64)], slack: f64) {
    let got: Vec<(f64, f64)> = phases
        .get(name)
        .unwrap()
        .list()
        .iter()
        .map(|s| (s.from_s, s.to_s))
        .collect();
    let alike = got.len() == wanted.len()
        && got
            .iter()
            .zip(wanted)
            .all(|(g, w)| (g.0 - w.0).abs() <= slack && (g.1 - w.1).abs() <= slack);
    assert!(
        alike,
        "{name}: wanted {wanted:?} within {slack} s, got {got:?}"
    );
}
