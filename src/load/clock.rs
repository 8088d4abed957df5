//! How a log writes its clock, and one clock cell to seconds.

use serde::Serialize;

use super::cells::{Cell, Marks, bare, cell};

/// Seconds in a day and in half a day.
const DAY_S: f64 = 86_400.0;
/// No log runs for thirty million years: a larger stamp is a broken cell, and would spoil every difference.
const LARGEST_S: f64 = 1e15;

/// How the stamps of a log are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockStyle {
    /// A number of seconds.
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

    /// Units in one second, and seconds in one unit; one of the two is 1, so that no scale is inexact.
    const fn scale(self) -> (f64, f64) {
        match self {
            Self::Milliseconds => (1e3, 1.0),
            Self::Microseconds => (1e6, 1.0),
            Self::Nanoseconds => (1e9, 1.0),
            Self::Minutes => (1.0, 60.0),
            Self::Hours => (1.0, 3600.0),
            _ => (1.0, 1.0),
        }
    }

    /// A number in this unit as seconds.
    pub(crate) fn to_seconds(self, number: f64) -> f64 {
        let (per_second, seconds) = self.scale();
        number / per_second * seconds
    }

    /// After how many seconds a clock of this style begins anew, by design.
    fn rolls_over_after_s(self) -> Option<f64> {
        match self {
            Self::HoursMinutesSeconds | Self::DateTime => Some(DAY_S),
            // Spreadsheets show `mm:ss.0` and drop the hours.
            Self::MinutesSeconds => Some(3600.0),
            _ => None,
        }
    }
}

/// Where the time of a row comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Clock {
    /// The clock column, counted from 0; `None` only with [`ClockStyle::FromSampleRate`].
    pub column: Option<usize>,
    /// How its stamps are written.
    pub style: ClockStyle,
    /// Whether the stamps are a date or a time of day, so that the first one is taken off to start near zero.
    pub from_first: bool,
    /// The forced rate in rows a second, which then gives the times instead of the stamps.
    pub forced_hz: Option<f64>,
}

/// Reads one stamp as seconds.
#[inline]
pub(crate) fn stamp(field: &[u8], style: ClockStyle, marks: Marks) -> Cell {
    if style.is_written_out() {
        return match written_out(bare(field)) {
            Some((_, seconds)) => Cell::Number(seconds),
            None if cell(field, marks) == Cell::Blank => Cell::Blank,
            None => Cell::Unreadable,
        };
    }
    match cell(field, marks) {
        Cell::Number(number) => {
            let seconds = style.to_seconds(number);
            if seconds.abs() < LARGEST_S {
                Cell::Number(seconds)
            } else {
                Cell::Unreadable
            }
        }
        other => other,
    }
}

/// A stamp with colons: its style and its seconds, with the day only where the date is written year first.
pub(crate) fn written_out(text: &[u8]) -> Option<(ClockStyle, f64)> {
    let first_colon = memchr::memchr(b':', text)?;
    let parting = text[..first_colon]
        .iter()
        .position(|c| matches!(c, b' ' | b'T' | b't'));
    if let Some(parting) = parting {
        let day = date(&text[..parting])?;
        let (style, seconds) = time_of_day(text[parting + 1..].trim_ascii())?;
        let full = style == ClockStyle::HoursMinutesSeconds;
        return full.then_some((ClockStyle::DateTime, day * DAY_S + seconds));
    }
    time_of_day(text)
}

/// `h:mm:ss.fff`, `mm:ss.f`, `h:mm:ss:fff`, with AM or PM, with `Z` or an offset from universal time.
fn time_of_day(text: &[u8]) -> Option<(ClockStyle, f64)> {
    let (text, half_day) = match text {
        [head @ .., b'A' | b'a', b'M' | b'm'] => (head.trim_ascii_end(), Some(0.0)),
        [head @ .., b'P' | b'p', b'M' | b'm'] => (head.trim_ascii_end(), Some(DAY_S / 2.0)),
        [head @ .., b'Z' | b'z'] => (head, None),
        _ => (text, None),
    };
    let (text, offset_s) = match text.iter().rposition(|c| matches!(c, b'+' | b'-')) {
        Some(sign) if sign > 0 => {
            let digits: Vec<u8> = text[sign + 1..]
                .iter()
                .copied()
                .filter(|c| *c != b':')
                .collect();
            let clock = match digits.len() {
                2 => whole(&digits)? * 3600.0,
                4 => whole(&digits[..2])? * 3600.0 + whole(&digits[2..])? * 60.0,
                _ => return None,
            };
            let ahead = text[sign] == b'+';
            (&text[..sign], if ahead { -clock } else { clock })
        }
        _ => (text, 0.0),
    };
    let parts: Vec<&[u8]> = text.split(|c| *c == b':').collect();
    let (style, mut seconds) = match parts[..] {
        [m, s] => (ClockStyle::MinutesSeconds, whole(m)? * 60.0 + sixties(s)?),
        [h, m, s] => (
            ClockStyle::HoursMinutesSeconds,
            whole(h)? * 3600.0 + sixties(m)? * 60.0 + sixties(s)?,
        ),
        [h, m, s, f] => {
            let behind = whole(f)? / 10_f64.powi(i32::try_from(f.len()).ok()?);
            let before = whole(h)? * 3600.0 + sixties(m)? * 60.0 + sixties(s)?;
            (ClockStyle::HoursMinutesSeconds, before + behind)
        }
        _ => return None,
    };
    if let Some(half_day) = half_day {
        // Twelve o'clock comes before one, so 12 counts as zero.
        let hour_twelve = seconds >= DAY_S / 2.0;
        seconds += half_day - if hour_twelve { DAY_S / 2.0 } else { 0.0 };
    }
    Some((style, seconds + offset_s))
}

/// Digits only, at most nine of them.
fn whole(text: &[u8]) -> Option<f64> {
    let text = text.trim_ascii();
    if text.is_empty() || text.len() > 9 {
        return None;
    }
    let mut value = 0_u32;
    for c in text {
        value = value * 10 + u32::from(c.is_ascii_digit().then(|| c - b'0')?);
    }
    Some(f64::from(value))
}

/// Minutes or seconds: under sixty (61 for a leap second), with either decimal mark.
fn sixties(text: &[u8]) -> Option<f64> {
    let text = text.trim_ascii();
    if !text.first()?.is_ascii_digit() {
        return None;
    }
    let decimal = if text.contains(&b',') { b',' } else { b'.' };
    let marks = Marks {
        decimal,
        certain: false,
    };
    match cell(text, marks) {
        Cell::Number(value) if (0.0..61.0).contains(&value) => Some(value),
        _ => None,
    }
}

/// Days since 1970 of a date written year first. Other orders give 0: day and month cannot be told apart in them,
/// and a clock that starts again at midnight is carried over by [`unroll`] anyway.
fn date(text: &[u8]) -> Option<f64> {
    let parts: Vec<&[u8]> = text.split(|c| matches!(c, b'-' | b'/' | b'.')).collect();
    let [a, b, c] = parts[..] else { return None };
    let (first, second, third) = (whole(a)?, whole(b)?, whole(c)?);
    if a.len() != 4 {
        return Some(0.0);
    }
    if !(1.0..=12.0).contains(&second) || !(1.0..=31.0).contains(&third) {
        return None;
    }
    // Civil calendar, counted from 1 March so that the leap day comes last in its year.
    let (year, month) = if second > 2.0 {
        (first, second - 3.0)
    } else {
        (first - 1.0, second + 9.0)
    };
    let leap_days = (year / 4.0).floor() - (year / 100.0).floor() + (year / 400.0).floor();
    let month_days = ((153.0 * month + 2.0) / 5.0).floor();
    Some(year * 365.0 + leap_days + month_days + third - 1.0 - 719_468.0)
}

/// Carries a clock of day over midnight (and an hourless one over the hour): a fall of more than half its round
/// is the next round. Returns how often that happened.
pub(crate) fn unroll(stamps_s: &mut [f64], style: ClockStyle) -> usize {
    let Some(round) = style.rolls_over_after_s() else {
        return 0;
    };
    // Stamps past one round carry a date or more hours than a day has: those do not roll over.
    if stamps_s.iter().any(|s| *s >= round) {
        return 0;
    }
    let (mut rounds, mut carried, mut last) = (0, 0.0, f64::NEG_INFINITY);
    for stamp in stamps_s.iter_mut().filter(|s| s.is_finite()) {
        if last - *stamp > round / 2.0 {
            rounds += 1;
            carried += round;
        }
        last = *stamp;
        *stamp += carried;
    }
    rounds
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Option<(ClockStyle, f64)> {
        written_out(text.as_bytes())
    }

    #[test]
    fn written_stamps() {
        use ClockStyle::{DateTime, HoursMinutesSeconds as Hms, MinutesSeconds as Ms};
        for (text, wanted) in [
            ("01:02:03.5", Some((Hms, 3723.5))),
            ("1:02:03,5", Some((Hms, 3723.5))),
            ("00:00:01:250", Some((Hms, 1.25))),
            ("02:03.4", Some((Ms, 123.4))),
            ("99:03.4", Some((Ms, 5943.4))),
            ("12:00:00 AM", Some((Hms, 0.0))),
            ("12:00:01 pm", Some((Hms, 43_201.0))),
            ("01:00:00 PM", Some((Hms, 46_800.0))),
            ("1970-01-02T00:00:01.5Z", Some((DateTime, 86_401.5))),
            ("1970-01-01 01:00:00+01:00", Some((DateTime, 0.0))),
            ("2.1.2024 00:00:01", Some((DateTime, 1.0))),
            ("12:61:00", None),
            ("12:xx:00", None),
            ("1:2:3:4:5", None),
            ("2024-13-01 00:00:00", None),
            (":", None),
            ("::", None),
            ("+:+", None),
        ] {
            assert_eq!(read(text), wanted, "{text}");
        }
    }

    /// Known moments of Unix time: 1 000 000 000 s was 2001-09-09 01:46:40 UTC, 951 782 400 s the leap day of 2000.
    #[test]
    fn dates_count_from_1970() {
        assert_eq!(
            read("2001-09-09 01:46:40").map(|s| s.1),
            Some(1_000_000_000.0)
        );
        assert_eq!(
            read("2000/02/29 00:00:00").map(|s| s.1),
            Some(951_782_400.0)
        );
    }

    #[test]
    fn numbers_scale_to_seconds() {
        let ms = stamp(b" 12345 ", ClockStyle::Milliseconds, Marks::POINT);
        assert_eq!(ms, Cell::Number(12.345));
        let min = stamp(b"1.5", ClockStyle::Minutes, Marks::POINT);
        assert_eq!(min, Cell::Number(90.0));
        assert_eq!(
            stamp(b"1e300", ClockStyle::Seconds, Marks::POINT),
            Cell::Unreadable
        );
        assert_eq!(
            stamp(b"--", ClockStyle::HoursMinutesSeconds, Marks::POINT),
            Cell::Blank
        );
    }

    #[test]
    fn midnight_goes_forward() {
        let mut day = [86_399.5, 0.0, 0.5];
        assert_eq!(unroll(&mut day, ClockStyle::HoursMinutesSeconds), 1);
        assert_eq!(day, [86_399.5, 86_400.0, 86_400.5]);
        let mut set_back = [50_000.0, 40_000.0];
        assert_eq!(unroll(&mut set_back, ClockStyle::HoursMinutesSeconds), 0);
        let mut hour = [3599.0, 1.0];
        assert_eq!(unroll(&mut hour, ClockStyle::MinutesSeconds), 1);
        assert_eq!(hour, [3599.0, 3601.0]);
    }
}
