//! Pictures of one line a series: a mark for each stretch of the run, as high as the value there that stands out most.

use textwrap::core::display_width;

use super::lines::{NAME_COLUMN, Page};
use crate::findings::{Series, Trace};
use crate::plots::{CLOCK_FROM_S, minutes};
use crate::reports::phrase::clean;
use crate::reports::{Look, Shapes};
use crate::stats;
use crate::units::Reading;

/// From the least value to the greatest.
const BLOCKS: [char; 8] = [
    '\u{2581}', '\u{2582}', '\u{2583}', '\u{2584}', '\u{2585}', '\u{2586}', '\u{2587}', '\u{2588}',
];
const ASCII: [char; 8] = ['_', '.', ':', '-', '=', '+', '*', '#'];
/// Series in a picture: as many as an engine has cylinders.
const MOST: usize = 12;
/// Columns of a name, on a page of ordinary width and on a wide one.
const LABEL: [usize; 2] = [22, 24];
const WIDE: usize = 100;
/// Fewer columns than this show nothing.
const LEAST: usize = 12;

/// A picture under a warning: its title, a row for each series, where the finding lies, and the axis. Nothing where the page
/// is too narrow or there is nothing to draw.
pub fn rows(page: &mut Page<'_>, trace: &Trace, reading: &Reading, name: &str) {
    let drawn: Vec<&Series> = trace.series.iter().take(MOST).collect();
    let finite = |s: &&Series| -> Vec<(f64, f64)> {
        let all = s.points.iter().copied();
        all.filter(|p| p.0.is_finite() && p.1.is_finite()).collect()
    };
    let points: Vec<(f64, f64)> = drawn.iter().flat_map(finite).collect();
    let (Some((from, to)), Some((low, high))) = (
        ends(points.iter().map(|p| p.0)),
        ends(points.iter().map(|p| p.1)),
    ) else {
        return;
    };
    let labels: Vec<String> = drawn
        .iter()
        .map(|s| shortened(&clean(&s.label), LABEL[usize::from(page.width >= WIDE)]))
        .collect();
    let label = labels.iter().map(|l| display_width(l)).max().unwrap_or(0);
    let ranges: Vec<String> = drawn
        .iter()
        .map(|s| range(&finite(s), trace, reading))
        .collect();
    let said = ranges.iter().map(|r| display_width(r)).max().unwrap_or(0);
    let before = 2 + NAME_COLUMN + label + 1;
    let wide = page.width.saturating_sub(before + 1 + said);
    let (across, with_range) = if wide >= LEAST {
        (wide, true)
    } else {
        (page.width.saturating_sub(before), false)
    };
    if across < LEAST || to <= from {
        return;
    }
    // A cloud of a few points tells nothing in a row of marks.
    let columns = Columns { from, to, across };
    let filled = |s: &&Series| columns.middles(s).iter().flatten().count() * 2 >= across;
    if trace.across.is_some() && !drawn.iter().any(filled) {
        return;
    }
    let beyond = trace.series.len() - drawn.len();
    let more = if beyond > 0 {
        format!(" ({beyond} more are not shown)")
    } else {
        String::new()
    };
    page.fact("  ", name, &format!("{}{more}", clean(&trace.title)));
    let indent = " ".repeat(2 + NAME_COLUMN);
    for ((series, label_words), range) in drawn.iter().zip(&labels).zip(&ranges) {
        let cells = if trace.across.is_some() {
            columns.middles(series)
        } else {
            columns.extremes(series)
        };
        let marks: String = cells
            .iter()
            .map(|c| mark(*c, low, high, page.look()))
            .collect();
        let pad = " ".repeat(label - display_width(label_words));
        let range = if with_range { range.as_str() } else { "" };
        line(page, &format!("{indent}{label_words}{pad} {marks} {range}"));
    }
    let indent = " ".repeat(before);
    if trace.across.is_none() && !trace.marked.is_empty() {
        let inside = |i: usize| {
            let (a, b) = columns.span(i);
            trace
                .marked
                .list()
                .iter()
                .any(|s| s.from_s < b && s.to_s >= a)
        };
        let marks: String = (0..across)
            .map(|i| if inside(i) { '^' } else { ' ' })
            .collect();
        line(page, &format!("{indent}{marks}"));
    }
    let (left, right) = axis(trace, reading, from, to);
    let between = across.saturating_sub(display_width(&left) + display_width(&right));
    if between > 0 {
        line(
            page,
            &format!("{indent}{left}{}{right}", " ".repeat(between)),
        );
    }
}

fn line(page: &mut Page<'_>, words: &str) {
    page.out.push_str(words.trim_end());
    page.out.push('\n');
}

fn ends(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |ends, v| match ends {
        None => Some((v, v)),
        Some((a, b)) => Some((v.min(a), v.max(b))),
    })
}

fn shortened(label: &str, most: usize) -> String {
    if display_width(label) <= most {
        return label.to_string();
    }
    let mut out = String::new();
    for c in label.chars() {
        if display_width(&out) + 3 > most {
            break;
        }
        out.push(c);
    }
    out + ".."
}

/// `10.64 to 14.30 V`.
fn range(points: &[(f64, f64)], trace: &Trace, reading: &Reading) -> String {
    let Some((low, high)) = ends(points.iter().map(|p| p.1)) else {
        return "no figure".to_string();
    };
    let (low, high) = (
        reading.show(low, trace.unit),
        reading.show(high, trace.unit),
    );
    match (low.split_once(' '), high.split_once(' ')) {
        (Some((low, a)), Some((_, b))) if a == b => format!("{low} to {high}"),
        _ => format!("{low} to {high}"),
    }
}

fn axis(trace: &Trace, reading: &Reading, from: f64, to: f64) -> (String, String) {
    match &trace.across {
        Some(a) => (
            format!("{} {}", clean(&a.name), reading.show(from, a.unit)),
            reading.show(to, a.unit),
        ),
        None if to > CLOCK_FROM_S => (minutes(from), format!("{} min", minutes(to))),
        None => (format!("{from:.1} s"), format!("{to:.1} s")),
    }
}

fn mark(cell: Option<f64>, low: f64, high: f64, look: &Look) -> char {
    let Some(value) = cell else { return ' ' };
    let levels = match look.shapes {
        Shapes::Drawn => BLOCKS,
        Shapes::Ascii => ASCII,
    };
    if high <= low {
        return levels[3];
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between 0 and 8"
    )]
    let level = ((value - low) / (high - low) * 8.0).clamp(0.0, 7.0) as usize;
    levels[level]
}

/// The stretches that a row of marks stands for.
struct Columns {
    from: f64,
    to: f64,
    across: usize,
}

impl Columns {
    #[expect(clippy::cast_precision_loss, reason = "columns of a page are few")]
    fn span(&self, i: usize) -> (f64, f64) {
        let width = (self.to - self.from) / self.across as f64;
        (
            self.from + width * i as f64,
            self.from + width * (i + 1) as f64,
        )
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "columns of a page are few"
    )]
    fn of(&self, x: f64) -> usize {
        let part = (x - self.from) / (self.to - self.from);
        ((part * self.across as f64).max(0.0) as usize).min(self.across - 1)
    }

    /// For each stretch the value furthest from the middle of the series, so that no peak and no dip is lost. A line that
    /// goes on through a stretch without points holds its value there.
    fn extremes(&self, series: &Series) -> Vec<Option<f64>> {
        let values: Vec<f64> = series
            .points
            .iter()
            .map(|p| p.1)
            .filter(|v| v.is_finite())
            .collect();
        let middle = stats::median(&values).unwrap_or(0.0);
        let mut cells: Vec<Option<f64>> = vec![None; self.across];
        let mut last: Option<(usize, f64)> = None;
        for &(x, y) in &series.points {
            if !x.is_finite() {
                continue;
            }
            if !y.is_finite() {
                last = None;
                continue;
            }
            let at = self.of(x);
            if let Some((before, value)) = last {
                for cell in cells.iter_mut().take(at).skip(before + 1) {
                    *cell = cell.or(Some(value));
                }
            }
            let further = |held: f64| (y - middle).abs() > (held - middle).abs();
            if cells[at].is_none_or(further) {
                cells[at] = Some(y);
            }
            last = Some((at, y));
        }
        cells
    }

    /// The middle of the values in each stretch: for clouds of points.
    fn middles(&self, series: &Series) -> Vec<Option<f64>> {
        let mut inside: Vec<Vec<f64>> = vec![Vec::new(); self.across];
        for &(x, y) in &series.points {
            if x.is_finite() && y.is_finite() {
                inside[self.of(x)].push(y);
            }
        }
        inside.iter().map(|values| stats::median(values)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::span::Spans;
    use crate::units::Unit;

    fn drawn(points: Vec<(f64, f64)>, marked: Spans, look: &Look) -> String {
        let trace = Trace {
            title: "battery_v".to_string(),
            across: None,
            unit: Unit::standard("V"),
            series: vec![Series {
                label: "battery_v".to_string(),
                points,
            }],
            lines: Vec::new(),
            marked,
        };
        let mut page = Page::new(look);
        rows(&mut page, &trace, &Reading::default(), "Picture");
        page.out
    }

    fn levels(row: &str) -> Vec<usize> {
        let level = |c: char| BLOCKS.iter().position(|b| *b == c);
        row.chars().filter_map(level).collect()
    }

    #[test]
    fn one_sample_of_many_survives() {
        for peak in [16.0, 9.0] {
            let points = (0..100_000).map(|i| {
                (
                    f64::from(i) * 0.01,
                    if i == 61_234 {
                        peak
                    } else {
                        13.0 + f64::from(i % 3) * 0.01
                    },
                )
            });
            let out = drawn(points.collect(), Spans::one(600.0, 620.0), &Look::default());
            let row = levels(out.lines().nth(1).expect("a row"));
            let odd = if peak > 13.0 { 7 } else { 0 };
            let others = if peak > 13.0 { 0 } else { 7 };
            assert_eq!(row.iter().filter(|l| **l == odd).count(), 1, "{out}");
            assert!(row.iter().all(|l| *l == odd || *l == others), "{out}");
            // The place where the finding lies is marked below it.
            let lines: Vec<Vec<char>> = out.lines().map(|l| l.chars().collect()).collect();
            let at = lines[1]
                .iter()
                .position(|c| *c == BLOCKS[odd])
                .expect("the peak");
            assert_eq!(lines[2][at], '^', "{out}");
            assert!(out.contains("16:40 min"), "{out}");
        }
    }

    #[test]
    fn gaps_stay_empty_and_ascii_is_ascii() {
        let points = vec![
            (0.0, 12.0),
            (30.0, 14.0),
            (30.0, f64::NAN),
            (70.0, 12.0),
            (100.0, 13.0),
        ];
        let look = Look {
            shapes: Shapes::Ascii,
            ..Look::default()
        };
        let out = drawn(points, Spans::default(), &look);
        assert!(out.is_ascii(), "{out}");
        let row = out.lines().nth(1).expect("a row");
        assert!(row.contains("_#   ") && row.contains("   _"), "{out}");
        assert!(row.ends_with("12.00 to 14.00 V"), "{out}");
        assert!(drawn(Vec::new(), Spans::default(), &look).is_empty());
        assert!(drawn(vec![(1.0, f64::NAN)], Spans::default(), &look).is_empty());
        let narrow = Look { width: 40, ..look };
        let out = drawn(vec![(0.0, 12.0), (9.0, 14.0)], Spans::default(), &narrow);
        assert!(out.lines().all(|l| display_width(l) <= 40), "{out}");
    }
}
