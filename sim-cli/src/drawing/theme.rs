//! Colours and sizes. Colours are chosen to stay apart in grey and for colour-blind eyes;
//! none carries a meaning alone.

use std::cell::Cell;

/// Whom a chart is drawn for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// For paper and screen.
    Print,
    /// For the back of a room: larger text, thicker lines, taller panels.
    Projector,
}

thread_local! {
    static THEME: Cell<Theme> = const { Cell::new(Theme::Print) };
}

impl Theme {
    /// Its word in `--theme`.
    pub const fn word(self) -> &'static str {
        match self {
            Theme::Print => "print",
            Theme::Projector => "projector",
        }
    }

    /// The theme in force on this thread.
    pub fn now() -> Theme {
        THEME.get()
    }

    /// Does some work with this theme in force on this thread.
    pub fn during<T>(self, work: impl FnOnce() -> T) -> T {
        let before = THEME.replace(self);
        let done = work();
        THEME.set(before);
        done
    }

    /// How many times larger than in print text, strokes and heights are. Widths stay, so
    /// that text is broken into more lines.
    pub fn enlarged(self) -> f64 {
        self.of(1.0, 1.6)
    }

    /// Height (px) of a panel that in print is so tall: before a room it is lower, since a
    /// slide is wide and what is tall is made small on it.
    pub fn tall(print: f64) -> f64 {
        Theme::choose(print, 0.58 * print)
    }

    /// One of two values, by the theme in force: that of print, or that of the projector.
    pub fn choose<T>(print: T, projector: T) -> T {
        Theme::now().of(print, projector)
    }

    fn of<T>(self, print: T, projector: T) -> T {
        match self {
            Theme::Print => print,
            Theme::Projector => projector,
        }
    }

    /// Room (px) on the left for the larger words beside the axis.
    pub fn margin(self) -> f64 {
        self.of(0.0, 32.0)
    }

    /// Size (px) of a drawing that is laid out in a size.
    pub fn size(self, width: f64, height: f64) -> (f64, f64) {
        (width + self.margin(), height * self.enlarged())
    }
}

/// Red, green, blue.
pub type Colour = (u8, u8, u8);

/// A colour as SVG names it.
pub fn hex((red, green, blue): Colour) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// The ground of a page.
pub const WHITE: Colour = (255, 255, 255);
/// The ground of what is framed on a page.
pub const FRAMED: Colour = (242, 242, 242);

/// Text and axes.
pub const INK: Colour = (26, 26, 26);
/// Secondary text: 7:1 on white.
pub const SOFT: Colour = (80, 80, 80);
/// Grid lines.
pub const GRID: Colour = (225, 225, 225);
/// Curves.
pub const CURVE: Colour = (0, 68, 136);
/// Limits and target bands' edges.
pub const LIMIT: Colour = (170, 51, 51);
/// Rough, lean.
pub const LEAN: Colour = (222, 234, 246);
/// Rough, rich.
pub const RICH: Colour = (250, 231, 212);
/// Stalled.
pub const STALLED: Colour = (216, 216, 216);
/// Target band of a reading.
pub const TARGET: Colour = (222, 240, 222);
/// Edges of a target band.
pub const EDGE: Colour = (85, 125, 85);
/// Spread of a marker.
pub const SPREAD: Colour = (222, 211, 238);

/// Width of a chart (px).
pub const WIDTH: f64 = 820.0;
/// Where text over and under a chart begins (px).
pub const PAGE_EDGE: f64 = 18.0;
/// Left and right end of the panels (px).
pub const LEFT: f64 = 62.0;
/// See [`LEFT`].
pub const RIGHT: f64 = WIDTH - 22.0;
/// Size of small text (px): nothing is smaller.
pub const SMALL: f64 = 12.0;
/// Size of text (px).
pub const TEXT: f64 = 13.0;
/// Size of the title (px).
pub const TITLE: f64 = 17.0;

/// Steel that is seen, not cut.
pub const STEEL: Colour = (216, 211, 202);
/// A part that moves against it.
pub const STEEL_DARK: Colour = (179, 172, 161);
/// Lines of what is cut.
pub const HATCH: Colour = (139, 132, 122);
/// Fuel.
pub const FUEL: Colour = (199, 224, 227);
/// Fuel that flows, and what is spoken of.
pub const ACCENT: Colour = (13, 90, 102);
