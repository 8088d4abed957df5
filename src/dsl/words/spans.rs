//! Spans: stretches of time.

use rhai::plugin::*;

use crate::dsl::column::Quantity;
use crate::dsl::ops::{Outcome, complain};
use crate::units::Unit;

fn seconds(q: Quantity, what: &str) -> Outcome<f64> {
    if q.unit == Unit::standard("s") {
        Ok(q.value)
    } else {
        complain(format!("{what} wants a time, not {}", q.unit.key()))
    }
}

fn time(value: f64) -> Quantity {
    Quantity {
        value,
        unit: Unit::standard("s"),
    }
}

/// Package.
#[export_module]
pub mod words {
    use super::{seconds, time};
    use crate::dsl::column::Quantity;
    use crate::dsl::ops::{Outcome, complain};
    use crate::span::{Span, Spans};
    use crate::units::Unit;
    use rhai::Array;

    /// No spans at all: a start for collecting some with `or`.
    pub fn no_spans() -> Spans {
        Spans::default()
    }
    /// One span between two times of the run.
    #[rhai_fn(return_raw)]
    pub fn span(from: Quantity, to: Quantity) -> Outcome<Spans> {
        Ok(Spans::one(seconds(from, "span")?, seconds(to, "span")?))
    }
    /// True where there is none.
    #[rhai_fn(pure)]
    pub fn is_empty(s: &mut Spans) -> bool {
        s.is_empty()
    }
    /// How many.
    #[rhai_fn(pure)]
    pub fn count(s: &mut Spans) -> i64 {
        s.list().len() as i64
    }
    /// Sum of the lengths.
    #[rhai_fn(pure)]
    pub fn total(s: &mut Spans) -> Quantity {
        time(s.total())
    }
    /// Length of the longest; zero where there is none.
    #[rhai_fn(pure)]
    pub fn longest(s: &mut Spans) -> Quantity {
        time(s.list().iter().map(|x| x.length()).fold(0.0, f64::max))
    }
    /// Start of the first.
    #[rhai_fn(return_raw, pure)]
    pub fn start(s: &mut Spans) -> Outcome<Quantity> {
        s.list().first().map_or_else(
            || complain("there are no spans here, so none starts: ask is_empty() first"),
            |x| Ok(time(x.from_s)),
        )
    }
    /// End of the last.
    #[rhai_fn(return_raw, pure)]
    pub fn end(s: &mut Spans) -> Outcome<Quantity> {
        s.list().last().map_or_else(
            || complain("there are no spans here, so none ends: ask is_empty() first"),
            |x| Ok(time(x.to_s)),
        )
    }
    /// Each one by itself, for the few there are.
    #[rhai_fn(pure)]
    pub fn each(s: &mut Spans) -> Array {
        s.list()
            .iter()
            .map(|x| Dynamic::from(Spans::one(x.from_s, x.to_s)))
            .collect()
    }
    /// The time in both.
    #[rhai_fn(name = "within", name = "and", pure)]
    pub fn within(s: &mut Spans, other: Spans) -> Spans {
        s.and(&other)
    }
    /// The time in either.
    #[rhai_fn(name = "or", pure)]
    pub fn or(s: &mut Spans, other: Spans) -> Spans {
        s.or(&other)
    }
    /// The time in these but not in the others.
    #[rhai_fn(name = "except", pure)]
    pub fn except(s: &mut Spans, other: Spans) -> Spans {
        s.except(&other)
    }
    /// Those of these that share time with the others, or come as near to them as that.
    #[rhai_fn(name = "near", return_raw, pure)]
    pub fn near(s: &mut Spans, other: Spans, slack: Quantity) -> Outcome<Spans> {
        let wide = other.grown(seconds(slack, "near")?, seconds(slack, "near")?);
        Ok(Spans::new(
            s.list()
                .iter()
                .filter(|x| wide.list().iter().any(|w| w.overlaps(**x)))
                .copied()
                .collect(),
        ))
    }
    /// Those at least so long.
    #[rhai_fn(return_raw, pure)]
    pub fn at_least(s: &mut Spans, length: Quantity) -> Outcome<Spans> {
        Ok(s.at_least(seconds(length, "at_least")?))
    }
    /// Begun earlier and ended later by those times.
    #[rhai_fn(return_raw, pure)]
    pub fn grown(s: &mut Spans, before: Quantity, after: Quantity) -> Outcome<Spans> {
        Ok(s.grown(seconds(before, "grown")?, seconds(after, "grown")?))
    }
    /// Without the first so many seconds of each: what comes before has not settled.
    #[rhai_fn(return_raw, pure)]
    pub fn after_first(s: &mut Spans, length: Quantity) -> Outcome<Spans> {
        Ok(s.grown(-seconds(length, "after_first")?, 0.0))
    }
    /// Without the last so many seconds of each.
    #[rhai_fn(return_raw, pure)]
    pub fn before_last(s: &mut Spans, length: Quantity) -> Outcome<Spans> {
        Ok(s.grown(0.0, -seconds(length, "before_last")?))
    }
    /// Spans nearer to each other than that become one.
    #[rhai_fn(return_raw, pure)]
    pub fn joined(s: &mut Spans, gap: Quantity) -> Outcome<Spans> {
        Ok(s.joined(seconds(gap, "joined")?))
    }
    /// The first so many spans.
    #[rhai_fn(pure)]
    pub fn take(s: &mut Spans, most: i64) -> Spans {
        Spans::new(
            s.list()
                .iter()
                .take(usize::try_from(most).unwrap_or(0))
                .copied()
                .collect::<Vec<Span>>(),
        )
    }
    /// Only the longest.
    #[rhai_fn(pure)]
    pub fn longest_one(s: &mut Spans) -> Spans {
        Spans::new(
            s.list()
                .iter()
                .copied()
                .max_by(|a, b| a.length().total_cmp(&b.length()))
                .into_iter()
                .collect::<Vec<Span>>(),
        )
    }
    /// For sentences: `12.0 s to 15.5 s`, and how many more.
    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn to_string(s: &mut Spans) -> String {
        let Some(first) = s.list().first() else {
            return "no time".to_string();
        };
        let more = s.list().len() - 1;
        let text = format!(
            "{} to {}",
            crate::findings::mark(first.from_s, Unit::standard("s")),
            crate::findings::mark(first.to_s, Unit::standard("s"))
        );
        if more == 0 {
            text
        } else {
            format!("{text} and {more} more")
        }
    }
}
