//! What a picture spans: ranges, marks and titles of its axes, worked out before anything is drawn.

use super::ticks::{self, CLOCK_FROM_S, Ticks};
use super::words::y_title;
use crate::findings::{Across, Trace};
use crate::units::{Reading, Unit};

/// Values beyond this are no reading of an engine but a broken cell; they are left out like a missing one.
const ABSURD: f64 = 1e15;

/// A limit line further from the readings than this many times their own spread would squash them; it is written at
/// the edge instead.
const LINE_REACH: f64 = 3.0;

/// One series in the reader's units, cut where nothing was logged.
pub struct Strand {
    /// Name.
    pub label: String,
    /// Unbroken stretches of points.
    pub pieces: Vec<Vec<(f64, f64)>>,
}

impl Strand {
    /// All points in order.
    pub fn points(&self) -> impl DoubleEndedIterator<Item = (f64, f64)> + '_ {
        self.pieces.iter().flatten().copied()
    }
}

/// A limit line in the reader's units.
pub struct Level {
    /// Name with its value, e.g. `limit 850 degC`.
    pub label: String,
    /// Height.
    pub at: f64,
}

/// A trace made ready to draw.
pub struct Frame {
    /// Horizontal axis.
    pub x: Ticks,
    /// Vertical axis.
    pub y: Ticks,
    /// Words under the horizontal axis.
    pub x_title: String,
    /// Words over the vertical axis.
    pub y_title: String,
    /// The series.
    pub strands: Vec<Strand>,
    /// The limit lines.
    pub levels: Vec<Level>,
    /// Shaded stretches, cut to the horizontal axis.
    pub marked: Vec<(f64, f64)>,
    /// True where time runs along the horizontal axis.
    pub over_time: bool,
}

/// Works out the frame; the counts are the marks wanted on each axis. Its axes reach as far as those of the `company`
/// beside which it is drawn: across where that shows the same, upwards where it has the same unit. `clock` says whether
/// time is told in minutes, where the picture's own length does not.
pub fn frame(
    trace: &Trace,
    reading: &Reading,
    x_marks: usize,
    y_marks: usize,
    company: &[&Trace],
    clock: Option<bool>,
) -> Frame {
    let over_time = trace.across.is_none();
    let x_unit = trace
        .across
        .as_ref()
        .map_or(Unit::standard("s"), |a| a.unit);
    let strands = strands(trace, reading, x_unit);
    let levels: Vec<Level> = trace
        .lines
        .iter()
        .filter(|l| l.at.is_finite() && l.at.abs() < ABSURD)
        .map(|line| Level {
            label: format!(
                "{} {}",
                plain(&line.label),
                reading.show(line.at, trace.unit)
            ),
            at: reading.convert(line.at, trace.unit).0,
        })
        .collect();

    let beside: Vec<(&Trace, Vec<Strand>)> = company
        .iter()
        .map(|t| (*t, self::strands(t, reading, x_unit)))
        .collect();
    let alike = |other: &Trace| match (&trace.across, &other.across) {
        (Some(own), Some(other)) => own.like(other),
        (own, other) => own.is_none() && other.is_none(),
    };
    let x_others = beside.iter().filter(|(t, _)| alike(t));
    let x_others = x_others.filter_map(|(t, s)| x_range(t, s, over_time));
    let x_known = joined(x_range(trace, &strands, over_time), x_others);
    let (x_low, x_high) = x_known.unwrap_or((0.0, 1.0));
    let clock = over_time && clock.unwrap_or(x_high - x_low > CLOCK_FROM_S);
    let mut x = if clock {
        ticks::clock(x_low, x_high, x_marks)
    } else if over_time {
        ticks::inside(x_low, x_high, x_marks)
    } else {
        ticks::outside(x_low, x_high, x_marks)
    };
    let x_title = match &trace.across {
        None if clock => "time, min:s".to_string(),
        None => "time, s".to_string(),
        Some(Across { name, unit, .. }) => {
            let symbol = reading.convert(1.0, *unit).1;
            let name = plain(name).replace('_', " ");
            if name == symbol || symbol.is_empty() {
                name
            } else {
                format!("{name}, {symbol}")
            }
        }
    };
    let kin = trace.unit.difference();
    let y_others = beside.iter().filter(|(t, _)| t.unit.difference() == kin);
    let y_others = y_others.filter_map(|(_, s)| y_range(s, &levels, trace.unit, reading));
    let y_known = joined(y_range(&strands, &levels, trace.unit, reading), y_others);
    let (y_low, y_high) = y_known.unwrap_or((0.0, 1.0));
    let mut y = ticks::outside(y_low, y_high, y_marks);
    // An axis without readings says nothing rather than something made up.
    if x_known.is_none() {
        x.marks.clear();
    }
    if y_known.is_none() {
        y.marks.clear();
    }
    let marked = if over_time {
        let inside = |s: &crate::span::Span| (s.from_s.max(x_low), s.to_s.min(x_high));
        trace
            .marked
            .list()
            .iter()
            .map(inside)
            .filter(|m| m.0 <= m.1)
            .collect()
    } else {
        Vec::new()
    };
    Frame {
        x,
        y,
        x_title,
        y_title: y_title(trace, reading),
        strands,
        levels,
        marked,
        over_time,
    }
}

/// The series in the reader's units.
fn strands(trace: &Trace, reading: &Reading, x_unit: Unit) -> Vec<Strand> {
    let strand = |series: &crate::findings::Series| Strand {
        label: match plain(&series.label) {
            empty if empty.is_empty() => "unnamed".to_string(),
            label => label,
        },
        pieces: pieces(&series.points, |x, y| {
            let x = reading.convert(x, x_unit).0;
            (x, reading.convert(y, trace.unit).0)
        }),
    };
    trace.series.iter().map(strand).collect()
}

/// A range that holds all of them.
fn joined(own: Option<(f64, f64)>, others: impl Iterator<Item = (f64, f64)>) -> Option<(f64, f64)> {
    own.into_iter()
        .chain(others)
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

/// Words without what could not be drawn.
pub fn plain(words: &str) -> String {
    let clean: String = words
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    clean.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn pieces(points: &[(f64, f64)], map: impl Fn(f64, f64) -> (f64, f64)) -> Vec<Vec<(f64, f64)>> {
    let usable = |v: f64| v.is_finite() && v.abs() < ABSURD;
    points
        .split(|(x, y)| !usable(*x) || !usable(*y))
        .filter(|piece| !piece.is_empty())
        .map(|piece| piece.iter().map(|(x, y)| map(*x, *y)).collect())
        .collect()
}

fn extent(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |range, v| match range {
        None => Some((v, v)),
        Some((low, high)) => Some((v.min(low), v.max(high))),
    })
}

fn x_range(trace: &Trace, strands: &[Strand], over_time: bool) -> Option<(f64, f64)> {
    // A series that reads nothing still says when it was logged.
    let logged = trace.series.iter().flat_map(|s| &s.points).map(|p| p.0);
    let drawn = strands.iter().flat_map(|s| s.points().map(|p| p.0));
    let marked = trace.marked.hull().filter(|_| over_time);
    let range = if over_time {
        extent(logged.filter(|t| t.is_finite() && t.abs() < ABSURD))
    } else {
        extent(drawn)
    };
    let (low, high) = range.or(marked.map(|s| (s.from_s, s.to_s)))?;
    Some(if high > low {
        (low, high)
    } else {
        (low - 0.5, low + 0.5)
    })
}

fn y_range(
    strands: &[Strand],
    levels: &[Level],
    unit: Unit,
    reading: &Reading,
) -> Option<(f64, f64)> {
    let readings = extent(strands.iter().flat_map(|s| s.points().map(|p| p.1)));
    let lines = extent(levels.iter().map(|l| l.at));
    let Some((low, high)) = readings else {
        return lines.map(|(low, high)| widened(low, high, unit, reading));
    };
    let (low, high) = widened(low, high, unit, reading);
    let reach = (high - low) * LINE_REACH;
    let (mut bottom, mut top) = (low, high);
    for level in levels {
        if level.at >= low - reach && level.at <= high + reach {
            bottom = bottom.min(level.at);
            top = top.max(level.at);
        }
    }
    Some((bottom, top))
}

/// A flat line gets some height around it, so that a flicker in the last digit does not fill the picture.
fn widened(low: f64, high: f64, unit: Unit, reading: &Reading) -> (f64, f64) {
    let middle = f64::midpoint(low, high);
    let digit = 10f64.powi(-(unit.decimals(middle) as i32));
    let factor = (reading.convert(1.0, unit.difference()).0
        - reading.convert(0.0, unit.difference()).0)
        .abs();
    let least = (4.0 * digit * factor).max(middle.abs() * 1e-3);
    if high - low >= least {
        (low, high)
    } else {
        (middle - least / 2.0, middle + least / 2.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::{Line, Series};
    use crate::span::Spans;

    fn trace(points: Vec<(f64, f64)>, limit: Option<f64>) -> Trace {
        Trace {
            title: "x".into(),
            across: None,
            unit: Unit::standard("degC"),
            series: vec![Series {
                label: "egt_1".into(),
                points,
            }],
            lines: limit
                .map(|at| Line {
                    label: "limit".into(),
                    at,
                })
                .into_iter()
                .collect(),
            marked: Spans::one(-5.0, 2.0),
        }
    }

    #[test]
    fn a_gap_cuts_the_line_and_the_shade_stays_on_the_axis() {
        let f = frame(
            &trace(
                vec![(0.0, 1.0), (1.0, f64::NAN), (2.0, 3.0), (3.0, 1e300)],
                None,
            ),
            &Reading::default(),
            6,
            5,
            &[],
            None,
        );
        let lengths: Vec<usize> = f.strands[0].pieces.iter().map(Vec::len).collect();
        assert_eq!((lengths, f.marked), (vec![1, 1], vec![(0.0, 2.0)]));
    }

    #[test]
    fn a_far_limit_does_not_squash_the_readings() {
        let points = vec![(0.0, 80.0), (1.0, 90.0)];
        let near = frame(
            &trace(points.clone(), Some(105.0)),
            &Reading::default(),
            6,
            5,
            &[],
            None,
        );
        assert!(near.y.range.1 >= 105.0);
        let far = frame(
            &trace(points, Some(950.0)),
            &Reading::default(),
            6,
            5,
            &[],
            None,
        );
        assert!(far.y.range.1 <= 100.0, "{:?}", far.y.range);
    }

    #[test]
    fn the_axes_speak_the_readers_units() {
        let us = Reading {
            fahrenheit: true,
            ..Reading::default()
        };
        let f = frame(
            &trace(vec![(0.0, 0.0), (1.0, 100.0)], Some(50.0)),
            &us,
            6,
            5,
            &[],
            None,
        );
        assert_eq!(f.y_title, "temperature, degF");
        assert!(
            f.y.range.0 <= 32.0 && f.y.range.1 >= 212.0,
            "{:?}",
            f.y.range
        );
        assert_eq!(f.levels[0].label, "limit 122 degF");
    }
}
