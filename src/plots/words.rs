//! A picture in words: for a screen reader, and for a caption.

use super::frame::plain;
use crate::findings::Trace;
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
