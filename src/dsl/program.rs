//! An expression over series that share their times, as a short list of steps that is worked out block by block.
//!
//! Where the least and the greatest of a block already tell what comes out (a limit that lies beyond both), the samples
//! of that block are not looked at.

use std::ops::Range;
use std::sync::Arc;

use super::lazy::{Both, Each, Lazy, Neighbours, Op, Shape, Take, Values, ranges_of};
use super::leaf::{BLOCK, Leaf, Zones};
use super::ticks::Ticks;
use crate::recording::{Series, all_finite};
use crate::span::Spans;
use crate::stop;

/// A longer expression is parted: one that uses its own parts again would else be worked out again and again.
const LONGEST: usize = 24;
/// Looking for the ends of all blocks pays where at least this share of them is asked for.
const WORTH: usize = 4;

/// An expression over series that share their times, worked out block by block, so that what is in between never
/// leaves the nearest memory.
pub struct Program {
    leaves: Vec<Leaf>,
    steps: Vec<Step>,
    /// Those that all leaves have in common, s.
    times: Option<Arc<[f64]>>,
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
            times: None,
        };
        program.add(root, true).then_some(program)
    }

    fn add(&mut self, lazy: &Lazy, is_root: bool) -> bool {
        if stop::asked() {
            return false;
        }
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
                let before = (self.steps.len(), self.leaves.len(), self.times.clone());
                let ahead: Vec<usize> = self.leaves.iter().map(|leaf| leaf.ahead).collect();
                if self.add(a, false) && self.add(b, false) {
                    self.steps.push(Step::Both(*shape, Arc::clone(f)));
                    return true;
                }
                if is_root || stop::asked() {
                    return false;
                }
                // Of different times: worked out by itself, once, and kept.
                self.steps.truncate(before.0);
                self.leaves.truncate(before.1);
                self.times = before.2;
                for (leaf, ahead) in self.leaves.iter_mut().zip(ahead) {
                    leaf.ahead = ahead;
                }
                self.load(lazy, lazy.series())
            }
            Op::Whole(inner, reach, told, make) if *told != Neighbours::Any && !is_root => {
                let from = inner.series();
                if from.len() <= WORTH * BLOCK {
                    return self.load(lazy, lazy.series());
                }
                let leaf = Leaf::later(lazy, inner, from, *reach, *told, make);
                match leaf {
                    Some(leaf) => self.push(leaf),
                    None => self.load(lazy, lazy.series()),
                }
            }
            Op::Whole(..) => self.load(lazy, lazy.series()),
            // Narrowed once more where everything is narrowed anyway.
            Op::During(..) => false,
        }
    }

    fn load(&mut self, lazy: &Lazy, series: Series) -> bool {
        self.push(Leaf::known(lazy, series))
    }

    /// False where its times are not those of the leaves before it. Differences to the sample before have none at the first
    /// one: beside them, nothing else has.
    fn push(&mut self, mut leaf: Leaf) -> bool {
        let times = self.times.get_or_insert_with(|| Arc::clone(&leaf.times));
        let mut fits = Arc::ptr_eq(times, &leaf.times);
        if !fits && Ticks::is_rest(times, &leaf.times) {
            (leaf.ahead, fits) = (1, true);
        } else if !fits
            && self.leaves.iter().all(|other| other.ahead == 0)
            && Ticks::is_rest(&leaf.times, times)
        {
            self.leaves.iter_mut().for_each(|other| other.ahead = 1);
            (*times, fits) = (Arc::clone(&leaf.times), true);
        }
        self.steps.push(Step::Load(self.leaves.len()));
        self.leaves.push(leaf);
        fits
    }

    /// Works out whatever was put off. False where that gave series of other times after all.
    fn work_out_all(&mut self) -> bool {
        let mut same = true;
        for leaf in &mut self.leaves {
            same &= leaf.work_out();
        }
        same
    }

    /// The stretches of samples that are asked for.
    fn asked(times: &[f64], within: Option<&Spans>) -> Vec<Range<usize>> {
        let all = || Range {
            start: 0,
            end: times.len(),
        };
        within.map_or_else(|| vec![all()], |spans| ranges_of(times, spans))
    }

    /// All of it, or what lies inside the spans.
    pub fn run(mut self, within: Option<&Spans>) -> Series {
        let same = self.work_out_all();
        let Some(all) = self.times.clone().filter(|_| same) else {
            return Series::empty();
        };
        let ranges = Program::asked(&all, within);
        let count = ranges.iter().map(ExactSizeIterator::len).sum();
        let mut out = Vec::with_capacity(count);
        let mut finite = true;
        let mut stack: Vec<Vec<f64>> = Vec::new();
        for range in &ranges {
            let mut at = range.start;
            while at < range.end {
                if stop::asked() {
                    return Series::empty();
                }
                let upto = range.end.min(at + BLOCK);
                let done = out.len();
                self.block(at..upto, &mut stack, &mut out);
                finite &= all_finite(&out[done..]);
                at = upto;
            }
        }
        let times = if count == all.len() {
            all
        } else {
            let parts: Vec<&[f64]> = ranges.iter().map(|r| &all[r.clone()]).collect();
            parts.concat().into()
        };
        match finite {
            true => Series::of_finite(&times, out),
            false => Series::new(&times, out),
        }
    }

    /// Hands over what lies inside the spans, block by block, until `take` has enough.
    pub fn visit(mut self, within: Option<&Spans>, take: &mut Take) {
        let Some(all) = self.times.clone() else {
            return;
        };
        let (pieces, zoned) = self.pieces_within(&all, within);
        if self.is_better_whole(&pieces, zoned) && !self.work_out_all() {
            return;
        }
        let (mut stack, mut values): (Vec<Vec<f64>>, Vec<f64>) = Default::default();
        for (range, ends) in pieces {
            if stop::asked() {
                return;
            }
            let times = &all[range.clone()];
            values.clear();
            let go_on = if let Some((one, _)) = ends.filter(|ends| ends.0 == ends.1) {
                take(times, Values::All(one))
            } else {
                self.block(range.clone(), &mut stack, &mut values);
                if all_finite(&values) {
                    take(times, Values::Each(&values))
                } else {
                    let known = times.iter().zip(&values).filter(|p| p.1.is_finite());
                    let (times, values): (Vec<f64>, Vec<f64>) = known.unzip();
                    take(&times, Values::Each(&values))
                }
            };
            if !go_on {
                return;
            }
        }
    }

    /// The least of what lies inside the spans, or the greatest. The blocks that may hold it come first; those that cannot are
    /// not looked at.
    pub fn extreme(mut self, within: Option<&Spans>, greatest: bool) -> Option<f64> {
        let all = self.times.clone()?;
        let (mut pieces, zoned) = self.pieces_within(&all, within);
        // Mostly few pieces have to be looked at: windows that reach far would still be worked out again and again.
        let wide = self.leaves.iter().any(Leaf::reaches_far);
        if (!zoned || wide) && self.is_better_whole(&pieces, zoned) && !self.work_out_all() {
            return None;
        }
        // Turned about, the least is the greatest.
        let turned = |v: f64| if greatest { v } else { -v };
        let bound = |piece: &Piece| match piece.1 {
            Some((low, high)) => turned(if greatest { high } else { low }),
            None => f64::INFINITY,
        };
        pieces.sort_by(|a, b| bound(b).total_cmp(&bound(a)));
        let (mut stack, mut values): (Vec<Vec<f64>>, Vec<f64>) = Default::default();
        let mut best: Option<f64> = None;
        for piece in pieces {
            if stop::asked() || best.is_some_and(|best| bound(&piece) <= best) {
                break;
            }
            values.clear();
            self.block(piece.0, &mut stack, &mut values);
            let known = values.iter().copied().filter(|v| v.is_finite());
            best = known.map(turned).chain(best).reduce(f64::max);
        }
        best.map(turned)
    }

    /// What is asked for, in pieces, and whether the ends of blocks were looked at.
    fn pieces_within(&self, times: &[f64], within: Option<&Spans>) -> (Vec<Piece>, bool) {
        let ranges = Program::asked(times, within);
        let count: usize = ranges.iter().map(ExactSizeIterator::len).sum();
        let at_hand = || self.leaves.iter().all(Leaf::zones_at_hand);
        let zones = self.zones(count > BLOCK && (count * WORTH >= times.len() || at_hand()));
        (self.pieces(ranges, zones.as_deref()), zones.is_some())
    }

    /// What is asked for in pieces, none longer than a block, with the ends between which all of a piece lies, where the ends
    /// of the blocks tell.
    fn pieces(&self, ranges: Vec<Range<usize>>, zones: Option<&[Arc<Zones>]>) -> Vec<Piece> {
        let mut pieces = Vec::new();
        let mut stack = Vec::new();
        for range in ranges {
            let mut at = range.start;
            while at < range.end {
                // Up to where the ends of the block hold.
                let upto = range.end.min((at / BLOCK + 1) * BLOCK);
                let ends = zones.and_then(|z| self.ends(z, at / BLOCK, &mut stack));
                pieces.push((at..upto, ends));
                at = upto;
            }
        }
        pieces
    }

    /// Whether what was put off is better worked out as a whole: where much of it would be worked out anyway.
    fn is_better_whole(&self, pieces: &[Piece], zoned: bool) -> bool {
        let open = |piece: &&Piece| piece.1.is_none_or(|ends| ends.0 != ends.1);
        let open = || pieces.iter().filter(open).map(|piece| piece.0.len());
        self.leaves
            .iter()
            .any(|leaf| leaf.is_better_whole(open(), zoned))
    }

    /// The zones of each leaf, where all steps can pass ends on.
    fn zones(&self, worth: bool) -> Option<Vec<Arc<Zones>>> {
        let passes = |step: &Step| match step {
            Step::Load(_) => true,
            Step::Each(shape, _) | Step::Both(shape, _) => *shape != Shape::Any,
        };
        let known = worth && self.steps.iter().all(passes);
        known.then(|| self.leaves.iter().map(Leaf::zones).collect())
    }

    /// Between which values every sample of a block lies, where the ends of the leaves tell.
    fn ends(
        &self,
        zones: &[Arc<Zones>],
        block: usize,
        stack: &mut Vec<(f64, f64)>,
    ) -> Option<(f64, f64)> {
        stack.clear();
        for step in &self.steps {
            let made = match step {
                Step::Load(leaf) => zones.get(*leaf)?.block(block)?,
                Step::Each(shape, f) => {
                    let (low, high) = stack.pop()?;
                    let turn = match shape {
                        Shape::TurnsAt(turn) if low < *turn && *turn < high => *turn,
                        _ => low,
                    };
                    let mut made = [low, high, turn];
                    f(&mut made);
                    hull(&made)?
                }
                Step::Both(shape, f) => {
                    let (b, a) = (stack.pop()?, stack.pop()?);
                    if *shape == Shape::Quotient && b.0 <= 0.0 && b.1 >= 0.0 {
                        return None;
                    }
                    let mut made = [a.0, a.0, a.1, a.1];
                    f(&mut made, &[b.0, b.1, b.0, b.1]);
                    hull(&made)?
                }
            };
            stack.push(made);
        }
        stack.pop()
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

/// Samples, and between which values all of them lie, where that is known.
type Piece = (Range<usize>, Option<(f64, f64)>);

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
        let told = |piece: &&Piece| piece.1.is_some_and(|ends| ends.0 == ends.1);
        let known = pieces.iter().filter(told).count();
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
        let told = |block: usize| program.ends(&zones, block, &mut Vec::new());
        let known = (0..7).filter(|b| told(*b).is_some_and(|ends| ends.0 == ends.1));
        let known = known.count();
        assert!(known > 0 && known < 7, "{known} of 7");
    }
}
