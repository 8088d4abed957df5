//! In which unit a clock counts, and whether it began to count long before the log.

use super::course::Course;
use crate::load::clock::ClockStyle;
use crate::load::dialect::Heading;
use crate::load::words::words_of;

/// A count that is so far on, in seconds, did not begin with the log: no run's own clock is an hour old at its start.
const BEGAN_LONG_BEFORE_S: f64 = 3600.0;
/// Spreadsheets count days from the end of 1899: these lie between 1954 and 2119.
const SPREADSHEET_DAYS: std::ops::Range<f64> = 20_000.0..80_000.0;
/// Steps of days from row to row: up to a minute.
const MINUTE_IN_DAYS: f64 = 1.0 / 1440.0;
/// A fraction of a day with so many digits is one that a spreadsheet wrote.
const DIGITS_OF_A_DAY: usize = 8;

/// The way to force what is said.
const FORCE: &str = "`clock_unit` under `[log]` in the build sheet forces another";

/// The unit that a heading gives for a time.
pub(super) fn time_unit(text: &str) -> Option<ClockStyle> {
    match text.trim().to_lowercase().trim_end_matches('.') {
        "s" | "sec" | "secs" | "second" | "seconds" => Some(ClockStyle::Seconds),
        "ms" | "msec" | "msecs" | "millis" | "millisecond" | "milliseconds" => {
            Some(ClockStyle::Milliseconds)
        }
        "us" | "µs" | "μs" | "usec" | "usecs" | "micros" | "microsecond" | "microseconds" => {
            Some(ClockStyle::Microseconds)
        }
        "ns" | "nsec" | "nanosecond" | "nanoseconds" => Some(ClockStyle::Nanoseconds),
        "min" | "mins" | "minute" | "minutes" => Some(ClockStyle::Minutes),
        "h" | "hr" | "hrs" | "hour" | "hours" => Some(ClockStyle::Hours),
        "d" | "day" | "days" => Some(ClockStyle::Days),
        _ => None,
    }
}

/// The unit of a heading: from its unit, else from the last word of its name.
pub(super) fn unit_of(heading: &Heading) -> Option<ClockStyle> {
    let given = heading.unit.as_deref().and_then(time_unit);
    given.or_else(|| {
        words_of(&heading.name)
            .last()
            .and_then(|word| time_unit(word))
    })
}

/// The unit, whether the first stamp is to be taken off, and plain sentences why.
pub(super) struct Unit {
    pub style: ClockStyle,
    pub from_first: bool,
    pub evidence: Vec<String>,
}

/// Decides the unit: from the sheet, from the form of the stamps, from the heading, from the size of the numbers, from
/// their steps.
pub(super) fn decide(heading: &Heading, course: &Course, forced: Option<ClockStyle>) -> Unit {
    let first = course.values.first().copied().unwrap_or(0.0);
    if let Some(written) = course.written {
        // A run that starts within its first minute counts from its own zero; anything later is a time of day.
        let from_first = match written {
            ClockStyle::DateTime => true,
            ClockStyle::HoursMinutesSeconds => first >= 60.0,
            _ => false,
        };
        return Unit {
            style: written,
            from_first,
            evidence: vec![counts(written, "its cells are written that way")],
        };
    }
    let (style, why) = match (forced, unit_of(heading)) {
        (Some(style), _) => (style, "the build sheet says so".to_owned()),
        (None, Some(style)) => (style, "its heading says so".to_owned()),
        (None, None) => guess(course, first),
    };
    let first_s = style.to_seconds(first);
    let from_first = first_s.abs() >= BEGAN_LONG_BEFORE_S;
    let mut evidence = vec![counts(style, &why)];
    if from_first {
        evidence.push(format!(
            "The first stamp looked at is {first}, so the clock began long before the log and the times are counted from there."
        ));
    }
    Unit {
        style,
        from_first,
        evidence,
    }
}

fn counts(style: ClockStyle, why: &str) -> String {
    format!("The clock counts {}: {why}.", style.name())
}

/// The unit of bare numbers under a heading that gives none.
fn guess(course: &Course, first: f64) -> (ClockStyle, String) {
    let counted = [
        ClockStyle::Seconds,
        ClockStyle::Milliseconds,
        ClockStyle::Microseconds,
        ClockStyle::Nanoseconds,
    ];
    let since_1970 = |style: &ClockStyle| (5e8..5e9).contains(&style.to_seconds(first));
    if let Some(style) = counted.into_iter().find(since_1970) {
        let why = format!("{first} is then a moment of this century counted from 1970; {FORCE}");
        return (style, why);
    }
    // Differences of decimal fractions carry the rounding of doubles, which nobody wants to read.
    let step = (course.step * 1e6).round() / 1e6;
    let small = course.step > 0.0 && course.step < MINUTE_IN_DAYS;
    if small && SPREADSHEET_DAYS.contains(&first) {
        let why = format!(
            "{first} is then a moment as spreadsheets keep it, and its steps are fractions of a second; {FORCE}"
        );
        return (ClockStyle::Days, why);
    }
    let digits = course.shown.iter().rev();
    let digits = digits.take_while(|c| c.is_ascii_digit()).count();
    if small && (0.0..1.0).contains(&first) && digits >= DIGITS_OF_A_DAY {
        let why = format!(
            "{first} with that many digits is a time of day as spreadsheets keep it; {FORCE}"
        );
        return (ClockStyle::Days, why);
    }
    // A clock that moves by a step this size from row to row would make the log uselessly slow in the larger unit.
    let per_row = course.step_per_row();
    let slow = |style: ClockStyle, larger: &str| {
        let why = format!(
            "no unit is given, and a step of {step} would be far too slow for an engine in {larger}; {FORCE}"
        );
        (style, why)
    };
    if per_row > 1e6 {
        return slow(ClockStyle::Nanoseconds, "microseconds");
    }
    if per_row > 1000.0 {
        return slow(ClockStyle::Microseconds, "milliseconds");
    }
    if per_row >= 5.0 {
        return slow(ClockStyle::Milliseconds, "seconds");
    }
    let why = if step > 0.0 {
        format!("no unit is given, and a step of {step} fits; {FORCE}")
    } else {
        format!("no unit is given, and it stands still in the part looked at; {FORCE}")
    };
    (ClockStyle::Seconds, why)
}
