//! Clocks, and how letters become bytes.

use super::{Alike, Variant, base, european, lines};
use crate::dialects::style::{Letters, Stamp, Style};

pub fn clocks() -> Vec<Variant> {
    let with = |name, stamp, clock| {
        Variant::style(
            name,
            Style {
                stamp,
                clock,
                ..base()
            },
        )
    };
    let time = ("Time", "");
    let afternoon = 15 * 3600 + 59 * 60;
    let before_midnight = 86_400 - 100;
    vec![
        with("milliseconds", Stamp::Ticks(1000, "ms", 0), time),
        with(
            "milliseconds without a unit",
            Stamp::Ticks(1000, "", 0),
            time,
        ),
        with("microseconds", Stamp::Ticks(1_000_000, "us", 0), time),
        with("micro sign", Stamp::Ticks(1_000_000, "\u{b5}s", 0), time),
        with("time of day", Stamp::Clock(afternoon), time).alike(Alike::Near),
        with(
            "time of day over midnight",
            Stamp::Clock(before_midnight),
            time,
        )
        .alike(Alike::Near),
        with("hours that begin at zero", Stamp::Clock(0), time),
        with("minutes and seconds", Stamp::Minutes, time),
        with("ISO 8601 in UTC", Stamp::Dated("T", "Z"), ("Timestamp", "")).alike(Alike::Near),
        with(
            "ISO 8601 with a zone",
            Stamp::Dated("T", "+02:00"),
            ("Timestamp", ""),
        )
        .alike(Alike::Near),
        with(
            "date and time in one cell",
            Stamp::Dated(" ", ""),
            ("Date Time", ""),
        )
        .alike(Alike::Near),
        with(
            "date and time in two columns",
            Stamp::TwoColumns(afternoon),
            time,
        )
        .alike(Alike::Near),
        with(
            "date and time in two columns over midnight",
            Stamp::TwoColumns(before_midnight),
            time,
        )
        .alike(Alike::Near),
        with(
            "a large offset",
            Stamp::Seconds(2, 812_345.0),
            ("Time", "s"),
        )
        .alike(Alike::Near),
        with(
            "seconds since 1970",
            Stamp::Seconds(3, 1_749_916_740.0),
            ("Timestamp", "s"),
        )
        .alike(Alike::Near),
        with(
            "milliseconds since 1970",
            Stamp::Ticks(1000, "", 1_749_916_740_000),
            ("Timestamp", ""),
        )
        .alike(Alike::Near),
        with(
            "whole seconds that repeat",
            Stamp::WholeSeconds,
            ("Time", "s"),
        )
        .alike(Alike::Near),
        with(
            "whole seconds of the day that repeat",
            Stamp::WholeClock(afternoon),
            time,
        )
        .alike(Alike::Near),
        Variant::style(
            "a clock in the fourth column",
            Style {
                clock_at: 3,
                ..base()
            },
        ),
        Variant::style(
            "date and time with a decimal comma",
            Style {
                stamp: Stamp::Dated(" ", ""),
                clock: ("Date Time", ""),
                ..european()
            },
        )
        .alike(Alike::Near),
    ]
}

pub fn letters() -> Vec<Variant> {
    let with = |name, letters| {
        let mut style = Style { letters, ..base() };
        style.preamble = lines(&["Run log: \u{d6}l und K\u{fc}hlung, 18 \u{b0}C"]);
        let mut variant = Variant::style(name, style);
        for col in variant.run.cols.iter_mut().filter(|c| c.unit == "degC") {
            "\u{b0}C".clone_into(&mut col.unit);
        }
        variant
    };
    let mut windows = with("Windows-1252", Letters::Western);
    windows
        .style
        .preamble
        .push("Dry \u{2013} second run\u{2026} entry fee 40 \u{20ac}".to_owned());
    windows.style.stamp = Stamp::Ticks(1_000_000, "\u{b5}s", 0);
    vec![
        with("UTF-8 with a mark", Letters::Utf8(true)).said(&["byte order mark"]),
        with("UTF-16, low byte first", Letters::Utf16(true, true)).said(&["utf-16"]),
        with("UTF-16, high byte first", Letters::Utf16(false, true)).said(&["utf-16"]),
        with(
            "UTF-16, low byte first, without a mark",
            Letters::Utf16(true, false),
        )
        .said(&["utf-16"]),
        with(
            "UTF-16, high byte first, without a mark",
            Letters::Utf16(false, false),
        )
        .said(&["utf-16"]),
        with("Latin-1", Letters::Western).said(&["latin-1"]),
        windows.said(&["1252"]),
    ]
}
