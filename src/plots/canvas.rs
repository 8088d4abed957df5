//! Paper to draw on, measured in page pixels: the one place that hands strokes and words to plotters.

use std::sync::OnceLock;

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{FontStyle, register_font};

use super::PlotError;
use super::palette::{INK, Shape};

/// Drawn pixels for one page pixel: lines stay smooth on a sharp screen and in print.
pub const DENSITY: f64 = 2.0;

/// The family named in an SVG; under the same name plotters finds the built-in font that fills a PNG.
const FAMILY: &str = "sans-serif";

/// plotters sizes a font by its line height; words are sized by the em here.
const LINE_PER_EM: f64 = 1.24;

/// Furthest drawn pixel: beyond it a stroke is off the paper anyway, and pixel arithmetic stays exact.
const FAR: f64 = 1e6;

/// Hands the built-in font to plotters, once. A machine without any fonts draws the same picture.
pub fn ready() -> Result<(), PlotError> {
    static DONE: OnceLock<bool> = OnceLock::new();
    let done = DONE
        .get_or_init(|| register_font(FAMILY, FontStyle::Normal, dejavu::sans::regular()).is_ok());
    if *done { Ok(()) } else { Err(PlotError::Font) }
}

/// Where words stand to their point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Side {
    /// Words begin there.
    Right,
    /// Words end there.
    Left,
    /// Words have it in their middle.
    Middle,
}

/// What differs between the backends: how their strokes and words come out, never what is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Hand {
    /// False where the backend sharpens the corners of a thick line into spikes, which would look like readings that
    /// nobody logged: such a line is drawn stroke by stroke.
    corners: bool,
    /// How far words must come down to stand level with their point, in letter heights.
    drop: f64,
}

impl Hand {
    /// For the SVG backend. Its head asks for round corners.
    pub const SVG: Hand = Hand {
        corners: true,
        drop: 0.07,
    };
    /// For the pixel backend.
    pub const PIXELS: Hand = Hand {
        corners: false,
        drop: 0.21,
    };
}

/// A drawing area in page pixels.
pub struct Canvas<'a, B: DrawingBackend> {
    area: &'a DrawingArea<B, Shift>,
    hand: Hand,
}

impl<'a, B: DrawingBackend> Canvas<'a, B> {
    /// Draws on this area.
    pub fn new(area: &'a DrawingArea<B, Shift>, hand: Hand) -> Self {
        Canvas { area, hand }
    }

    /// Width of words in page pixels, set in the built-in font, which runs wider than most.
    pub fn width(&self, words: &str, em: f64) -> Result<f64, PlotError> {
        let font = (FAMILY, em * LINE_PER_EM * DENSITY).into_font();
        let ((from, _), (to, _)) = font.layout_box(words).map_err(|_| PlotError::Font)?;
        Ok(f64::from(to - from) / DENSITY)
    }

    /// The words, cut with `...` where they are wider than `room`.
    pub fn fitted(&self, words: &str, em: f64, room: f64) -> Result<String, PlotError> {
        if self.width(words, em)? <= room {
            return Ok(words.to_string());
        }
        let mut kept: Vec<char> = words.chars().collect();
        while !kept.is_empty() {
            kept.pop();
            let shorter = kept.iter().collect::<String>().trim_end().to_string() + "...";
            if self.width(&shorter, em)? <= room {
                return Ok(shorter);
            }
        }
        Ok(String::new())
    }

    /// Words on one line, centred on the height of `at`.
    pub fn words(
        &self,
        words: &str,
        em: f64,
        at: (f64, f64),
        side: Side,
        ink: RGBColor,
    ) -> Result<(), PlotError> {
        let across = match side {
            Side::Right => HPos::Left,
            Side::Left => HPos::Right,
            Side::Middle => HPos::Center,
        };
        let style = (FAMILY, em * LINE_PER_EM * DENSITY)
            .into_font()
            .color(&ink)
            .pos(Pos::new(across, VPos::Center));
        let level = pixel((at.0, at.1 + em * self.hand.drop));
        self.area.draw_text(words, &style, level).map_err(drawn)
    }

    /// A line through points.
    pub fn path(&self, points: &[(f64, f64)], ink: RGBColor, wide: f64) -> Result<(), PlotError> {
        let path: Vec<(i32, i32)> = points.iter().map(|p| pixel(*p)).collect();
        let pixels = (wide * DENSITY).round().max(1.0) as u32;
        let stroke = ink.stroke_width(pixels);
        if self.hand.corners || pixels == 1 || path.len() == 2 {
            return self
                .area
                .draw(&PathElement::new(path, stroke))
                .map_err(drawn);
        }
        for pair in path.windows(2) {
            self.area
                .draw(&PathElement::new(pair, stroke))
                .map_err(drawn)?;
            let knot = Circle::new(pair[1], (pixels / 2) as i32, ink.filled());
            self.area.draw(&knot).map_err(drawn)?;
        }
        Ok(())
    }

    /// A level dashed line.
    pub fn dashes(&self, from: (f64, f64), to_x: f64, ink: RGBColor) -> Result<(), PlotError> {
        let (mut x, y) = from;
        while x < to_x {
            self.path(&[(x, y), ((x + 7.0).min(to_x), y)], ink, 1.5)?;
            x += 11.0;
        }
        Ok(())
    }

    /// A filled box; `strength` from 0 to 1.
    pub fn fill(
        &self,
        from: (f64, f64),
        to: (f64, f64),
        ink: RGBColor,
        strength: f64,
    ) -> Result<(), PlotError> {
        let shape = Rectangle::new([pixel(from), pixel(to)], ink.mix(strength).filled());
        self.area.draw(&shape).map_err(drawn)
    }

    /// A marker of about `size` page pixels from middle to edge.
    pub fn marker(
        &self,
        shape: Shape,
        at: (f64, f64),
        size: f64,
        ink: RGBColor,
    ) -> Result<(), PlotError> {
        let (x, y) = at;
        let polygon = |corners: &[(f64, f64)]| {
            let points: Vec<(i32, i32)> = corners
                .iter()
                .map(|(dx, dy)| pixel((x + dx * size, y + dy * size)))
                .collect();
            self.area
                .draw(&Polygon::new(points, ink.filled()))
                .map_err(drawn)
        };
        match shape {
            Shape::Disc => {
                let disc = Circle::new(pixel(at), (size * DENSITY).round() as i32, ink.filled());
                self.area.draw(&disc).map_err(drawn)
            }
            Shape::Square => polygon(&[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)]),
            Shape::Triangle => polygon(&[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)]),
            Shape::Wedge => polygon(&[(0.0, 1.2), (1.1, -0.8), (-1.1, -0.8)]),
            Shape::Diamond => polygon(&[(0.0, -1.3), (1.3, 0.0), (0.0, 1.3), (-1.3, 0.0)]),
            Shape::Cross => {
                self.path(&[(x - size, y - size), (x + size, y + size)], ink, 1.5)?;
                self.path(&[(x - size, y + size), (x + size, y - size)], ink, 1.5)
            }
            Shape::Plus => {
                let reach = size * 1.3;
                self.path(&[(x - reach, y), (x + reach, y)], ink, 1.5)?;
                self.path(&[(x, y - reach), (x, y + reach)], ink, 1.5)
            }
        }
    }

    /// Words on a patch of paper, so that a line behind does not strike them out.
    pub fn patch(
        &self,
        words: &str,
        em: f64,
        at: (f64, f64),
        paper: RGBColor,
    ) -> Result<(), PlotError> {
        let wide = self.width(words, em)?;
        let (x, y) = at;
        self.fill(
            (x - 2.0, y - em * 0.62),
            (x + wide + 2.0, y + em * 0.62),
            paper,
            0.7,
        )?;
        self.words(words, em, at, Side::Right, INK)
    }
}

fn pixel((x, y): (f64, f64)) -> (i32, i32) {
    let round = |v: f64| (v * DENSITY).round().clamp(-FAR, FAR) as i32;
    (round(x), round(y))
}

/// Wraps what a backend says.
pub fn drawn<E: std::error::Error + Send + Sync>(error: DrawingAreaErrorKind<E>) -> PlotError {
    PlotError::Draw {
        why: error.to_string(),
    }
}
