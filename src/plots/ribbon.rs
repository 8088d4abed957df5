//! Stretches of time as bars along the run: a row for each kind.

use plotters::coord::Shift;
use plotters::prelude::{DrawingArea, DrawingBackend};

use super::canvas::{Canvas, Hand, Side, drawn};
use super::draw::Field;
use super::light;
use super::palette::{GRID, INK, PAPER, SOFT_INK, Shape, look};
use super::ticks::{self, CLOCK_FROM_S};
use super::{NAMESPACE, PlotError, Size, pixels, wrapped};
use crate::span::{Span, Spans};

const EDGE: f64 = 8.0;
const ROW: f64 = 20.0;
const EM: f64 = 11.0;
const WIDE: u32 = 720;
/// Room under the rows for the time axis.
const UNDER: f64 = 26.0;
/// Names at the left take at most this share of the width.
const NAMES: f64 = 0.4;

/// Rows of bars.
pub struct Ribbon {
    /// What it shows.
    pub title: String,
    /// From where to where the run goes.
    pub run: Span,
    /// A name and its stretches, for each row.
    pub rows: Vec<(String, Spans)>,
}

/// The course of a run, as the page of a review shows it: what the engine did, and below it what warned when.
pub struct Course {
    /// The phases.
    pub did: Ribbon,
    /// A name and its stretches, for each warning.
    pub warned: Vec<(String, Spans)>,
    /// Time in minutes and seconds.
    pub clock: bool,
}

/// A row of bars.
struct Row<'a> {
    name: &'a str,
    spans: &'a Spans,
    warns: bool,
}

fn rows(list: &[(String, Spans)], warns: bool) -> impl Iterator<Item = Row<'_>> {
    list.iter()
        .map(move |(name, spans)| Row { name, spans, warns })
}

fn size(wide: u32, rows: usize) -> Size {
    let rows = u32::try_from(rows.max(1)).unwrap_or(1);
    Size {
        width: wide,
        height: (2.0 * EDGE + UNDER) as u32 + rows * ROW as u32,
    }
}

fn told<'a>(rows: impl Iterator<Item = Row<'a>>) -> String {
    let row = |row: Row<'_>| {
        let list: Vec<String> = row
            .spans
            .list()
            .iter()
            .map(|s| format!("{:.1} s to {:.1} s", s.from_s, s.to_s))
            .collect();
        let list = if list.is_empty() {
            "never".to_string()
        } else {
            list.join(", ")
        };
        format!("{}: {list}.", row.name)
    };
    let rows: Vec<String> = rows.map(row).collect();
    rows.join(" ")
}

fn bars<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    hand: Hand,
    wide: f64,
    run: Span,
    rows: &[Row<'_>],
    clock: bool,
) -> Result<Field, PlotError> {
    area.fill(&PAPER).map_err(drawn)?;
    let canvas = Canvas::new(area, hand);
    let most = (wide * NAMES).min(200.0);
    let axis = if clock { "time, min:s" } else { "time, s" };
    // The axis' name stands under those of the rows, clear of its first mark.
    let mut names = canvas.width(axis, EM)? + 10.0;
    for row in rows {
        names = names.max(canvas.width(row.name, EM)?);
    }
    let (low, high) = (run.from_s, run.to_s.max(run.from_s + 1e-3));
    let bottom = EDGE + ROW * rows.len().max(1) as f64;
    let field = Field {
        left: EDGE + names.min(most) + 8.0,
        right: wide - EDGE - 12.0,
        top: EDGE,
        bottom,
        x: (low, high),
        y: (0.0, 1.0),
    };
    let x = |t: f64| field.x(t.clamp(low, high));
    let wanted = ((field.right - field.left) / 60.0).clamp(4.0, 9.0) as usize;
    let marks = if clock {
        ticks::clock(low, high, wanted)
    } else {
        ticks::inside(low, high, wanted)
    };
    for (value, words) in &marks.marks {
        canvas.path(&[(x(*value), EDGE), (x(*value), bottom)], GRID, 1.0)?;
        let at = (x(*value), bottom + 11.0);
        canvas.words(words, EM, at, Side::Middle, SOFT_INK)?;
    }
    for (i, row) in rows.iter().enumerate() {
        let top = EDGE + ROW * i as f64;
        let middle = top + ROW / 2.0;
        let name = canvas.fitted(row.name, EM, most)?;
        canvas.words(&name, EM, (field.left - 8.0, middle), Side::Left, INK)?;
        canvas.path(&[(field.left, middle), (field.right, middle)], GRID, 1.0)?;
        for span in row.spans.list() {
            // A moment still gets a stroke that the eye finds.
            let to = x(span.to_s).max(x(span.from_s) + 2.0);
            // What warned is a thinner bar under a wedge: another shape, not only another colour.
            let (colour, inset) = if row.warns {
                (look(1).colour, 7.0)
            } else {
                (look(0).colour, 4.0)
            };
            let (from, to) = ((x(span.from_s), top + inset), (to, top + ROW - inset));
            canvas.fill(from, to, colour, 1.0)?;
        }
        if row.warns
            && let Some(first) = row.spans.list().first()
        {
            let at = (x(first.from_s), top + 5.0);
            canvas.marker(Shape::Wedge, at, 3.6, look(1).colour)?;
        }
    }
    canvas.path(
        &[(field.left, bottom), (field.right, bottom)],
        SOFT_INK,
        1.0,
    )?;
    canvas.words(axis, EM, (EDGE, bottom + 11.0), Side::Right, SOFT_INK)?;
    Ok(field)
}

impl Ribbon {
    fn size(&self) -> Size {
        size(WIDE, self.rows.len())
    }
    fn draw<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
        hand: Hand,
    ) -> Result<(), PlotError> {
        let clock = self.run.length() > CLOCK_FROM_S;
        let rows: Vec<Row<'_>> = rows(&self.rows, false).collect();
        bars(area, hand, f64::from(WIDE), self.run, &rows, clock).map(|_| ())
    }
    /// As an SVG file of its own.
    ///
    /// # Errors
    /// The built-in font could not be read, or plotters refused.
    pub fn svg(&self) -> Result<String, PlotError> {
        let words = (self.title.as_str(), told(rows(&self.rows, false)));
        wrapped(self.size(), NAMESPACE, words, |area| {
            self.draw(area, Hand::SVG)
        })
    }
    /// As PNG bytes.
    ///
    /// # Errors
    /// As [`Ribbon::svg`], and where the encoder refused.
    pub fn png(&self) -> Result<Vec<u8>, PlotError> {
        pixels(self.size(), |area| self.draw(area, Hand::PIXELS))
    }
}

impl Course {
    /// As an `<svg>` element to stand inside an HTML page, that many page pixels wide, and where its bars stand.
    ///
    /// # Errors
    /// As [`Ribbon::svg`].
    pub fn svg_in_page(&self, wide: u32) -> Result<(String, Field), PlotError> {
        let all: Vec<Row<'_>> = rows(&self.did.rows, false)
            .chain(rows(&self.warned, true))
            .collect();
        let words = (
            self.did.title.as_str(),
            told(rows(&self.did.rows, false).chain(rows(&self.warned, true))),
        );
        let mut field = None;
        let svg = wrapped(size(wide, all.len()), "", words, |area| {
            let across = f64::from(wide);
            field = Some(bars(
                area,
                Hand::SVG,
                across,
                self.did.run,
                &all,
                self.clock,
            )?);
            Ok(())
        })?;
        Ok((light(&svg), field.ok_or(PlotError::Font)?))
    }
}
