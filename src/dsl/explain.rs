//! What scripts that look across findings work with: the review so far, and a cause under construction.

use std::sync::Arc;

use super::ops::{Outcome, complain};
use crate::findings::{Diagnosis, Finding};

/// The findings of a review, doubts included, as `explain(run, review)` sees them.
#[derive(Clone)]
pub struct Reviewed(Arc<Vec<Finding>>);

impl Reviewed {
    /// Of a review that was put together.
    pub fn new(findings: Vec<Finding>) -> Reviewed {
        Reviewed(Arc::new(findings))
    }
    /// The finding of a check; one that does not exist is a slip of the script.
    pub fn finding(&self, id: &str) -> Outcome<&Finding> {
        match self.0.iter().find(|f| f.id == id) {
            Some(finding) => Ok(finding),
            None => complain(format!(
                "there is no check `{id}` in this review: `plugread checks` lists them"
            )),
        }
    }
}

/// What a script's `explain` gives back.
#[derive(Clone, Debug)]
pub struct Cause(pub Diagnosis);

impl Cause {
    /// How much more speaks for it than against it: what the causes of a review are put in order by.
    pub fn weight(&self) -> i64 {
        let count = |list: &[crate::findings::Text]| i64::try_from(list.len()).unwrap_or(i64::MAX);
        count(&self.0.speaks_for) - count(&self.0.speaks_against)
    }
}
