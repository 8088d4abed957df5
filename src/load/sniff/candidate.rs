//! What speaks for a column as the clock, and what against it.

use super::clock_unit::time_unit;
use super::course::{Course, Fault};
use crate::load::dialect::{Encoding, Heading};
use crate::load::encoding::words;
use crate::load::words::{ClockName, clock_name};

/// A heading that surely means the clock scores so much; below the second, hardly anything but the course speaks for one.
pub(super) const SURE: f64 = 3.0;
pub(super) const VAGUE: f64 = 1.0;

/// A column that could be the clock.
pub(super) struct Candidate {
    pub score: f64,
    /// What its heading and the form of its cells add to that.
    pub word: f64,
    pub column: usize,
    pub course: Course,
    pub why: String,
}

/// A column that should be the clock by its heading and cannot be.
pub(super) struct Refused {
    pub word: f64,
    pub column: usize,
    pub course: Course,
    pub fault: Fault,
}

impl Refused {
    /// Whether it surely is the clock, of rows that are not in order.
    pub fn is_out_of_order(&self) -> bool {
        self.word >= SURE && matches!(self.fault, Fault::Reversed | Fault::Shuffled)
    }

    /// What its course did, to follow its name.
    pub fn does(&self, encoding: Encoding) -> String {
        let (back, steps) = (self.course.back, self.course.steps());
        match self.fault {
            Fault::Blank => "is blank in most rows".to_owned(),
            Fault::NoTimes => {
                let cell = words(&self.course.shown, encoding);
                format!("holds cells such as `{cell}`, which are no times that are known")
            }
            Fault::Reversed => format!("runs backward in {back} of {steps} steps looked at"),
            Fault::Shuffled => format!(
                "goes back in {back} of {steps} steps looked at, so the rows are not in the order in which they were recorded"
            ),
        }
    }
}

/// What a column comes to.
pub(super) enum Judged {
    Candidate(Candidate),
    Refused(Refused),
    /// Nothing says that it counts time.
    Other,
}

/// Judges a column by its heading and its course.
pub(super) fn judge(heading: &Heading, course: Course) -> Judged {
    let Some((word, why)) = word_score(heading, &course) else {
        return Judged::Other;
    };
    let column = heading.column;
    match course.fault() {
        Some(fault) if word > VAGUE => Judged::Refused(Refused {
            word,
            column,
            course,
            fault,
        }),
        Some(_) => Judged::Other,
        None => {
            let steady = if course.back == 0 { 1.0 } else { 0.3 };
            let first = if column == 0 { 0.3 } else { 0.0 };
            let moved = if course.forward > 0 { 0.5 } else { 0.0 };
            Judged::Candidate(Candidate {
                score: word + steady + first + moved + 1.5 * course.moving(),
                word,
                column,
                course,
                why,
            })
        }
    }
}

/// What speaks for a column by its heading or its form. `None`: nothing does.
fn word_score(heading: &Heading, course: &Course) -> Option<(f64, String)> {
    let unit = heading.unit.as_deref().and_then(time_unit);
    let (score, why) = match clock_name(&heading.name) {
        ClockName::Exact => (3.0, "its heading is a word for a clock".to_owned()),
        ClockName::Holds(word) => (2.0, format!("its heading holds the word `{word}`")),
        ClockName::Misspelt(word) => (1.2, format!("its heading is one letter away from `{word}`")),
        ClockName::Other => (0.3, "its heading speaks of a time".to_owned()),
        ClockName::No if course.written.is_some() => {
            (0.5, "its cells are written as times".to_owned())
        }
        ClockName::No if unit.is_some() && course.forward > 0 && course.back == 0 => {
            (0.5, "its unit is one of time and it only grows".to_owned())
        }
        ClockName::No if heading.column == 0 && course.is_even() => (
            0.2,
            "it is the first column and grows by equal steps".to_owned(),
        ),
        ClockName::No => return None,
    };
    let form = if course.written.is_some() { 0.2 } else { 0.0 };
    Some((score + form, why))
}
