//! Causes: what several findings together point to.

use rhai::plugin::*;

/// Package.
#[export_module]
pub mod words {
    use crate::dsl::column::Quantity;
    use crate::dsl::explain::{Cause, Reviewed};
    use crate::dsl::ops::{Outcome, complain};
    use crate::findings::{Diagnosis, Text, Verdict};
    use crate::span::Spans;
    use rhai::{Array, Dynamic};

    /// True where that check warned.
    #[rhai_fn(return_raw, pure)]
    pub fn warned(review: &mut Reviewed, id: &str) -> Outcome<bool> {
        Ok(review.finding(id)?.verdict == Verdict::Warn)
    }
    /// True where that check passed.
    #[rhai_fn(return_raw, pure)]
    pub fn passed(review: &mut Reviewed, id: &str) -> Outcome<bool> {
        Ok(review.finding(id)?.verdict == Verdict::Pass)
    }
    /// True where something beneath that check warned about the same channels at the same time.
    #[rhai_fn(return_raw, pure)]
    pub fn doubtful(review: &mut Reviewed, id: &str) -> Outcome<bool> {
        Ok(!review.finding(id)?.doubtful_because.is_empty())
    }
    /// The culprits of a check, by number.
    #[rhai_fn(name = "cylinders_of", return_raw, pure)]
    pub fn cylinders_of(review: &mut Reviewed, id: &str) -> Outcome<Array> {
        let cylinders = &review.finding(id)?.cylinders;
        Ok(cylinders
            .iter()
            .map(|c| Dynamic::from(i64::from(*c)))
            .collect())
    }
    /// When a check warned.
    #[rhai_fn(name = "spans_of", return_raw, pure)]
    pub fn spans_of(review: &mut Reviewed, id: &str) -> Outcome<Spans> {
        Ok(review.finding(id)?.spans.clone())
    }
    /// A figure of a check by its name, or `()`.
    #[rhai_fn(name = "number_of", return_raw, pure)]
    pub fn figure_of(review: &mut Reviewed, id: &str, name: &str) -> Outcome<Dynamic> {
        let numbers = &review.finding(id)?.numbers;
        let figure = numbers.iter().find(|n| n.0 == name);
        Ok(figure.map_or(Dynamic::UNIT, |(_, figure)| {
            Dynamic::from(Quantity {
                value: figure.value,
                unit: figure.unit,
            })
        }))
    }
    /// Begins an explanation: the cause, in one sentence.
    pub fn cause(text: &str) -> Cause {
        Cause(Diagnosis {
            cause: Text::from(text),
            speaks_for: Vec::new(),
            speaks_against: Vec::new(),
            test: Text::from(""),
            from: Vec::new(),
        })
    }
    /// Something in the log that speaks for it.
    pub fn speaks_for(mut cause: Cause, text: &str) -> Cause {
        cause.0.speaks_for.push(Text::from(text));
        cause
    }
    /// Something in the log that speaks against it.
    pub fn speaks_against(mut cause: Cause, text: &str) -> Cause {
        cause.0.speaks_against.push(Text::from(text));
        cause
    }
    /// The smallest test that tells it from the next likely cause.
    pub fn test(mut cause: Cause, text: &str) -> Cause {
        cause.0.test = Text::from(text);
        cause
    }
    /// The checks whose findings it rests on.
    #[rhai_fn(return_raw)]
    pub fn rests_on(mut cause: Cause, ids: Array) -> Outcome<Cause> {
        for id in ids {
            match id.into_string() {
                Ok(id) => cause.0.from.push(id),
                Err(_) => return complain("rests_on wants a list of ids of checks"),
            }
        }
        Ok(cause)
    }
}
