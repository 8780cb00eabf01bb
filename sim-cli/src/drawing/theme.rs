//! Colours and sizes. Colours are chosen to stay apart in grey and for colour-blind eyes;
//! none carries a meaning alone.

use std::cell::Cell;

/// Whom a chart is drawn for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// For paper and screen.
    Print,
    /// For the back of a room: a slide of 16 by 9, with large text and thick lines.
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

    /// How many times thicker than in print lines are.
    pub fn thickness(self) -> f64 {
        self.of(1.0, 1.3)
    }

    /// How many px of the file one px of the layout takes.
    pub fn zoom(self) -> f64 {
        self.of(1.0, SLIDE_PX / SLIDE.0)
    }

    /// One of two values, by the theme in force: that of print, or that of the projector.
    pub fn choose<T>(print: T, projector: T) -> T {
        Theme::now().of(print, projector)
    }

    /// One of two values: that of print, or that of the projector.
    pub fn of<T>(self, print: T, projector: T) -> T {
        match self {
            Theme::Print => print,
            Theme::Projector => projector,
        }
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
/// Lines over what is rich: grey tells it by them from what is lean.
pub const HATCHED: Colour = (205, 165, 128);
/// Stalled.
pub const STALLED: Colour = (216, 216, 216);
/// Target band of a reading.
pub const TARGET: Colour = (222, 240, 222);
/// Edges of a target band.
pub const EDGE: Colour = (85, 125, 85);
/// Spread of a marker.
pub const SPREAD: Colour = (222, 211, 238);

/// Width and height (px) that a slide is laid out in: of 1080 px of its height, text of
/// [`SMALL`] takes 24.5.
pub const SLIDE: (f64, f64) = (940.0, 528.75);
/// Width of a slide's file (px).
const SLIDE_PX: f64 = 1280.0;

/// Width of a chart (px).
pub fn page_width() -> f64 {
    Theme::choose(820.0, SLIDE.0)
}
/// Where text over and under a chart begins (px).
pub const PAGE_EDGE: f64 = 18.0;
/// Left end of the panels (px).
pub const LEFT: f64 = 62.0;
/// Right end of the panels (px).
pub fn right_end() -> f64 {
    page_width() - 22.0
}
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
