//! Dates: their parts, their order, and the day that they name.

use super::dialect::DateOrder;
use super::moment::{is_parting, whole};

/// The two numbers of a date of which either may be the day, where there are two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Settled {
    /// Year first, or the month by name: nothing is open.
    Always,
    /// One of the two passes twelve.
    By(DateOrder),
    /// Both orders make a date.
    Open,
}

/// What one date says about the order in its log; `None` for what is no date.
pub(super) fn settles(text: &[u8]) -> Option<Settled> {
    let text = date_part(text);
    let [a, b, _] = parts(text)?;
    date(text, DateOrder::Dmy)?;
    let (Some(first), Some(second)) = (whole(a), whole(b)) else {
        return Some(Settled::Always);
    };
    Some(if a.len() == 4 || first > 31.0 {
        Settled::Always
    } else if first > 12.0 {
        Settled::By(DateOrder::Dmy)
    } else if second > 12.0 {
        Settled::By(DateOrder::Mdy)
    } else {
        Settled::Open
    })
}

/// Whether a text is a date and nothing else.
pub(super) fn is_date(text: &[u8]) -> bool {
    parts(text).is_some() && date(text, DateOrder::Dmy).is_some()
}

/// The date of a stamp that may have a time behind or before it.
fn date_part(text: &[u8]) -> &[u8] {
    let Some(first_colon) = memchr::memchr(b':', text) else {
        return text;
    };
    let head = &text[..first_colon];
    match head.iter().rposition(|c| is_parting(*c)) {
        Some(parting) => head[..parting].trim_ascii(),
        None => text
            .iter()
            .position(|c| *c == b' ')
            .map_or(text, |parting| text[parting + 1..].trim_ascii()),
    }
}

/// The three parts of a date, parted by two of `-`, `/` or `.`, or by blanks where one part is the name of a month.
fn parts(text: &[u8]) -> Option<[&[u8]; 3]> {
    // The longest is `30 September, 2026`: what is longer is a row of numbers, or prose.
    if text.len() > 24 {
        return None;
    }
    let mark = text
        .iter()
        .copied()
        .find(|c| matches!(c, b'-' | b'/' | b'.'));
    if let Some(mark) = mark {
        let mut parts = text.split(|c| *c == mark).map(<[u8]>::trim_ascii);
        let three = [parts.next()?, parts.next()?, parts.next()?];
        return parts.next().is_none().then_some(three);
    }
    let is_blank = |c: &u8| matches!(c, b' ' | b',');
    let mut parts = text.split(is_blank).filter(|part| !part.is_empty());
    let three = [parts.next()?, parts.next()?, parts.next()?];
    let named = three[..2].iter().any(|part| month_by_name(part).is_some());
    (named && parts.next().is_none()).then_some(three)
}

/// Days since 1970 of a date. One that is written with a four-digit year in front, or with the month by name, is
/// read in its own order, any other in the given one where that makes a date.
pub(super) fn date(text: &[u8], order: DateOrder) -> Option<f64> {
    let text = text.trim_ascii();
    if let (8, true) = (text.len(), text.iter().all(u8::is_ascii_digit)) {
        return ymd(whole(&text[..4])?, whole(&text[4..6])?, whole(&text[6..])?);
    }
    let [a, b, c] = parts(text)?;
    if let Some(month) = month_by_name(b) {
        return match a.len() {
            4 => ymd(whole(a)?, month, whole(c)?),
            _ => ymd(year(c)?, month, whole(a)?),
        };
    }
    if let Some(month) = month_by_name(a) {
        return ymd(year(c)?, month, whole(b)?);
    }
    let (first, second) = (whole(a)?, whole(b)?);
    if a.len() == 4 {
        return ymd(first, second, whole(c)?);
    }
    if first > 31.0 {
        return ymd(year(a)?, second, whole(c)?);
    }
    let day_first = || ymd(year(c)?, second, first);
    let month_first = || ymd(year(c)?, first, second);
    match order {
        DateOrder::Dmy => day_first().or_else(month_first),
        DateOrder::Mdy => month_first().or_else(day_first),
    }
}

/// A year of four digits, or of two in the hundred years from 1970.
fn year(text: &[u8]) -> Option<f64> {
    let year = whole(text)?;
    match text.len() {
        4 => Some(year),
        2 if year < 70.0 => Some(2000.0 + year),
        2 => Some(1900.0 + year),
        _ => None,
    }
}

/// A month by its English name or the first three letters of it.
fn month_by_name(text: &[u8]) -> Option<f64> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    if text.len() < 3 || !text.is_ascii() {
        return None;
    }
    let is = |month: &&str| {
        let whole = month.as_bytes().get(..text.len());
        whole.is_some_and(|name| name.eq_ignore_ascii_case(text))
    };
    let at = MONTHS.iter().position(is)?;
    u8::try_from(at + 1).ok().map(f64::from)
}

/// Days since 1970 of a day of the civil calendar, counted from 1 March so that the leap day comes last in its year.
pub(super) fn ymd(year: f64, month: f64, day: f64) -> Option<f64> {
    let leap = year % 4.0 == 0.0 && (year % 100.0 != 0.0 || year % 400.0 == 0.0);
    let longest = match month {
        2.0 if leap => 29.0,
        2.0 => 28.0,
        4.0 | 6.0 | 9.0 | 11.0 => 30.0,
        _ => 31.0,
    };
    if !(1.0..=12.0).contains(&month) || !(1.0..=longest).contains(&day) {
        return None;
    }
    let (year, month) = if month > 2.0 {
        (year, month - 3.0)
    } else {
        (year - 1.0, month + 9.0)
    };
    let leap_days = (year / 4.0).floor() - (year / 100.0).floor() + (year / 400.0).floor();
    let month_days = ((153.0 * month + 2.0) / 5.0).floor();
    Some(year * 365.0 + leap_days + month_days + day - 1.0 - 719_468.0)
}

/// Year, month and day of a day counted from 1970: [`ymd`] backwards.
pub(super) fn from_days(days: f64) -> (f64, f64, f64) {
    let days = days + 719_468.0;
    let era = (days / 146_097.0).floor();
    let of_era = days - era * 146_097.0;
    let years = ((of_era - (of_era / 1460.0).floor() + (of_era / 36_524.0).floor()
        - (of_era / 146_096.0).floor())
        / 365.0)
        .floor();
    let of_year = of_era - (365.0 * years + (years / 4.0).floor() - (years / 100.0).floor());
    let month = ((5.0 * of_year + 2.0) / 153.0).floor();
    let day = of_year - ((153.0 * month + 2.0) / 5.0).floor() + 1.0;
    let year = years + era * 400.0;
    if month < 10.0 {
        (year, month + 3.0, day)
    } else {
        (year + 1.0, month - 9.0, day)
    }
}

/// Another way to read dates that were read in an assumed order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reading {
    /// Day and month changed places.
    Swapped,
    /// A two-digit year in front instead of at the end.
    YearFirst,
}

/// The day that was written, read the other way; the same day where that way makes none. `order` is how it was read.
pub(super) fn reread(days: f64, order: DateOrder, reading: Reading) -> f64 {
    let (year, month, day) = from_days(days);
    let other = match (reading, order) {
        (Reading::Swapped, _) if day <= 12.0 => ymd(year, day, month),
        (Reading::YearFirst, DateOrder::Dmy) if (2000.0..2032.0).contains(&year) => {
            ymd(2000.0 + day, month, year - 2000.0)
        }
        _ => None,
    };
    other.unwrap_or(days)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn which_dates_settle_their_order() {
        use Settled::{Always, By, Open};
        for (text, wanted) in [
            ("2024-05-06", Some(Always)),
            ("06-May-2024 10:00:00", Some(Always)),
            ("13/04/2026", Some(By(DateOrder::Dmy))),
            ("04/13/26 10:00:00 AM", Some(By(DateOrder::Mdy))),
            ("03/04/2026", Some(Open)),
            ("10:00:00 03.04.2026", Some(Open)),
            ("13/13/2026", None),
            ("1.2.3.4", None),
            ("run 7", None),
            ("12.10, ,   98", None),
            ("12.10-98", None),
            ("12 10 98", None),
            ("12 October 98", Some(Always)),
            ("Oct 12, 1998", Some(Always)),
            ("12. 10. 1998", Some(Open)),
        ] {
            assert_eq!(settles(text.as_bytes()), wanted, "{text}");
        }
    }

    #[test]
    fn dates_read_the_other_way() {
        let day = |text: &[u8]| date(text, DateOrder::Dmy).unwrap_or(f64::NAN);
        let again = |text, reading| reread(day(text), DateOrder::Dmy, reading);
        assert_eq!(again(b"03/04/2026", Reading::Swapped), day(b"04/03/2026"));
        assert_eq!(again(b"13/04/2026", Reading::Swapped), day(b"13/04/2026"));
        assert_eq!(again(b"26/04/12", Reading::YearFirst), day(b"12/04/2026"));
        assert_eq!(again(b"26/04/1999", Reading::YearFirst), day(b"26/04/1999"));
    }

    proptest! {
        #[test]
        fn days_go_there_and_back(days in -200_000_i32..2_000_000) {
            let (year, month, day) = from_days(f64::from(days));
            prop_assert_eq!(ymd(year, month, day), Some(f64::from(days)));
        }
    }
}
