//! A picture in words: for a screen reader, and for a caption.

use super::frame::plain;
use crate::findings::{Series, Trace};
use crate::units::Reading;

/// Series spelled out; the rest are counted.
const SPELLED: usize = 12;

/// What the picture shows, in the reader's units: each series with its least and greatest reading, the limits, the
/// shaded stretches.
pub fn describe(trace: &Trace, reading: &Reading) -> String {
    let mut parts = Vec::new();
    for series in trace.series.iter().take(SPELLED) {
        let label = plain(&series.label);
        let values = series.points.iter().map(|p| p.1).filter(|v| v.is_finite());
        let range = values.fold(None, |r: Option<(f64, f64)>, v| {
            Some(r.map_or((v, v), |(low, high)| (low.min(v), high.max(v))))
        });
        parts.push(match range {
            None => format!("{label}: no readings"),
            Some((low, high)) => {
                let (low, high) = (
                    reading.show(low, trace.unit),
                    reading.show(high, trace.unit),
                );
                if low == high {
                    format!("{label}: {low} throughout")
                } else {
                    format!("{label}: {low} to {high}")
                }
            }
        });
    }
    if trace.series.len() > SPELLED {
        parts.push(format!("and {} more", trace.series.len() - SPELLED));
    }
    for line in trace.lines.iter().filter(|l| l.at.is_finite()) {
        parts.push(format!(
            "dashed: {} {}",
            plain(&line.label),
            reading.show(line.at, trace.unit)
        ));
    }
    let spans = trace.marked.list();
    if trace.across.is_none() && !spans.is_empty() {
        let first = spans
            .iter()
            .take(3)
            .map(|s| format!("{:.1} to {:.1} s", s.from_s, s.to_s))
            .collect::<Vec<_>>()
            .join(", ");
        let more = match spans.len().saturating_sub(3) {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        parts.push(format!("shaded: {first}{more}"));
    }
    if parts.is_empty() {
        "Nothing to draw.".to_string()
    } else {
        parts.join("; ") + "."
    }
}

/// Quantity and unit over the vertical axis; bare numbers are called by the name of their channel.
pub fn y_title(trace: &Trace, reading: &Reading) -> String {
    let symbol = reading.convert(1.0, trace.unit).1;
    let quantity = match trace.unit.key().as_str() {
        "s" | "ms" => "time",
        "rpm" => "engine speed",
        "kPa" => "pressure",
        "degC" => "temperature",
        "degC difference" => "temperature difference",
        "V" => "voltage",
        "A" => "current",
        "deg" => "angle",
        "km/h" => "road speed",
        "g" => "acceleration",
        _ => "",
    };
    match (quantity.is_empty(), symbol.is_empty()) {
        (false, _) => format!("{quantity}, {symbol}"),
        (true, false) => symbol,
        (true, true) => {
            let name = name(trace);
            if counts(trace) && !name.ends_with("count") {
                format!("{name}, count")
            } else {
                name
            }
        }
    }
}

/// What all series of a picture are called: `knock` for `knock_1` and `knock_2`.
fn name(trace: &Trace) -> String {
    let labels: Vec<String> = trace.series.iter().map(|s| plain(&s.label)).collect();
    match labels.as_slice() {
        [] => plain(&trace.title),
        [only] => only.clone(),
        [first, rest @ ..] => {
            let stem = stem(first);
            match rest.iter().all(|l| self::stem(l) == stem) {
                // The members are named by where they sit: what they read stands in the title.
                true if ["cylinder", "sensor", "position"].contains(&stem) => plain(&trace.title),
                true if !stem.is_empty() => stem.to_string(),
                _ => labels.join(", "),
            }
        }
    }
}

/// A name without the number or letter of its member.
fn stem(label: &str) -> &str {
    let cut = label.rfind(['_', ' ']).filter(|at| {
        let member = &label[at + 1..];
        let numbered = member.bytes().all(|b| b.is_ascii_digit());
        numbered || member.len() == 1
    });
    cut.map_or(label, |at| &label[..at])
}

/// True where all series only ever count up in whole numbers.
fn counts(trace: &Trace) -> bool {
    let up = |series: &Series| {
        let known = || series.points.iter().map(|p| p.1).filter(|v| v.is_finite());
        known().all(|v| v >= 0.0 && v.fract() == 0.0)
            && known().zip(known().skip(1)).all(|(a, b)| a <= b)
    };
    let read = |series: &Series| series.points.iter().any(|p| p.1.is_finite());
    trace.across.is_none() && trace.series.iter().any(read) && trace.series.iter().all(up)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::span::Spans;
    use crate::units::Unit;

    fn bare(title: &str, series: &[(&str, [f64; 3])]) -> String {
        let one = |(label, values): &(&str, [f64; 3])| Series {
            label: (*label).to_string(),
            points: (0u32..)
                .map(f64::from)
                .zip(values.iter().copied())
                .collect(),
        };
        let trace = Trace {
            title: title.to_string(),
            across: None,
            unit: Unit::NONE,
            series: series.iter().map(one).collect(),
            lines: Vec::new(),
            marked: Spans::default(),
        };
        y_title(&trace, &Reading::default())
    }

    #[test]
    fn an_axis_of_bare_numbers_says_what_they_are() {
        let (up, other) = ([0.0, 2.0, 7.0], [0.0, 0.0, 1.0]);
        let family = [("knock_1", up), ("knock_2", other)];
        assert_eq!(bare("knock_1, knock_2, run.csv", &family), "knock, count");
        let seats = [("cylinder 1", up), ("cylinder 2", other)];
        assert_eq!(bare("knock", &seats), "knock, count");
        assert_eq!(bare("x", &[("sync_errors", up)]), "sync_errors, count");
        assert_eq!(bare("x", &[("knock_count", up)]), "knock_count");
        // What falls, or has a fraction, is no count.
        let level = [("knock_level_1", [3.0, 1.0, 2.0]), ("knock_level_2", up)];
        assert_eq!(bare("x", &level), "knock_level");
        assert_eq!(bare("x", &[("Aux 7", [0.5, 0.6, 0.7])]), "Aux 7");
        assert_eq!(
            bare("x", &[("gear", [1.0, 2.0, 1.0]), ("fan", up)]),
            "gear, fan"
        );
    }
}
