//! The drawing surface: the only file that names plotters.
//!
//! plotters draws on whole pixels, so everything is drawn [`SCALE`] times too large and
//! scaled back by the picture's `viewBox`.

use super::fonts::FAMILY;
use super::picture::{BLANK_TITLE, Drawing};
use super::theme::{Colour, INK, PAGE_EDGE, TITLE, Theme, WHITE};
use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{
    DashedPathElement, Drawable, PathElement, PointCollection, Rectangle, Text,
};
use plotters::style::text_anchor::{Pos, VPos};
use plotters::style::{Color, FontStyle, RGBColor, ShapeStyle, TextStyle};
use std::cell::Cell;

/// How many units of the drawing make one px.
pub const SCALE: f64 = 10.0;
/// plotters divides the size asked for by this.
const FONT_SHRINK: f64 = 1.24;

/// Which part of a text stands at its point: its left end, its centre or its right end.
pub use plotters::style::text_anchor::HPos as Anchor;

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

/// Normal text that starts at its point.
pub const fn plain(size: f64, colour: Colour) -> Type {
    Type { size, colour, bold: false, anchor: Anchor::Left }
}

/// Bold text that starts at its point.
pub const fn bold(size: f64, colour: Colour) -> Type {
    Type { bold: true, ..plain(size, colour) }
}

impl Type {
    /// The same on another side of its point.
    pub const fn at(self, anchor: Anchor) -> Type {
        Type { anchor, ..self }
    }
}

/// A solid line of a width (px).
pub const fn solid(colour: Colour, width: f64) -> Stroke {
    Stroke { colour, width, dash: None }
}

/// A thin solid line.
pub const fn thin(colour: Colour) -> Stroke {
    solid(colour, 1.0)
}

/// A dashed line: its width, dash and gap (px).
pub const fn dashed(colour: Colour, width: f64, dash: f64, gap: f64) -> Stroke {
    Stroke { colour, width, dash: Some((dash, gap)) }
}

/// Draws a picture of a size (px) in the theme in force: all of it, and axes and frames alone,
/// to draw on by hand.
pub fn svg(width: f64, height: f64, draw: impl FnOnce(&Canvas<'_>)) -> [Drawing; 2] {
    let theme = Theme::now();
    let (mut shown, mut blank) = (String::new(), String::new());
    let blank_top;
    {
        let size = ((width * SCALE) as u32, (height * SCALE) as u32);
        let area = |text| SVGBackend::with_string(text, size).into_drawing_area();
        let (shown, blank) = (area(&mut shown), area(&mut blank));
        // Elsewhere the chart's own ground covers all.
        if theme != Theme::Print {
            let _ = shown.fill(&rgb(WHITE));
        }
        let _ = blank.fill(&rgb(WHITE));
        let highest = Cell::new(f64::INFINITY);
        let canvas = Canvas { shown, blank, part: Cell::new(DrawingPart::Shown), highest, theme };
        draw(&canvas);
        // Its title stands right over what is highest on it.
        let over = (canvas.highest.get() - OVER_BLANK).max(0.0);
        let place = (PAGE_EDGE, over + 22.0);
        // A slide stays whole.
        blank_top = theme.of(over, 0.0);
        canvas.on_blank(|canvas| canvas.text(BLANK_TITLE, place, bold(TITLE, INK)));
    }
    [(shown, 0.0), (blank, blank_top)].map(|(svg, top)| {
        // Without the frame that the backend gave it.
        let body = svg.find('>').map_or("", |end| &svg[end + 1..]).to_string();
        let (high, zoom) = (height - top, theme.zoom());
        let view = [0.0, top * SCALE, width * SCALE, high * SCALE];
        let size = (width * zoom, high * zoom);
        Drawing { body, view, size, marks: String::new() }
    })
}

/// What is being drawn.
#[derive(Clone, Copy, PartialEq, Eq)]
enum DrawingPart {
    /// What the chart shows.
    Shown,
    /// Axes and frame: they stand on the blank chart, too.
    Axes,
    /// What stands on the blank chart alone.
    Blank,
}

/// A surface in px from the top left.
pub struct Canvas<'a> {
    shown: DrawingArea<SVGBackend<'a>, Shift>,
    blank: DrawingArea<SVGBackend<'a>, Shift>,
    part: Cell<DrawingPart>,
    /// The highest that stands on the blank chart (px).
    highest: Cell<f64>,
    theme: Theme,
}

/// Height of that and of the space under it (px).
const OVER_BLANK: f64 = 50.0;

fn rgb((r, g, b): Colour) -> RGBColor {
    RGBColor(r, g, b)
}

// Drawing into a string cannot fail, so errors of the backend are left where they are.
impl<'a> Canvas<'a> {
    /// Draws axes and frame.
    pub fn axes(&self, draw: impl FnOnce(&Self)) {
        self.during(DrawingPart::Axes, draw);
    }

    /// Draws what stands on the blank chart alone.
    pub fn on_blank(&self, draw: impl FnOnce(&Self)) {
        self.during(DrawingPart::Blank, draw);
    }

    fn during(&self, part: DrawingPart, draw: impl FnOnce(&Self)) {
        let before = self.part.replace(part);
        draw(self);
        self.part.set(before);
    }

    fn put<E>(&self, element: &E)
    where
        for<'b> &'b E: PointCollection<'b, (i32, i32)>,
        E: Drawable<SVGBackend<'a>>,
    {
        let part = self.part.get();
        if part != DrawingPart::Blank {
            let _ = self.shown.draw(element);
        }
        if part != DrawingPart::Shown {
            let _ = self.blank.draw(element);
        }
    }

    fn at(&self, (x, y): (f64, f64)) -> (i32, i32) {
        if self.part.get() != DrawingPart::Shown {
            self.highest.set(self.highest.get().min(y));
        }
        ((x * SCALE).round() as i32, (y * SCALE).round() as i32)
    }

    /// A filled rectangle between two corners.
    pub fn fill(&self, from: (f64, f64), to: (f64, f64), colour: Colour) {
        self.put(&Rectangle::new([self.at(from), self.at(to)], rgb(colour).filled()));
    }

    /// Thin lines that rise to the right within a rectangle between two corners; those of
    /// rectangles side by side join.
    pub fn hatch(&self, (left, top): (f64, f64), (right, bottom): (f64, f64), colour: Colour) {
        const APART: f64 = 8.0;
        let mut sum = ((left + top) / APART).ceil() * APART;
        while sum < right + bottom {
            let low = left.max(sum - bottom);
            let high = right.min(sum - top);
            self.line(&[(low, sum - low), (high, sum - high)], solid(colour, 0.7));
            sum += APART;
        }
    }

    /// A line through points.
    pub fn line(&self, points: &[(f64, f64)], stroke: Stroke) {
        let style = ShapeStyle {
            color: rgb(stroke.colour).to_rgba(),
            filled: false,
            stroke_width: (stroke.width * SCALE * self.theme.thickness()) as u32,
        };
        let points: Vec<_> = points.iter().map(|point| self.at(*point)).collect();
        match stroke.dash {
            None => self.put(&PathElement::new(points, style)),
            Some((dash, gap)) => self.put(&DashedPathElement::new(
                points,
                (dash * SCALE) as u32,
                (gap * SCALE) as u32,
                style,
            )),
        }
    }

    /// The outline of a rectangle between two corners.
    pub fn outline(&self, (left, top): (f64, f64), (right, bottom): (f64, f64), stroke: Stroke) {
        let around = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
        self.line(&around, stroke);
    }

    /// A text whose baseline's middle stands at a height.
    pub fn text(&self, text: &str, place: (f64, f64), face: Type) {
        let weight = if face.bold { FontStyle::Bold } else { FontStyle::Normal };
        let colour = rgb(face.colour);
        let size = face.size * SCALE;
        let style = TextStyle::from((FAMILY, size * FONT_SHRINK, weight))
            .color(&colour)
            .pos(Pos::new(face.anchor, VPos::Center));
        self.put(&Text::new(text.to_string(), self.at(place), style));
    }
}
