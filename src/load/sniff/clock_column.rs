//! Which column is the clock, and in which unit it counts.

use super::grid::Grid;
use crate::load::cells::{Cell, LogMarks, Marks, bare, cell};
use crate::load::clock::{ClockStyle, unroll, written_out};
use crate::load::dialect::Heading;
use crate::load::words::{ClockName, clock_name, words_of};

/// The column chosen, its style, and why.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Found {
    pub column: usize,
    pub style: ClockStyle,
    pub from_first: bool,
    pub evidence: Vec<String>,
}

/// What the head shows of one column.
#[derive(Clone, Debug, Default)]
struct Course {
    /// Numbers, or seconds of written stamps.
    values: Vec<f64>,
    /// Style of written stamps, if most are written with colons.
    written: Option<ClockStyle>,
    filled: usize,
    rows: usize,
    /// Steps between neighbours: forward and backward.
    forward: usize,
    back: usize,
    /// The median forward step.
    step: f64,
}

impl Course {
    fn new(grid: &Grid, column: usize, marks: Marks) -> Self {
        let mut course = Self::default();
        let mut stamps = Vec::new();
        for row in grid.usual_rows() {
            course.rows += 1;
            let Some(text) = row.fields.get(column).map(|field| bare(field)) else {
                continue;
            };
            course.filled += usize::from(!text.is_empty());
            if let Some(stamp) = written_out(text) {
                stamps.push(stamp);
            } else if let Cell::Number(number) = cell(text, marks) {
                course.values.push(number);
            }
        }
        if stamps.len() > course.values.len() {
            course.written = stamps.last().map(|stamp| stamp.0);
            course.values = stamps.into_iter().map(|stamp| stamp.1).collect();
            // Midnight is no step back.
            if let Some(style) = course.written {
                unroll(&mut course.values, style);
            }
        }
        let mut forward: Vec<f64> = Vec::new();
        for pair in course.values.windows(2) {
            let step = pair[1] - pair[0];
            if step > 0.0 {
                forward.push(step);
            }
            course.back += usize::from(step < 0.0);
        }
        course.forward = forward.len();
        if !forward.is_empty() {
            let middle = forward.len() / 2;
            course.step = *forward.select_nth_unstable_by(middle, f64::total_cmp).1;
        }
        course
    }

    /// Filled and readable nearly throughout, and not falling as often as rising.
    fn could_be_a_clock(&self) -> bool {
        let readable = self.values.len() * 10 >= self.filled * 6 && self.filled * 2 >= self.rows;
        let steps = self.values.len().saturating_sub(1);
        !self.values.is_empty()
            && readable
            && self.back * 3 <= steps
            && self.back <= self.forward.max(1)
    }

    /// The share of steps that go forward.
    #[expect(clippy::cast_precision_loss, reason = "counts of rows in the head")]
    fn moving(&self) -> f64 {
        self.forward as f64 / (self.values.len().max(2) - 1) as f64
    }

    /// Equal steps that are no whole numbers: time or something made from it.
    fn is_even(&self) -> bool {
        let even = |pair: &[f64]| ((pair[1] - pair[0]) - self.step).abs() <= 0.01 * self.step;
        self.values.len() >= 10
            && self.step > 0.0
            && self.step.fract() != 0.0
            && self.values.windows(2).all(even)
    }
}

/// The unit that a heading gives for a time.
fn time_unit(text: &str) -> Option<ClockStyle> {
    match text.trim().to_lowercase().trim_end_matches('.') {
        "s" | "sec" | "secs" | "second" | "seconds" => Some(ClockStyle::Seconds),
        "ms" | "msec" | "msecs" | "millis" | "millisecond" | "milliseconds" => {
            Some(ClockStyle::Milliseconds)
        }
        "us" | "µs" | "μs" | "usec" | "usecs" | "micros" | "microseconds" => {
            Some(ClockStyle::Microseconds)
        }
        "ns" | "nanoseconds" => Some(ClockStyle::Nanoseconds),
        "min" | "mins" | "minute" | "minutes" => Some(ClockStyle::Minutes),
        "h" | "hr" | "hrs" | "hour" | "hours" => Some(ClockStyle::Hours),
        _ => None,
    }
}

/// The unit of a heading: from its unit, else from the last word of its name.
fn unit_of(heading: &Heading) -> Option<ClockStyle> {
    let given = heading.unit.as_deref().and_then(time_unit);
    given.or_else(|| {
        words_of(&heading.name)
            .last()
            .and_then(|word| time_unit(word))
    })
}

/// Finds the clock, if there is one.
pub(super) fn find(grid: &Grid, headings: &[Heading], marks: &LogMarks) -> Option<Found> {
    let mut best: Option<(f64, usize, Course, String)> = None;
    for heading in headings {
        let course = Course::new(grid, heading.column, marks.of(heading.column));
        if !course.could_be_a_clock() {
            continue;
        }
        let Some((word, why)) = word_score(heading, &course) else {
            continue;
        };
        let steady = if course.back == 0 { 1.0 } else { 0.3 };
        let first = if heading.column == 0 { 0.3 } else { 0.0 };
        let moved = if course.forward > 0 { 0.5 } else { 0.0 };
        let score = word + steady + first + moved + 1.5 * course.moving();
        if best.as_ref().is_none_or(|best| score > best.0) {
            best = Some((score, heading.column, course, why));
        }
    }
    let (_, column, course, why) = best?;
    let heading = headings.get(column)?;
    let (style, from_first, unit_why) = style(heading, &course);
    let shown = if heading.raw.is_empty() {
        &heading.name
    } else {
        &heading.raw
    };
    let steps = course.values.len().saturating_sub(1);
    Some(Found {
        column,
        style,
        from_first,
        evidence: vec![
            format!(
                "Column {} `{shown}` is taken as the clock: {why}; it goes forward in {} and back in {} of {steps} steps looked at.",
                column + 1,
                course.forward,
                course.back,
            ),
            format!("The clock counts {}: {unit_why}.", style.name()),
        ],
    })
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

/// Decides the unit: from the form of the stamps, from the heading, from the size of the numbers, from their steps.
fn style(heading: &Heading, course: &Course) -> (ClockStyle, bool, String) {
    let first = course.values.first().copied().unwrap_or(0.0);
    if let Some(written) = course.written {
        // A run that starts within its first minute counts from its own zero; anything later is a time of day.
        let from_first = match written {
            ClockStyle::DateTime => true,
            ClockStyle::HoursMinutesSeconds => first >= 60.0,
            _ => false,
        };
        return (
            written,
            from_first,
            "its cells are written that way".to_owned(),
        );
    }
    let since_1970 = |style: ClockStyle| (5e8..5e9).contains(&style.to_seconds(first));
    if let Some(style) = unit_of(heading) {
        return (style, since_1970(style), "its heading says so".to_owned());
    }
    let counted = [
        ClockStyle::Seconds,
        ClockStyle::Milliseconds,
        ClockStyle::Microseconds,
        ClockStyle::Nanoseconds,
    ];
    if let Some(style) = counted.into_iter().find(|style| since_1970(*style)) {
        return (
            style,
            true,
            format!("{first} is then a moment of this century counted from 1970"),
        );
    }
    // A clock that moves in every row by a step this size would make the log uselessly slow in seconds.
    // Differences of decimal fractions carry the rounding of doubles, which nobody wants to read.
    let step = (course.step * 1e6).round() / 1e6;
    let every_row = course.forward * 10 >= course.values.len().saturating_sub(1) * 9;
    if every_row && (5.0..=1000.0).contains(&step) {
        let why = format!(
            "it steps by {step} from row to row, which in seconds would be far too slow for an engine"
        );
        return (ClockStyle::Milliseconds, false, why);
    }
    if every_row && step > 1000.0 {
        let why = format!(
            "it steps by {step} from row to row, which in milliseconds would be far too slow for an engine"
        );
        return (ClockStyle::Microseconds, false, why);
    }
    let why = if step > 0.0 {
        format!("no unit is given, and a step of {step} fits")
    } else {
        "no unit is given, and it stands still in the part looked at".to_owned()
    };
    (ClockStyle::Seconds, false, why)
}
