//! The numbers of a column at a glance, and what it reads while the engine stands.
//!
//! Some thousands of readings, in stretches spread over the run, tell a unit as well as all of them.

use std::ops::Range;

/// Readings are looked at in so many stretches of the run, and so many in each.
const STRETCHES: usize = 64;
const IN_STRETCH: usize = 125;
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
    /// Looks at a column; NaN is a missing cell.
    pub(super) fn of(values: &[f64], rest: &Rest) -> Numbers {
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
        for rows in &rest.rows {
            let room = REST_MOST.saturating_sub(out.rest.len());
            let part = values.get(rows.clone()).unwrap_or_default();
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

/// The rows in which the engine stands and its sensors can be held against the air.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Rest {
    rows: Vec<Range<usize>>,
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
    /// The rows before the first turn; where there are none, those soon after a stop. Nothing without a speed.
    pub(super) fn find(rpm: Option<&[f64]>, times: &[f64]) -> Rest {
        let Some(rpm) = rpm else {
            return Rest::default();
        };
        let highest = rpm
            .iter()
            .copied()
            .filter(|v| v.is_finite())
            .fold(0.0, f64::max);
        if highest <= 0.0 {
            // It never turned, or the column is dead: the whole log is a rest only if something says that it lives.
            return Rest::default();
        }
        let stands = if highest < THOUSANDS {
            STANDS_RPM / 1000.0
        } else {
            STANDS_RPM
        };
        let long = |rows: &Range<usize>| {
            !rows.is_empty() && times[rows.end - 1] - times[rows.start] >= LEAST_S
        };
        let turns = |v: &f64| *v > stands;
        let first = rpm.iter().position(turns).unwrap_or(rpm.len());
        // A reading of a slow channel in the last row may be older than the first turn, but none is younger.
        let before = rpm.iter().position(|v| v.is_finite()).unwrap_or(first)..first;
        if long(&before) {
            return Rest { rows: vec![before] };
        }
        let mut rows = Vec::new();
        let mut since: Option<usize> = None;
        for i in first..=rpm.len() {
            let stopped = rpm.get(i).is_some_and(|v| *v <= stands);
            let moving = rpm.get(i).is_none_or(turns);
            match since {
                None if stopped => since = Some(i),
                Some(from) if moving => {
                    since = None;
                    let row_at =
                        |s: f64| from + times[from..i].partition_point(|t| *t < times[from] + s);
                    let quiet = row_at(FILLS_S)..row_at(KEY_ON_S);
                    if long(&quiet) {
                        rows.push(quiet);
                    }
                }
                _ => {}
            }
        }
        Rest { rows }
    }
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
        let mut rpm = vec![0.0; 50];
        rpm.extend(vec![1000.0; 950]);
        assert_eq!(Rest::find(Some(&rpm), &t), Rest { rows: vec![0..50] });
        // It begins turning: ten seconds of the twenty after the stop are left, the first two are not.
        let mut rpm = vec![1000.0; 800];
        rpm.extend(vec![0.0; 200]);
        assert_eq!(
            Rest::find(Some(&rpm), &t),
            Rest {
                rows: vec![820..920]
            }
        );
        // In thousands.
        let mut rpm = vec![0.0; 50];
        rpm.extend(vec![1.2; 950]);
        assert_eq!(Rest::find(Some(&rpm), &t), Rest { rows: vec![0..50] });
        // Speed in every fifth row only.
        let mut rpm = vec![f64::NAN; 1000];
        for i in (0..1000).step_by(5) {
            rpm[i] = if i < 100 { 0.0 } else { 900.0 };
        }
        assert_eq!(Rest::find(Some(&rpm), &t), Rest { rows: vec![0..100] });
        for none in [vec![900.0; 1000], vec![0.0; 1000], vec![f64::NAN; 1000]] {
            assert_eq!(Rest::find(Some(&none), &t), Rest::default());
        }
        assert_eq!(Rest::find(None, &t), Rest::default());
    }

    #[test]
    fn a_long_column_with_blanks_is_looked_at_in_all_its_parts() {
        let n = 200_000;
        let values: Vec<f64> = (0..n)
            .map(|i| if i % 10 == 7 { i as f64 } else { f64::NAN })
            .collect();
        let numbers = Numbers::of(
            &values,
            &Rest {
                rows: vec![0..5000],
            },
        );
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
