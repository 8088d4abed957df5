//! What a picture needs around its readings, worked out before the first stroke, so that pictures can line up.

use plotters::coord::Shift;
use plotters::prelude::{DrawingArea, DrawingBackend};

use super::canvas::{Canvas, Hand};
use super::frame::{Frame, frame, plain};
use super::{PlotError, Size};
use crate::findings::Trace;
use crate::units::Reading;

/// Letter heights, page pixels.
pub const TITLE_EM: f64 = 14.0;
pub const WORDS_EM: f64 = 12.0;
pub const SMALL_EM: f64 = 11.0;
/// Space at the edge of the paper.
pub const EDGE: f64 = 8.0;
/// Distance between lines of words.
pub const LEADING: f64 = 17.0;
/// The least distance at which labels can still be told apart; series that would need less are counted instead.
const LABEL_LEAST: f64 = 12.5;

/// What stands around the readings of a picture.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Room {
    /// Lines of the title.
    pub title: usize,
    /// Width of the figures at the left, page pixels.
    pub figures: f64,
    /// Width of the names at the right, page pixels.
    pub names: f64,
}

impl Room {
    /// Enough for both.
    pub fn or(self, other: Room) -> Room {
        Room {
            title: self.title.max(other.title),
            figures: self.figures.max(other.figures),
            names: self.names.max(other.names),
        }
    }
}

/// The pictures beside which one is drawn.
#[derive(Clone, Debug, Default)]
pub struct Company<'a> {
    /// All of them.
    traces: Vec<&'a Trace>,
    /// What the readings leave free at least, so that they stand in one place in all of them.
    pub room: Room,
}

impl<'a> Company<'a> {
    /// No room is asked for yet.
    pub fn of(traces: &'a [Trace]) -> Company<'a> {
        Company {
            traces: traces.iter().collect(),
            room: Room::default(),
        }
    }
}

/// All that is known before the first stroke.
pub struct Plan {
    /// What it spans.
    pub frame: Frame,
    /// Its title, line by line.
    pub title: Vec<String>,
    /// The names at the right, each with the series that it belongs to.
    pub labels: Vec<(String, Option<usize>)>,
    /// What is left free around the readings.
    pub room: Room,
}

/// Works out what stands where, but for the readings.
pub fn plan<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    trace: &Trace,
    reading: &Reading,
    size: Size,
    company: &Company<'_>,
    clock: Option<bool>,
) -> Result<Plan, PlotError> {
    let wide = f64::from(size.width);
    let title = title_lines(canvas, &plain(&trace.title), wide - 2.0 * EDGE)?;
    let lines = title.len().max(company.room.title);
    let (top, bottom) = heights(size, lines);
    let x_marks = ((wide - 140.0) / 60.0).max(4.0) as usize;
    let y_marks = ((bottom - top) / 40.0).max(2.0) as usize;
    let beside = &company.traces;
    let frame = frame(trace, reading, x_marks, y_marks, beside, clock);
    let labels = if named(trace) {
        Vec::new()
    } else {
        labels(canvas, &frame, (wide * 0.3).min(180.0), bottom - top)?
    };
    let mut room = Room {
        title: lines,
        ..Room::default()
    };
    for (_, words) in &frame.y.marks {
        room.figures = room.figures.max(canvas.width(words, SMALL_EM)?);
    }
    for (words, _) in &labels {
        room.names = room.names.max(canvas.width(words, WORDS_EM)?);
    }
    Ok(Plan {
        room: room.or(company.room),
        frame,
        title,
        labels,
    })
}

/// True for one series that bears the name of its picture: said again beside its line, that would only take room.
fn named(trace: &Trace) -> bool {
    match trace.series.as_slice() {
        [only] => {
            let (name, title) = (plain(&only.label), plain(&trace.title));
            // `battery_v, worked out` under the title `battery_v`: the caption says so in full.
            let rest = name.strip_prefix(&title);
            rest.is_some_and(|r| r.is_empty() || r.starts_with(", "))
                && only.points.iter().any(|p| p.1.is_finite())
        }
        _ => false,
    }
}

/// Upper and lower edge of the readings under a title of so many lines.
pub fn heights(size: Size, lines: usize) -> (f64, f64) {
    let top = EDGE + LEADING * (lines as f64 + 1.0) + 12.0;
    (top, f64::from(size.height) - EDGE - 2.0 * LEADING)
}

/// What a picture needs around its readings.
pub fn room<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    hand: Hand,
    trace: &Trace,
    reading: &Reading,
    size: Size,
    company: &Company<'_>,
) -> Result<Room, PlotError> {
    let canvas = Canvas::new(area, hand);
    plan(&canvas, trace, reading, size, company, None).map(|p| p.room)
}

/// The title on at most two lines.
fn title_lines<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    title: &str,
    room: f64,
) -> Result<Vec<String>, PlotError> {
    let mut first = String::new();
    let mut rest = String::new();
    for word in title.split(' ') {
        let longer = if first.is_empty() {
            word.to_string()
        } else {
            format!("{first} {word}")
        };
        if rest.is_empty() && (first.is_empty() || canvas.width(&longer, TITLE_EM)? <= room) {
            first = longer;
        } else {
            rest = format!("{rest} {word}");
        }
    }
    let mut lines = vec![canvas.fitted(&first, TITLE_EM, room)?];
    if !rest.is_empty() {
        lines.push(canvas.fitted(rest.trim(), TITLE_EM, room)?);
    }
    Ok(lines)
}

/// Words of each label and the series it belongs to; the last may stand for those that got none.
fn labels<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    f: &Frame,
    room: f64,
    height: f64,
) -> Result<Vec<(String, Option<usize>)>, PlotError> {
    let places = (height / LABEL_LEAST).max(2.0) as usize;
    let named = if f.strands.len() > places {
        places - 1
    } else {
        f.strands.len()
    };
    let mut out = Vec::new();
    for (i, strand) in f.strands.iter().enumerate().take(named) {
        let words = if strand.pieces.is_empty() {
            // The end matters here, so the name is what gives way.
            let note = " (none)";
            let left = room - canvas.width(note, WORDS_EM)?;
            canvas.fitted(&strand.label, WORDS_EM, left)? + note
        } else {
            canvas.fitted(&strand.label, WORDS_EM, room)?
        };
        out.push((words, Some(i)));
    }
    if f.strands.len() > named {
        let more = format!("and {} more", f.strands.len() - named);
        out.push((canvas.fitted(&more, WORDS_EM, room)?, None));
    }
    Ok(out)
}
