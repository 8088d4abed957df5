//! Limit lines and where their names go.

use plotters::prelude::DrawingBackend;

use super::PlotError;
use super::canvas::Canvas;
use super::draw::Field;
use super::frame::{Frame, Strand};
use super::labels::{Patch, Place, freest};
use super::palette::{INK, PAPER};
use super::plan::{LEADING, SMALL_EM};

/// Half the height of a name.
const HALF: f64 = LEADING / 2.0;

/// Draws limit lines with their names; one too far off is written at the edge that it lies beyond.
pub fn levels<B: DrawingBackend>(
    canvas: &Canvas<'_, B>,
    f: &Frame,
    field: Field,
) -> Result<(), PlotError> {
    let points = f.strands.iter().flat_map(Strand::points);
    let readings: Vec<(f64, f64)> = points.map(|p| field.at(p)).collect();
    let off = |at: f64| at > field.y.1 || at < field.y.0;
    let mut taken: Vec<Patch> = Vec::new();
    for level in f.levels.iter().filter(|l| !off(l.at)) {
        let y = field.y(level.at);
        canvas.dashes((field.left, y), field.right, INK)?;
        taken.push((field.left, y - 1.0, field.right, y + 1.0));
    }
    for level in &f.levels {
        let y = field.y(level.at.clamp(field.y.0, field.y.1));
        let words = if level.at > field.y.1 {
            format!("{} (off the top)", level.label)
        } else if level.at < field.y.0 {
            format!("{} (off the bottom)", level.label)
        } else {
            level.label.clone()
        };
        let words = canvas.fitted(&words, SMALL_EM, field.right - field.left - 12.0)?;
        let wide = canvas.width(&words, SMALL_EM)? + 6.0;
        if let Some(patch) = freest(&places(field, y, wide), &taken, &readings) {
            taken.push(patch);
            let at = (patch.0 + 3.0, f64::midpoint(patch.1, patch.3));
            canvas.patch(&words, SMALL_EM, at, PAPER)?;
        }
    }
    Ok(())
}

/// Above and below the line, at the left, the right and the middle; further off only for want of room.
fn places(field: Field, y: f64, wide: f64) -> Vec<Place> {
    let middle = f64::midpoint(field.left, field.right) - wide / 2.0;
    let mut out = Vec::new();
    for x in [field.left + 6.0, field.right - wide - 4.0, middle] {
        for away in [-1.0, 1.0, -3.0, 3.0, -5.0, 5.0, -7.0, 7.0f64] {
            let y = y + away * (HALF + 1.0);
            let patch = (x, y - HALF + 1.0, x + wide, y + HALF - 1.0);
            if patch.1 >= field.top - 1.0 && patch.3 <= field.bottom + 1.0 {
                out.push(Place {
                    patch,
                    far: away.abs() as u32,
                });
            }
        }
    }
    out
}
