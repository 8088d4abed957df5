//! Means over short blocks: what a slow quantity shows, at a fraction of the samples.

use std::sync::{Arc, Mutex, Weak};

use super::column::Column;
use super::family::Family;
use super::lazy::Lazy;
use crate::recording::Series;

/// A sample is believed for so many of its intervals, as in a recording.
const BELIEVED_FOR: f64 = 3.0;

/// Times are decimal fractions, so a distance of exactly one block may come out a hair short of it, s.
const HAIR_S: f64 = 1e-9;

/// Means of blocks of so many seconds, at the mean of their times; no block reaches over a gap. The same series where its
/// samples are further apart than that. Series sampled together stay together, on one list of times.
pub fn averaged(series: &Series, block: f64, believed: f64) -> Series {
    if series.spacing().is_none_or(|s| s >= block - HAIR_S) {
        return series.clone();
    }
    let blocks = Blocks::of(&series.times, block, believed);
    Series {
        times: Arc::clone(&blocks.times),
        values: means(&series.values, &blocks.ends).into(),
    }
}

/// Behind the last sample of each block.
fn block_ends(times: &[f64], block: f64, believed: f64) -> Vec<usize> {
    let mut ends = Vec::new();
    let mut from = 0;
    for i in 1..=times.len() {
        if i == times.len()
            || times[i] - times[from] >= block - HAIR_S
            || times[i] - times[i - 1] > believed
        {
            ends.push(i);
            from = i;
        }
    }
    ends
}

/// Written as the first value and the mean distance from it, so that equal values have exactly themselves as their mean.
fn means(values: &[f64], ends: &[usize]) -> Vec<f64> {
    let mut from = 0;
    let block = |end: &usize| {
        let part = &values[from..*end];
        from = *end;
        let first = part.first().copied().unwrap_or(f64::NAN);
        let more: f64 = part.iter().map(|v| v - first).sum();
        first + more / part.len() as f64
    };
    ends.iter().map(block).collect()
}

/// How one list of times falls into blocks.
struct Blocks {
    of: Weak<[f64]>,
    seconds: f64,
    believed: f64,
    /// Behind the last sample of each.
    ends: Vec<usize>,
    /// The mean time of each.
    times: Arc<[f64]>,
}

impl Blocks {
    /// Found once for all series that share their times.
    fn of(times: &Arc<[f64]>, seconds: f64, believed: f64) -> Arc<Blocks> {
        static MADE: Mutex<Vec<Arc<Blocks>>> = Mutex::new(Vec::new());
        let is_it = |made: &&Arc<Blocks>| {
            made.seconds == seconds
                && made.believed == believed
                && std::ptr::eq(made.of.as_ptr(), Arc::as_ptr(times))
        };
        let known = MADE.lock().ok().and_then(|mut made| {
            made.retain(|blocks| blocks.of.strong_count() > 0);
            made.iter().find(is_it).map(Arc::clone)
        });
        known.unwrap_or_else(|| {
            let ends = block_ends(times, seconds, believed);
            let blocks = Arc::new(Blocks {
                of: Arc::downgrade(times),
                seconds,
                believed,
                times: means(times, &ends).into(),
                ends,
            });
            let Ok(mut made) = MADE.lock() else {
                return blocks;
            };
            // Where two asked at once, both go on with the same.
            if let Some(other) = made.iter().find(is_it) {
                return Arc::clone(other);
            }
            made.push(Arc::clone(&blocks));
            blocks
        })
    }
}

impl Column {
    /// Means of blocks of so many seconds: for a quantity that cannot move faster than that.
    pub fn every(&self, seconds: f64) -> Column {
        let believed = self.lazy.believed_s();
        let lazy = self.lazy.thinned(seconds, || {
            paced(averaged(&self.series(), seconds, believed), self, seconds)
        });
        self.with(lazy, self.unit)
    }
}

impl Family {
    /// As [`Column::every`], for each member. Members sampled together stay together, on one list of times.
    pub fn every(&self, seconds: f64) -> Family {
        let members = self.members.iter().map(|m| m.every(seconds));
        Family {
            members: members.collect(),
            ..self.clone()
        }
    }
}

fn paced(series: Series, from: &Column, seconds: f64) -> Lazy {
    let interval = from.lazy.interval_s().max(seconds);
    let believed = from.lazy.believed_s().max(BELIEVED_FOR * seconds);
    Lazy::data(series, interval, believed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;

    fn column(times: &Arc<[f64]>, value: impl Fn(f64) -> f64) -> Column {
        let values = times.iter().map(|t| value(*t)).collect();
        let series = Series::new(times, values);
        Column::made("egt_1", series, Unit::standard("degC"), 0.01, 0.03)
    }

    fn clock(step: f64, count: usize) -> Arc<[f64]> {
        (0..count).map(|i| i as f64 * step).collect()
    }

    #[test]
    fn blocks_are_means_and_equal_values_stay_what_they_are() {
        let times = clock(0.01, 100);
        let rising = column(&times, |t| 100.0 * t).every(0.1).series();
        assert_eq!(rising.len(), 10);
        assert!((rising.values[0] - 4.5).abs() < 1e-9 && (rising.times[0] - 0.045).abs() < 1e-9);
        let still = column(&times, |_| 0.1).every(0.1).series();
        assert!(still.values.iter().all(|v| *v == 0.1));
        let coarse = column(&clock(0.5, 10), |t| t).every(0.1).series();
        assert_eq!(coarse.len(), 10);
    }

    /// 0.1 s of a clock in decimals is now and then a hair less than a tenth: readings that come so far apart stay as they are.
    #[test]
    fn readings_a_block_apart_stay_alone_whatever_the_clock_rounds_to() {
        let times: Arc<[f64]> = (1..3000)
            .map(|i| {
                format!("{:.2}", f64::from(i) / 10.0)
                    .parse()
                    .expect("a time")
            })
            .collect();
        assert!(times.windows(2).any(|w| w[1] - w[0] < 0.1));
        assert!(times.windows(2).any(|w| w[1] - w[0] > 0.1));
        let same = column(&times, |t| t).every(0.1).series();
        assert_eq!(same.len(), times.len());
        let pairs = column(&times, |t| t).every(0.2).series();
        assert_eq!(pairs.len(), times.len().div_ceil(2));
    }

    #[test]
    fn no_block_reaches_over_a_gap() {
        let mut times: Vec<f64> = (0..15).map(|i| f64::from(i) * 0.01).collect();
        times.extend((0..15).map(|i| 5.0 + f64::from(i) * 0.01));
        let thin = column(&times.into(), |t| t).every(0.1).series();
        assert!(thin.times.iter().all(|t| *t < 0.2 || *t > 5.0));
        assert_eq!(thin.len(), 4);
    }

    #[test]
    fn members_sampled_together_stay_together() {
        let times = clock(0.01, 300);
        let family = Family {
            name: "egt".to_string(),
            members: vec![column(&times, |t| t), column(&times, |t| -t)],
            banks: vec![vec![0, 1]],
        };
        let thin = family.every(0.1);
        let (a, b) = (thin.members[0].series(), thin.members[1].series());
        assert!(Arc::ptr_eq(&a.times, &b.times));
        assert!(a.values.iter().zip(b.values.iter()).all(|(x, y)| *x == -*y));
        // Asked for again, nothing is worked out again.
        let again = family.every(0.1).members[0].series();
        assert!(Arc::ptr_eq(&a.times, &again.times));
    }
}
