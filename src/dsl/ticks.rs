//! The distances of a list of times, found once for all series that share the list.

use std::sync::{Arc, Mutex, Weak};

/// What is known of the times of a series.
#[derive(Clone)]
pub struct Ticks {
    /// The times without the first: those of a difference to the sample before.
    pub rest: Arc<[f64]>,
    /// Least distance of two neighbours, s; infinite where there are none.
    pub least_s: f64,
    /// Greatest distance of two neighbours, s.
    pub greatest_s: f64,
}

/// So many lists are known at once: a log whose channels have clocks of their own has some dozens. A script may make any number
/// of lists, and each one that is known takes memory even when nobody has it any more.
const KNOWN: usize = 64;

/// Kept as long as somebody has the times.
struct Made {
    of: Weak<[f64]>,
    ticks: Ticks,
}

static MADE: Mutex<Vec<Made>> = Mutex::new(Vec::new());

impl Ticks {
    /// Of these times, which are ascending. The same `rest` for all who ask: steps and rates of every channel would
    /// else fill more memory than their values, and those of two channels would not fit each other.
    pub fn of(times: &Arc<[f64]>) -> Ticks {
        let Ok(mut made) = MADE.lock() else {
            return Ticks::found(times);
        };
        made.retain(|one| one.of.strong_count() > 0);
        if let Some(known) = made.iter().find(|one| one.is_of(times)) {
            return known.ticks.clone();
        }
        let ticks = Ticks::found(times);
        if made.len() >= KNOWN {
            made.remove(0);
        }
        made.push(Made {
            of: Arc::downgrade(times),
            ticks: ticks.clone(),
        });
        ticks
    }

    /// True where `rest` are the times that somebody was given as the rest of `times`.
    pub fn is_rest(rest: &Arc<[f64]>, times: &Arc<[f64]>) -> bool {
        rest.len() + 1 == times.len()
            && MADE.lock().is_ok_and(|made| {
                let known = made.iter().find(|one| one.is_of(times));
                known.is_some_and(|one| Arc::ptr_eq(&one.ticks.rest, rest))
            })
    }

    fn found(times: &[f64]) -> Ticks {
        let steps = times.windows(2).map(|pair| pair[1] - pair[0]);
        let (least_s, greatest_s) = steps.fold((f64::INFINITY, f64::NEG_INFINITY), |ends, step| {
            (
                if step < ends.0 { step } else { ends.0 },
                if step > ends.1 { step } else { ends.1 },
            )
        });
        Ticks {
            rest: times.get(1..).unwrap_or_default().into(),
            least_s,
            greatest_s,
        }
    }

    /// True where every sample but the first comes after another, and soon enough to be believed next to it.
    pub fn unbroken(&self, believed_s: f64) -> bool {
        !self.rest.is_empty() && self.least_s > 0.0 && self.greatest_s <= believed_s
    }
}

impl Made {
    fn is_of(&self, times: &Arc<[f64]>) -> bool {
        std::ptr::eq(self.of.as_ptr(), Arc::as_ptr(times))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_rest_for_all_who_ask() {
        let times: Arc<[f64]> = [0.0, 0.5, 1.5, 1.75].into();
        let ticks = Ticks::of(&times);
        assert_eq!(&ticks.rest[..], &[0.5, 1.5, 1.75]);
        assert_eq!((ticks.least_s, ticks.greatest_s), (0.25, 1.0));
        assert!(ticks.unbroken(1.0) && !ticks.unbroken(0.9));
        assert!(Arc::ptr_eq(&ticks.rest, &Ticks::of(&times).rest));
        assert!(Ticks::is_rest(&ticks.rest, &times));
        assert!(!Ticks::is_rest(&times, &times));
        let equal: Arc<[f64]> = times[1..].into();
        assert!(!Ticks::is_rest(&equal, &times));
        assert!(!Ticks::of(&[1.0].into()).unbroken(1.0));
        assert!(!Ticks::of(&[].into()).unbroken(1.0));
    }
}
