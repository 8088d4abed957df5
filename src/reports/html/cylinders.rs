//! The cylinders side by side, in firing order: on every page in the same place.

use super::pieces::{link, shape};
use crate::findings::{Review, Verdict};
use crate::reports::page::escape;
use crate::reports::phrase::{clean, figure};
use crate::reports::tell::{NAMED, warnings_of};

/// The table of cylinders; nothing where nobody says how many there are.
pub fn cylinders(out: &mut String, review: &Review, prefix: &str) {
    let side = &review.cylinders;
    if side.order.is_empty() {
        return;
    }
    let heading = if side.by_firing {
        "Cylinders, in firing order"
    } else {
        "Cylinders, by number"
    };
    out.push_str(&format!(
        "<section class=\"cylinders\">\n<h2 id=\"{prefix}cylinders\">{heading}</h2>\n"
    ));
    if !side.by_firing {
        out.push_str(
            "<p>The build sheet does not say in which order they fire (<code>engine.firing_order</code>).</p>\n",
        );
    }
    let across = side.order.len();
    out.push_str("<div class=\"wide\"><table class=\"engine\">\n<thead><tr>");
    for number in &side.order {
        out.push_str(&format!("<th scope=\"col\">{number}</th>"));
    }
    out.push_str("</tr></thead>\n");
    let warned = |n: u32| warnings_of(review, n);
    row(
        out,
        across,
        NAMED,
        side.order.iter().map(|n| match warned(*n).len() {
            0 => "none".to_string(),
            count => format!(
                "<span class=\"verdict warn\"><span aria-hidden=\"true\">{}</span> {count}</span>",
                shape(Verdict::Warn)
            ),
        }),
    );
    for (name, figures) in &side.measured {
        let shown: Vec<Option<String>> = figures
            .iter()
            .map(|f| f.map(|f| figure(f, &review.reading)))
            .collect();
        // The unit is said once, with the name: the cells are narrow on a phone.
        let units = shown
            .iter()
            .flatten()
            .map(|s| s.split_once(' ').map(|s| s.1));
        let unit = units.clone().next().flatten();
        let unit = unit.filter(|u| units.clone().all(|other| other == Some(*u)));
        let name = match unit {
            Some(unit) => format!("{}, {unit}", clean(name)),
            None => clean(name),
        };
        let cell = |shown: &Option<String>| match (shown, unit) {
            (None, _) => "\u{2013}".to_string(),
            (Some(s), Some(_)) => escape(s.split_once(' ').map_or(s.as_str(), |s| s.0)),
            (Some(s), None) => escape(s),
        };
        row(out, across, &name, shown.iter().map(cell));
    }
    out.push_str("</table></div>\n");
    let mut named: Vec<u32> = side
        .order
        .iter()
        .copied()
        .filter(|n| !warned(*n).is_empty())
        .collect();
    named.sort_unstable();
    if !named.is_empty() {
        out.push_str("<ul class=\"named\">\n");
        for number in named {
            let links: Vec<String> = warned(number)
                .iter()
                .map(|f| link(review, &f.id, prefix))
                .collect();
            out.push_str(&format!(
                "<li>Cylinder {number}: {}</li>\n",
                links.join("; ")
            ));
        }
        out.push_str("</ul>\n");
    }
    out.push_str("</section>\n");
}

/// A measure: its name over the whole width, so that the cylinders keep their places on a phone too.
fn row(out: &mut String, across: usize, name: &str, cells: impl Iterator<Item = String>) {
    out.push_str(&format!(
        "<tbody>\n<tr><th scope=\"rowgroup\" colspan=\"{across}\">{}</th></tr>\n<tr>",
        escape(name)
    ));
    for cell in cells {
        out.push_str(&format!("<td>{cell}</td>"));
    }
    out.push_str("</tr>\n</tbody>\n");
}
