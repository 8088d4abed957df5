//! Moments written out: times of day, dates, and both in one cell.

use super::calendar::{date, ymd};
use super::cells::{Cell, Marks, cell};
use super::clock::ClockStyle;
use super::dialect::DateOrder;

/// Seconds in a day.
pub(super) const DAY_S: f64 = 86_400.0;

/// A stamp that is more than one number: its style and its seconds, counted from 1970 where it has a date.
/// Dates that are not written year first are read in the given order, unless only the other one makes a date.
pub(super) fn written(text: &[u8], order: DateOrder) -> Option<(ClockStyle, f64)> {
    let text = without_zone_name(text);
    let Some(first_colon) = memchr::memchr(b':', text) else {
        return compact(text);
    };
    // `0 days 00:00:01.5`, and `12 Apr 2026 10:15:00`: the last blank before the clock parts it from the rest.
    let head = &text[..first_colon];
    if let Some(parting) = head.iter().rposition(|c| is_parting(*c)) {
        let before = head[..parting].trim_ascii();
        let (style, seconds) = time_of_day(text[parting + 1..].trim_ascii(), true)?;
        if let Some(days) = count_of_days(before) {
            return Some((style, days * DAY_S + seconds));
        }
        let day = date(before, order)?;
        return Some((ClockStyle::DateTime, day * DAY_S + seconds));
    }
    if let Some(found) = time_of_day(text, false) {
        return Some(found);
    }
    // The time before the date.
    let parting = text.iter().position(|c| *c == b' ')?;
    let (_, seconds) = time_of_day(&text[..parting], true)?;
    let day = date(text[parting + 1..].trim_ascii(), order)?;
    Some((ClockStyle::DateTime, day * DAY_S + seconds))
}

/// What may stand between a date and a time.
pub(super) const fn is_parting(c: u8) -> bool {
    matches!(c, b' ' | b'T' | b't' | b'_' | b',' | b';')
}

/// Universal time by name says no more than `Z`.
fn without_zone_name(text: &[u8]) -> &[u8] {
    let name = text.len().checked_sub(3).map(|at| &text[at..]);
    match name {
        Some(name) if name.eq_ignore_ascii_case(b"utc") || name.eq_ignore_ascii_case(b"gmt") => {
            text[..text.len() - 3].trim_ascii_end()
        }
        _ => text,
    }
}

/// `3 days`, as a span of time is written.
fn count_of_days(text: &[u8]) -> Option<f64> {
    let end = text.iter().position(|c| !c.is_ascii_digit())?;
    let word = text[end..].trim_ascii();
    let is_days = word.eq_ignore_ascii_case(b"days") || word.eq_ignore_ascii_case(b"day");
    is_days.then(|| whole(&text[..end])).flatten()
}

/// `20260412T101500.25Z`: eight digits, six digits, with or without something between.
fn compact(text: &[u8]) -> Option<(ClockStyle, f64)> {
    let (date, rest) = text.split_at_checked(8)?;
    let rest = match rest {
        [c, tail @ ..] if is_parting(*c) || *c == b'-' => tail,
        _ => rest,
    };
    let (rest, offset_s) = without_offset(rest)?;
    let (clock, rest) = rest.split_at_checked(6)?;
    if !date.iter().chain(clock).all(u8::is_ascii_digit) {
        return None;
    }
    let day = ymd(whole(&date[..4])?, whole(&date[4..6])?, whole(&date[6..])?)?;
    let (hour, minute) = (whole(&clock[..2])?, whole(&clock[2..4])?);
    let mut second = [b'0'; 24];
    let digits = second.get_mut(..2 + rest.len())?;
    digits[..2].copy_from_slice(&clock[4..]);
    digits[2..].copy_from_slice(rest);
    let fits = hour < 24.0 && minute < 60.0;
    let seconds = fits.then_some(hour * 3600.0 + minute * 60.0)? + sixties(digits)?;
    Some((ClockStyle::DateTime, day * DAY_S + seconds + offset_s))
}

/// `h:mm:ss.fff`, `mm:ss.f`, `h:mm:ss:fff`, with AM or PM, with `Z` or an offset from universal time.
/// Behind a date, two parts are hours and minutes.
fn time_of_day(text: &[u8], dated: bool) -> Option<(ClockStyle, f64)> {
    let (text, half_day) = match text {
        [head @ .., b'A' | b'a', b'M' | b'm'] => (head.trim_ascii_end(), Some(0.0)),
        [head @ .., b'P' | b'p', b'M' | b'm'] => (head.trim_ascii_end(), Some(DAY_S / 2.0)),
        _ => (text, None),
    };
    let (text, offset_s) = without_offset(text)?;
    let mut parts = text.split(|c| *c == b':');
    let (first, second) = (parts.next()?, parts.next()?);
    let (third, fourth) = (parts.next(), parts.next());
    if parts.next().is_some() {
        return None;
    }
    let minutes = |text: &[u8]| whole(text).filter(|minutes| *minutes < 60.0);
    let (style, mut seconds) = match (third, fourth) {
        (None, _) if dated || half_day.is_some() => (
            ClockStyle::HoursMinutesSeconds,
            whole(first)? * 3600.0 + minutes(second)? * 60.0,
        ),
        (None, _) => (
            ClockStyle::MinutesSeconds,
            whole(first)? * 60.0 + sixties(second)?,
        ),
        (Some(third), fraction) => {
            let behind = match fraction {
                Some(f) => whole(f)? / 10_f64.powi(i32::try_from(f.trim_ascii().len()).ok()?),
                None => 0.0,
            };
            let before = whole(first)? * 3600.0 + minutes(second)? * 60.0;
            (
                ClockStyle::HoursMinutesSeconds,
                before + sixties(third)? + behind,
            )
        }
    };
    if let Some(half_day) = half_day {
        // Twelve o'clock comes before one, so 12 counts as zero.
        let hour_twelve = seconds >= DAY_S / 2.0;
        seconds += half_day - if hour_twelve { DAY_S / 2.0 } else { 0.0 };
    }
    Some((style, seconds + offset_s))
}

/// Takes `Z` or an offset such as `+02:00` off the end of a time; the seconds are to be added to it.
fn without_offset(text: &[u8]) -> Option<(&[u8], f64)> {
    if let [head @ .., b'Z' | b'z'] = text {
        return Some((head, 0.0));
    }
    let sign = text.iter().rposition(|c| matches!(c, b'+' | b'-'));
    let Some(sign) = sign.filter(|sign| *sign > 0) else {
        return Some((text, 0.0));
    };
    let seconds = match text[sign + 1..] {
        ref hours @ [_, _] => whole(hours)? * 3600.0,
        [a, b, b':', c, d] | [a, b, c, d] => whole(&[a, b])? * 3600.0 + whole(&[c, d])? * 60.0,
        _ => return None,
    };
    let ahead = text[sign] == b'+';
    let clock = text[..sign].trim_ascii_end();
    Some((clock, if ahead { -seconds } else { seconds }))
}

/// Seconds by which a written time is ahead of universal time, as its own offset says; 0 where it has none.
pub(super) fn zone_s(text: &[u8]) -> f64 {
    let text = without_zone_name(text);
    match without_offset(text) {
        // What looks like an offset may be the end of a date behind the time.
        Some((clock, offset_s))
            if clock.len() < text.len() && written(clock, DateOrder::Dmy).is_some() =>
        {
            -offset_s
        }
        _ => 0.0,
    }
}

/// Digits only, at most nine of them.
pub(super) fn whole(text: &[u8]) -> Option<f64> {
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

/// Seconds: under sixty (61 for a leap second), with either decimal mark.
fn sixties(text: &[u8]) -> Option<f64> {
    let text = text.trim_ascii();
    if !text.first()?.is_ascii_digit() {
        return None;
    }
    let marks = match text.contains(&b',') {
        true => Marks::COMMA,
        false => Marks::POINT,
    };
    match cell(text, marks) {
        Cell::Number(value) if (0.0..61.0).contains(&value) => Some(value),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::load::calendar::{from_days, settles};

    fn read(text: &str) -> Option<(ClockStyle, f64)> {
        written(text.as_bytes(), DateOrder::Dmy)
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
            ("100:00:00", Some((Hms, 360_000.0))),
            ("12:00:00 AM", Some((Hms, 0.0))),
            ("12:00:01 pm", Some((Hms, 43_201.0))),
            ("01:00:00 PM", Some((Hms, 46_800.0))),
            ("1:00:00.25PM", Some((Hms, 46_800.25))),
            ("10:15 AM", Some((Hms, 36_900.0))),
            ("0 days 00:00:01.500000", Some((Hms, 1.5))),
            ("1 day 00:00:01", Some((Hms, 86_401.0))),
            ("1970-01-02T00:00:01.5Z", Some((DateTime, 86_401.5))),
            ("1970-01-02 00:00:01.5 UTC", Some((DateTime, 86_401.5))),
            ("1970-01-01 01:00:00+01:00", Some((DateTime, 0.0))),
            ("1970-01-01T01:00:00.25+0100", Some((DateTime, 0.25))),
            ("1970-01-01 00:00:00-05", Some((DateTime, 18_000.0))),
            ("1970-01-01T02:00:00 +02:00", Some((DateTime, 0.0))),
            ("19700102T000001.250Z", Some((DateTime, 86_401.25))),
            ("19700102 000001,25", Some((DateTime, 86_401.25))),
            ("19700102000001", Some((DateTime, 86_401.0))),
            ("19700102T020001+0200", Some((DateTime, 86_401.0))),
            ("1970-01-02 00:01", Some((DateTime, 86_460.0))),
            ("2.1.1970 00:00:01", Some((DateTime, 86_401.0))),
            ("02/01/70 00:00:01", Some((DateTime, 86_401.0))),
            ("01/02/1970 00:00:01", Some((DateTime, 31.0 * DAY_S + 1.0))),
            (
                "1/31/1970 12:00:01 AM",
                Some((DateTime, 30.0 * DAY_S + 1.0)),
            ),
            ("02-Jan-1970 00:00:01", Some((DateTime, 86_401.0))),
            ("2 January 1970 00:00:01", Some((DateTime, 86_401.0))),
            ("Jan 2, 1970 00:00:01", Some((DateTime, 86_401.0))),
            ("70-01-02 00:00:01", Some((DateTime, 86_401.0))),
            ("00:00:01 02.01.1970", Some((DateTime, 86_401.0))),
            ("12:61:00", None),
            ("12:00:61", None),
            ("12:xx:00", None),
            ("1:2:3:4:5", None),
            ("2024-13-01 00:00:00", None),
            ("2023-02-29 00:00:00", None),
            ("31.4.2024 00:00:00", None),
            ("20261312T101500", None),
            ("20260412T251500", None),
            ("1970-01-01 01:00:00+1", None),
            (":", None),
            ("::", None),
            ("+:+", None),
            ("", None),
            ("99999999999999999999:00:00", None),
        ] {
            assert_eq!(read(text), wanted, "{text}");
        }
    }

    #[test]
    fn offsets_from_universal_time() {
        for (text, wanted) in [
            ("2026-04-03 23:59:57+02:00", 7200.0),
            ("03/04/2026 23:59:57.5 -0330", -12_600.0),
            ("20260403T235957+02", 7200.0),
            ("23:59:57 +02:00", 7200.0),
            ("2026-04-03T23:59:57Z", 0.0),
            ("23:59:57 03-04-26", 0.0),
            ("03-04-2026", 0.0),
            ("12.5", 0.0),
            ("", 0.0),
        ] {
            let got = zone_s(text.as_bytes());
            assert!((got - wanted).abs() < 1e-9, "{text}: {got}");
        }
    }

    /// Known moments of Unix time: 1 000 000 000 s was 2001-09-09 01:46:40 UTC, 951 782 400 s the leap day of 2000.
    #[test]
    fn dates_count_from_1970() {
        for (text, wanted) in [
            ("2001-09-09 01:46:40", 1_000_000_000.0),
            ("2000/02/29 00:00:00", 951_782_400.0),
            ("9.9.2001 01:46:40", 1_000_000_000.0),
            ("20010909T014640Z", 1_000_000_000.0),
        ] {
            assert_eq!(read(text).map(|s| s.1), Some(wanted), "{text}");
        }
        let us = written(b"02/03/2000 00:00:00", DateOrder::Mdy);
        let iso = written(b"2000-02-03 00:00:00", DateOrder::Mdy);
        assert_eq!(us, iso);
    }

    proptest! {
        #[test]
        fn any_bytes_give_a_finite_moment_or_none(bytes in prop::collection::vec(any::<u8>(), 0..40)) {
            for order in [DateOrder::Dmy, DateOrder::Mdy] {
                if let Some((_, seconds)) = written(&bytes, order) {
                    prop_assert!(seconds.is_finite());
                }
                if let Some(day) = date(&bytes, order) {
                    prop_assert!(day.is_finite());
                }
            }
            let _ = settles(&bytes);
        }

        #[test]
        fn any_scraps_of_stamps(text in "[0-9:./ TZ+,aApPmM-]{0,30}") {
            if let Some((_, seconds)) = read(&text) {
                prop_assert!(seconds.abs() < 1e15);
            }
        }

        /// Every way of writing a moment gives it back.
        #[test]
        fn stamps_come_back(ms in 0_u64..4_000_000_000_000) {
            let (year, month, day) = from_days((ms / 86_400_000) as f64);
            let (h, m, s, f) = (ms / 3_600_000 % 24, ms / 60_000 % 60, ms / 1000 % 60, ms % 1000);
            let noon = if h < 12 { "AM" } else { "PM" };
            let twelve = (h + 11) % 12 + 1;
            let of_day = (ms % 86_400_000) as f64 / 1e3;
            for (text, wanted) in [
                (format!("{h:02}:{m:02}:{s:02}.{f:03}"), of_day),
                (format!("{h}:{m:02}:{s:02},{f:03}"), of_day),
                (format!("{h:02}:{m:02}:{s:02}:{f:03}"), of_day),
                (format!("{twelve}:{m:02}:{s:02}.{f:03} {noon}"), of_day),
                (format!("{}:{s:02}.{f:03}", h * 60 + m), of_day),
                (format!("{year}-{month:02}-{day:02}T{h:02}:{m:02}:{s:02}.{f:03}Z"), ms as f64 / 1e3),
                (format!("{year}{month:02}{day:02}T{h:02}{m:02}{s:02}.{f:03}"), ms as f64 / 1e3),
                (format!("{day:02}.{month:02}.{year} {h:02}:{m:02}:{s:02},{f:03}"), ms as f64 / 1e3),
                (format!("{year}-{month:02}-{day:02} {h:02}:{m:02}:{s:02}.{f:03}+00:00"), ms as f64 / 1e3),
            ] {
                let got = read(&text).map(|stamp| stamp.1);
                let close = got.is_some_and(|got| (got - wanted).abs() < 1e-3);
                prop_assert!(close, "{} gave {:?}, wanted {}", text, got, wanted);
            }
            let us = format!("{month}/{day}/{year} {h:02}:{m:02}:{s:02}.{f:03}");
            let got = written(us.as_bytes(), DateOrder::Mdy).map(|stamp| stamp.1);
            prop_assert!(got.is_some_and(|got| (got - ms as f64 / 1e3).abs() < 1e-3), "{}", us);
        }
    }
}
