//! A quantity in cells of two others: the median for each cell of speed and load, written into it.

use std::collections::BTreeMap;

use plotters::coord::Shift;
use plotters::prelude::{DrawingArea, DrawingBackend};

use super::canvas::{Canvas, Hand, Side, drawn};
use super::palette::{GRID, INK, PAPER, SOFT_INK, look};
use super::{NAMESPACE, PlotError, Size, pixels, wrapped};
use crate::stats;
use crate::units::{Reading, Unit};

/// Fewer samples than this tell nothing of a cell: it stays blank.
pub const LEAST: usize = 5;
/// About so many cells along an axis.
const ALONG: f64 = 12.0;
/// Widths of a cell in page pixels, and its height.
const WIDE: f64 = 54.0;
const HIGH: f64 = 26.0;
/// Room for the words around the cells.
const LEFT: f64 = 64.0;
const TOP: f64 = 58.0;
const UNDER: f64 = 58.0;
const RIGHT: f64 = 20.0;
/// The strongest tint: dark words on it can still be read.
const STRONGEST: f64 = 0.55;

/// One axis of the cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// What it is called.
    pub name: String,
    /// Its unit.
    pub unit: Unit,
    /// Width of a cell, in that unit.
    pub step: f64,
}

/// Medians in cells.
#[derive(Clone, Debug, PartialEq)]
pub struct CellMap {
    /// What it shows.
    pub title: String,
    /// Unit of the medians.
    pub unit: Unit,
    /// Across.
    pub x: Axis,
    /// Upwards.
    pub y: Axis,
    /// Median and number of samples of each cell that has any, by its numbers along both axes.
    pub cells: BTreeMap<(i64, i64), (f64, usize)>,
}

/// A width of cells so that about a dozen cover the values: 1, 2 or 5 times a power of ten.
pub fn round_width(values: &[f64]) -> f64 {
    let ends = values
        .iter()
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |e, v| {
            (e.0.min(*v), e.1.max(*v))
        });
    let rough = (ends.1 - ends.0) / ALONG;
    if rough.is_nan() || rough <= 0.0 || rough.is_infinite() {
        return 1.0;
    }
    let power = 10f64.powf(rough.log10().floor());
    let times = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|t| t * power >= rough);
    times.unwrap_or(10.0) * power
}

impl CellMap {
    /// Sorts samples, each with where it stands on both axes, into cells. What is no number is left out.
    pub fn of(
        title: &str,
        unit: Unit,
        (x, y): (Axis, Axis),
        samples: impl Iterator<Item = (f64, f64, f64)>,
    ) -> CellMap {
        let mut sorted: BTreeMap<(i64, i64), Vec<f64>> = BTreeMap::new();
        for (at_x, at_y, value) in samples {
            if at_x.is_finite() && at_y.is_finite() && value.is_finite() {
                let cell = (
                    (at_x / x.step).floor() as i64,
                    (at_y / y.step).floor() as i64,
                );
                sorted.entry(cell).or_default().push(value);
            }
        }
        let median = |(cell, values): ((i64, i64), Vec<f64>)| {
            Some((cell, (stats::median(&values)?, values.len())))
        };
        CellMap {
            title: title.to_string(),
            unit,
            x,
            y,
            cells: sorted.into_iter().filter_map(median).collect(),
        }
    }

    /// Cells with enough samples to tell.
    fn told(&self) -> impl Iterator<Item = (&(i64, i64), f64)> {
        let told = self.cells.iter().filter(|cell| cell.1.1 >= LEAST);
        told.map(|(cell, (median, _))| (cell, *median))
    }

    /// First and last cell along both axes.
    fn reach(&self) -> Option<[(i64, i64); 2]> {
        let ends = |numbers: &mut dyn Iterator<Item = i64>| {
            let all: Vec<i64> = numbers.collect();
            Some((*all.iter().min()?, *all.iter().max()?))
        };
        let x = ends(&mut self.cells.keys().map(|c| c.0))?;
        Some([x, ends(&mut self.cells.keys().map(|c| c.1))?])
    }

    fn size(&self) -> Size {
        let count = |(first, last): (i64, i64)| (last - first + 1).clamp(1, 60) as f64;
        let [x, y] = self.reach().unwrap_or([(0, 0); 2]);
        Size::new(
            (LEFT + RIGHT + WIDE * count(x).max(8.0)) as u32,
            (TOP + UNDER + HIGH * count(y).max(3.0)) as u32,
        )
    }

    fn draw<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
        hand: Hand,
        reading: &Reading,
        size: Size,
    ) -> Result<(), PlotError> {
        area.fill(&PAPER).map_err(drawn)?;
        let canvas = Canvas::new(area, hand);
        let room = f64::from(size.width) - 16.0;
        let symbol = reading.convert(1.0, self.unit).1;
        let title = canvas.fitted(&self.title, 14.0, room)?;
        canvas.words(&title, 14.0, (8.0, 16.0), Side::Right, INK)?;
        let blank = format!(
            "median of each cell{}; blank: fewer than {LEAST} samples",
            comma(&symbol)
        );
        let blank = canvas.fitted(&blank, 11.0, room)?;
        canvas.words(&blank, 11.0, (8.0, 34.0), Side::Right, SOFT_INK)?;
        let Some([x, y]) = self.reach() else {
            let words = "no readings to draw";
            return canvas.words(words, 12.0, (LEFT, TOP + HIGH), Side::Right, SOFT_INK);
        };
        let bottom = TOP + HIGH * (y.1 - y.0 + 1) as f64;
        let at = |cell: i64, along: i64| {
            (
                LEFT + WIDE * (cell - x.0) as f64,
                bottom - HIGH * (along - y.0) as f64,
            )
        };
        let values: Vec<f64> = self.told().map(|cell| cell.1).collect();
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for ((column, row), median) in self.told() {
            let (left, under) = at(*column, *row);
            let share = if high > low {
                (median - low) / (high - low)
            } else {
                0.0
            };
            let (from, to) = ((left, under - HIGH), (left + WIDE, under));
            canvas.fill(from, to, look(0).colour, STRONGEST * share)?;
            let words = number(reading, median, self.unit);
            let middle = (left + WIDE / 2.0, under - HIGH / 2.0);
            canvas.words(
                &canvas.fitted(&words, 11.0, WIDE - 4.0)?,
                11.0,
                middle,
                Side::Middle,
                INK,
            )?;
        }
        let right = LEFT + WIDE * (x.1 - x.0 + 1) as f64;
        for column in x.0..=x.1 + 1 {
            let left = at(column, y.0).0;
            canvas.path(&[(left, TOP), (left, bottom)], GRID, 1.0)?;
            let words = number(reading, column as f64 * self.x.step, self.x.unit);
            canvas.words(&words, 11.0, (left, bottom + 13.0), Side::Middle, SOFT_INK)?;
        }
        for row in y.0..=y.1 + 1 {
            let under = at(x.0, row).1;
            canvas.path(&[(LEFT, under), (right, under)], GRID, 1.0)?;
            let words = number(reading, row as f64 * self.y.step, self.y.unit);
            canvas.words(&words, 11.0, (LEFT - 6.0, under), Side::Left, SOFT_INK)?;
        }
        let title = |axis: &Axis| {
            let name = axis.name.replace('_', " ");
            let symbol = reading.convert(1.0, axis.unit).1;
            if name == symbol {
                name
            } else {
                format!("{name}{}", comma(&symbol))
            }
        };
        let below = format!("across: {}   upwards: {}", title(&self.x), title(&self.y));
        canvas.words(
            &canvas.fitted(&below, 12.0, room)?,
            12.0,
            (LEFT, bottom + 34.0),
            Side::Right,
            INK,
        )
    }

    /// What it shows, in a sentence.
    fn describe(&self, reading: &Reading) -> String {
        let told: Vec<f64> = self.told().map(|cell| cell.1).collect();
        let ends = told
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |e, v| {
                (e.0.min(*v), e.1.max(*v))
            });
        if told.is_empty() {
            return format!("{}: no cell has {LEAST} samples.", self.title);
        }
        format!(
            "{}: medians in {} cells of {} and {}, from {} to {}.",
            self.title,
            told.len(),
            self.x.name,
            self.y.name,
            reading.show(ends.0, self.unit),
            reading.show(ends.1, self.unit)
        )
    }

    /// As an SVG file of its own.
    ///
    /// # Errors
    /// The built-in font could not be read, or plotters refused.
    pub fn svg(&self, reading: &Reading) -> Result<String, PlotError> {
        let size = self.size();
        wrapped(
            size,
            NAMESPACE,
            (&self.title, self.describe(reading)),
            |area| self.draw(area, Hand::SVG, reading, size),
        )
    }
    /// As PNG bytes.
    ///
    /// # Errors
    /// As [`CellMap::svg`], and where the encoder refused.
    pub fn png(&self, reading: &Reading) -> Result<Vec<u8>, PlotError> {
        let size = self.size();
        pixels(size, |area| self.draw(area, Hand::PIXELS, reading, size))
    }
}

fn comma(symbol: &str) -> String {
    if symbol.is_empty() {
        String::new()
    } else {
        format!(", {symbol}")
    }
}

/// A figure without its unit, which stands in the title.
fn number(reading: &Reading, value: f64, unit: Unit) -> String {
    let shown = reading.show(value, unit);
    let symbol = reading.convert(value, unit).1;
    let bare = shown.strip_suffix(&symbol).map(str::trim_end);
    bare.filter(|_| !symbol.is_empty())
        .unwrap_or(&shown)
        .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis(name: &str, unit: &str, step: f64) -> Axis {
        Axis {
            name: name.to_string(),
            unit: Unit::standard(unit),
            step,
        }
    }

    #[test]
    fn cells_hold_the_median_of_what_fell_into_them() {
        let samples = (0..40).map(|i| {
            let i = f64::from(i);
            (1000.0 + 10.0 * i, 40.0, i)
        });
        let axes = (axis("rpm", "rpm", 200.0), axis("map", "kPa", 20.0));
        let map = CellMap::of(
            "egt",
            Unit::standard("degC"),
            axes,
            samples.chain([(f64::NAN, 1.0, 5.0), (5000.0, 90.0, 7.0)]),
        );
        // 1000 to 1190 are the samples 0 to 19: their median is 9.5.
        assert_eq!(map.cells.get(&(5, 2)), Some(&(9.5, 20)));
        assert_eq!(map.cells.get(&(6, 2)), Some(&(29.5, 20)));
        // One sample tells nothing of its cell.
        assert_eq!(map.cells.get(&(25, 4)), Some(&(7.0, 1)));
        assert_eq!(map.told().count(), 2);
        let svg = map.svg(&Reading::default()).expect("a picture");
        assert!(
            svg.contains("30") && svg.contains("medians in 2 cells"),
            "{svg}"
        );
        let nothing = CellMap::of(
            "egt",
            Unit::NONE,
            (axis("a", "rpm", 1.0), axis("b", "kPa", 1.0)),
            std::iter::empty(),
        );
        assert!(
            nothing
                .svg(&Reading::default())
                .expect("a picture")
                .contains("no readings")
        );
    }

    #[test]
    fn widths_are_round() {
        assert_eq!(round_width(&[0.0, 6000.0]), 500.0);
        assert_eq!(round_width(&[20.0, 101.0]), 10.0);
        assert_eq!(round_width(&[3.0, 3.0]), 1.0);
        assert_eq!(round_width(&[]), 1.0);
    }
}
