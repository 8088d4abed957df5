//! A picture with its words, drawn for a wide page and for a phone.

use super::points::{Fields, Points};
use crate::findings::{Finding, Trace, Verdict};
use crate::plots::{Manner, Size, describe, minutes_to, svg_in_page};
use crate::reports::page::escape;
use crate::units::Reading;

/// What all pictures of one page share.
pub struct Shown<'a> {
    /// The reader's units.
    pub reading: &'a Reading,
    /// Time in minutes and seconds, or in seconds; `None` goes by each picture.
    pub clock: Option<bool>,
    /// Where readings are noted for the script, and pictures for a second showing; `None` for a part of somebody else's
    /// page.
    pub points: Option<&'a mut Points>,
}

/// What the shaded stretches of a finding's picture are.
fn shaded(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Warn => "what the check found",
        _ => "what the check looked at",
    }
}

/// The picture twice, for a wide page and for a phone, where the wide one would shrink past reading; the styles show
/// one of them.
pub fn figure(out: &mut String, trace: &Trace, verdict: Verdict, shown: &mut Shown<'_>) {
    out.push_str("<figure>\n");
    paper(out, trace, verdict, shown);
    out.push_str(&format!(
        "<figcaption>{}</figcaption>\n</figure>\n",
        escape(&describe(trace, shown.reading))
    ));
}

/// The picture of a finding at that place, and the stretches of it that can be enlarged, each behind a line of its own.
pub fn figure_of(out: &mut String, f: &Finding, at: usize, shown: &mut Shown<'_>) {
    let Some(trace) = f.plots.get(at) else { return };
    figure(out, trace, f.verdict, shown);
    for (_, close) in f.close_ups.iter().filter(|c| c.0 == at) {
        let Some(span) = close.marked.hull() else {
            continue;
        };
        let words = match (span.length() < 0.05, shown.clock == Some(true)) {
            (true, true) => minutes_to(span.from_s, 1),
            (true, false) => format!("{:.1} s", span.from_s),
            (false, true) => format!(
                "{} to {}",
                minutes_to(span.from_s, 1),
                minutes_to(span.to_s, 1)
            ),
            (false, false) => format!("{:.1} to {:.1} s", span.from_s, span.to_s),
        };
        out.push_str(&format!(
            "<details class=\"closer\">\n<summary>Enlarge {words}</summary>\n"
        ));
        figure(out, close, f.verdict, shown);
        out.push_str("</details>\n");
    }
}

/// The picture without its words.
fn paper(out: &mut String, trace: &Trace, verdict: Verdict, shown: &mut Shown<'_>) {
    let manner = Manner {
        clock: shown.clock,
        shaded: shaded(verdict),
    };
    let draw = |size| svg_in_page(trace, shown.reading, size, manner);
    match (draw(Size::PAGE), draw(Size::PHONE)) {
        (Ok((wide, desk)), Ok((narrow, phone))) => {
            let fields = Fields { desk, phone };
            match shown.points.as_mut() {
                Some(points) => {
                    let number = points.picture(trace, shown.reading, &fields);
                    let (wide, narrow) = points.once(wide, narrow);
                    out.push_str(&twice(&wide, &narrow, Some(number)));
                }
                None => out.push_str(&twice(&wide, &narrow, None)),
            }
        }
        (Err(error), _) | (_, Err(error)) => {
            out.push_str(&format!("<p>{}</p>\n", escape(&error.to_string())));
        }
    }
}

/// Two drawings of one picture; `number` is what the script knows it by.
pub fn twice(wide: &str, narrow: &str, number: Option<usize>) -> String {
    let number = number.map_or(String::new(), |n| format!(" data-plot=\"{n}\""));
    format!(
        "<div class=\"paper\"{number}>\n<div class=\"desk\">{wide}</div>\n<div class=\"phone\">{narrow}</div>\n</div>\n"
    )
}
