//! What an expression rests on: series that are worked out, and such as are worked out only where they must be.

use std::ops::Range;
use std::sync::Arc;

use super::lazy::{Lazy, Neighbours, Per, Whole};
use super::ticks::Ticks;
use crate::recording::Series;

/// Values worked on at a time.
pub(super) const BLOCK: usize = 1024;

/// The least and the greatest value of each block of a series.
pub struct Zones(Vec<(f64, f64)>);

impl Zones {
    /// Of a series without missing values.
    pub fn of(values: &[f64]) -> Zones {
        Zones(values.chunks(BLOCK).map(least_and_greatest).collect())
    }
    /// Those of one block.
    pub fn block(&self, block: usize) -> Option<(f64, f64)> {
        self.0.get(block).copied()
    }
    /// The same, where each block begins and ends one sample later. `values` are those of the series, as far as they are
    /// known.
    fn one_later(&self, values: Option<&[f64]>) -> Zones {
        let block = |block: usize| {
            let own = self.0[block];
            let next = match values {
                Some(values) => values.get((block + 1) * BLOCK).map(|v| (*v, *v)),
                None => self.block(block + 1),
            };
            next.map_or(own, |next| (own.0.min(next.0), own.1.max(next.1)))
        };
        Zones((0..self.0.len()).map(block).collect())
    }
}

/// A series that an expression rests on.
pub(super) struct Leaf {
    lazy: Lazy,
    /// Its own times, s.
    pub times: Arc<[f64]>,
    /// So many of its samples come before the first that the expression has.
    pub ahead: usize,
    numbers: Numbers,
}

enum Numbers {
    Known(Arc<Vec<f64>>),
    Later(Later),
}

/// What is worked out only where the least and the greatest of what goes in do not tell.
struct Later {
    inner: Lazy,
    /// What goes in.
    from: Series,
    reach: f64,
    told: Neighbours,
    make: Whole,
}

impl Leaf {
    /// A series that is worked out.
    pub fn known(lazy: &Lazy, series: Series) -> Leaf {
        Leaf {
            lazy: lazy.clone(),
            times: series.times,
            ahead: 0,
            numbers: Numbers::Known(series.values),
        }
    }
    /// A function of near neighbours that is put off. `None` where it cannot be told beforehand which samples it has.
    pub fn later(
        lazy: &Lazy,
        inner: &Lazy,
        from: Series,
        reach: f64,
        told: Neighbours,
        make: &Whole,
    ) -> Option<Leaf> {
        let told = match told {
            // Whether it can have wrapped is told by the most that it ever shows.
            Neighbours::Gains => {
                let zones = inner.zones(&from.values);
                let most = zones.0.iter().fold(0.0, |most: f64, zone| most.max(zone.1));
                let (per, believed_s) = (Per::Gain(most), f64::INFINITY);
                Neighbours::Before { per, believed_s }
            }
            told => told,
        };
        let times = match told {
            Neighbours::Any | Neighbours::Gains => return None,
            Neighbours::Among | Neighbours::Apart(_) => Arc::clone(&from.times),
            Neighbours::Before { believed_s, .. } => {
                let ticks = Ticks::of(&from.times);
                ticks.unbroken(believed_s).then_some(ticks.rest)?
            }
        };
        let later = Later {
            inner: inner.clone(),
            from,
            reach,
            told,
            make: Arc::clone(make),
        };
        Some(Leaf {
            lazy: lazy.clone(),
            times,
            ahead: 0,
            numbers: Numbers::Later(later),
        })
    }
    /// Works out what was put off. False where that gave a series of other times after all.
    pub fn work_out(&mut self) -> bool {
        let Numbers::Later(_) = &self.numbers else {
            return true;
        };
        let made = self.lazy.series();
        // Equal lists of times do as well: only so many are known as one and the same.
        let same = Arc::ptr_eq(&made.times, &self.times) || made.times == self.times;
        self.numbers = Numbers::Known(made.values);
        same
    }
    /// Between which values each block of the expression lies in it.
    pub fn zones(&self) -> Arc<Zones> {
        match &self.numbers {
            Numbers::Known(values) => {
                let own = self.lazy.zones(values);
                match self.ahead {
                    0 => own,
                    _ => Arc::new(own.one_later(Some(values))),
                }
            }
            Numbers::Later(later) => {
                let own = later.zones();
                Arc::new(match self.ahead {
                    0 => own,
                    _ => own.one_later(None),
                })
            }
        }
    }
    /// True where those ends are known already, or cost next to nothing.
    pub fn zones_at_hand(&self) -> bool {
        match &self.numbers {
            Numbers::Known(_) => self.lazy.has_zones(),
            Numbers::Later(later) => later.inner.has_zones(),
        }
    }
    /// True for what is put off and takes in so much to either side that a piece of it costs more than itself.
    pub fn reaches_far(&self) -> bool {
        let Numbers::Later(later) = &self.numbers else {
            return false;
        };
        let apart = self.times.get(BLOCK).map(|t| t - self.times[0]);
        !matches!(later.told, Neighbours::Before { .. }) && apart.is_none_or(|s| later.reach > s)
    }
    /// Adds the numbers of some samples of the expression.
    pub fn copy(&self, range: Range<usize>, out: &mut Vec<f64>) {
        let range = range.start + self.ahead..range.end + self.ahead;
        match &self.numbers {
            Numbers::Known(values) => out.extend_from_slice(&values[range]),
            Numbers::Later(later) => later.copy(range, out),
        }
    }
    /// Whether what was put off is better worked out as a whole, where pieces of these lengths are asked for: where much of
    /// it would be worked out anyway, with the neighbours to either side of each piece.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_sign_loss,
        reason = "a number of samples"
    )]
    pub fn is_better_whole(&self, open: impl Iterator<Item = usize>, zoned: bool) -> bool {
        let Numbers::Later(later) = &self.numbers else {
            return false;
        };
        let (Some(first), Some(last)) = (self.times.first(), self.times.last()) else {
            return false;
        };
        if let Neighbours::Before { .. } = later.told {
            return false;
        }
        let margin = 2.0 * later.reach / (last - first) * self.times.len() as f64;
        let samples: usize = open.map(|length| length + margin as usize).sum();
        !zoned || samples * 2 > self.times.len()
    }
}

impl Later {
    /// Adds the numbers of some of its own samples.
    fn copy(&self, range: Range<usize>, out: &mut Vec<f64>) {
        let (times, values) = (&self.from.times, &self.from.values);
        if let Neighbours::Before { per, .. } = self.told {
            let last = range.end;
            let steps = times[range.start..=last].windows(2).map(|t| t[1] - t[0]);
            let pairs = values[range.start..=last].windows(2);
            out.extend(steps.zip(pairs).map(|(dt, v)| per.of(dt, v[0], v[1])));
            return;
        }
        let (first, last) = (times[range.start], times[range.end - 1]);
        let from = times.partition_point(|t| *t < first - self.reach);
        let to = times.partition_point(|t| *t <= last + self.reach);
        let made = (self.make)(&Series {
            times: times[from..to].into(),
            values: values[from..to].to_vec().into(),
        });
        match made.values.get(range.start - from..range.end - from) {
            Some(part) if made.len() == to - from => out.extend_from_slice(part),
            // It was asked to stop: what is handed back is kept nowhere.
            _ => out.resize(out.len() + range.len(), f64::NAN),
        }
    }

    /// Between which values each block of it lies.
    fn zones(&self) -> Zones {
        let own = self.inner.zones(&self.from.values);
        if let Neighbours::Before { per, .. } = self.told {
            let least_s = Ticks::of(&self.from.times).least_s;
            let apart = |(low, high): &(f64, f64)| per.ends(least_s, *low, *high);
            let both = own.one_later(Some(&self.from.values));
            return Zones(both.0.iter().map(apart).collect());
        }
        // Told by all blocks that the windows reach into.
        let times = &self.from.times;
        let starts = |block: usize| times[block * BLOCK];
        let ends = |block: usize| times[(times.len() - 1).min((block + 1) * BLOCK - 1)];
        let (count, mut from, mut to) = (own.0.len(), 0, 0);
        let block = |block: usize| {
            while ends(from) < starts(block) - self.reach {
                from += 1;
            }
            while to + 1 < count && starts(to + 1) <= ends(block) + self.reach {
                to += 1;
            }
            let all = own.0[from..=to].iter();
            let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |all, one| {
                (all.0.min(one.0), all.1.max(one.1))
            });
            match self.told {
                Neighbours::Apart(times) => (0.0, times * (high - low)),
                _ => (low, high),
            }
        };
        Zones((0..count).map(block).collect())
    }
}

/// The least and the greatest of a block, in several lanes side by side: one after the other would wait for the last.
fn least_and_greatest(block: &[f64]) -> (f64, f64) {
    const LANES: usize = 8;
    let (mut low, mut high) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
    let mut take = |lane: usize, v: f64| {
        low[lane] = if v < low[lane] { v } else { low[lane] };
        high[lane] = if v > high[lane] { v } else { high[lane] };
    };
    let (full, rest) = block.as_chunks::<LANES>();
    for part in full {
        for (lane, v) in part.iter().enumerate() {
            take(lane, *v);
        }
    }
    for v in rest {
        take(0, *v);
    }
    (
        low.into_iter().fold(f64::INFINITY, f64::min),
        high.into_iter().fold(f64::NEG_INFINITY, f64::max),
    )
}
