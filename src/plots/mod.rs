//! Pictures: a [`Trace`] in, SVG text or PNG bytes out. The only place that knows plotters.
//!
//! One drawing serves both. Everything in it can be read without colour: markers and names at the line ends tell the
//! series apart, limits are dashed and named, and a bar stands over each shaded stretch.

mod canvas;
mod cells;
mod cloud;
mod draw;
mod frame;
mod grid;
mod labels;
mod levels;
mod palette;
mod plan;
mod ribbon;
mod ticks;
mod words;

use plotters::coord::Shift;
use plotters::prelude::{BitMapBackend, DrawingArea, IntoDrawingArea, SVGBackend};

pub use cells::{Axis, CellMap, round_width};
pub use cloud::cloud_of;
pub use draw::{Field, Manner};
pub use grid::Grid;
pub use ribbon::{Course, Ribbon};
pub use ticks::{CLOCK_FROM_S, minutes, minutes_to};
pub use words::describe;

use crate::findings::Trace;
use crate::units::Reading;
use canvas::{DENSITY, Hand, drawn, ready};

/// Why a picture could not be drawn.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlotError {
    /// The font that is built in could not be read: the binary is damaged.
    #[error("the picture's built-in font could not be read: install plugread again")]
    Font,
    /// The drawing library refused.
    #[error("the picture could not be drawn: {why}")]
    Draw {
        /// In its words.
        why: String,
    },
}

/// Width and height of a picture, as read on the page, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    width: u32,
    height: u32,
}

impl Size {
    /// For a page on a desk or on paper.
    pub const PAGE: Size = Size {
        width: 720,
        height: 330,
    };
    /// For a phone held upright.
    pub const PHONE: Size = Size {
        width: 350,
        height: 320,
    };
    /// A size of one's own, kept between 240 by 180 and 4000 by 4000.
    pub fn new(width: u32, height: u32) -> Size {
        Size {
            width: width.clamp(240, 4000),
            height: height.clamp(180, 4000),
        }
    }
    /// Page pixels across.
    pub fn width(self) -> u32 {
        self.width
    }
    fn drawn(self) -> (u32, u32) {
        let dense = |v: u32| (f64::from(v) * DENSITY) as u32;
        (dense(self.width), dense(self.height))
    }
}

/// What makes an `<svg>` element a file of its own.
const NAMESPACE: &str = " xmlns=\"http://www.w3.org/2000/svg\"";

/// A picture as an SVG file of its own, with real text. The same trace gives the same bytes.
///
/// # Errors
/// The built-in font could not be read, or plotters refused.
pub fn svg(trace: &Trace, reading: &Reading, size: Size) -> Result<String, PlotError> {
    let words = (trace.title.as_str(), describe(trace, reading));
    wrapped(size, NAMESPACE, words, |area| {
        draw::draw(
            area,
            Hand::SVG,
            trace,
            reading,
            size,
            &plan::Company::default(),
        )
    })
}

/// A picture as an `<svg>` element to stand inside an HTML page, where no namespace is declared, and where its readings
/// stand on it.
///
/// # Errors
/// As [`svg`].
pub fn svg_in_page(
    trace: &Trace,
    reading: &Reading,
    size: Size,
    manner: Manner<'_>,
) -> Result<(String, Field), PlotError> {
    let words = (trace.title.as_str(), describe(trace, reading));
    let mut field = None;
    let svg = wrapped(size, "", words, |area| {
        let drawn = draw::draw_so(
            area,
            Hand::SVG,
            trace,
            reading,
            size,
            &plan::Company::default(),
            manner,
        )?;
        field = Some(drawn);
        Ok(())
    })?;
    let field = field.ok_or(PlotError::Font)?;
    Ok((light(&svg), field))
}

/// A line of many points as a path of steps, which takes half the letters. Other lines as they are.
fn shorter(line: &str) -> std::borrow::Cow<'_, str> {
    let (Some(head), Some((before, rest))) = (
        line.strip_prefix("<polyline"),
        line.split_once(" points=\""),
    ) else {
        return line.into();
    };
    let head = &head[..before.len() - "<polyline".len()];
    let Some((points, _)) = rest.split_once('"') else {
        return line.into();
    };
    let number = |v: &str| v.parse::<i64>().ok();
    let pair = |p: &str| {
        p.split_once(',')
            .and_then(|(x, y)| Some((number(x)?, number(y)?)))
    };
    let Some(points) = points
        .split_whitespace()
        .map(pair)
        .collect::<Option<Vec<(i64, i64)>>>()
    else {
        return line.into();
    };
    let Some(first) = points.first() else {
        return line.into();
    };
    let mut path = format!("m{},{}", first.0, first.1);
    for pair in points.windows(2) {
        let (dx, dy) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        if (dx, dy) == (0, 0) {
            continue;
        }
        // A minus sign parts two numbers as well as a comma or a blank does.
        let gap = if dx < 0 { "" } else { " " };
        let comma = if dy < 0 { "" } else { "," };
        path.push_str(&format!("{gap}{dx}{comma}{dy}"));
    }
    format!("<path{head} d=\"{path}\"/>").into()
}

/// The same drawing for a page, in fewer bytes: without what is the default anyway, what the page's styles say once for
/// all, and what stands in words under the picture. Its title is its name, but none that hovers over what is pointed at.
fn light(svg: &str) -> String {
    let mut out = String::with_capacity(svg.len());
    let title = svg
        .split_once("<title>")
        .and_then(|s| s.1.split_once("</title>"));
    let title = title.map_or("", |t| t.0).replace('"', "&quot;");
    for line in svg.lines() {
        if line.starts_with("<title>") || line.starts_with("<desc>") {
            continue;
        }
        if line.starts_with("<svg") {
            let name = format!(" role=\"img\" aria-label=\"{title}\"");
            out.push_str(&line.replacen(" role=\"img\"", &name, 1));
            out.push('\n');
            continue;
        }
        let line = shorter(line);
        let line = line
            .replace(" opacity=\"1\"", "")
            .replace(" font-family=\"sans-serif\"", "")
            .replace(" stroke-width=\"1\"", "");
        out.push_str(&line);
        // Words stand on a line of their own, between their tags: there the line breaks go.
        if line.starts_with("<text") || !(line.starts_with('<') || line.ends_with('>')) {
            continue;
        }
        out.push('\n');
    }
    out
}

/// Draws an `<svg>` element with its head; `words` are its title and what it shows.
fn wrapped(
    size: Size,
    namespace: &str,
    words: (&str, String),
    draw: impl FnOnce(&DrawingArea<SVGBackend<'_>, Shift>) -> Result<(), PlotError>,
) -> Result<String, PlotError> {
    ready()?;
    let mut drawn_svg = String::new();
    let (dense_width, dense_height) = size.drawn();
    {
        let area = SVGBackend::with_string(&mut drawn_svg, size.drawn()).into_drawing_area();
        draw(&area)?;
        area.present().map_err(drawn)?;
    }
    // The backend's own head fixes the size on the page and says nothing to a screen reader.
    let inside = drawn_svg.split_once('\n').map_or("", |head| head.1);
    Ok(format!(
        "<svg{namespace} width=\"{}\" height=\"{}\" viewBox=\"0 0 {dense_width} {dense_height}\" role=\"img\" \
         stroke-linejoin=\"round\">\n\
         <title>{}</title>\n<desc>{}</desc>\n{inside}",
        size.width,
        size.height,
        escaped(&frame::plain(words.0)),
        escaped(&words.1),
    ))
}

/// A picture as PNG bytes, at twice the page's pixels. Needs no font on the machine. The same trace gives the same
/// bytes.
///
/// # Errors
/// The built-in font could not be read, or plotters or the encoder refused.
pub fn png(trace: &Trace, reading: &Reading, size: Size) -> Result<Vec<u8>, PlotError> {
    pixels(size, |area| {
        draw::draw(
            area,
            Hand::PIXELS,
            trace,
            reading,
            size,
            &plan::Company::default(),
        )
    })
}

/// Draws PNG bytes.
fn pixels(
    size: Size,
    draw: impl FnOnce(&DrawingArea<BitMapBackend<'_>, Shift>) -> Result<(), PlotError>,
) -> Result<Vec<u8>, PlotError> {
    ready()?;
    let (width, height) = size.drawn();
    let mut pixels = vec![0; width as usize * height as usize * 3];
    {
        let area = BitMapBackend::with_buffer(&mut pixels, (width, height)).into_drawing_area();
        draw(&area)?;
        area.present().map_err(drawn)?;
    }
    let refused = |e: png::EncodingError| PlotError::Draw { why: e.to_string() };
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    let mut writer = encoder.write_header().map_err(refused)?;
    writer.write_image_data(&pixels).map_err(refused)?;
    writer.finish().map_err(refused)?;
    Ok(bytes)
}

fn escaped(words: &str) -> String {
    words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

#[cfg(test)]
mod tests;
