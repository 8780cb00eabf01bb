//! Panels stacked over one axis.

use super::axes::{Axis, Curve, Frame, OVER, SEAM, UNDER, clauses, under};
use super::canvas::{Anchor, Canvas, Stroke, dashed, plain, solid};
use super::fonts::width;
use super::page::{Page, UNDER_FOOTER};
use super::picture::Picture;
use super::theme::{
    CURVE, Colour, EDGE, LEFT, LIMIT, SMALL, SOFT, SPREAD, TARGET, TEXT, right_end,
};

/// Height of a panel in print (px).
pub const PANEL: f64 = 118.0;
/// One panel: a curve over the common axis.
pub struct Panel {
    /// What its axis shows, with unit.
    pub title: String,
    /// Its own axis.
    pub axis: Axis,
    curve: Curve,
    /// Where it swings: place, least and largest.
    swing: Vec<(f64, f64, f64)>,
    limit: Option<(f64, String)>,
    target: Option<((f64, f64), String)>,
}

impl Panel {
    /// A panel with a curve.
    pub fn new(title: &str, axis: Axis, curve: Curve) -> Panel {
        Panel { title: title.into(), axis, curve, swing: Vec::new(), limit: None, target: None }
    }

    /// The same with a dashed line at a value, and its word.
    pub fn limit(self, value: f64, word: String) -> Panel {
        Panel { limit: Some((value, word)), ..self }
    }

    /// The same with a mean in the place of a curve that swings, the swing shaded, and a word
    /// for that.
    pub fn swings(self, mean: Curve, swing: Vec<(f64, f64, f64)>, word: &str) -> Panel {
        let title = format!("{}, {word}", self.title);
        Panel { title, curve: mean, swing, ..self }
    }

    /// The same with the band shaded that its curve lies in: place, least and largest.
    pub fn within(self, curve: Curve, band: Vec<(f64, f64, f64)>) -> Panel {
        Panel { curve, swing: band, ..self }
    }

    /// The same with a band between two values, and its word.
    pub fn target(self, band: (f64, f64), word: String) -> Panel {
        Panel { target: Some((band, word)), ..self }
    }

    /// Whether the title or the word over the panel stands at a place (px).
    pub fn title_covers(&self, x: f64) -> bool {
        x < LEFT + width(self.title(), TEXT, false) + 4.0
            || x > right_end() - self.word_width() - 4.0
    }

    fn word_width(&self) -> f64 {
        self.word().map_or(0.0, |(word, _)| width(word, SMALL, false))
    }

    /// The title, or as many of its clauses as have room beside the word.
    fn title(&self) -> &str {
        clauses(&self.title, right_end() - LEFT - self.word_width() - 16.0)
    }

    /// The word on the right over the panel, and its colour.
    fn word(&self) -> Option<(&str, Colour)> {
        let limit = self.limit.as_ref().map(|(_, word)| (word.as_str(), LIMIT));
        let (word, colour) =
            limit.or(self.target.as_ref().map(|(_, word)| (word.as_str(), SOFT)))?;
        let first = self.title.split([',', ';', ':']).next().unwrap_or_default();
        Some((clauses(word, right_end() - LEFT - width(first, TEXT, false) - 16.0), colour))
    }

    /// Its frame over an axis, with its upper edge and its height (px).
    pub fn frame<'a>(&'a self, x: &'a Axis, top: f64, height: f64) -> Frame<'a> {
        Frame { x, y: &self.axis, right: right_end(), top, height }
    }

    /// Draws grid, bands, limit, curve and frame.
    pub fn draw(&self, canvas: &Canvas<'_>, frame: &Frame<'_>) {
        let (least, most) = (self.axis.low, self.axis.high);
        let shown = |value: &f64| (least..=most).contains(value);
        if let Some(((low, high), _)) = self.target
            && low.max(least) < high.min(most)
        {
            frame.band(canvas, (low.max(least), high.min(most)), TARGET);
        }
        frame.grid(canvas);
        let edges = self.target.iter().flat_map(|((low, high), _)| [*low, *high]);
        for edge in edges.filter(shown) {
            frame.level(canvas, edge, dashed(EDGE, 0.8, 2.0, 2.0));
        }
        if let Some((value, _)) = self.limit.as_ref().filter(|(value, _)| shown(value)) {
            frame.level(canvas, *value, dashed(LIMIT, 1.2, 6.0, 4.0));
        }
        self.draw_swing(canvas, frame);
        for piece in self.pieces(frame.x) {
            let points: Vec<_> = piece.into_iter().map(|point| frame.place(point)).collect();
            if points.len() > 1 {
                canvas.line(&points, solid(CURVE, 2.2));
            }
        }
        frame.outline(canvas, self.title());
        if let Some((word, colour)) = self.word() {
            canvas.text(
                word,
                (right_end(), frame.top - 9.0),
                plain(SMALL, colour).at(Anchor::Right),
            );
        }
    }

    /// The swing: from the least to the largest at each px.
    fn draw_swing(&self, canvas: &Canvas<'_>, frame: &Frame<'_>) {
        let within = |value: f64| frame.y(value.clamp(self.axis.low, self.axis.high));
        let mut columns: Vec<(i32, f64, f64)> = Vec::new();
        for &(at, least, most) in &self.swing {
            let column = frame.x.x(at).round() as i32;
            match columns.last_mut() {
                Some(last) if last.0 == column => {
                    *last = (column, last.1.min(least), last.2.max(most));
                }
                _ => columns.push((column, least, most)),
            }
        }
        for (i, (column, least, most)) in columns.iter().enumerate() {
            let upto = columns.get(i + 1).map_or(column + 1, |next| next.0);
            let (left, right) = (f64::from(*column), (f64::from(upto) + SEAM).min(frame.right));
            canvas.fill((left, within(*most)), (right, within(*least)), SPREAD);
        }
    }

    /// The curve's pieces within the panel, cut at its upper and lower edge.
    fn pieces(&self, x: &Axis) -> Vec<Vec<(f64, f64)>> {
        let inside = |value: f64| (self.axis.low..=self.axis.high).contains(&value);
        let mut pieces: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
        let mut before: Option<(f64, f64)> = None;
        for &(at, value) in self.curve.iter().filter(|(at, _)| (x.low..=x.high).contains(at)) {
            let Some(value) = value.filter(|value| value.is_finite()) else {
                before = None;
                pieces.push(Vec::new());
                continue;
            };
            if let Some((at_before, value_before)) = before
                && inside(value) != inside(value_before)
            {
                let out = if inside(value) { value_before } else { value };
                let edge = if out > self.axis.high { self.axis.high } else { self.axis.low };
                let share = (edge - value_before) / (value - value_before);
                let cut = (at_before + share * (at - at_before), edge);
                if inside(value) {
                    pieces.push(vec![cut]);
                } else if let Some(piece) = pieces.last_mut() {
                    piece.push(cut);
                }
            }
            if inside(value)
                && let Some(piece) = pieces.last_mut()
            {
                piece.push((at, value));
            }
            before = Some((at, value));
        }
        pieces
    }
}

/// A line through all panels, with its words over them.
pub struct Mark {
    /// Where on the axis.
    pub at: f64,
    /// Its words.
    pub words: String,
    /// Its line.
    pub stroke: Stroke,
}

impl Mark {
    /// Its line from `y` down to `end` (px), with its words to the right of it or to the left.
    pub fn draw(&self, canvas: &Canvas<'_>, x: &Axis, (y, end): (f64, f64), right: bool) {
        let (anchor, away) = if right { (Anchor::Left, 6.0) } else { (Anchor::Right, -6.0) };
        let (at, face) = (x.x(self.at), plain(SMALL, self.stroke.colour).at(anchor));
        canvas.text(&self.words, (at + away, y), face);
        canvas.line(&[(at, y - 6.0), (at, end)], self.stroke);
    }
}

/// Panels one under another over one axis.
pub struct Stack<'a> {
    /// The common axis, and its title.
    pub x: (&'a Axis, &'a str),
    /// The panels.
    pub panels: &'a [Panel],
    /// Where the first panel's title begins (px).
    pub top: f64,
}

impl Stack<'_> {
    /// The upper edge of the first panel (px).
    pub fn first(&self) -> f64 {
        self.top + OVER
    }

    /// The chart: `words` draws what stands over the panels, `behind` and `before` what stands
    /// in a panel's frame, behind its curve and before it.
    pub fn picture(
        &self,
        page: Page,
        description: String,
        words: impl FnOnce(&Canvas<'_>),
        behind: impl Fn(&Canvas<'_>, &Frame<'_>),
        before: impl Fn(&Canvas<'_>, &Frame<'_>),
    ) -> Picture {
        let (x, title) = self.x;
        let count = self.panels.len() as f64;
        let high = page.room(count * (PANEL + OVER), self.top, UNDER) / count - OVER;
        let bottom = self.top + count * (high + OVER);
        page.picture((bottom + UNDER, UNDER_FOOTER), description, |canvas| {
            words(canvas);
            for (i, panel) in self.panels.iter().enumerate() {
                let frame = panel.frame(x, self.first() + i as f64 * (high + OVER), high);
                behind(canvas, &frame);
                panel.draw(canvas, &frame);
                before(canvas, &frame);
            }
            under(canvas, x, bottom, title);
        })
    }

    /// The chart of panels alone.
    pub fn plain_picture(&self, page: Page, description: String) -> Picture {
        self.picture(page, description, |_| {}, |_, _| {}, |_, _| {})
    }
}
