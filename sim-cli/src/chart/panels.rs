//! Stacked panels over one axis, with frame, ticks, title and footer.

use super::draw::{Anchor, Canvas, Stroke, Type};
use super::theme::{
    CURVE, Colour, EDGE, GRID, INK, LIMIT, SMALL, SOFT, TARGET, TEXT, TITLE, Theme, WIDTH,
};
use crate::fonts::{lines, width};
use crate::text::typeset;

/// Left and right end of the panels (px).
pub const LEFT: f64 = 62.0;
/// See [`LEFT`].
pub const RIGHT: f64 = WIDTH - 22.0;
/// Height of a panel (px).
pub fn panel_height() -> f64 {
    Theme::tall(118.0)
}
/// Height over a panel for its title (px).
pub const OVER: f64 = 24.0;

/// An axis from a least to a largest value, with ticks.
#[derive(Clone)]
pub struct Axis {
    /// Least value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// Ticks and their words.
    pub ticks: Vec<(f64, String)>,
}

impl Axis {
    /// An axis whose ends and ticks are round and hold all `values`, with at most `most`
    /// ticks. Values that are not finite do not count.
    pub fn round(values: impl Iterator<Item = f64>, most: usize) -> Axis {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values.filter(|value| value.is_finite()) {
            low = low.min(value);
            high = high.max(value);
        }
        if low > high {
            (low, high) = (0.0, 1.0);
        }
        // A curve that hardly moves is not blown up to fill the panel.
        let least = 0.02 * low.abs().max(high.abs()).max(1e-6);
        if high - low < least {
            let middle = 0.5 * (low + high);
            (low, high) = (middle - 0.5 * least, middle + 0.5 * least);
        }
        let rough = (high - low) / most.max(2) as f64;
        let decade = 10f64.powf(rough.log10().floor());
        let steps = [1.0, 2.0, 5.0, 10.0];
        let step = decade * steps.into_iter().find(|s| s * decade >= rough).unwrap_or(10.0);
        Axis::stepped((low / step + 1e-9).floor() * step, (high / step - 1e-9).ceil() * step, step)
    }

    /// An axis with ticks at every multiple of `step` between its ends.
    pub fn stepped(low: f64, high: f64, step: f64) -> Axis {
        let decimals = (0..6).find(|d| {
            let scaled = step * 10f64.powi(*d);
            (scaled - scaled.round()).abs() < 1e-6
        });
        let decimals = decimals.unwrap_or(6) as usize;
        let first = (low / step - 1e-9).ceil() as i64;
        let last = (high / step + 1e-9).floor() as i64;
        let ticks = (first..=last)
            .map(|i| i as f64 * step)
            .map(|value| (value, format!("{value:.decimals$}")))
            .collect();
        Axis { low, high, ticks }
    }

    fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    /// Place (px) of a value on the horizontal axis.
    pub fn x(&self, value: f64) -> f64 {
        LEFT + (RIGHT - LEFT) * self.share(value)
    }
}

/// One panel: a curve over the common axis.
pub struct Panel {
    /// What its axis shows, with unit.
    pub title: String,
    /// Its own axis.
    pub axis: Axis,
    /// Curves, broken where a value is missing.
    pub curve: Vec<(f64, Option<f64>)>,
    /// A line at a value, with its word.
    pub limit: Option<(f64, String)>,
    /// A band between two values, with its word.
    pub target: Option<(f64, f64, String)>,
}

/// Normal text.
pub const fn plain(size: f64, colour: Colour, anchor: Anchor) -> Type {
    Type { size, colour, bold: false, anchor }
}

/// A thin solid line.
pub const fn thin(colour: Colour) -> Stroke {
    Stroke { colour, width: 1.0, dash: None }
}

impl Panel {
    /// Whether the title or the word over the panel stands at a place (px).
    pub fn title_covers(&self, x: f64) -> bool {
        let word = self.word().map_or(0.0, |(word, _)| width(word, SMALL, false));
        x < LEFT + width(self.title(), TEXT, false) + 4.0 || x > RIGHT - word - 4.0
    }

    /// The title, or as many of its clauses as have room beside the word.
    fn title(&self) -> &str {
        let word = self.word().map_or(0.0, |(word, _)| width(word, SMALL, false));
        clauses(&self.title, RIGHT - LEFT - word - 16.0)
    }

    /// The word on the right over the panel, and its colour.
    fn word(&self) -> Option<(&str, Colour)> {
        let limit = self.limit.as_ref().map(|(_, word)| (word.as_str(), LIMIT));
        let (word, colour) =
            limit.or(self.target.as_ref().map(|(.., word)| (word.as_str(), SOFT)))?;
        let first = self.title.split([',', ';', ':']).next().unwrap_or_default();
        Some((clauses(word, RIGHT - LEFT - width(first, TEXT, false) - 16.0), colour))
    }

    /// Place (px) of a value in a panel whose upper edge is at `top`.
    fn y(&self, top: f64, value: f64) -> f64 {
        top + panel_height() * (1.0 - self.axis.share(value))
    }

    /// Draws grid, bands, limit, curve and frame.
    pub fn draw(&self, canvas: &Canvas<'_>, x: &Axis, top: f64) {
        let bottom = top + panel_height();
        if let Some((low, high, _)) = &self.target {
            let (low, high) = (low.max(self.axis.low), high.min(self.axis.high));
            if low < high {
                canvas.fill((LEFT, self.y(top, high)), (RIGHT, self.y(top, low)), TARGET);
            }
        }
        canvas.axes(|canvas| {
            for (value, word) in &self.axis.ticks {
                let y = self.y(top, *value);
                canvas.line(&[(LEFT, y), (RIGHT, y)], thin(GRID));
                canvas.text(&typeset(word), (LEFT - 7.0, y), plain(SMALL, INK, Anchor::End));
            }
            for (value, _) in &x.ticks {
                canvas.line(&[(x.x(*value), top), (x.x(*value), bottom)], thin(GRID));
            }
        });
        for edge in self.target.iter().flat_map(|(low, high, _)| [low, high]) {
            if (self.axis.low..=self.axis.high).contains(edge) {
                let y = self.y(top, *edge);
                let stroke = Stroke { colour: EDGE, width: 0.8, dash: Some((2.0, 2.0)) };
                canvas.line(&[(LEFT, y), (RIGHT, y)], stroke);
            }
        }
        if let Some((value, _)) = &self.limit
            && (self.axis.low..=self.axis.high).contains(value)
        {
            let y = self.y(top, *value);
            let stroke = Stroke { colour: LIMIT, width: 1.2, dash: Some((6.0, 4.0)) };
            canvas.line(&[(LEFT, y), (RIGHT, y)], stroke);
        }
        for piece in self.pieces(x) {
            let points: Vec<_> =
                piece.iter().map(|&(at, value)| (x.x(at), self.y(top, value))).collect();
            let stroke = Stroke { colour: CURVE, width: 2.2, dash: None };
            if points.len() > 1 {
                canvas.line(&points, stroke);
            }
        }
        let frame = [(LEFT, top), (RIGHT, top), (RIGHT, bottom), (LEFT, bottom), (LEFT, top)];
        canvas.axes(|canvas| {
            canvas.line(&frame, thin(SOFT));
            canvas.text(self.title(), (LEFT, top - 9.0), plain(TEXT, INK, Anchor::Start));
        });
        if let Some((word, colour)) = self.word() {
            canvas.text(word, (RIGHT, top - 9.0), plain(SMALL, colour, Anchor::End));
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

/// As many of a text's clauses as have room (px) where the theme's text is large; print has
/// room for all.
pub fn clauses(text: &str, room: f64) -> &str {
    let mut text = text;
    while Theme::now() != Theme::Print && width(text, TEXT, false) > room {
        match text.rfind([',', ';', ':']) {
            Some(end) => text = &text[..end],
            None => break,
        }
    }
    text
}

/// Draws the words over a chart; returns where they end (px).
pub fn heading(canvas: &Canvas<'_>, title: &str, subtitle: &str) -> f64 {
    let mut y = 22.0;
    let bold = Type { size: TITLE, colour: INK, bold: true, anchor: Anchor::Start };
    for line in lines(title, TITLE, true, RIGHT - 18.0) {
        canvas.text(&line, (18.0, y), bold);
        y += 22.0;
    }
    for line in lines(subtitle, TEXT, false, RIGHT - 18.0) {
        canvas.text(&line, (18.0, y), plain(TEXT, SOFT, Anchor::Start));
        y += 18.0;
    }
    y
}

/// Height of [`heading`] (px).
pub fn heading_height(title: &str, subtitle: &str) -> f64 {
    22.0 + 22.0 * lines(title, TITLE, true, RIGHT - 18.0).len() as f64
        + 18.0 * lines(subtitle, TEXT, false, RIGHT - 18.0).len() as f64
}

/// The footer's lines: the command that makes the chart again, and what the numbers are.
pub fn footer_lines(command: &str) -> Vec<String> {
    let version = env!("CARGO_PKG_VERSION");
    let text = format!(
        "{command}   (quarterturn {version}; a model of invented parts, measured on no engine)"
    );
    lines(&text, SMALL, false, RIGHT - 18.0)
}

/// Draws the ticks' words and title of the common axis under a panel; returns where they
/// end (px).
pub fn under(canvas: &Canvas<'_>, x: &Axis, bottom: f64, title: &str) -> f64 {
    canvas.axes(|canvas| {
        for (value, word) in &x.ticks {
            let at = x.x(*value);
            canvas.line(&[(at, bottom), (at, bottom + 4.0)], thin(SOFT));
            canvas.text(&typeset(word), (at, bottom + 14.0), plain(SMALL, INK, Anchor::Middle));
        }
        let middle = 0.5 * (LEFT + RIGHT);
        let title = clauses(title, RIGHT - LEFT);
        canvas.text(title, (middle, bottom + 34.0), plain(TEXT, INK, Anchor::Middle));
    });
    bottom + 46.0
}

/// Draws the footer.
pub fn footer(canvas: &Canvas<'_>, command: &str, top: f64) {
    // On the chart to draw on, too: it tells what is to be drawn.
    canvas.axes(|canvas| {
        for (i, line) in footer_lines(command).iter().enumerate() {
            let place = (18.0, top + 12.0 + 16.0 * i as f64);
            canvas.text(line, place, plain(SMALL, SOFT, Anchor::Start));
        }
    });
}
