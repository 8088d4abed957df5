//! The other columns that a clock may be spread over: a date, and the fraction of each second.

use super::clock_unit::unit_of;
use super::course::Course;
use super::grid::Grid;
use crate::load::calendar::{Settled, date, settles};
use crate::load::cells::{LogMarks, bare, number};
use crate::load::clock::ClockStyle;
use crate::load::dialect::{DateOrder, Heading};
use crate::load::words::words_of;

/// A column that holds a date in every row looked at, beside the column of the time.
pub(super) fn date_column(grid: &Grid, headings: &[Heading], time: usize) -> Option<usize> {
    let is_date_column = |heading: &&Heading| {
        let named = words_of(&heading.name).iter().any(|word| word == "date");
        let mut cells = grid.usual_rows().map(|row| {
            row.fields
                .get(heading.column)
                .map_or(&b""[..], |field| bare(field))
        });
        // Eight digits may be a number, unless the heading says what they are.
        heading.column != time
            && cells.all(|text| {
                let bare_number = text.iter().all(u8::is_ascii_digit);
                date(text, DateOrder::Dmy).is_some() && (named || !bare_number)
            })
    };
    // The nearest one: a log may also say when it was copied.
    let dates = headings.iter().filter(is_date_column);
    dates
        .min_by_key(|heading| heading.column.abs_diff(time))
        .map(|heading| heading.column)
}

/// How dates are to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Order {
    pub order: DateOrder,
    /// Whether every date looked at is one either way.
    pub assumed: bool,
    /// Whether a date says otherwise.
    pub contradicted: bool,
    /// Whether there was a date that is not written year first.
    pub matters: bool,
}

impl Order {
    /// As it is called in a sentence.
    pub(super) const fn name(self) -> &'static str {
        match self.order {
            DateOrder::Dmy => "day, month, year",
            DateOrder::Mdy => "month, day, year",
        }
    }
}

/// Finds the order of the dates in a column.
pub(super) fn date_order(grid: &Grid, column: usize, forced: Option<DateOrder>) -> Order {
    let (mut day_first, mut month_first, mut open, mut noon) = (0_usize, 0_usize, 0_usize, false);
    let cells = grid
        .usual_rows()
        .filter_map(|row| row.fields.get(column).map(|field| bare(field)))
        .filter(|text| !text.is_empty());
    for (nth, text) in cells.enumerate() {
        // Most columns hold no dates, and one cell shows it.
        if nth == 1 && day_first + month_first + open == 0 {
            break;
        }
        match settles(text) {
            Some(Settled::By(DateOrder::Dmy)) => day_first += 1,
            Some(Settled::By(DateOrder::Mdy)) => month_first += 1,
            Some(Settled::Open) => open += 1,
            Some(Settled::Always) | None => {}
        }
        noon |= matches!(text, [.., b'A' | b'a' | b'P' | b'p', b'M' | b'm']);
    }
    let settled = day_first + month_first > 0;
    // Where the clock shows AM and PM, dates put the month first more often than not.
    let order = forced.unwrap_or(if month_first > day_first || (!settled && noon) {
        DateOrder::Mdy
    } else {
        DateOrder::Dmy
    });
    let against = match order {
        DateOrder::Dmy => month_first,
        DateOrder::Mdy => day_first,
    };
    Order {
        order,
        assumed: forced.is_none() && !settled && open > 0,
        contradicted: against > 0,
        matters: settled || open > 0,
    }
}

/// What is to be said about the order of the dates; `None` where there is nothing to choose.
pub(super) fn order_evidence(order: Order, forced: bool) -> Option<String> {
    let why = if !order.matters {
        return None;
    } else if forced {
        "the build sheet says so"
    } else if order.assumed {
        "that is assumed, since the dates looked at could be either way; it matters only if the log runs past midnight, \
         and `date_order` under `[log]` in the build sheet forces it"
    } else {
        "a number past 12 can only be the day"
    };
    Some(format!("Dates are read as {}: {why}.", order.name()))
}

/// A column that counts the fraction of each second of a clock that shows whole seconds only.
pub(super) fn fraction_column(
    grid: &Grid,
    headings: &[Heading],
    marks: &LogMarks,
    clock: usize,
    whole: &Course,
    unit: ClockStyle,
) -> Option<(usize, ClockStyle)> {
    let one = if whole.written.is_some() {
        1.0
    } else {
        unit.to_seconds(1.0)
    };
    // Whole seconds, of which some repeat.
    let is_whole = whole
        .values
        .iter()
        .all(|value| (value * one).fract() == 0.0);
    let repeats = whole.forward + whole.back < whole.steps();
    if !is_whole || !repeats || !whole.values.len().eq(&whole.rows) {
        return None;
    }
    headings.iter().find_map(|heading| {
        let style = unit_of(heading).filter(|style| {
            matches!(
                style,
                ClockStyle::Milliseconds | ClockStyle::Microseconds | ClockStyle::Nanoseconds
            )
        })?;
        if heading.column == clock {
            return None;
        }
        let marks = marks.of(heading.column);
        let parts: Option<Vec<f64>> = grid
            .usual_rows()
            .map(|row| {
                let text = row.fields.get(heading.column).map(|field| bare(field))?;
                number(text, marks).map(|number| style.to_seconds(number))
            })
            .collect();
        let parts = parts.filter(|parts| parts.iter().all(|part| (0.0..1.0).contains(part)))?;
        let times: Vec<f64> = whole
            .values
            .iter()
            .zip(&parts)
            .map(|(value, part)| value * one + part)
            .collect();
        // Together they go forward nearly throughout, and also within a second.
        let steps = || times.windows(2).zip(whole.values.windows(2));
        #[expect(clippy::float_cmp, reason = "a repeated stamp is the very same number")]
        let within = steps()
            .filter(|(time, whole)| whole[0] == whole[1] && time[1] > time[0])
            .count();
        let back = steps().filter(|(time, _)| time[1] < time[0]).count();
        let repeats = whole.steps() - whole.forward - whole.back;
        (within * 10 >= repeats * 9 && back * 20 <= whole.steps())
            .then_some((heading.column, style))
    })
}
