//! The numbers of a column at a glance, and what it reads while the engine stands.
//!
//! Some thousands of readings, in stretches spread over the run, tell a unit as well as all of them.

use std::ops::Range;

/// Readings are looked at in so many stretches of the run, and so many in each.
const STRETCHES: usize = 64;
const IN_STRETCH: usize = 48;
/// Fewer readings than this say nothing about a unit.
const ENOUGH: usize = 20;
/// Readings at rest that are looked at, and the fewest that say something.
const REST_MOST: usize = 600;
const REST_LEAST: usize = 3;

/// A column at a glance, in the numbers of the log.
#[derive(Clone, Debug, Default)]
pub(super) struct Numbers {
    sorted: Vec<f64>,
    rest: Vec<f64>,
    /// How often a reading is higher, or lower, than the one before it.
    pub rises: usize,
    pub falls: usize,
}

impl Numbers {
    /// Looks at a column, a number and a time for each of its rows; NaN is a missing cell.
    pub(super) fn of(values: &[f64], times: &[f64], rest: &Rest) -> Numbers {
        let mut out = Numbers::default();
        let stretches = if values.len() <= STRETCHES * IN_STRETCH {
            1
        } else {
            STRETCHES
        };
        let most = if stretches == 1 {
            usize::MAX
        } else {
            IN_STRETCH
        };
        for n in 0..stretches {
            let part = &values[values.len() * n / stretches..values.len() * (n + 1) / stretches];
            let mut before = f64::NAN;
            // A slow channel has a number in one of many rows only: so many numbers, not so many rows.
            for v in part.iter().filter(|v| v.is_finite()).take(most) {
                out.rises += usize::from(*v > before);
                out.falls += usize::from(*v < before);
                before = *v;
                out.sorted.push(*v);
            }
        }
        out.sorted.sort_unstable_by(f64::total_cmp);
        for span in &rest.spans {
            let room = REST_MOST.saturating_sub(out.rest.len());
            let row = |s: f64| times.partition_point(|t| *t < s);
            let part = values
                .get(row(span.start)..row(span.end))
                .unwrap_or_default();
            out.rest
                .extend(part.iter().filter(|v| v.is_finite()).take(room));
        }
        out.rest.sort_unstable_by(f64::total_cmp);
        out
    }

    /// True where there are enough readings to say something about a unit.
    pub(super) fn enough(&self) -> bool {
        self.sorted.len() >= ENOUGH
    }
    /// The value under which a share of the readings lies; NaN without any.
    pub(super) fn share(&self, share: f64) -> f64 {
        at(&self.sorted, share)
    }
    /// All but the lowest and the highest few: one bad cell is no reading.
    pub(super) fn low(&self) -> f64 {
        self.share(0.02)
    }
    pub(super) fn middle(&self) -> f64 {
        self.share(0.5)
    }
    pub(super) fn high(&self) -> f64 {
        self.share(0.95)
    }
    pub(super) fn lowest(&self) -> f64 {
        self.share(0.0)
    }
    pub(super) fn highest(&self) -> f64 {
        self.share(1.0)
    }
    /// The largest reading either way, but for the highest few.
    pub(super) fn farthest(&self) -> f64 {
        self.low().abs().max(self.share(0.98).abs())
    }
    /// The usual reading at rest.
    pub(super) fn at_rest(&self) -> Option<f64> {
        (self.rest.len() >= REST_LEAST).then(|| at(&self.rest, 0.5))
    }
    /// The lowest and the highest usual reading at rest.
    pub(super) fn rest_range(&self) -> Option<(f64, f64)> {
        (self.rest.len() >= REST_LEAST).then(|| (at(&self.rest, 0.1), at(&self.rest, 0.9)))
    }
    /// How many different readings there are.
    pub(super) fn kinds(&self) -> usize {
        let steps = self.sorted.windows(2).filter(|pair| pair[0] != pair[1]);
        steps.count() + usize::from(!self.sorted.is_empty())
    }
    /// Share of the readings for which something holds.
    pub(super) fn share_of(&self, holds: impl Fn(f64) -> bool) -> f64 {
        let such = self.sorted.iter().filter(|v| holds(**v)).count();
        such as f64 / self.sorted.len().max(1) as f64
    }
}

fn at(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    let at = (share * last as f64).round() as usize;
    sorted.get(at).copied().unwrap_or(f64::NAN)
}

/// When the engine stands and its sensors can be held against the air, s.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Rest {
    spans: Vec<Range<f64>>,
}

/// Engine speed up to which it stands, rpm (common practice: a trigger's noise); the same in thousands of rpm.
const STANDS_RPM: f64 = 30.0;
/// A log whose highest speed is under this is in thousands of rpm, or the engine never turned.
const THOUSANDS: f64 = 30.0;
/// A rest lasts so long, s (common practice).
const LEAST_S: f64 = 1.0;
/// After the stop the manifold fills and oil pressure goes, s (common practice); later the key is off.
const FILLS_S: f64 = 2.0;
const KEY_ON_S: f64 = 12.0;

impl Rest {
    /// The time before the first turn; where there is none, soon after a stop. Nothing without a speed.
    pub(super) fn find(rpm: Option<(&[f64], &[f64])>) -> Rest {
        let Some((rpm, times)) = rpm else {
            return Rest::default();
        };
        let known = rpm.iter().copied().filter(|v| v.is_finite());
        let highest = known.fold(0.0, f64::max);
        // It never turned, or the column is dead: the whole log is a rest only if something says that it lives.
        if highest <= 0.0 {
            return Rest::default();
        }
        let stands = if highest < THOUSANDS {
            STANDS_RPM / 1000.0
        } else {
            STANDS_RPM
        };
        let turns = |v: &f64| *v > stands;
        let first = rpm.iter().position(turns).unwrap_or(rpm.len());
        let spoken = rpm.iter().position(|v| v.is_finite()).unwrap_or(first);
        if let (Some(&from), Some(&to)) = (times.get(spoken), times.get(first))
            && to - from >= LEAST_S
        {
            return Rest {
                spans: std::iter::once(from..to).collect(),
            };
        }
        let mut spans = Vec::new();
        let mut since: Option<f64> = None;
        for (v, &t) in rpm.iter().zip(times).skip(first) {
            match since {
                None if *v <= stands => since = Some(t),
                Some(from) if turns(v) => {
                    spans.extend(quiet(from, t));
                    since = None;
                }
                _ => {}
            }
        }
        if let (Some(from), Some(&end)) = (since, times.last()) {
            spans.extend(quiet(from, end));
        }
        Rest { spans }
    }
}

/// What of a stop can be used.
fn quiet(from: f64, to: f64) -> Option<Range<f64>> {
    let span = from + FILLS_S..to.min(from + KEY_ON_S);
    (span.end - span.start >= LEAST_S).then_some(span)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(n: usize, hz: f64) -> Vec<f64> {
        (0..n).map(|i| i as f64 / hz).collect()
    }

    #[test]
    fn the_rest_is_before_the_first_turn_else_after_the_stop() {
        let t = times(1000, 10.0);
        let found = |rpm: &[f64]| Rest::find(Some((rpm, &t))).spans;
        let mut rpm = vec![0.0; 50];
        rpm.extend(vec![1000.0; 950]);
        assert_eq!(found(&rpm), [0.0..5.0]);
        // It begins turning: ten seconds of the twenty after the stop are left, the first two are not.
        let mut rpm = vec![1000.0; 800];
        rpm.extend(vec![0.0; 200]);
        assert_eq!(found(&rpm), [82.0..92.0]);
        // In thousands.
        let mut rpm = vec![0.0; 50];
        rpm.extend(vec![1.2; 950]);
        assert_eq!(found(&rpm), [0.0..5.0]);
        // Speed in every fifth row only.
        let mut rpm = vec![f64::NAN; 1000];
        for i in (0..1000).step_by(5) {
            rpm[i] = if i < 100 { 0.0 } else { 900.0 };
        }
        assert_eq!(found(&rpm), [0.0..10.0]);
        for none in [vec![900.0; 1000], vec![0.0; 1000], vec![f64::NAN; 1000]] {
            assert!(found(&none).is_empty());
        }
        assert_eq!(Rest::find(None), Rest::default());
    }

    #[test]
    fn a_long_column_with_blanks_is_looked_at_in_all_its_parts() {
        let n = 200_000;
        let values: Vec<f64> = (0..n)
            .map(|i| if i % 10 == 7 { i as f64 } else { f64::NAN })
            .collect();
        let rest = Rest {
            spans: std::iter::once(0.0..50.0).collect(),
        };
        let numbers = Numbers::of(&values, &times(n, 100.0), &rest);
        assert!(numbers.enough() && numbers.sorted.len() <= STRETCHES * IN_STRETCH);
        assert!(numbers.lowest() < 100.0 && numbers.highest() > 0.98 * n as f64);
        assert!((numbers.middle() / n as f64 - 0.5).abs() < 0.02);
        assert!(
            numbers
                .at_rest()
                .is_some_and(|r| (2000.0..3000.0).contains(&r))
        );
        assert_eq!(numbers.falls, 0);
    }
}
