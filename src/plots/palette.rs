//! Colours and marker shapes of a picture.
//!
//! The colours are the qualitative set of Okabe and Ito ("Color Universal Design", 2008), told apart by nearly every
//! eye. Paper and screens without colour lose them all the same, so every series also has a marker of its own.

use plotters::style::RGBColor;

/// Ink of frames, words and limit lines.
pub const INK: RGBColor = RGBColor(0x22, 0x22, 0x22);
/// Ink of what stands back: tick words, small notes.
pub const SOFT_INK: RGBColor = RGBColor(0x55, 0x55, 0x55);
/// The grid, only just there.
pub const GRID: RGBColor = RGBColor(0xE2, 0xE2, 0xE2);
/// Paper.
pub const PAPER: RGBColor = RGBColor(0xFF, 0xFF, 0xFF);
/// Tint of a marked stretch: the yellow of the set, too light for a line on white.
pub const MARK: RGBColor = RGBColor(0xF0, 0xE4, 0x42);
/// Strength of the tint.
pub const MARK_STRENGTH: f64 = 0.30;

/// Line colours in the order of use: those that stand out most from white paper first.
const LINES: [RGBColor; 7] = [
    RGBColor(0x00, 0x72, 0xB2), // blue
    RGBColor(0xD5, 0x5E, 0x00), // vermillion
    RGBColor(0x00, 0x9E, 0x73), // bluish green
    RGBColor(0xCC, 0x79, 0xA7), // reddish purple
    RGBColor(0x00, 0x00, 0x00), // black
    RGBColor(0xE6, 0x9F, 0x00), // orange
    RGBColor(0x56, 0xB4, 0xE9), // sky blue
];

/// The shape set on a series.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// A disc.
    Disc,
    /// A square.
    Square,
    /// A triangle, point up.
    Triangle,
    /// A square on its corner.
    Diamond,
    /// Two crossed strokes.
    Cross,
    /// An upright plus sign.
    Plus,
    /// A triangle, point down.
    Wedge,
}

const SHAPES: [Shape; 7] = [
    Shape::Disc,
    Shape::Square,
    Shape::Triangle,
    Shape::Diamond,
    Shape::Cross,
    Shape::Plus,
    Shape::Wedge,
];

/// How one series looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Line and marker colour.
    pub colour: RGBColor,
    /// Marker.
    pub shape: Shape,
}

/// The look of the series at this place in the list. Beyond seven the colours come round again with another shape, so
/// that 49 series stay apart.
pub fn look(at: usize) -> Look {
    let round = at / LINES.len();
    Look {
        colour: LINES[at % LINES.len()],
        shape: SHAPES[(at + round) % SHAPES.len()],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_series_look_alike() {
        let looks: Vec<Look> = (0..49).map(look).collect();
        for (i, a) in looks.iter().enumerate() {
            assert!(looks[i + 1..].iter().all(|b| a != b), "series {i}");
        }
    }
}
