//! Several pictures side by side or under each other: in fields that line up, those of one unit on axes of the same reach.

use plotters::coord::Shift;
use plotters::prelude::{DrawingArea, DrawingBackend};

use super::canvas::{Hand, drawn};
use super::draw::draw;
use super::palette::PAPER;
use super::plan::{Company, room};
use super::{NAMESPACE, PlotError, Size, describe, pixels, wrapped};
use crate::findings::Trace;
use crate::units::Reading;

/// Pictures in rows.
pub struct Grid<'a> {
    title: &'a str,
    traces: &'a [Trace],
    columns: usize,
    each: Size,
}

impl<'a> Grid<'a> {
    /// So many beside each other, each of that size.
    pub fn new(title: &'a str, traces: &'a [Trace], columns: usize, each: Size) -> Grid<'a> {
        Grid {
            title,
            traces,
            columns: columns.clamp(1, traces.len().max(1)),
            each,
        }
    }
    fn rows(&self) -> usize {
        self.traces.len().div_ceil(self.columns).max(1)
    }
    fn size(&self) -> Size {
        let times = |length: u32, n: usize| length * u32::try_from(n).unwrap_or(1);
        Size {
            width: times(self.each.width, self.columns),
            height: times(self.each.height, self.rows()),
        }
    }
    fn draw<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
        hand: Hand,
        reading: &Reading,
    ) -> Result<(), PlotError> {
        area.fill(&PAPER).map_err(drawn)?;
        let places = area.split_evenly((self.rows(), self.columns));
        let mut company = Company::of(self.traces);
        for trace in self.traces {
            let wanted = room(area, hand, trace, reading, self.each, &company)?;
            company.room = company.room.or(wanted);
        }
        for (trace, place) in self.traces.iter().zip(&places) {
            draw(place, hand, trace, reading, self.each, &company)?;
        }
        Ok(())
    }
    /// As an SVG file of its own.
    ///
    /// # Errors
    /// The built-in font could not be read, or plotters refused.
    pub fn svg(&self, reading: &Reading) -> Result<String, PlotError> {
        let told: Vec<String> = self.traces.iter().map(|t| describe(t, reading)).collect();
        wrapped(
            self.size(),
            NAMESPACE,
            (self.title, told.join(" ")),
            |area| self.draw(area, Hand::SVG, reading),
        )
    }
    /// As PNG bytes.
    ///
    /// # Errors
    /// As [`Grid::svg`], and where the encoder refused.
    pub fn png(&self, reading: &Reading) -> Result<Vec<u8>, PlotError> {
        pixels(self.size(), |area| self.draw(area, Hand::PIXELS, reading))
    }
}
