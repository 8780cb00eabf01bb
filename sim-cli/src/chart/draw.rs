//! The drawing surface: the only file that names plotters.
//!
//! plotters draws on whole pixels, so everything is drawn [`SCALE`] times too large and
//! scaled back by the picture's `viewBox`.

use super::theme::Colour;
use crate::fonts::FAMILY;
use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{DashedPathElement, PathElement, Rectangle, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, RGBColor, ShapeStyle, TextStyle};

/// How many units of the drawing make one px.
pub const SCALE: f64 = 10.0;
/// plotters divides the size asked for by this.
const FONT_SHRINK: f64 = 1.24;

/// Which side of a point a text stands on.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// It starts there.
    Start,
    /// It is centred there.
    Middle,
    /// It ends there.
    End,
}

/// How a line is drawn.
#[derive(Clone, Copy)]
pub struct Stroke {
    /// Its colour.
    pub colour: Colour,
    /// Its width (px).
    pub width: f64,
    /// Dash and gap (px); solid if `None`.
    pub dash: Option<(f64, f64)>,
}

/// How a text is set.
#[derive(Clone, Copy)]
pub struct Type {
    /// Size (px).
    pub size: f64,
    /// Colour.
    pub colour: Colour,
    /// Whether bold.
    pub bold: bool,
    /// Which side of its point it stands on.
    pub anchor: Anchor,
}

/// Draws a picture of a size (px) and returns it as SVG.
pub fn svg(width: f64, height: f64, draw: impl FnOnce(&Canvas<'_>)) -> String {
    let mut text = String::new();
    {
        let size = ((width * SCALE) as u32, (height * SCALE) as u32);
        let area = SVGBackend::with_string(&mut text, size).into_drawing_area();
        draw(&Canvas { area });
    }
    text
}

/// A surface in px from the top left.
pub struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
}

fn at((x, y): (f64, f64)) -> (i32, i32) {
    ((x * SCALE).round() as i32, (y * SCALE).round() as i32)
}

fn rgb((r, g, b): Colour) -> RGBColor {
    RGBColor(r, g, b)
}

// Drawing into a string cannot fail, so errors of the backend are left where they are.
impl Canvas<'_> {
    /// A filled rectangle between two corners.
    pub fn fill(&self, from: (f64, f64), to: (f64, f64), colour: Colour) {
        let _ = self.area.draw(&Rectangle::new([at(from), at(to)], rgb(colour).filled()));
    }

    /// A line through points.
    pub fn line(&self, points: &[(f64, f64)], stroke: Stroke) {
        let style = ShapeStyle {
            color: rgb(stroke.colour).to_rgba(),
            filled: false,
            stroke_width: (stroke.width * SCALE) as u32,
        };
        let points: Vec<_> = points.iter().copied().map(at).collect();
        let _ = match stroke.dash {
            None => self.area.draw(&PathElement::new(points, style)),
            Some((dash, gap)) => self.area.draw(&DashedPathElement::new(
                points,
                (dash * SCALE) as u32,
                (gap * SCALE) as u32,
                style,
            )),
        };
    }

    /// A text whose baseline's middle stands at a height.
    pub fn text(&self, text: &str, place: (f64, f64), face: Type) {
        let horizontal = match face.anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let weight = if face.bold { FontStyle::Bold } else { FontStyle::Normal };
        let colour = rgb(face.colour);
        let style = TextStyle::from((FAMILY, face.size * SCALE * FONT_SHRINK, weight))
            .color(&colour)
            .pos(Pos::new(horizontal, VPos::Center));
        let _ = self.area.draw(&Text::new(text.to_string(), at(place), style));
    }
}
