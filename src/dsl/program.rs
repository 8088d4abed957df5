//! An expression over series that share their times, as a short list of steps that is worked out block by block.
//!
//! Where the least and the greatest of a block already tell what comes out (a limit that lies beyond both), the samples
//! of that block are not looked at.

use std::ops::Range;
use std::sync::Arc;

use super::lazy::{Both, Each, Lazy, Neighbours, Op, Shape, Whole, ranges};
use crate::recording::{Series, all_finite};
use crate::span::Spans;
use crate::stop;

/// Values worked on at a time.
const BLOCK: usize = 1024;
/// A longer expression is parted: one that uses its own parts again would else be worked out again and again.
const LONGEST: usize = 24;
/// Looking for the ends of all blocks pays where at least this share of them is asked for.
const WORTH: usize = 4;

/// The least and the greatest value of each block of a series.
pub struct Zones(Vec<(f64, f64)>);

impl Zones {
    /// Of a series without missing values.
    pub fn of(values: &[f64]) -> Zones {
        Zones(values.chunks(BLOCK).map(least_and_greatest).collect())
    }
}

/// An expression over series that share their times, worked out block by block, so that what is in between never
/// leaves the nearest memory.
pub struct Program {
    leaves: Vec<Leaf>,
    steps: Vec<Step>,
}

/// A series that an expression rests on.
struct Leaf {
    lazy: Lazy,
    /// Its numbers; of one that is not worked out yet, those that it will be made of, at the same times.
    series: Series,
    later: Option<Later>,
}

/// Rolling windows that are worked out only where the least and the greatest of what goes in do not tell.
#[derive(Clone)]
struct Later {
    inner: Lazy,
    reach: f64,
    told: Neighbours,
    make: Whole,
}

enum Step {
    Load(usize),
    Each(Shape, Each),
    Both(Shape, Both),
}

impl Program {
    /// `None` where the series do not share their times.
    pub fn of(root: &Lazy) -> Option<Program> {
        let mut program = Program {
            leaves: Vec::new(),
            steps: Vec::new(),
        };
        program.add(root, true).then_some(program)
    }

    fn add(&mut self, lazy: &Lazy, is_root: bool) -> bool {
        let kept = lazy.at_hand().filter(|_| !is_root);
        match lazy.op() {
            _ if kept.is_some() || self.steps.len() > LONGEST => self.load(lazy, lazy.series()),
            Op::Data(series) => self.load(lazy, series.clone()),
            Op::Same(inner) => self.add(inner, false),
            Op::Each(inner, shape, f) => {
                let known = self.add(inner, false);
                self.steps.push(Step::Each(*shape, Arc::clone(f)));
                known
            }
            Op::Both(a, b, shape, f) => {
                let (steps, leaves) = (self.steps.len(), self.leaves.len());
                if self.add(a, false) && self.add(b, false) {
                    self.steps.push(Step::Both(*shape, Arc::clone(f)));
                    return true;
                }
                if is_root {
                    return false;
                }
                // Of different times: worked out by itself, once, and kept.
                self.steps.truncate(steps);
                self.leaves.truncate(leaves);
                self.load(lazy, lazy.series())
            }
            Op::Whole(inner, reach, told, make) if *told != Neighbours::Any && !is_root => {
                let series = inner.series();
                if series.len() <= WORTH * BLOCK {
                    return self.load(lazy, lazy.series());
                }
                let later = Later {
                    inner: inner.clone(),
                    reach: *reach,
                    told: *told,
                    make: Arc::clone(make),
                };
                self.push(lazy, series, Some(later))
            }
            Op::Whole(..) => self.load(lazy, lazy.series()),
            // Narrowed once more where everything is narrowed anyway.
            Op::During(..) => false,
        }
    }

    fn load(&mut self, lazy: &Lazy, series: Series) -> bool {
        self.push(lazy, series, None)
    }

    fn push(&mut self, lazy: &Lazy, series: Series, later: Option<Later>) -> bool {
        let first = self.leaves.first().map_or(&series, |leaf| &leaf.series);
        let same = Arc::ptr_eq(&first.times, &series.times);
        self.steps.push(Step::Load(self.leaves.len()));
        self.leaves.push(Leaf {
            lazy: lazy.clone(),
            series,
            later,
        });
        same
    }

    /// Works out whatever was put off. False where that gave series of other times after all.
    fn work_out_all(&mut self) -> bool {
        let mut same = true;
        for leaf in self.leaves.iter_mut().filter(|leaf| leaf.later.is_some()) {
            let made = leaf.lazy.series();
            same &= Arc::ptr_eq(&made.times, &leaf.series.times);
            (leaf.series, leaf.later) = (made, None);
        }
        same
    }

    /// The stretches of samples that are asked for.
    fn asked(&self, first: &Series, within: Option<&Spans>) -> Vec<Range<usize>> {
        within.map_or_else(
            || {
                vec![Range {
                    start: 0,
                    end: first.len(),
                }]
            },
            |spans| ranges(first, spans),
        )
    }

    /// All of it, or what lies inside the spans.
    pub fn run(mut self, within: Option<&Spans>) -> Series {
        let same = self.work_out_all();
        let Some(first) = self.leaves.first().map(|leaf| leaf.series.clone()) else {
            return Series::empty();
        };
        if !same {
            return Series::empty();
        }
        let ranges = self.asked(&first, within);
        let count = ranges.iter().map(ExactSizeIterator::len).sum();
        let mut out = Vec::with_capacity(count);
        let mut stack: Vec<Vec<f64>> = Vec::new();
        for range in &ranges {
            let mut at = range.start;
            while at < range.end {
                if stop::asked() {
                    return Series::empty();
                }
                let upto = range.end.min(at + BLOCK);
                self.block(at..upto, &mut stack, &mut out);
                at = upto;
            }
        }
        let times = if count == first.len() {
            Arc::clone(&first.times)
        } else {
            let parts: Vec<&[f64]> = ranges.iter().map(|r| &first.times[r.clone()]).collect();
            parts.concat().into()
        };
        Series::new(&times, out)
    }

    /// Hands over what lies inside the spans, block by block, until `take` has enough.
    pub fn visit(mut self, within: Option<&Spans>, take: &mut dyn FnMut(&[f64], &[f64]) -> bool) {
        let Some(first) = self.leaves.first().map(|leaf| leaf.series.clone()) else {
            return;
        };
        let ranges = self.asked(&first, within);
        let count: usize = ranges.iter().map(ExactSizeIterator::len).sum();
        let zones = self.zones(count * WORTH >= first.len() && count > BLOCK);
        let pieces = self.pieces(ranges, zones.as_deref());
        if self.is_better_whole(&pieces, zones.is_some()) && !self.work_out_all() {
            return;
        }
        let (mut stack, mut values): (Vec<Vec<f64>>, Vec<f64>) = Default::default();
        for (range, one) in pieces {
            if stop::asked() {
                return;
            }
            let times = &first.times[range.clone()];
            values.clear();
            let go_on = if let Some(one) = one {
                values.resize(times.len(), one);
                take(times, &values)
            } else {
                self.block(range.clone(), &mut stack, &mut values);
                if all_finite(&values) {
                    take(times, &values)
                } else {
                    let known = times.iter().zip(&values).filter(|p| p.1.is_finite());
                    let (times, values): (Vec<f64>, Vec<f64>) = known.unzip();
                    take(&times, &values)
                }
            };
            if !go_on {
                return;
            }
        }
    }

    /// What is asked for in pieces, none longer than a block, with the value that all of a piece comes to, where the ends of
    /// the blocks tell.
    fn pieces(&self, ranges: Vec<Range<usize>>, zones: Option<&[Arc<Zones>]>) -> Vec<Piece> {
        let mut pieces = Vec::new();
        let mut ends = Vec::new();
        for range in ranges {
            let mut at = range.start;
            while at < range.end {
                // Up to where the ends of the block hold.
                let upto = range.end.min((at / BLOCK + 1) * BLOCK);
                let one = zones.and_then(|z| self.one(z, at / BLOCK, &mut ends));
                pieces.push((at..upto, one));
                at = upto;
            }
        }
        pieces
    }

    /// Whether what was put off is better worked out as a whole: where much of it would be worked out anyway, with the
    /// neighbours to either side of each piece.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_sign_loss,
        reason = "a number of samples"
    )]
    fn is_better_whole(&self, pieces: &[Piece], zoned: bool) -> bool {
        let cost = |leaf: &Leaf| {
            let (times, reach) = (&leaf.series.times, leaf.later.as_ref()?.reach);
            let length = times.last()? - times.first()?;
            let margin = 2.0 * reach / length * times.len() as f64;
            let open = pieces.iter().filter(|piece| piece.1.is_none());
            let samples: usize = open.map(|piece| piece.0.len() + margin as usize).sum();
            Some(!zoned || samples * 2 > times.len())
        };
        self.leaves.iter().filter_map(cost).any(|whole| whole)
    }

    /// The zones of each leaf, where all steps can pass ends on.
    fn zones(&self, worth: bool) -> Option<Vec<Arc<Zones>>> {
        let passes = |step: &Step| match step {
            Step::Load(_) => true,
            Step::Each(shape, _) | Step::Both(shape, _) => *shape != Shape::Any,
        };
        let known = worth && self.steps.iter().all(passes);
        let zones = |leaf: &Leaf| match &leaf.later {
            None => leaf.lazy.zones(&leaf.series),
            Some(later) => Arc::new(later.zones(&leaf.series)),
        };
        known.then(|| self.leaves.iter().map(zones).collect())
    }

    /// The one value that every sample of a block comes to, where the ends of the leaves tell.
    fn one(&self, zones: &[Arc<Zones>], block: usize, ends: &mut Vec<(f64, f64)>) -> Option<f64> {
        ends.clear();
        for step in &self.steps {
            let made = match step {
                Step::Load(leaf) => *zones.get(*leaf)?.0.get(block)?,
                Step::Each(shape, f) => {
                    let (low, high) = ends.pop()?;
                    let turn = match shape {
                        Shape::TurnsAt(turn) if low < *turn && *turn < high => *turn,
                        _ => low,
                    };
                    let mut made = [low, high, turn];
                    f(&mut made);
                    hull(&made)?
                }
                Step::Both(shape, f) => {
                    let (b, a) = (ends.pop()?, ends.pop()?);
                    if *shape == Shape::Quotient && b.0 <= 0.0 && b.1 >= 0.0 {
                        return None;
                    }
                    let mut made = [a.0, a.0, a.1, a.1];
                    f(&mut made, &[b.0, b.1, b.0, b.1]);
                    hull(&made)?
                }
            };
            ends.push(made);
        }
        let (low, high) = ends.pop()?;
        (low == high).then_some(low)
    }

    fn block(&self, range: Range<usize>, stack: &mut Vec<Vec<f64>>, out: &mut Vec<f64>) {
        let mut depth = 0;
        for step in &self.steps {
            match step {
                Step::Load(leaf) => {
                    if stack.len() == depth {
                        stack.push(Vec::with_capacity(BLOCK));
                    }
                    stack[depth].clear();
                    self.leaves[*leaf].copy(range.clone(), &mut stack[depth]);
                    depth += 1;
                }
                Step::Each(_, f) => f(&mut stack[depth - 1]),
                Step::Both(_, f) => {
                    let (below, top) = stack.split_at_mut(depth - 1);
                    f(&mut below[depth - 2], &top[0]);
                    depth -= 1;
                }
            }
        }
        out.extend_from_slice(&stack[0]);
    }
}

/// Samples, and the value that all of them come to, where that is known.
type Piece = (Range<usize>, Option<f64>);

impl Leaf {
    /// Adds the numbers of some samples.
    fn copy(&self, range: Range<usize>, out: &mut Vec<f64>) {
        let Some(later) = &self.later else {
            out.extend_from_slice(&self.series.values[range]);
            return;
        };
        let (times, values) = (&self.series.times, &self.series.values);
        let (first, last) = (times[range.start], times[range.end - 1]);
        let from = times.partition_point(|t| *t < first - later.reach);
        let to = times.partition_point(|t| *t <= last + later.reach);
        let made = (later.make)(&Series {
            times: times[from..to].into(),
            values: values[from..to].to_vec().into(),
        });
        match made.values.get(range.start - from..range.end - from) {
            Some(part) if made.len() == to - from => out.extend_from_slice(part),
            // It was asked to stop: what is handed back is kept nowhere.
            _ => out.resize(out.len() + range.len(), f64::NAN),
        }
    }
}

impl Later {
    /// Between which values each block of it lies, told by all blocks that the windows reach into.
    fn zones(&self, inner: &Series) -> Zones {
        let own = self.inner.zones(inner);
        let times = &inner.times;
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
                Neighbours::Any | Neighbours::Among => (low, high),
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

/// The least and the greatest; `None` where one of them is missing.
fn hull(values: &[f64]) -> Option<(f64, f64)> {
    let ends = |(low, high): (f64, f64), v: &f64| (low.min(*v), high.max(*v));
    let all = values.iter().all(|v| v.is_finite());
    all.then(|| values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), ends))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn data(times: &Arc<[f64]>, f: impl Fn(usize) -> f64) -> Lazy {
        let values = (0..times.len()).map(f).collect();
        Lazy::data(Series::new(times, values), 0.1, 0.3)
    }

    /// What a visit hands over, joined.
    fn visited(lazy: &Lazy) -> Vec<(f64, f64)> {
        let mut out = Vec::new();
        lazy.visit(&mut |t, v| {
            out.extend(t.iter().copied().zip(v.iter().copied()));
            true
        });
        out
    }

    #[test]
    fn rolling_windows_that_need_no_working_out_give_what_working_out_gives() {
        let times: Arc<[f64]> = (0..20_000)
            .map(|i| i as f64 * 0.1)
            .collect::<Vec<_>>()
            .into();
        let wave = data(&times, |i| {
            (i as f64 / 4000.0).sin() * 100.0 + ((i * 7919) % 13) as f64
        });
        let roll = |told: Neighbours| {
            wave.rolling(0.7 + 1e-6, told, |series| {
                crate::dsl::rolling::sorted(series, 1.4, 0.3, crate::dsl::rolling::middle)
            })
        };
        let over = |lazy: Lazy, line: f64| lazy.each(Shape::OneWay, move |v| f64::from(v > line));
        for line in [60.0, 90.0, 105.0, 500.0] {
            let (told, looked) = (
                over(roll(Neighbours::Among), line),
                over(roll(Neighbours::Any), line),
            );
            assert_eq!(visited(&told), visited(&looked), "over {line}");
            let cut = Spans::one(33.3, 1555.5);
            assert_eq!(visited(&told.during(&cut)), visited(&looked.during(&cut)));
        }
        // Far from the line most of it is told beforehand.
        let program = Program::of(&over(roll(Neighbours::Among), 105.0)).expect("one series");
        let zones = program.zones(true).expect("all steps pass ends on");
        let pieces = program.pieces(std::iter::once(0..20_000).collect(), Some(&zones));
        let known = pieces.iter().filter(|piece| piece.1.is_some()).count();
        assert!(
            known > 10 && known < pieces.len(),
            "{known} of {}",
            pieces.len()
        );
        assert!(!program.is_better_whole(&pieces, true));
    }

    #[test]
    fn blocks_that_need_no_looking_give_what_looking_gives() {
        let times: Arc<[f64]> = (0..7000).map(|i| i as f64 * 0.1).collect::<Vec<_>>().into();
        let slow = data(&times, |i| (i as f64 / 900.0).sin() * 100.0);
        let other = data(&times, |i| (i as f64 / 1100.0).cos() * 100.0);
        let made = |shape: [Shape; 4]| {
            let over = slow
                .each(shape[0], f64::abs)
                .each(shape[1], |v| f64::from(v > 60.0));
            let part = slow.both(&other, shape[3], |a, b| a / b);
            let under = part.each(shape[1], |v| f64::from(v < -0.5));
            over.both(&under, shape[2], |a, b| f64::from(a != 0.0 && b != 0.0))
        };
        let told = made([
            Shape::TurnsAt(0.0),
            Shape::OneWay,
            Shape::OneWay,
            Shape::Quotient,
        ]);
        let looked = made([Shape::Any; 4]);
        assert_eq!(visited(&told), visited(&looked));
        let cut = Spans::one(33.3, 555.5);
        assert_eq!(visited(&told.during(&cut)), visited(&looked.during(&cut)));
        // Some blocks were told beforehand, and not all.
        let program = Program::of(&told).expect("all share their times");
        let zones = program.zones(true).expect("all steps pass ends on");
        let known = (0..7).filter(|b| program.one(&zones, *b, &mut Vec::new()).is_some());
        let known = known.count();
        assert!(known > 0 && known < 7, "{known} of 7");
    }
}
