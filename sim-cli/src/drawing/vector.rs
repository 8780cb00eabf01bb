//! Drawings of machines: shapes as SVG, whose parts have names and move by transforms.

use super::canvas::{Anchor, Stroke, Type};
use super::fonts::{FAMILY, lines};
use super::picture::{Drawing, escaped};
use super::theme::{Colour, HATCH, INK, WHITE, hex};
use std::fmt::Write;

/// A place (px from the top left).
pub type Place = (f64, f64);

/// What fills a shape.
#[derive(Clone, Copy, PartialEq)]
pub enum Fill {
    /// Nothing.
    None,
    /// A colour.
    Plain(Colour),
    /// Lines that rise to the right: a part that is cut.
    Cut,
    /// Lines that fall to the right: the part beside it.
    CutToo,
}

/// A drawing in the making.
#[derive(Default)]
pub struct Vector {
    body: String,
    open: usize,
}

/// How far below a text's middle its baseline stands, over its size.
const BASELINE: f64 = 0.36;

impl Vector {
    /// Nothing drawn yet.
    pub fn new() -> Vector {
        Vector::default()
    }

    /// Begins a group with attributes; `close` ends it.
    pub fn open(&mut self, attributes: &str) {
        let _ = writeln!(self.body, "<g {attributes}>");
        self.open += 1;
    }

    /// Ends the group begun last.
    pub fn close(&mut self) {
        if self.open > 0 {
            self.open -= 1;
            self.body += "</g>\n";
        }
    }

    fn shape(&mut self, element: &str, fill: Fill, stroke: Option<Stroke>) {
        let fill = match fill {
            Fill::None => "none".into(),
            Fill::Plain(colour) => hex(colour),
            Fill::Cut => "url(#cut)".into(),
            Fill::CutToo => "url(#cut-too)".into(),
        };
        let _ = write!(self.body, "<{element} fill=\"{fill}\"");
        if let Some(Stroke { colour, width, dash }) = stroke {
            let _ = write!(self.body, " stroke=\"{}\" stroke-width=\"{width}\"", hex(colour));
            if let Some((dash, gap)) = dash {
                let _ = write!(self.body, " stroke-dasharray=\"{dash} {gap}\"");
            }
        }
        self.body += "/>\n";
    }

    /// A closed shape through corners.
    pub fn polygon(&mut self, corners: &[Place], fill: Fill, stroke: Option<Stroke>) {
        let points: Vec<String> = corners.iter().map(|(x, y)| format!("{x:.3},{y:.3}")).collect();
        self.shape(&format!("polygon points=\"{}\"", points.join(" ")), fill, stroke);
    }

    /// A rectangle between two corners.
    pub fn rectangle(&mut self, from: Place, to: Place, fill: Fill, stroke: Option<Stroke>) {
        let (left, right) = (from.0.min(to.0), from.0.max(to.0));
        let (top, bottom) = (from.1.min(to.1), from.1.max(to.1));
        self.polygon(&[(left, top), (right, top), (right, bottom), (left, bottom)], fill, stroke);
    }

    /// A circle, with attributes of its own.
    pub fn circle(&mut self, (x, y): Place, r: f64, fill: Fill, stroke: Option<Stroke>, own: &str) {
        self.shape(&format!("circle{own} cx=\"{x:.3}\" cy=\"{y:.3}\" r=\"{r:.3}\""), fill, stroke);
    }

    /// A path as SVG writes it.
    pub fn path(&mut self, path: &str, fill: Fill, stroke: Stroke) {
        self.shape(&format!("path d=\"{path}\""), fill, Some(stroke));
    }

    /// A clip that groups name by `clip-path`: a rectangle between two corners.
    pub fn clip(&mut self, id: &str, (left, top): Place, (right, bottom): Place) {
        let (wide, high) = (right - left, bottom - top);
        let _ = writeln!(
            self.body,
            "<clipPath id=\"{id}\"><rect x=\"{left:.2}\" y=\"{top:.2}\" width=\"{wide:.2}\" height=\"{high:.2}\"/></clipPath>"
        );
    }

    /// A line through places.
    pub fn line(&mut self, places: &[Place], stroke: Stroke) {
        self.path(&through(places), Fill::None, stroke);
    }

    /// A straight line with a name, to be measured.
    pub fn edge(&mut self, id: &str, from: Place, to: Place, stroke: Stroke) {
        let ((x1, y1), (x2, y2)) = (from, to);
        let element =
            format!("line id=\"{id}\" x1=\"{x1:.4}\" y1=\"{y1:.4}\" x2=\"{x2:.4}\" y2=\"{y2:.4}\"");
        self.shape(&element, Fill::None, Some(stroke));
    }

    /// A line with a filled head at its end.
    pub fn arrow(&mut self, places: &[Place], stroke: Stroke, head: f64) {
        self.headed(places, stroke, head, through);
    }

    /// The same, smooth through its places.
    pub fn flow(&mut self, places: &[Place], stroke: Stroke, head: f64) {
        self.headed(places, stroke, head, smooth);
    }

    fn headed(
        &mut self,
        places: &[Place],
        stroke: Stroke,
        head: f64,
        path: fn(&[Place]) -> String,
    ) {
        let [.., from, tip] = places else { return };
        let (x, y, length) = direction(*from, *tip);
        if length <= 0.0 {
            return;
        }
        let before = |share: f64| (tip.0 - x * share * head, tip.1 - y * share * head);
        let mut shaft = places.to_vec();
        if let Some(last) = shaft.last_mut() {
            *last = before(0.8);
        }
        self.path(&path(&shaft), Fill::None, stroke);
        let (foot, half) = (before(1.0), 0.42 * head);
        let corners =
            [*tip, (foot.0 - y * half, foot.1 + x * half), (foot.0 + y * half, foot.1 - x * half)];
        self.polygon(&corners, Fill::Plain(stroke.colour), None);
    }

    /// A dimension between two places, a head at either end; from outside where it is short.
    pub fn dimension(&mut self, from: Place, to: Place) {
        let (x, y, length) = direction(from, to);
        let (head, stroke) = (7.0, super::canvas::thin(INK));
        if length > 3.0 * head {
            let middle = (0.5 * (from.0 + to.0), 0.5 * (from.1 + to.1));
            self.arrow(&[middle, from], stroke, head);
            self.arrow(&[middle, to], stroke, head);
        } else {
            let out = 2.2 * head;
            self.arrow(&[(from.0 - x * out, from.1 - y * out), from], stroke, head);
            self.arrow(&[(to.0 + x * out, to.1 + y * out), to], stroke, head);
        }
    }

    /// A thin line from words to a dot on a part.
    pub fn leader(&mut self, places: &[Place], colour: Colour) {
        let path = format!("path class=\"leader\" d=\"{}\"", through(places));
        self.shape(&path, Fill::None, Some(super::canvas::thin(colour)));
        if let Some(end) = places.last() {
            self.circle(*end, 2.4, Fill::Plain(colour), None, "");
        }
    }

    /// A text whose middle stands at a height.
    pub fn text(&mut self, words: &str, (x, y): Place, face: Type) {
        let anchor = match face.anchor {
            Anchor::Left => "start",
            Anchor::Center => "middle",
            Anchor::Right => "end",
        };
        let weight = if face.bold { " font-weight=\"bold\"" } else { "" };
        let _ = writeln!(
            self.body,
            "<text x=\"{x:.2}\" y=\"{:.2}\" font-size=\"{}\" text-anchor=\"{anchor}\" fill=\"{}\"{weight}>{}</text>",
            y + BASELINE * face.size,
            face.size,
            hex(face.colour),
            escaped(words)
        );
    }

    /// A text broken to a width, downwards from a first line; where the next would stand.
    pub fn paragraph(&mut self, words: &str, (x, y): Place, wide: f64, face: Type) -> f64 {
        let mut y = y;
        for line in broken(words, wide, face) {
            self.text(&line, (x, y), face);
            y += LINE * face.size;
        }
        y
    }

    /// The drawing: its size (px), and what its outermost element tells.
    pub fn finish(mut self, (width, height): (f64, f64), marks: &str) -> Drawing {
        while self.open > 0 {
            self.close();
        }
        let hatch = |id: &str, angle: f64| {
            format!(
                "<pattern id=\"{id}\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate({angle})\"><rect width=\"7\" height=\"7\" fill=\"{}\"/><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" stroke=\"{}\" stroke-width=\"1.6\"/></pattern>",
                hex(WHITE),
                hex(HATCH)
            )
        };
        let body = format!(
            "\n<defs>{}{}</defs>\n<g font-family=\"{FAMILY}\" stroke-linejoin=\"round\">\n<rect width=\"{width}\" height=\"{height}\" fill=\"{}\"/>\n{}</g>\n</svg>\n",
            hatch("cut", 45.0),
            hatch("cut-too", -45.0),
            hex(WHITE),
            self.body
        );
        Drawing {
            body,
            view: [0.0, 0.0, width, height],
            size: (width, height),
            marks: marks.into(),
        }
    }
}

/// Distance of lines over the size of their text.
pub const LINE: f64 = 1.3;

/// A text broken to a width (px).
pub fn broken(words: &str, wide: f64, face: Type) -> Vec<String> {
    lines(words, face.size, face.bold, wide)
}

/// A path through places.
fn through(places: &[Place]) -> String {
    let mut path = String::new();
    for (i, (x, y)) in places.iter().enumerate() {
        let _ = write!(path, "{}{x:.2} {y:.2}", if i == 0 { 'M' } else { 'L' });
    }
    path
}

/// A smooth path through places: each tangent is that from the place before to the one after.
fn smooth(places: &[Place]) -> String {
    let Some((x, y)) = places.first() else { return String::new() };
    let mut path = format!("M{x:.2} {y:.2}");
    let at = |i: usize| places[i.min(places.len() - 1)];
    for i in 1..places.len() {
        let (before, from, upto, after) = (at(i.saturating_sub(2)), at(i - 1), at(i), at(i + 1));
        let control = |of: Place, (a, b): (Place, Place), sign: f64| {
            (of.0 + sign * (b.0 - a.0) / 6.0, of.1 + sign * (b.1 - a.1) / 6.0)
        };
        let (one, two) = (control(from, (before, upto), 1.0), control(upto, (from, after), -1.0));
        let _ = write!(
            path,
            "C{:.2} {:.2} {:.2} {:.2} {:.2} {:.2}",
            one.0, one.1, two.0, two.1, upto.0, upto.1
        );
    }
    path
}

/// Unit vector and distance from one place to another.
fn direction(from: Place, to: Place) -> (f64, f64, f64) {
    let (x, y) = (to.0 - from.0, to.1 - from.1);
    let length = x.hypot(y);
    if length > 0.0 { (x / length, y / length, length) } else { (0.0, 0.0, 0.0) }
}
