//! Turns of phrase and numbers that every view words alike.

use crate::findings::{Figure, LogFacts, Verdict};
use crate::plots::{CLOCK_FROM_S, minutes};
use crate::span::{Span, Spans};
use crate::units::Reading;

/// Spans spelled out one by one; more are summed up.
const SPELLED: usize = 3;

/// Names listed before the rest is counted.
const NAMES: usize = 12;

/// Words on one line, without what a terminal or a page could take for a command.
pub fn clean(words: &str) -> String {
    let turns = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let plain: String = words
        .chars()
        .map(|c| if c.is_control() || turns(c) { ' ' } else { c })
        .collect();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Words cut at their backticks, where every pair of them stands around something to type, such as `fuel_trim`: each second
/// piece is that. `None` where a backtick is only a letter.
pub fn typed(words: &str) -> Option<Vec<&str>> {
    let pieces: Vec<&str> = words.split('`').collect();
    let fits = |c: char| c.is_ascii_alphanumeric() || "_-.=/*,[] \"".contains(c);
    let typed = |p: &&str| !p.is_empty() && p.trim() == *p && p.chars().all(fits);
    let paired = !pieces.len().is_multiple_of(2);
    (paired && pieces.iter().skip(1).step_by(2).all(typed)).then_some(pieces)
}

/// A name from a script, as words: `cut_in_speed` reads `cut in speed`.
pub fn name(key: &str) -> String {
    clean(&key.replace('_', " "))
}

/// A figure in the reader's units.
pub fn figure(figure: Figure, reading: &Reading) -> String {
    if !figure.value.is_finite() {
        return "no figure".to_string();
    }
    if figure.value.abs() >= 1e9 {
        let (value, symbol) = reading.convert(figure.value, figure.unit);
        return format!("{value:.3e} {symbol}").trim_end().to_string();
    }
    let shown = reading.show(figure.value, figure.unit);
    // A chance of one in a million is not none.
    let decimals = shown.strip_prefix("0.").map_or(0, str::len);
    if figure.value > 0.0 && decimals > 0 && shown.bytes().all(|b| b == b'0' || b == b'.') {
        return format!("under 0.{:0>decimals$}", 1);
    }
    shown
}

/// `1 row`, `2 rows`.
pub fn count(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}

/// `a`, `a and b`, `a, b and c`.
pub fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// As [`list`], the rest counted beyond so many.
pub fn list_some(words: &[String], most: usize) -> String {
    if words.len() <= most + 1 {
        return list(words);
    }
    format!(
        "{} and {} more",
        words[..most].join(", "),
        words.len() - most
    )
}

/// As [`list_some`] with the usual number of names.
pub fn names(words: &[String]) -> String {
    list_some(words, NAMES)
}

fn span(s: Span, long: bool) -> String {
    let clock = |words: String| {
        if long {
            format!(" ({words})")
        } else {
            String::new()
        }
    };
    if s.length() < 0.05 {
        return format!("{:.1} s{}", s.from_s, clock(minutes(s.from_s)));
    }
    format!(
        "{:.1} to {:.1} s{}",
        s.from_s,
        s.to_s,
        clock(format!("{} to {}", minutes(s.from_s), minutes(s.to_s)))
    )
}

/// When a finding held, in words. Without spans it speaks of the whole log.
pub fn when(spans: &Spans, log: &LogFacts) -> String {
    let long = log.duration_s > CLOCK_FROM_S;
    let list = spans.list();
    let (Some(first), Some(last)) = (list.first(), list.last()) else {
        return "the log as a whole".to_string();
    };
    if list.len() <= SPELLED {
        let each: Vec<String> = list.iter().map(|s| span(*s, long)).collect();
        return each.join("; ");
    }
    let longest = list.iter().copied().fold(*first, |a, b| {
        // Strictly longer, so that of equals the first is named.
        if b.length() > a.length() { b } else { a }
    });
    format!(
        "{} times, {:.1} s in all: first at {:.1} s, last until {:.1} s, longest {}",
        list.len(),
        spans.total(),
        first.from_s,
        last.to_s,
        span(longest, long)
    )
}

/// `cylinder 4`, `cylinders 3 and 4`.
pub fn cylinders(numbers: &[u32]) -> String {
    let words: Vec<String> = numbers.iter().map(u32::to_string).collect();
    list(&words)
}

/// Rows, length and rate of the log.
pub fn extent(log: &LogFacts) -> String {
    let clock = if log.duration_s > 60.0 {
        format!(" ({} min)", minutes(log.duration_s))
    } else {
        String::new()
    };
    let rate = if log.sample_hz.is_finite() && log.sample_hz > 0.0 {
        let digits = usize::from(log.sample_hz < 10.0 || log.sample_hz.fract() != 0.0);
        format!(", {:.digits$} rows a second", log.sample_hz)
    } else {
        String::new()
    };
    format!(
        "{} over {:.1} s{clock}{rate}",
        count(log.rows, "row", "rows"),
        log.duration_s
    )
}

/// The last part of a path, where there is one.
pub fn file_name(path: &str) -> &str {
    match path.rsplit(['/', '\\']).next() {
        Some(name) if !name.trim().is_empty() => name,
        _ if path.is_empty() => "a log without a name",
        _ => path,
    }
}

/// The verdict as it stands before a finding.
pub fn verdict(verdict: Verdict) -> String {
    verdict.word().to_uppercase()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Unit;

    fn log(duration_s: f64) -> LogFacts {
        LogFacts {
            duration_s,
            rows: 41_230,
            sample_hz: 100.0,
            ..LogFacts::default()
        }
    }

    #[test]
    fn what_is_nearly_nothing_is_not_nothing() {
        let bare = |value| {
            let unit = Unit::NONE;
            figure(Figure { value, unit }, &Reading::default())
        };
        assert_eq!(bare(2e-9), "under 0.001");
        assert_eq!((bare(0.0).as_str(), bare(0.25).as_str()), ("0", "0.250"));
    }

    #[test]
    fn times_read_as_a_person_says_them() {
        let one = Spans::one(201.0, 239.4);
        assert_eq!(when(&one, &log(250.0)), "201.0 to 239.4 s");
        assert_eq!(when(&one, &log(412.3)), "201.0 to 239.4 s (3:21 to 3:59)");
        assert_eq!(when(&Spans::one(3.0, 3.0), &log(9.0)), "3.0 s");
        assert_eq!(when(&Spans::default(), &log(9.0)), "the log as a whole");
        let at = |i: f64| Span {
            from_s: i,
            to_s: i + 0.5,
        };
        let many = Spans::new((0..8).map(|i| at(f64::from(i))).collect());
        assert_eq!(
            when(&many, &log(9.0)),
            "8 times, 4.0 s in all: first at 0.0 s, last until 7.5 s, longest 0.0 to 0.5 s"
        );
        assert_eq!(
            extent(&log(412.3)),
            "41230 rows over 412.3 s (6:52 min), 100 rows a second"
        );
    }

    #[test]
    fn no_figure_is_said_not_printed() {
        let volts = Unit::standard("V");
        let show = |value| figure(Figure { value, unit: volts }, &Reading::default());
        assert_eq!(show(f64::NAN), "no figure");
        assert_eq!(show(12.604), "12.60 V");
        assert_eq!(show(1e300), "1.000e300 V");
    }

    #[test]
    fn nothing_on_a_page_can_act() {
        assert_eq!(clean("a\u{1b}[31m\tb\n\u{202e}c"), "a [31m b c");
    }
}
