//! Tables of text: the logs, and the cylinders side by side.

use textwrap::core::display_width;

use super::lines::Page;
use super::{HEAD, PLAIN, STOP, style};
use crate::findings::Review;
use crate::reports::Unread;
use crate::reports::phrase::{clean, figure, verdict as word};
use crate::reports::story::{LogLine, TABLE_HEADS, TABLE_TITLE, UNREAD};
use crate::reports::tell::{NAMED, table, warnings_of};

/// Columns between those of a table.
const BETWEEN: usize = 2;
/// Columns of shape and verdict before a row.
const BEFORE: usize = 10;
/// Columns that a log's name needs, or it stands on a line of its own.
const NAME: usize = 24;

/// The table over several logs, a row each.
pub fn all_logs(page: &mut Page<'_>, reviews: &[Review], unread: &[Unread]) {
    page.heading(TABLE_TITLE);
    let lines = table(reviews);
    let cells: Vec<[String; 7]> = lines.iter().map(LogLine::cells).collect();
    let width = |i: usize| {
        let all = cells.iter().map(|row| display_width(&row[i]));
        all.fold(TABLE_HEADS[i].len(), usize::max)
    };
    let widths: Vec<usize> = (0..TABLE_HEADS.len()).map(width).collect();
    let before = BEFORE + widths.iter().map(|w| w + BETWEEN).sum::<usize>();
    if before > page.width {
        sentences(page, &lines);
    } else {
        let row = |cells: [&str; 7]| -> String {
            let pad = |(i, (cell, width)): (usize, (&&str, &usize))| {
                let space = " ".repeat(width - display_width(cell));
                // Words to the left, figures to the right.
                match i {
                    0 => format!("{cell}{space}  "),
                    _ => format!("{space}{cell}  "),
                }
            };
            cells.iter().zip(&widths).enumerate().map(pad).collect()
        };
        let beside = before + NAME <= page.width;
        let rest = " ".repeat(before);
        if !lines.is_empty() {
            let head = format!("{:BEFORE$}{}", "", row(TABLE_HEADS));
            page.wrap(&head, PLAIN, &rest, if beside { "log" } else { "" });
        }
        for (line, cells) in lines.iter().zip(&cells) {
            let (shape, style) = marks(page, line);
            let row = row(cells.each_ref().map(String::as_str));
            let prefix = format!("{shape} {:<8}{row}", word(line.verdict));
            if beside {
                page.wrap(&prefix, style, &rest, &line.log);
            } else {
                let indent = " ".repeat(BEFORE);
                page.wrap(&prefix, style, "", "");
                page.wrap(&indent, PLAIN, &indent, &line.log);
            }
        }
    }
    for log in unread {
        let prefix = format!("! {:<8}", UNREAD.to_uppercase());
        page.wrap(&prefix, HEAD, &" ".repeat(BEFORE), &clean(&log.why));
    }
}

fn marks(page: &Page<'_>, line: &LogLine) -> (&'static str, anstyle::Style) {
    if line.stop {
        (page.stop_shape(), STOP)
    } else {
        (page.shape(line.verdict), style(line.verdict))
    }
}

fn sentences(page: &mut Page<'_>, lines: &[LogLine]) {
    for line in lines {
        let (shape, style) = marks(page, line);
        let prefix = format!("{shape} {:<8}", word(line.verdict));
        let stop = if line.stop { "stop now; " } else { "" };
        let words = format!("{}: {stop}{}", line.log, line.words);
        page.wrap(&prefix, style, &" ".repeat(BEFORE), &words);
    }
}

/// What the log tells of each cylinder, in the order in which they fire: always in the same columns. Nothing where nobody
/// says how many there are, or nothing was measured of each.
pub fn cylinders(page: &mut Page<'_>, review: &Review) {
    let side = &review.cylinders;
    if side.order.is_empty() || side.measured.is_empty() {
        return;
    }
    page.gap();
    page.heading(if side.by_firing {
        "Cylinders, in firing order"
    } else {
        "Cylinders, by number"
    });
    let mut rows: Vec<(String, Vec<String>)> = vec![(
        NAMED.to_string(),
        side.order
            .iter()
            .map(|n| match warnings_of(review, *n).len() {
                0 => "-".to_string(),
                n => n.to_string(),
            })
            .collect(),
    )];
    for (name, figures) in &side.measured {
        let shown: Vec<Option<String>> = figures
            .iter()
            .map(|f| f.map(|f| figure(f, &review.reading)))
            .collect();
        // The unit is said once, with the name, where all of them share it.
        let units: Vec<&str> = shown
            .iter()
            .flatten()
            .map(|s| s.split_once(' ').map_or("", |s| s.1))
            .collect();
        let unit = units
            .first()
            .copied()
            .filter(|u| units.iter().all(|o| o == u));
        let cell = |shown: &Option<String>| match (shown, unit) {
            (None, _) => "-".to_string(),
            (Some(s), Some(_)) => s.split_once(' ').map_or(s.as_str(), |s| s.0).to_string(),
            (Some(s), None) => s.clone(),
        };
        let name = match unit {
            Some(unit) if !unit.is_empty() => format!("{}, {unit}", clean(name)),
            _ => clean(name),
        };
        rows.push((name, shown.iter().map(cell).collect()));
    }
    let cell = rows
        .iter()
        .flat_map(|r| &r.1)
        .map(|c| display_width(c))
        .max()
        .unwrap_or(1);
    let cell = cell.max(3) + BETWEEN;
    let longest = rows.iter().map(|r| display_width(&r.0)).max().unwrap_or(0);
    let line = |cells: &[String]| -> String {
        cells
            .iter()
            .map(|c| format!("{}{c}", " ".repeat(cell - display_width(c))))
            .collect()
    };
    let beside = longest + cell * side.order.len() <= page.width;
    // Names stand on lines of their own where there is no room beside them; many cylinders take several rows.
    let (names, across) = if beside {
        (longest, side.order.len())
    } else {
        (0, (page.width / cell).max(1))
    };
    let mut from = 0;
    while from < side.order.len() {
        let to = (from + across).min(side.order.len());
        let numbers: Vec<String> = side.order[from..to].iter().map(u32::to_string).collect();
        page.wrap(&format!("{:names$}{}", "", line(&numbers)), HEAD, "", "");
        for (name, cells) in &rows {
            let figures = line(&cells[from..to]);
            if beside {
                let pad = " ".repeat(names - display_width(name));
                page.wrap(&format!("{name}{pad}{figures}"), PLAIN, "", "");
            } else {
                page.wrap("", PLAIN, "", name);
                page.wrap(&figures, PLAIN, "", "");
            }
        }
        from = to;
    }
}
