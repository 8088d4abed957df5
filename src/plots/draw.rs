//! The drawing itself, the same for every backend.

use plotters::coord::Shift;
use plotters::prelude::{DrawingArea, DrawingBackend};

use super::canvas::{Canvas, Hand, Side, drawn};
use super::frame::{Frame, Strand};
use super::labels::{apart, on_paper};
use super::levels::levels;
use super::palette::{GRID, INK, Look, MARK, MARK_STRENGTH, PAPER, SOFT_INK, look};
use super::plan::{Company, EDGE, LEADING, Plan, SMALL_EM, TITLE_EM, WORDS_EM, heights, plan};
use super::{PlotError, Size};
use crate::findings::Trace;
use crate::units::Reading;

/// Distance between the labels at the right.
const LABEL_GAP: f64 = 15.0;
/// Room for the swatch before a label, and for the leader that ties it to its line.
const SWATCH: f64 = 22.0;
const LEADER: f64 = 12.0;
/// Distance between markers along a line.
const MARKER_EVERY: f64 = 84.0;
/// Half the size of a marker.
const MARKER: f64 = 3.6;

/// The inside of the axes on the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Field {
    /// Left edge, page pixels.
    pub left: f64,
    /// Right edge, page pixels.
    pub right: f64,
    /// Upper edge, page pixels.
    pub top: f64,
    /// Lower edge, page pixels.
    pub bottom: f64,
    /// Values at the left and right edge, in the reader's units.
    pub x: (f64, f64),
    /// Values at the lower and upper edge, in the reader's units.
    pub y: (f64, f64),
}

impl Field {
    /// Where a value stands across the page.
    pub fn x(&self, value: f64) -> f64 {
        self.left + (value - self.x.0) / (self.x.1 - self.x.0) * (self.right - self.left)
    }
    /// Where a value stands down the page.
    pub fn y(&self, value: f64) -> f64 {
        self.bottom - (value - self.y.0) / (self.y.1 - self.y.0) * (self.bottom - self.top)
    }
    /// Where a point stands.
    pub fn at(&self, point: (f64, f64)) -> (f64, f64) {
        (self.x(point.0), self.y(point.1))
    }
}

/// What the place where a picture is shown settles for it.
#[derive(Clone, Copy, Debug)]
pub struct Manner<'a> {
    /// Time in minutes and seconds, or in seconds; `None` goes by how long the picture is.
    pub clock: Option<bool>,
    /// What the shaded stretches are.
    pub shaded: &'a str,
}

impl Default for Manner<'_> {
    fn default() -> Self {
        Manner {
            clock: None,
            shaded: "the marked spans",
        }
    }
}

/// Draws the whole picture on an area of `size` page pixels, its axes as far as those of its `company`.
pub fn draw<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    hand: Hand,
    trace: &Trace,
    reading: &Reading,
    size: Size,
    company: &Company<'_>,
) -> Result<(), PlotError> {
    let manner = Manner::default();
    draw_so(area, hand, trace, reading, size, company, manner).map(|_| ())
}

/// As [`draw`], in the manner of a place. Tells where the readings stand.
pub fn draw_so<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    hand: Hand,
    trace: &Trace,
    reading: &Reading,
    size: Size,
    company: &Company<'_>,
    manner: Manner<'_>,
) -> Result<Field, PlotError> {
    area.fill(&PAPER).map_err(drawn)?;
    let canvas = Canvas::new(area, hand);
    let wide = f64::from(size.width);
    let Plan {
        frame: f,
        title,
        labels,
        room,
    } = plan(&canvas, trace, reading, size, company, manner.clock)?;
    let (top, bottom) = heights(size, room.title);
    let field = Field {
        left: EDGE + room.figures + 6.0,
        right: if room.names > 0.0 {
            wide - EDGE - room.names - SWATCH - LEADER
        } else {
            wide - 2.0 * EDGE
        },
        top,
        bottom,
        x: f.x.range,
        y: f.y.range,
    };

    for (i, line) in title.iter().enumerate() {
        let y = EDGE + LEADING * (i as f64 + 0.5);
        canvas.words(line, TITLE_EM, (EDGE, y), Side::Right, INK)?;
    }
    shade(&canvas, &f, field)?;
    axes(&canvas, &f, field, wide, manner)?;
    if f.strands.iter().all(|s| s.pieces.is_empty()) {
        let middle = (
            f64::midpoint(field.left, field.right),
            f64::midpoint(top, bottom),
        );
        let words = canvas.fitted("no readings to draw", WORDS_EM, field.right - field.left)?;
        canvas.words(&words, WORDS_EM, middle, Side::Middle, SOFT_INK)?;
    }
    for (i, strand) in f.strands.iter().enumerate() {
        if f.over_time {
            line(&canvas, strand, field, i, f.strands.len())?;
        } else {
            cloud(&canvas, strand, field, look(i))?;
        }
    }
    levels(&canvas, &f, field)?;
    ends(&canvas, &f, field, &labels)?;
    Ok(field)
}

/// Tints the marked stretches and sets a bar on top of each: the bar shows on paper without colour, and a stretch
/// shorter than a pixel still gets two.
fn shade<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    f: &Frame,
    field: Field,
) -> Result<(), PlotError> {
    for (from, to) in &f.marked {
        let (left, right) = (field.x(*from), field.x(*to));
        let right = right.max(left + 2.0);
        canvas.fill(
            (left, field.top),
            (right, field.bottom),
            MARK,
            MARK_STRENGTH,
        )?;
        canvas.fill((left, field.top - 5.0), (right, field.top - 1.0), INK, 1.0)?;
    }
    Ok(())
}

fn axes<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    f: &Frame,
    field: Field,
    wide: f64,
    manner: Manner<'_>,
) -> Result<(), PlotError> {
    for (value, words) in &f.y.marks {
        let y = field.y(*value);
        canvas.path(&[(field.left, y), (field.right, y)], GRID, 1.0)?;
        canvas.words(words, SMALL_EM, (field.left - 5.0, y), Side::Left, SOFT_INK)?;
    }
    let mut used_to = f64::NEG_INFINITY;
    for (value, words) in &f.x.marks {
        let x = field.x(*value);
        canvas.path(&[(x, field.bottom), (x, field.bottom + 4.0)], SOFT_INK, 1.0)?;
        let half = canvas.width(words, SMALL_EM)? / 2.0;
        if x - half > used_to {
            let at = (x, field.bottom + LEADING * 0.75);
            canvas.words(words, SMALL_EM, at, Side::Middle, SOFT_INK)?;
            used_to = x + half + 6.0;
        }
    }
    canvas.path(
        &[
            (field.left, field.top),
            (field.left, field.bottom),
            (field.right, field.bottom),
        ],
        SOFT_INK,
        1.0,
    )?;

    let y_title = canvas.fitted(&f.y_title, WORDS_EM, wide - 2.0 * EDGE)?;
    let above = (EDGE, field.top - LEADING * 0.5 - 9.0);
    canvas.words(&y_title, WORDS_EM, above, Side::Right, INK)?;
    let under = field.bottom + LEADING * 1.7;
    let x_title = canvas.fitted(&f.x_title, WORDS_EM, wide - 2.0 * EDGE - 20.0)?;
    canvas.words(&x_title, WORDS_EM, (field.left, under), Side::Right, INK)?;

    if !f.marked.is_empty() {
        let from = field.left + canvas.width(&x_title, WORDS_EM)? + 24.0;
        let note = canvas.fitted(
            &format!("shaded: {}", manner.shaded),
            SMALL_EM,
            wide - EDGE - from - 20.0,
        )?;
        if !note.is_empty() {
            canvas.fill(
                (from, under - 5.0),
                (from + 14.0, under + 5.0),
                MARK,
                MARK_STRENGTH,
            )?;
            canvas.fill((from, under - 7.0), (from + 14.0, under - 4.0), INK, 1.0)?;
            canvas.words(&note, SMALL_EM, (from + 20.0, under), Side::Right, SOFT_INK)?;
        }
    }
    Ok(())
}

/// A series over time: a line with markers here and there, each series at its own places.
fn line<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    strand: &Strand,
    field: Field,
    place: usize,
    of: usize,
) -> Result<(), PlotError> {
    let looks = look(place);
    let mut next = field.left + MARKER_EVERY * (place as f64 + 0.5) / of.max(1) as f64;
    for piece in &strand.pieces {
        let points: Vec<(f64, f64)> = piece.iter().map(|p| field.at(*p)).collect();
        let points = on_paper(&points, 0.5);
        match points.as_slice() {
            [] => {}
            [alone] => canvas.fill(
                (alone.0 - 1.5, alone.1 - 1.5),
                (alone.0 + 1.5, alone.1 + 1.5),
                looks.colour,
                1.0,
            )?,
            _ => canvas.path(&points, looks.colour, 1.5)?,
        }
        for point in &points {
            if point.0 >= next {
                canvas.marker(looks.shape, *point, MARKER, looks.colour)?;
                next += MARKER_EVERY * ((point.0 - next) / MARKER_EVERY).floor().max(0.0)
                    + MARKER_EVERY;
            }
        }
    }
    Ok(())
}

/// One quantity against another: a marker for each place on the paper that has a point.
fn cloud<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    strand: &Strand,
    field: Field,
    looks: Look,
) -> Result<(), PlotError> {
    let mut taken = std::collections::BTreeSet::new();
    for point in strand.points() {
        let at = field.at(point);
        if taken.insert(((at.0 / 1.5).round() as i64, (at.1 / 1.5).round() as i64)) {
            canvas.marker(looks.shape, at, 2.0, looks.colour)?;
        }
    }
    Ok(())
}

/// The names at the right, each beside the end of its line.
fn ends<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    f: &Frame,
    field: Field,
    labels: &[(String, Option<usize>)],
) -> Result<(), PlotError> {
    let end = |at: &Option<usize>| {
        let last = at
            .and_then(|i| f.strands.get(i))
            .and_then(|s| s.points().next_back());
        last.map(|p| field.at(p))
    };
    let last: Vec<Option<(f64, f64)>> = labels.iter().map(|(_, at)| end(at)).collect();
    let wanted: Vec<f64> = last
        .iter()
        .map(|e| e.map_or(field.bottom, |p| p.1))
        .collect();
    let placed = apart(&wanted, field.top + 4.0, field.bottom - 4.0, LABEL_GAP);
    for (i, (words, at)) in labels.iter().enumerate() {
        let y = placed[i];
        let from = field.right + LEADER;
        if let Some(at) = at {
            let looks = look(*at);
            if let Some(end) = last[i]
                && f.over_time
                && end.0 > field.right - 12.0
            {
                canvas.path(
                    &[(field.right + 1.0, end.1), (from - 1.0, y)],
                    looks.colour,
                    0.5,
                )?;
            }
            if f.over_time {
                canvas.path(&[(from, y), (from + SWATCH - 6.0, y)], looks.colour, 1.5)?;
            }
            let middle = (from + (SWATCH - 6.0) / 2.0, y);
            canvas.marker(looks.shape, middle, MARKER, looks.colour)?;
        }
        canvas.words(words, WORDS_EM, (from + SWATCH, y), Side::Right, INK)?;
    }
    Ok(())
}
