//! Truths: where a comparison holds.

use rhai::plugin::*;

/// Package.
#[export_module]
pub mod words {
    use crate::dsl::column::{Quantity, Truth};
    use crate::dsl::lazy::Values;
    use crate::dsl::ops::{Outcome, complain};
    use crate::span::Spans;
    use crate::units::Unit;

    /// Only inside the spans.
    #[rhai_fn(name = "within", name = "during", pure)]
    pub fn within(t: &mut Truth, spans: Spans) -> Truth {
        t.within(&spans)
    }
    /// Where it has been true for so long: at least four fifths of a window of that length, and three updates of the
    /// slowest channel in it. Never across a gap.
    #[rhai_fn(return_raw, pure)]
    pub fn lasting(t: &mut Truth, hold: Quantity) -> Outcome<Spans> {
        if hold.unit != Unit::standard("s") {
            return complain(format!("lasting wants a time, not {}", hold.unit.key()));
        }
        Ok(t.lasting(hold.value))
    }
    /// Where it is true, be it for one sample.
    #[rhai_fn(pure)]
    pub fn spans(t: &mut Truth) -> Spans {
        t.spans()
    }
    /// True where it is true anywhere.
    #[rhai_fn(pure)]
    pub fn ever(t: &mut Truth) -> bool {
        let mut ever = false;
        t.lazy.visit_told(&mut |_, values| {
            ever |= match values {
                Values::Each(values) => values.iter().any(|v| *v != 0.0),
                Values::All(one) => one != 0.0,
            };
            !ever
        });
        ever
    }
    /// Share of the known time in which it is true, 0 to 1; `()` where nothing is known.
    #[rhai_fn(pure)]
    pub fn share(t: &mut Truth) -> Dynamic {
        t.share().map_or(Dynamic::UNIT, Dynamic::from)
    }
    /// Number of samples for which it is true.
    #[rhai_fn(pure)]
    pub fn count(t: &mut Truth) -> i64 {
        t.lazy.series().values.iter().filter(|v| **v != 0.0).count() as i64
    }
}
