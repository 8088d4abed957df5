//! Expressions over columns, evaluated when somebody needs numbers, and only inside the spans in question.
//!
//! An expression is a small tree. `during` narrows it; the narrowing is handed down to the leaves, where cutting out
//! a stretch of time is two binary searches. What needs its neighbours in time (rolling windows, steps, lags) is
//! worked out over the whole series once and kept, unless only a small part of it is asked for and the neighbours are near.

use std::ops::Range;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::{Arc, Mutex, OnceLock};

pub(super) use super::held::{Held, ranges, ranges_of};
pub use super::held::{cut, hold};
use super::leaf::Zones;
use super::program::Program;
pub use super::shape::{Kept, Neighbours, Per, Shape};
use super::ticks::Ticks;
use crate::recording::Series;
use crate::span::Spans;
use crate::stats;
use crate::stop;

pub(super) type Each = Arc<dyn Fn(&mut [f64]) + Send + Sync>;
pub(super) type Both = Arc<dyn Fn(&mut [f64], &[f64]) + Send + Sync>;
pub(super) type Whole = Arc<dyn Fn(&Series) -> Series + Send + Sync>;

/// The values of a stretch of samples.
#[derive(Clone, Copy, Debug)]
pub enum Values<'a> {
    /// One for each.
    Each(&'a [f64]),
    /// The same for all.
    All(f64),
}

/// Takes times and values of a stretch, and says whether it wants more.
pub type Take<'a> = dyn FnMut(&[f64], Values) -> bool + 'a;

/// A part is small that is so many times shorter than the whole.
const SMALL: f64 = 4.0;
/// So many parts of an expression are looked at before it counts as one that uses its own parts again and again.
const WALK: usize = 24;

/// So much of what is made of a channel is kept.
const KEPT: usize = 3;

/// Carried out of the work on a series that was asked to stop.
struct GivenUp;

/// A series that is worked out on demand. Cheap to clone.
#[derive(Clone)]
pub struct Lazy(Arc<Node>);

struct Node {
    op: Op,
    whole: OnceLock<Series>,
    /// Its means over blocks of that length, s, as first asked for.
    thin: OnceLock<(f64, Lazy)>,
    /// What several checks make of a channel, as last asked for. The numbers alone: an expression would hold on to the channel
    /// that holds on to it.
    kept: Mutex<Vec<(Kept, Arc<OnceLock<Series>>)>>,
    /// Between which values its numbers lie, block by block.
    zones: OnceLock<Arc<Zones>>,
    /// Interval of the slowest channel in it, s.
    interval_s: f64,
    /// How long a sample may be believed, s.
    believed_s: f64,
    /// Distance of its own samples, s.
    spacing_s: f64,
    /// Steps of the expression under it.
    depth: u32,
}

/// An expression deeper than this is worked out and begun anew: whoever makes a column of itself again and again would else
/// fill the stack of whoever goes through it.
const DEEPEST: u32 = 256;

pub(super) enum Op {
    Data(Series),
    /// The same values, with other claims about their rate.
    Same(Lazy),
    Each(Lazy, Shape, Each),
    Both(Lazy, Lazy, Shape, Both),
    /// What needs its neighbours, and how far to either side they lie, s: endless where it takes all of them.
    Whole(Lazy, f64, Neighbours, Whole),
    During(Lazy, Spans),
}

impl Lazy {
    fn node(op: Op, interval_s: f64, believed_s: f64, spacing_s: f64) -> Lazy {
        let depth = match &op {
            Op::Data(_) => 0,
            Op::Same(inner) | Op::Each(inner, ..) | Op::Whole(inner, ..) | Op::During(inner, _) => {
                inner.0.depth + 1
            }
            Op::Both(a, b, ..) => a.0.depth.max(b.0.depth) + 1,
        };
        let made = Lazy::of(op, interval_s, believed_s, spacing_s, depth);
        if depth <= DEEPEST {
            return made;
        }
        let series = made.series();
        Lazy::of(Op::Data(series), interval_s, believed_s, spacing_s, 0)
    }
    fn of(op: Op, interval_s: f64, believed_s: f64, spacing_s: f64, depth: u32) -> Lazy {
        Lazy(Arc::new(Node {
            op,
            whole: OnceLock::new(),
            thin: OnceLock::new(),
            kept: Mutex::default(),
            zones: OnceLock::new(),
            interval_s,
            believed_s,
            spacing_s,
            depth,
        }))
    }
    /// A leaf.
    pub fn data(series: Series, interval_s: f64, believed_s: f64) -> Lazy {
        let spacing = series.spacing().unwrap_or(interval_s);
        Lazy::node(Op::Data(series), interval_s, believed_s, spacing)
    }
    /// Interval of the slowest channel that went into it, s: three of these are the least evidence for a hold.
    pub fn interval_s(&self) -> f64 {
        self.0.interval_s
    }
    /// How long a sample may be believed, s.
    pub fn believed_s(&self) -> f64 {
        self.0.believed_s
    }
    /// A function of each value. Results that are no finite number are left out.
    pub fn each(&self, shape: Shape, f: impl Fn(f64) -> f64 + Send + Sync + 'static) -> Lazy {
        // Of a part: the part of it. So the ends of whole blocks can tell.
        if let (Op::During(inner, spans), None) = (&self.0.op, self.0.whole.get()) {
            return inner.each(shape, f).during(spans);
        }
        // A missing value stays missing, whatever the function makes of it: no number is larger than 3, and none is not.
        let block = move |values: &mut [f64]| {
            for v in values {
                let made = f(*v);
                *v = if v.is_finite() && made.is_finite() {
                    made
                } else {
                    f64::NAN
                };
            }
        };
        Lazy::node(
            Op::Each(self.clone(), shape, Arc::new(block)),
            self.0.interval_s,
            self.0.believed_s,
            self.0.spacing_s,
        )
    }
    /// A function of two values of the same time: on the times of the finer series, the other one standing at its
    /// last sample for as long as that may be believed.
    pub fn both(
        &self,
        other: &Lazy,
        shape: Shape,
        f: impl Fn(f64, f64) -> f64 + Send + Sync + 'static,
    ) -> Lazy {
        // The times are those of the one, so a part of that one gives a part of all.
        let is_part = |lazy: &Lazy| matches!(lazy.0.op, Op::During(..)) && lazy.at_hand().is_none();
        let left_is_base = self.0.spacing_s <= other.0.spacing_s;
        match (&self.0.op, &other.0.op) {
            (Op::During(inner, spans), _) if left_is_base && is_part(self) && !is_part(other) => {
                return inner.both(other, shape, f).during(spans);
            }
            (_, Op::During(inner, spans)) if !left_is_base && is_part(other) && !is_part(self) => {
                return self.both(inner, shape, f).during(spans);
            }
            _ => {}
        }
        let block = move |left: &mut [f64], right: &[f64]| {
            for (a, b) in left.iter_mut().zip(right) {
                let made = f(*a, *b);
                *a = if a.is_finite() && b.is_finite() && made.is_finite() {
                    made
                } else {
                    f64::NAN
                };
            }
        };
        let spacing = self.0.spacing_s.min(other.0.spacing_s);
        let believed = if self.0.spacing_s <= other.0.spacing_s {
            self.0.believed_s
        } else {
            other.0.believed_s
        };
        Lazy::node(
            Op::Both(self.clone(), other.clone(), shape, Arc::new(block)),
            self.0.interval_s.max(other.0.interval_s),
            believed,
            spacing,
        )
    }
    /// A function of the whole series.
    pub fn whole(&self, f: impl Fn(&Series) -> Series + Send + Sync + 'static) -> Lazy {
        self.near(f64::INFINITY, f)
    }
    /// A function that makes a value of each sample from those within `reach` seconds of it, and of no others: where only
    /// a small part is asked for, only that part is worked out.
    pub fn near(&self, reach: f64, f: impl Fn(&Series) -> Series + Send + Sync + 'static) -> Lazy {
        self.rolling(reach, Neighbours::Any, f)
    }
    /// So, with what is known of it: where the least and the greatest of the neighbours tell, nothing is worked out.
    pub fn rolling(
        &self,
        reach: f64,
        told: Neighbours,
        f: impl Fn(&Series) -> Series + Send + Sync + 'static,
    ) -> Lazy {
        Lazy::node(
            Op::Whole(self.clone(), reach, told, Arc::new(f)),
            self.0.interval_s,
            self.0.believed_s,
            self.0.spacing_s,
        )
    }
    /// The same with other claims about its rate.
    pub fn paced(&self, interval_s: f64, believed_s: f64) -> Lazy {
        Lazy::node(
            Op::Same(self.clone()),
            interval_s,
            believed_s,
            self.0.spacing_s.max(interval_s),
        )
    }
    /// Only inside the spans.
    pub fn during(&self, spans: &Spans) -> Lazy {
        Lazy::node(
            Op::During(self.clone(), spans.clone()),
            self.0.interval_s,
            self.0.believed_s,
            self.0.spacing_s,
        )
    }
    /// Its means over blocks of that length, made by `make` unless they were made before.
    pub fn thinned(&self, seconds: f64, make: impl FnOnce() -> Lazy) -> Lazy {
        match self.0.thin.get() {
            Some((length, thin)) if *length == seconds => thin.clone(),
            _ => {
                let made = make();
                if stop::asked() {
                    return made;
                }
                // Two checks that ask at once make it twice; one of the two is kept.
                let _ = self.0.thin.set((seconds, made.clone()));
                made
            }
        }
    }
    /// True where each of its numbers is one that was logged, though perhaps not all of them.
    pub fn as_logged(&self) -> bool {
        match &self.0.op {
            Op::Data(_) => true,
            Op::Same(inner) | Op::During(inner, _) => inner.as_logged(),
            Op::Each(..) | Op::Both(..) | Op::Whole(..) => false,
        }
    }
    /// How it comes about.
    pub(super) fn op(&self) -> &Op {
        &self.0.op
    }
    /// The numbers, where somebody asked for them before.
    pub(super) fn at_hand(&self) -> Option<&Series> {
        self.0.whole.get()
    }
    /// Between which values its numbers lie; `values` are those numbers.
    pub(super) fn zones(&self, values: &[f64]) -> Arc<Zones> {
        let zones = || Arc::new(Zones::of(values));
        if stop::asked() {
            return zones();
        }
        Arc::clone(self.0.zones.get_or_init(zones))
    }
    /// True where those are known.
    pub(super) fn has_zones(&self) -> bool {
        self.0.zones.get().is_some()
    }
    /// The numbers.
    pub fn series(&self) -> Series {
        if let Some(done) = self.0.whole.get() {
            return done.clone();
        }
        // Nothing is kept any more, so whatever uses its own parts again would go through them again and again.
        if stop::asked() {
            return Series::empty();
        }
        let work = || {
            let made = self.work_out(None);
            if stop::asked() {
                // Unfinished, and nothing that may be kept: this leaves the cell as empty as it was.
                resume_unwind(Box::new(GivenUp));
            }
            made
        };
        let kept = catch_unwind(AssertUnwindSafe(|| self.0.whole.get_or_init(work).clone()));
        kept.unwrap_or_else(|why| {
            if why.is::<GivenUp>() {
                return Series::empty();
            }
            resume_unwind(why)
        })
    }

    /// Something about the values alone: of a part of a series these are copied without their times.
    pub fn with_values<T>(&self, tell: impl Fn(&[f64]) -> T) -> T {
        if let (Op::During(..), None) = (&self.0.op, self.0.whole.get()) {
            return tell(&self.values());
        }
        tell(&self.series().values)
    }

    /// Hands over the samples in order, a stretch at a time: those of a part of a series without a copy, all others as they
    /// are then kept.
    pub fn go_over(&self, take: &mut dyn FnMut(&[f64], &[f64]) -> bool) {
        if let (Op::During(..), None) = (&self.0.op, self.0.whole.get()) {
            return self.visit(take);
        }
        let series = self.series();
        take(&series.times, &series.values);
    }

    /// A quantile of the values, with linear interpolation between order statistics.
    pub fn quantile(&self, q: f64) -> Option<f64> {
        match self.part_at_hand(None) {
            Some((series, ranges)) => {
                let parts: Vec<&[f64]> = ranges.into_iter().map(|r| &series.values[r]).collect();
                stats::quantile_of_parts(&parts, q)
            }
            None => self.with_values(|values| stats::quantile_of_finite(values, q)),
        }
    }

    /// The numbers that it is a part of, and which of them, where they are at hand.
    fn part_at_hand(&self, within: Option<&Spans>) -> Option<(&Series, Vec<Range<usize>>)> {
        match (&self.0.op, self.0.whole.get()) {
            (Op::Data(series), _) | (_, Some(series)) => {
                let all = || std::iter::once(0..series.len()).collect();
                Some((
                    series,
                    within.map_or_else(all, |spans| ranges(series, spans)),
                ))
            }
            (Op::Same(inner), None) => inner.part_at_hand(within),
            (Op::During(inner, spans), None) => {
                let both = within.map(|outer| spans.and(outer));
                inner.part_at_hand(both.as_ref().or(Some(spans)))
            }
            (Op::Each(..) | Op::Both(..) | Op::Whole(..), None) => None,
        }
    }

    /// The values alone, copied, to be brought into another order.
    pub fn values(&self) -> Vec<f64> {
        if self.0.whole.get().is_none() && !matches!(self.0.op, Op::During(..)) {
            return self.series().values.to_vec();
        }
        let mut values = Vec::new();
        self.visit(&mut |_, part| {
            values.extend_from_slice(part);
            true
        });
        values
    }

    /// The same as `rolling`, for what several checks ask of a channel: worked out as a whole by one of them, its numbers are
    /// there for the others.
    pub fn keeping(
        &self,
        what: Kept,
        reach: f64,
        told: Neighbours,
        f: impl Fn(&Series) -> Series + Send + Sync + 'static,
    ) -> Lazy {
        let (Op::Data(series), Ok(mut kept)) = (&self.0.op, self.0.kept.lock()) else {
            return self.rolling(reach, told, f);
        };
        let known = kept.iter().position(|one| one.0 == what);
        let cell = known.map_or_else(Arc::default, |at| kept.remove(at).1);
        if kept.len() >= KEPT {
            kept.remove(0);
        }
        kept.push((what, Arc::clone(&cell)));
        let (fill, all) = (Arc::clone(&cell), Arc::clone(&series.times));
        let lazy = self.rolling(reach, told, move |series| {
            let made = f(series);
            if Arc::ptr_eq(&series.times, &all) && !stop::asked() {
                let _ = fill.set(made.clone());
            }
            made
        });
        if let Some(made) = cell.get() {
            let _ = lazy.0.whole.set(made.clone());
        }
        lazy
    }

    /// Hands over the samples in order, a stretch at a time, times and values, until `take` says that it has enough. What
    /// is only looked at once is not kept.
    pub fn visit(&self, take: &mut dyn FnMut(&[f64], &[f64]) -> bool) {
        let mut all = Vec::new();
        self.visit_told(&mut |times, values| match values {
            Values::Each(values) => take(times, values),
            Values::All(one) => {
                all.clear();
                all.resize(times.len(), one);
                take(times, &all)
            }
        });
    }
    /// The same, where one value may stand for all of a stretch.
    pub fn visit_told(&self, take: &mut Take) {
        self.visit_within(None, take);
    }

    /// The least of its values, or the greatest. What cannot hold it is not worked out.
    pub fn extreme(&self, greatest: bool) -> Option<f64> {
        self.extreme_within(None, greatest)
    }

    fn extreme_within(&self, within: Option<&Spans>, greatest: bool) -> Option<f64> {
        let program = match (&self.0.op, self.0.whole.get()) {
            (Op::Same(inner), None) => return inner.extreme_within(within, greatest),
            (Op::During(inner, spans), None) => {
                let both = within.map(|outer| spans.and(outer));
                return inner.extreme_within(both.as_ref().or(Some(spans)), greatest);
            }
            (Op::Each(..) | Op::Both(..), None) => self.program(within),
            (Op::Whole(_, _, told, _), None)
                if *told != Neighbours::Any && !self.is_small(within) =>
            {
                self.as_program()
            }
            _ => None,
        };
        if let Some(program) = program {
            return program.extreme(within, greatest);
        }
        let pick = |a: f64, b: f64| if greatest == (b > a) { b } else { a };
        let mut best = None;
        self.visit_within(within, &mut |_, values| {
            let one = match values {
                Values::Each(values) => values.iter().copied().reduce(pick),
                Values::All(one) => Some(one),
            };
            best = best.into_iter().chain(one).reduce(pick);
            true
        });
        best
    }

    /// Hands over the times of the samples alone: what makes one value of each sample need not be worked out.
    pub fn visit_times(&self, take: &mut dyn FnMut(&[f64]) -> bool) {
        self.visit_times_within(None, take);
    }

    fn visit_times_within(&self, within: Option<&Spans>, take: &mut dyn FnMut(&[f64]) -> bool) {
        match (&self.0.op, self.at_hand()) {
            (Op::Same(inner), None)
            | (Op::Whole(inner, _, Neighbours::Among | Neighbours::Apart(_), _), None) => {
                inner.visit_times_within(within, take);
            }
            (Op::During(inner, spans), None) => {
                let both = within.map(|outer| spans.and(outer));
                inner.visit_times_within(both.as_ref().or(Some(spans)), take);
            }
            _ => self.visit_within(within, &mut |times, _| take(times)),
        }
    }

    fn visit_within(&self, within: Option<&Spans>, take: &mut Take) {
        if let Some(done) = self.0.whole.get() {
            return hand_over(done, within, take);
        }
        match &self.0.op {
            Op::Data(series) => hand_over(series, within, take),
            Op::Same(inner) => inner.visit_within(within, take),
            Op::During(inner, spans) => match within {
                None => inner.visit_within(Some(spans), take),
                Some(outer) => inner.visit_within(Some(&spans.and(outer)), take),
            },
            Op::Each(..) | Op::Both(..) => match self.program(within) {
                Some(program) => program.visit(within, take),
                None => hand_over(&self.within(within), None, take),
            },
            Op::Whole(..) if self.is_small(within) => hand_over(&self.within(within), None, take),
            Op::Whole(_, _, told, _) if told.is_quick() => match self.as_program() {
                Some(program) => program.visit(within, take),
                None => hand_over(&self.series(), within, take),
            },
            Op::Whole(..) => hand_over(&self.series(), within, take),
        }
    }

    /// A function of near neighbours as a program of its own.
    fn as_program(&self) -> Option<Program> {
        Program::of(&self.paced(self.0.interval_s, self.0.believed_s))
    }

    /// Its times, without working its values out where they are known beforehand.
    pub fn times(&self) -> Arc<[f64]> {
        if let (Op::Whole(inner, _, Neighbours::Gains, _), None) = (&self.0.op, self.at_hand()) {
            let ticks = Ticks::of(&inner.series().times);
            if ticks.unbroken(f64::INFINITY) {
                return ticks.rest;
            }
        }
        self.series().times
    }

    /// Block by block, unless some part of it is better worked out for the spans alone.
    fn program(&self, within: Option<&Spans>) -> Option<Program> {
        if within.is_some() && self.has_small(within, &mut WALK.clone()) {
            return None;
        }
        Program::of(self)
    }

    /// True where some part of the expression is better worked out for these spans alone.
    fn has_small(&self, within: Option<&Spans>, left: &mut usize) -> bool {
        *left = left.saturating_sub(1);
        if *left == 0 || self.0.whole.get().is_some() {
            return false;
        }
        match &self.0.op {
            Op::Data(_) | Op::During(..) => false,
            Op::Same(inner) | Op::Each(inner, ..) => inner.has_small(within, left),
            Op::Both(a, b, ..) => a.has_small(within, left) || b.has_small(within, left),
            Op::Whole(..) => self.is_small(within),
        }
    }

    /// True for a function of near neighbours of which only a small part is asked for, so that working out that part, even
    /// several times, is quicker than all of it once.
    fn is_small(&self, within: Option<&Spans>) -> bool {
        let (Op::Whole(inner, reach, ..), Some(spans)) = (&self.0.op, within) else {
            return false;
        };
        let Some((from, to)) = inner.extent() else {
            return false;
        };
        #[expect(clippy::cast_precision_loss, reason = "a number of spans")]
        let margins = 2.0 * reach * spans.list().len() as f64;
        self.0.whole.get().is_none() && (spans.total() + margins) * SMALL < to - from
    }

    /// From the first to the last sample, s, as far as that is known without working anything out.
    fn extent(&self) -> Option<(f64, f64)> {
        match (&self.0.op, self.0.whole.get()) {
            (Op::Data(series), _) | (_, Some(series)) => {
                Some((*series.times.first()?, *series.times.last()?))
            }
            (Op::Same(inner) | Op::Each(inner, ..) | Op::Both(inner, ..), _)
            | (Op::Whole(inner, ..) | Op::During(inner, _), _) => inner.extent(),
        }
    }

    fn within(&self, within: Option<&Spans>) -> Series {
        match (within, self.0.whole.get()) {
            (None, _) => self.series(),
            (Some(spans), Some(done)) => cut(done, spans),
            (Some(_), None) => self.work_out(within),
        }
    }

    fn work_out(&self, within: Option<&Spans>) -> Series {
        if stop::asked() {
            return Series::empty();
        }
        match &self.0.op {
            Op::Data(series) => within.map_or_else(|| series.clone(), |spans| cut(series, spans)),
            Op::Same(inner) => inner.within(within),
            Op::During(inner, spans) => match within {
                None => inner.within(Some(spans)),
                Some(outer) => inner.within(Some(&spans.and(outer))),
            },
            Op::Each(inner, _, f) => self.program(within).map_or_else(
                || {
                    let series = inner.within(within);
                    let mut values = series.values.to_vec();
                    f(&mut values);
                    Series::new(&series.times, values)
                },
                |program| program.run(within),
            ),
            Op::Both(a, b, _, f) => self.program(within).map_or_else(
                || work_out_both(a, b, f, within),
                |program| program.run(within),
            ),
            // The whole is kept by `series` alone: filling the same cell from in here would wait for itself.
            Op::Whole(inner, reach, _, f) => match within {
                None => f(&inner.series()),
                Some(spans) if self.is_small(within) => {
                    cut(&f(&inner.within(Some(&spans.grown(*reach, *reach)))), spans)
                }
                Some(spans) => cut(&self.series(), spans),
            },
        }
    }
}

fn work_out_both(a: &Lazy, b: &Lazy, f: &Both, within: Option<&Spans>) -> Series {
    let left_is_base = a.0.spacing_s <= b.0.spacing_s;
    let (base, held) = if left_is_base { (a, b) } else { (b, a) };
    let base_series = base.within(within);
    // The held one may need its last sample before a span begins.
    let wider = within.map(|spans| spans.grown(held.0.believed_s, 0.0));
    let held_series = held.within(wider.as_ref());
    let other = hold(&held_series, &base_series.times, held.0.believed_s);
    let (left, right) = if left_is_base {
        (base_series.values, other)
    } else {
        (other, base_series.values)
    };
    let mut left = Arc::unwrap_or_clone(left);
    f(&mut left, &right);
    Series::new(&base_series.times, left)
}

fn hand_over(series: &Series, within: Option<&Spans>, take: &mut Take) {
    let Some(spans) = within else {
        take(&series.times, Values::Each(&series.values));
        return;
    };
    for range in ranges(series, spans) {
        let values = Values::Each(&series.values[range.clone()]);
        if !take(&series.times[range], values) {
            return;
        }
    }
}

#[cfg(test)]
mod tests;
