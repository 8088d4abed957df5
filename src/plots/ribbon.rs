//! Stretches of time as bars along the run: a row for each kind.

use plotters::coord::Shift;
use plotters::prelude::{DrawingArea, DrawingBackend};

use super::canvas::{Canvas, Hand, Side, drawn};
use super::palette::{GRID, INK, PAPER, SOFT_INK, look};
use super::ticks::{self, CLOCK_FROM_S};
use super::{NAMESPACE, PlotError, Size, pixels, wrapped};
use crate::span::{Span, Spans};

const EDGE: f64 = 8.0;
const ROW: f64 = 20.0;
const EM: f64 = 11.0;
const WIDE: u32 = 720;

/// Rows of bars.
pub struct Ribbon {
    /// What it shows.
    pub title: String,
    /// From where to where the run goes.
    pub run: Span,
    /// A name and its stretches, for each row.
    pub rows: Vec<(String, Spans)>,
}

impl Ribbon {
    fn size(&self) -> Size {
        let rows = u32::try_from(self.rows.len().max(1)).unwrap_or(1);
        Size {
            width: WIDE,
            height: (2.0 * EDGE + 26.0) as u32 + rows * ROW as u32,
        }
    }
    fn words(&self) -> (&str, String) {
        let row = |(name, spans): &(String, Spans)| {
            let list: Vec<String> = spans
                .list()
                .iter()
                .map(|s| format!("{:.1} s to {:.1} s", s.from_s, s.to_s))
                .collect();
            let list = if list.is_empty() {
                "never".to_string()
            } else {
                list.join(", ")
            };
            format!("{name}: {list}.")
        };
        let rows: Vec<String> = self.rows.iter().map(row).collect();
        (&self.title, rows.join(" "))
    }
    fn draw<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
        hand: Hand,
    ) -> Result<(), PlotError> {
        area.fill(&PAPER).map_err(drawn)?;
        let canvas = Canvas::new(area, hand);
        let mut names = 0.0f64;
        for (name, _) in &self.rows {
            names = names.max(canvas.width(name, EM)?);
        }
        let (low, high) = (self.run.from_s, self.run.to_s.max(self.run.from_s + 1e-3));
        let (left, right) = (EDGE + names.min(160.0) + 8.0, f64::from(WIDE) - EDGE - 12.0);
        let x = |t: f64| left + (t.clamp(low, high) - low) / (high - low) * (right - left);
        let bottom = EDGE + ROW * self.rows.len().max(1) as f64;
        let clock = high - low > CLOCK_FROM_S;
        let marks = if clock {
            ticks::clock(low, high, 9)
        } else {
            ticks::inside(low, high, 9)
        };
        for (value, words) in &marks.marks {
            canvas.path(&[(x(*value), EDGE), (x(*value), bottom)], GRID, 1.0)?;
            let at = (x(*value), bottom + 11.0);
            canvas.words(words, EM, at, Side::Middle, SOFT_INK)?;
        }
        for (i, (name, spans)) in self.rows.iter().enumerate() {
            let top = EDGE + ROW * i as f64;
            let middle = top + ROW / 2.0;
            let name = canvas.fitted(name, EM, 160.0)?;
            canvas.words(&name, EM, (left - 8.0, middle), Side::Left, INK)?;
            canvas.path(&[(left, middle), (right, middle)], GRID, 1.0)?;
            for span in spans.list() {
                // A moment still gets a stroke that the eye finds.
                let to = x(span.to_s).max(x(span.from_s) + 2.0);
                let (from, to) = ((x(span.from_s), top + 4.0), (to, top + ROW - 4.0));
                canvas.fill(from, to, look(0).colour, 1.0)?;
            }
        }
        canvas.path(&[(left, bottom), (right, bottom)], SOFT_INK, 1.0)?;
        let words = if clock { "time, min:s" } else { "time, s" };
        canvas.words(words, EM, (EDGE, bottom + 11.0), Side::Right, SOFT_INK)
    }
    /// As an SVG file of its own.
    ///
    /// # Errors
    /// The built-in font could not be read, or plotters refused.
    pub fn svg(&self) -> Result<String, PlotError> {
        wrapped(self.size(), NAMESPACE, self.words(), |area| {
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
