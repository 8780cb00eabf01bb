//! Axes with their ticks and words, and the frame that a curve stands in.

use super::canvas::{Anchor, Canvas, Stroke, plain, thin};
use super::fonts::width;
use super::theme::{Colour, GRID, INK, LEFT, SMALL, SOFT, TEXT, Theme, right_end};
use crate::text::typeset;

/// Height over a panel for its title (px).
pub const OVER: f64 = 24.0;
/// Height under a panel for the ticks' words and the axis' title (px).
pub const UNDER: f64 = 46.0;

/// Least distance of two ticks with words on an upright axis (px).
const TICK_ROOM: f64 = 12.5;

/// How far areas side by side lie over each other (px), so that no ground shows between.
pub const SEAM: f64 = 0.6;

/// A curve, broken where a value is missing.
pub type Curve = Vec<(f64, Option<f64>)>;

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

    /// An axis that holds a curve and some values, with at most `most` ticks.
    pub fn of(curve: &Curve, hold: impl IntoIterator<Item = f64>, most: usize) -> Axis {
        Axis::round(curve.iter().filter_map(|(_, value)| *value).chain(hold), most)
    }

    /// An axis that ends where its values do, with round ticks between.
    pub fn between(low: f64, high: f64, most: usize) -> Axis {
        let mut ticks = Axis::round([low, high].into_iter(), most).ticks;
        ticks.retain(|(at, _)| (low - 1e-9..=high + 1e-9).contains(at));
        Axis { low, high, ticks }
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

    /// How far along the axis a value lies, from 0 to 1.
    pub fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    /// Place (px) of a value on the horizontal axis.
    pub fn x(&self, value: f64) -> f64 {
        LEFT + (right_end() - LEFT) * self.share(value)
    }
}

/// A frame with the axes of what is drawn in it.
#[derive(Clone, Copy)]
pub struct Frame<'a> {
    /// The axis below.
    pub x: &'a Axis,
    /// The axis on the left.
    pub y: &'a Axis,
    /// Right end (px).
    pub right: f64,
    /// Upper edge (px).
    pub top: f64,
    /// Height (px).
    pub height: f64,
}

impl Frame<'_> {
    /// Lower edge (px).
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Place (px) of a value on the vertical axis.
    pub fn y(&self, value: f64) -> f64 {
        self.top + self.height * (1.0 - self.y.share(value))
    }

    /// Place (px) of a point.
    pub fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.x.x(x), self.y(y))
    }

    /// A level line across.
    pub fn level(&self, canvas: &Canvas<'_>, value: f64, stroke: Stroke) {
        let y = self.y(value);
        canvas.line(&[(LEFT, y), (self.right, y)], stroke);
    }

    /// An upright line from edge to edge.
    pub fn upright(&self, canvas: &Canvas<'_>, at: f64, stroke: Stroke) {
        let x = self.x.x(at);
        canvas.line(&[(x, self.top), (x, self.bottom())], stroke);
    }

    /// A level band between two values.
    pub fn band(&self, canvas: &Canvas<'_>, (low, high): (f64, f64), colour: Colour) {
        canvas.fill((LEFT, self.y(high)), (self.right, self.y(low)), colour);
    }

    /// Level lines at the ticks, with their words.
    pub fn levels(&self, canvas: &Canvas<'_>) {
        canvas.axes(|canvas| {
            // In a low panel words stand at some of the ticks.
            let span = (self.y.high - self.y.low) / self.height;
            let apart = match &self.y.ticks[..] {
                [first, second, ..] => (second.0 - first.0) / span,
                _ => TICK_ROOM,
            };
            let every = (TICK_ROOM / apart).ceil().max(1.0) as usize;
            for (i, (value, word)) in self.y.ticks.iter().enumerate() {
                self.level(canvas, *value, thin(GRID));
                if i % every != 0 {
                    continue;
                }
                let place = (LEFT - 7.0, self.y(*value));
                canvas.text(&typeset(word), place, plain(SMALL, INK).at(Anchor::Right));
            }
        });
    }

    /// Level and upright lines at the ticks.
    pub fn grid(&self, canvas: &Canvas<'_>) {
        self.levels(canvas);
        canvas.axes(|canvas| {
            self.x.ticks.iter().for_each(|(at, _)| self.upright(canvas, *at, thin(GRID)));
        });
    }

    /// The frame itself, and the title over it.
    pub fn outline(&self, canvas: &Canvas<'_>, title: &str) {
        canvas.axes(|canvas| {
            canvas.outline((LEFT, self.top), (self.right, self.bottom()), thin(SOFT));
            canvas.text(title, (LEFT, self.top - 9.0), plain(TEXT, INK));
        });
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

/// Draws the ticks' words and title of the common axis under a panel, in a height of [`UNDER`].
pub fn under(canvas: &Canvas<'_>, x: &Axis, bottom: f64, title: &str) {
    canvas.axes(|canvas| {
        for (value, word) in &x.ticks {
            let at = x.x(*value);
            canvas.line(&[(at, bottom), (at, bottom + 4.0)], thin(SOFT));
            canvas.text(&typeset(word), (at, bottom + 14.0), plain(SMALL, INK).at(Anchor::Center));
        }
        let middle = 0.5 * (LEFT + right_end());
        let title = clauses(title, right_end() - LEFT);
        canvas.text(title, (middle, bottom + 34.0), plain(TEXT, INK).at(Anchor::Center));
    });
}
