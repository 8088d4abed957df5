//! How a log writes its clock, and one clock cell to seconds.

use serde::{Deserialize, Serialize};

use super::calendar::date;
use super::cells::{Cell, LogMarks, Marks, bare, cell};
use super::dialect::DateOrder;
use super::moment::{DAY_S, written};

/// No log runs for thirty million years: a larger stamp is a broken cell, and would spoil every difference.
const LARGEST_S: f64 = 1e15;

/// How the stamps of a log are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockStyle {
    /// A number of seconds.
    #[default]
    Seconds,
    /// A number of milliseconds.
    Milliseconds,
    /// A number of microseconds.
    Microseconds,
    /// A number of nanoseconds.
    Nanoseconds,
    /// A number of minutes.
    Minutes,
    /// A number of hours.
    Hours,
    /// A number of days, as spreadsheets keep moments: the fraction is the time of day.
    Days,
    /// `h:mm:ss` with or without a fraction.
    HoursMinutesSeconds,
    /// `mm:ss` with or without a fraction.
    MinutesSeconds,
    /// A date and a time of day.
    DateTime,
    /// No clock column: the rows are counted off at a forced rate.
    FromSampleRate,
}

impl ClockStyle {
    /// What it is called in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Seconds => "seconds",
            Self::Milliseconds => "milliseconds",
            Self::Microseconds => "microseconds",
            Self::Nanoseconds => "nanoseconds",
            Self::Minutes => "minutes",
            Self::Hours => "hours",
            Self::Days => "days",
            Self::HoursMinutesSeconds => "hours, minutes and seconds",
            Self::MinutesSeconds => "minutes and seconds",
            Self::DateTime => "date and time of day",
            Self::FromSampleRate => "rows at the sample rate",
        }
    }

    /// Whether stamps hold colons rather than one number.
    #[must_use]
    pub const fn is_written_out(self) -> bool {
        matches!(
            self,
            Self::HoursMinutesSeconds | Self::MinutesSeconds | Self::DateTime
        )
    }

    /// Whether a stamp is one number that counts something.
    #[must_use]
    pub const fn is_a_count(self) -> bool {
        !self.is_written_out() && !matches!(self, Self::FromSampleRate)
    }

    /// Units in one second, and seconds in one unit; one of the two is 1, so that no scale is inexact.
    const fn scale(self) -> (f64, f64) {
        match self {
            Self::Milliseconds => (1e3, 1.0),
            Self::Microseconds => (1e6, 1.0),
            Self::Nanoseconds => (1e9, 1.0),
            Self::Minutes => (1.0, 60.0),
            Self::Hours => (1.0, 3600.0),
            Self::Days => (1.0, DAY_S),
            _ => (1.0, 1.0),
        }
    }

    /// A number in this unit as seconds.
    pub(crate) fn to_seconds(self, number: f64) -> f64 {
        let (per_second, seconds) = self.scale();
        number / per_second * seconds
    }
}

/// Where the time of a row comes from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Clock {
    /// The clock column, counted from 0; `None` only with [`ClockStyle::FromSampleRate`].
    pub column: Option<usize>,
    /// How its stamps are written; [`ClockStyle::DateTime`] also where the date has a column of its own.
    pub style: ClockStyle,
    /// Whether the stamps are a date, a time of day or a count that began long before, so that the first one is taken
    /// off to start near zero.
    pub from_first: bool,
    /// The forced rate in rows a second, which then gives the times instead of the stamps.
    pub forced_hz: Option<f64>,
    /// The column of the date, counted from 0, where it has one of its own.
    pub date_column: Option<usize>,
    /// The column that counts the fraction of each second, counted from 0, and in which unit.
    pub fraction: Option<(usize, ClockStyle)>,
    /// How dates are read that are not written year first.
    pub date_order: DateOrder,
    /// Whether that order is a guess, because every date looked at is one either way.
    pub date_order_assumed: bool,
    /// Seconds that its stamps, which count in universal time, are behind the time of day as written.
    pub zone_s: f64,
}

impl Clock {
    /// How to read the stamp of a row; `None` without a clock column.
    pub(crate) fn plan(&self, marks: &LogMarks) -> Option<StampPlan> {
        let column = self.column?;
        Some(StampPlan {
            column,
            style: self.style,
            marks: marks.of(column),
            order: self.date_order,
            date_column: self.date_column,
            fraction: self
                .fraction
                .map(|(column, style)| (column, style, marks.of(column))),
        })
    }
}

/// All that is needed to read the stamp of a row.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StampPlan {
    pub column: usize,
    pub style: ClockStyle,
    marks: Marks,
    order: DateOrder,
    date_column: Option<usize>,
    fraction: Option<(usize, ClockStyle, Marks)>,
}

impl StampPlan {
    /// The stamp of a row in seconds, from its fields.
    #[inline]
    pub fn read<'a>(&self, field: impl Fn(usize) -> &'a [u8]) -> Cell {
        let stamp = self.read_clock(field(self.column));
        if self.date_column.is_none() && self.fraction.is_none() {
            return stamp;
        }
        let Cell::Number(mut seconds) = stamp else {
            return stamp;
        };
        if let Some(column) = self.date_column {
            match self.date(field(column)) {
                Cell::Number(day) => seconds += day * DAY_S,
                other => return other,
            }
        }
        if let Some((column, style, marks)) = self.fraction {
            match stamp_in(field(column), style, marks, self.order) {
                Cell::Number(part) => seconds += part,
                other => return other,
            }
        }
        Cell::Number(seconds)
    }

    /// The last column that the stamp needs.
    pub fn last_column(&self) -> usize {
        let others = [self.date_column, self.fraction.map(|(column, ..)| column)];
        others.into_iter().flatten().fold(self.column, usize::max)
    }

    /// Whether the cells of a column are more than numbers, so that only the clock can read them.
    pub fn reads(&self, column: usize) -> bool {
        self.date_column == Some(column) || (self.column == column && self.style.is_written_out())
    }

    /// One of its columns alone in seconds: the stamp without its date, or the start of the day.
    pub fn read_column(&self, column: usize, field: &[u8]) -> Cell {
        if self.date_column == Some(column) {
            return match self.date(field) {
                Cell::Number(day) => Cell::Number(day * DAY_S),
                other => other,
            };
        }
        self.read_clock(field)
    }

    #[inline]
    fn read_clock(&self, field: &[u8]) -> Cell {
        stamp_in(field, self.style, self.marks, self.order)
    }

    fn date(&self, field: &[u8]) -> Cell {
        match date(bare(field), self.order) {
            Some(day) => Cell::Number(day),
            None if cell(field, self.marks) == Cell::Blank => Cell::Blank,
            None => Cell::Unreadable,
        }
    }

    /// The column whose cell keeps the stamp of a row from being read, and whether that cell is blank.
    pub fn culprit<'a>(&self, field: impl Fn(usize) -> &'a [u8]) -> (usize, bool) {
        let parts = [
            (Some(self.column), self.read_clock(field(self.column))),
            (
                self.date_column,
                self.date_column
                    .map_or(Cell::Number(0.0), |column| self.date(field(column))),
            ),
            (
                self.fraction.map(|part| part.0),
                self.fraction
                    .map_or(Cell::Number(0.0), |(column, style, marks)| {
                        stamp_in(field(column), style, marks, self.order)
                    }),
            ),
        ];
        let bad = parts
            .into_iter()
            .find(|(_, read)| !matches!(read, Cell::Number(_)));
        match bad {
            Some((Some(column), read)) => (column, read == Cell::Blank),
            _ => (self.column, false),
        }
    }

    /// The marks of its column.
    pub const fn marks(&self) -> Marks {
        self.marks
    }
}

/// Reads one stamp as seconds.
#[inline]
fn stamp_in(field: &[u8], style: ClockStyle, marks: Marks, order: DateOrder) -> Cell {
    if style.is_written_out() {
        return match written(bare(field), order) {
            Some((_, seconds)) => Cell::Number(seconds),
            None if cell(field, marks) == Cell::Blank => Cell::Blank,
            None => Cell::Unreadable,
        };
    }
    match cell(field, marks) {
        Cell::Number(number) => {
            let seconds = style.to_seconds(number);
            // Also no number to compare: the mark of a word for on or off.
            if seconds.abs() < LARGEST_S {
                Cell::Number(seconds)
            } else {
                Cell::Unreadable
            }
        }
        other => other,
    }
}

/// A stamp that is more than a number: its style and its seconds.
pub(crate) fn written_out(text: &[u8]) -> Option<(ClockStyle, f64)> {
    written(text, DateOrder::Dmy)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(field: &[u8], style: ClockStyle) -> Cell {
        stamp_in(field, style, Marks::POINT, DateOrder::Dmy)
    }

    #[test]
    fn numbers_scale_to_seconds() {
        for (text, style, wanted) in [
            (" 12345 ", ClockStyle::Milliseconds, 12.345),
            ("1.5", ClockStyle::Minutes, 90.0),
            ("0.5", ClockStyle::Hours, 1800.0),
            ("45678.5", ClockStyle::Days, 3_946_622_400.0),
            (
                "1700000000123456789",
                ClockStyle::Nanoseconds,
                1_700_000_000.123_456_8,
            ),
        ] {
            let got = stamp(text.as_bytes(), style);
            let Cell::Number(got) = got else {
                panic!("{text}: {got:?}")
            };
            assert!((got - wanted).abs() < 1e-6, "{text}: {got}");
        }
        assert_eq!(stamp(b"1e300", ClockStyle::Seconds), Cell::Unreadable);
        assert_eq!(stamp(b"on", ClockStyle::Seconds), Cell::Unreadable);
        assert_eq!(stamp(b"--", ClockStyle::HoursMinutesSeconds), Cell::Blank);
    }

    #[test]
    fn stamps_in_several_columns() {
        let marks = LogMarks {
            usual: Marks::POINT,
            columns: Vec::new(),
        };
        let clock = Clock {
            column: Some(1),
            style: ClockStyle::DateTime,
            date_column: Some(0),
            fraction: Some((2, ClockStyle::Milliseconds)),
            ..Clock::default()
        };
        let plan = clock.plan(&marks).unwrap_or_else(|| panic!("no plan"));
        let read = |row: [&'static str; 3]| {
            let field = |n: usize| row[n].as_bytes();
            (plan.read(field), plan.culprit(field).0)
        };
        assert_eq!(
            read(["02.01.1970", "00:00:01", "250"]).0,
            Cell::Number(86_401.25)
        );
        assert_eq!(read(["02.01.1970", "", "250"]), (Cell::Blank, 1));
        assert_eq!(read(["", "00:00:01", "250"]), (Cell::Blank, 0));
        assert_eq!(read(["02.01.1970", "00:00:01", "x"]), (Cell::Unreadable, 2));
    }
}
