//! Limiter, shift, traction: power taken away while the driver asks for it.

use super::signal::Signal;
use super::throttle::Demand;
use super::{Inputs, Phases, overrun};
use crate::span::{Span, Spans};

/// Peaks within this share of the limit belong to it.
const NEAR: f64 = 0.02;
/// Speed falls and rises by at least this share of the limit in a sawtooth (common practice).
const TOOTH: f64 = 0.006;
/// Peaks this far apart at most, s; at slow rates so many samples.
const APART_S: f64 = 0.6;
const APART_SAMPLES: f64 = 4.0;
/// So many peaks, over at least so long, s.
const PEAKS: usize = 3;
const LEAST_S: f64 = 0.3;
/// The peaks climb no faster than this, rpm/s: else it is a noisy signal on its way up.
const CLIMB: f64 = 100.0;
/// Throttle over this share of its travel, for the sawtooth.
const OPEN: f64 = 0.4;

pub(super) fn find(inputs: &Inputs<'_>, demand: Option<&Demand>, phases: &Phases) -> Spans {
    let running = phases.known("running");
    let (fuel, spark) = (inputs.flag("fuel_cut"), inputs.flag("ignition_cut"));
    let flagged = match demand {
        Some(d) => fuel
            .or(&spark)
            .except(&d.shut(overrun::SHUT.0, overrun::SHUT.1)),
        // Fuel is also cut on overrun; without a throttle only the spark is telling, and fuel at a full manifold.
        None => {
            let full = phases
                .baro_kpa
                .and_then(|b| Some(Signal::of(inputs.rec, "map")?.above(0.7 * b.0, 0.6 * b.0)));
            spark.or(&fuel.and(&full.unwrap_or_default()))
        }
    };
    let mut teeth = match (&inputs.rpm, inputs.facts.rev_limit_rpm) {
        (Some(rpm), Some(limit)) if limit > 0.0 => sawtooth(rpm, limit),
        _ => Spans::default(),
    };
    if let Some(d) = demand {
        teeth = teeth.and(&d.open(OPEN));
    }
    flagged.or(&teeth).and(&running)
}

/// Where speed hangs at the limit in rises and falls.
fn sawtooth(rpm: &Signal, limit: f64) -> Spans {
    let tooth = TOOTH * limit;
    let apart = APART_S.max(APART_SAMPLES * rpm.spacing_s);
    let mut out = Vec::new();
    for stretch in &rpm.stretches {
        // Turning points of at least one tooth; the third number is when the fall after the peak was sure.
        let mut peaks: Vec<(f64, f64, f64)> = Vec::new();
        let (mut high, mut low, mut rising) = (stretch.start, stretch.start, true);
        for i in stretch.clone() {
            let v = rpm.values[i];
            if rising {
                if v >= rpm.values[high] {
                    high = i;
                } else if rpm.values[high] - v >= tooth {
                    peaks.push((rpm.times[high], rpm.values[high], rpm.end(i)));
                    (low, rising) = (i, false);
                }
            } else if v <= rpm.values[low] {
                low = i;
            } else if v - rpm.values[low] >= tooth {
                (high, rising) = (i, true);
            }
        }
        peaks.retain(|p| p.1 >= (1.0 - NEAR) * limit);
        let mut group: Vec<(f64, f64, f64)> = Vec::new();
        for peak in peaks.into_iter().chain([(f64::INFINITY, 0.0, 0.0)]) {
            if group.last().is_some_and(|l| peak.0 - l.0 > apart) {
                out.extend(as_span(&group));
                group.clear();
            }
            group.push(peak);
        }
    }
    Spans::new(out)
}

fn as_span(peaks: &[(f64, f64, f64)]) -> Option<Span> {
    let (first, last) = (peaks.first()?, peaks.last()?);
    let length = last.0 - first.0;
    let climb = (last.1 - first.1) / length.max(1e-9);
    (peaks.len() >= PEAKS && length >= LEAST_S && climb < CLIMB).then_some(Span {
        from_s: first.0,
        to_s: last.2,
    })
}
