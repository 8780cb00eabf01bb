//! The page that a drawing of the machine stands on, with the words over and under it.

use crate::drawing::canvas::{bold, plain};
use crate::drawing::theme::{INK, SOFT, Theme};
use crate::drawing::vector::{LINE, Vector, broken};
use crate::text::typeset;

/// A page: its width and the sizes of its text (px).
#[derive(Clone, Copy)]
pub(super) struct Paper {
    /// Width.
    pub width: f64,
    /// Least height.
    pub height: f64,
    /// From the page's edge to what is drawn.
    pub edge: f64,
    /// Size of the title.
    pub title: f64,
    /// Size of words.
    pub text: f64,
    /// Size of what stands under all.
    pub small: f64,
}

impl Paper {
    /// The page of the theme in force: as wide as a chart on paper, 16 to 9 before a room.
    pub fn now() -> Paper {
        Theme::choose(
            Paper { width: 820.0, height: 0.0, edge: 18.0, title: 19.0, text: 15.0, small: 14.5 },
            Paper {
                width: 1280.0,
                height: 720.0,
                edge: 24.0,
                title: 28.0,
                text: 18.0,
                small: 16.0,
            },
        )
    }

    /// The same page in units of a width: sizes of print grow with it.
    pub fn of_width(self, width: f64) -> Paper {
        let larger = width / self.width;
        let [height, edge, title, text, small] =
            [self.height, self.edge, self.title, self.text, self.small].map(|px| px * larger);
        Paper { width, height, edge, title, text, small }
    }

    /// Writes the words over what is drawn, and tells where they end.
    pub fn heading(&self, to: &mut Vector, title: &str, subtitle: &str) -> f64 {
        let room = self.width - 2.0 * self.edge;
        let start = self.edge + 0.4 * self.title;
        let y = to.paragraph(&typeset(title), (self.edge, start), room, bold(self.title, INK));
        let y = y - 0.15 * self.title;
        to.paragraph(&typeset(subtitle), (self.edge, y), room, plain(self.text, SOFT))
    }

    /// Height of the words under what is drawn.
    pub fn footer_height(&self, words: &[String]) -> f64 {
        let room = self.width - 2.0 * self.edge;
        let face = plain(self.small, SOFT);
        let lines: usize = words.iter().map(|words| broken(words, room, face).len()).sum();
        LINE * self.small * lines as f64 + 0.5 * self.edge
    }

    /// Writes the words under what is drawn, from a height on.
    pub fn footer(&self, to: &mut Vector, words: &[String], y: f64) {
        let room = self.width - 2.0 * self.edge;
        let mut y = y + 0.5 * self.small;
        for words in words {
            y = to.paragraph(words, (self.edge, y), room, plain(self.small, SOFT));
        }
    }
}
