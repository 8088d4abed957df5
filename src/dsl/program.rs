//! An expression over series that share their times, as a short list of steps that is worked out block by block.
//!
//! Where the least and the greatest of a block already tell what comes out (a limit that lies beyond both), the samples
//! of that block are not looked at.

use std::ops::Range;
use std::sync::Arc;

use super::lazy::{Both, Each, Lazy, Op, Shape, ranges};
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
        let ends = |block: &[f64]| {
            let least = |a: f64, b: &f64| if *b < a { *b } else { a };
            let greatest = |a: f64, b: &f64| if *b > a { *b } else { a };
            (
                block.iter().fold(f64::INFINITY, least),
                block.iter().fold(f64::NEG_INFINITY, greatest),
            )
        };
        Zones(values.chunks(BLOCK).map(ends).collect())
    }
}

/// An expression over series that share their times, worked out block by block, so that what is in between never
/// leaves the nearest memory.
pub struct Program {
    leaves: Vec<(Lazy, Series)>,
    steps: Vec<Step>,
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
            Op::Whole(..) => self.load(lazy, lazy.series()),
            // Narrowed once more where everything is narrowed anyway.
            Op::During(..) => false,
        }
    }

    fn load(&mut self, lazy: &Lazy, series: Series) -> bool {
        let first = self.leaves.first().map_or(&series, |leaf| &leaf.1);
        let same = Arc::ptr_eq(&first.times, &series.times);
        self.steps.push(Step::Load(self.leaves.len()));
        self.leaves.push((lazy.clone(), series));
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
    pub fn run(&self, within: Option<&Spans>) -> Series {
        let Some((_, first)) = self.leaves.first() else {
            return Series::empty();
        };
        let ranges = self.asked(first, within);
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
    pub fn visit(&self, within: Option<&Spans>, take: &mut dyn FnMut(&[f64], &[f64]) -> bool) {
        let Some((_, first)) = self.leaves.first() else {
            return;
        };
        let ranges = self.asked(first, within);
        let count: usize = ranges.iter().map(ExactSizeIterator::len).sum();
        let zones = self.zones(count * WORTH >= first.len() && count > BLOCK);
        let (mut stack, mut values): (Vec<Vec<f64>>, Vec<f64>) = Default::default();
        let mut ends = Vec::new();
        for range in &ranges {
            let mut at = range.start;
            while at < range.end {
                if stop::asked() {
                    return;
                }
                // Up to where the ends of the block hold.
                let upto = range.end.min((at / BLOCK + 1) * BLOCK);
                let times = &first.times[at..upto];
                values.clear();
                let one = zones
                    .as_ref()
                    .and_then(|z| self.one(z, at / BLOCK, &mut ends));
                let go_on = if let Some(one) = one {
                    values.resize(upto - at, one);
                    take(times, &values)
                } else {
                    self.block(at..upto, &mut stack, &mut values);
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
                at = upto;
            }
        }
    }

    /// The zones of each leaf, where all steps can pass ends on.
    fn zones(&self, worth: bool) -> Option<Vec<Arc<Zones>>> {
        let passes = |step: &Step| match step {
            Step::Load(_) => true,
            Step::Each(shape, _) | Step::Both(shape, _) => *shape != Shape::Any,
        };
        let known = worth && self.steps.iter().all(passes);
        known.then(|| self.leaves.iter().map(|(lazy, s)| lazy.zones(s)).collect())
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
                    stack[depth].extend_from_slice(&self.leaves[*leaf].1.values[range.clone()]);
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
