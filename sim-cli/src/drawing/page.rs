//! The page of a chart: title and subtitle over what is drawn, the command under it.

use super::canvas::{Canvas, bold, plain, svg};
use super::fonts::lines;
use super::picture::{Drawing, Picture};
use super::theme::{
    INK, PAGE_EDGE, SLIDE, SMALL, SOFT, TEXT, TITLE, Theme, WHITE, page_width, right_end,
};
use crate::text::{capital, typeset};

/// Widest line of text (px).
fn line_width() -> f64 {
    right_end() - PAGE_EDGE
}
/// Usual height under the last line of the footer (px).
pub const UNDER_FOOTER: f64 = 12.0;

/// Height of a line of the footer (px).
const FOOTER_LINE: f64 = 16.0;

/// The lines under the title; a slide has room for two, and drops its last clauses.
fn subtitle_lines(subtitle: &str) -> Vec<String> {
    let mut text = subtitle;
    loop {
        let broken = lines(text, TEXT, false, line_width());
        match text.rfind([';', '.', ',']) {
            Some(end) if Theme::now() == Theme::Projector && broken.len() > 2 => {
                text = &text[..end]
            }
            _ => return broken,
        }
    }
}

/// What stands under everything drawn: the command that makes it again, and whose numbers
/// they are.
pub fn footer(command: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    format!("{command}   (quarterturn {version}; a model of invented parts, measured on no engine)")
}

/// What stands over and under a chart.
pub struct Page {
    /// What the chart shows, in a sentence.
    pub title: String,
    subtitle: Vec<String>,
    footer: Vec<String>,
}

impl Page {
    /// The words over a chart, and the command that makes it again.
    pub fn new(title: &str, subtitle: &str, command: &str) -> Page {
        Page {
            title: capital(&typeset(title)),
            subtitle: subtitle_lines(&typeset(subtitle)),
            footer: lines(&footer(command), SMALL, false, line_width()),
        }
    }

    /// The least height (px) from which the footer of a slide goes down.
    fn slide_bottom(&self) -> f64 {
        SLIDE.1 - 8.0 - FOOTER_LINE * self.footer.len() as f64
    }

    /// Height (px) of what is drawn from `top` down with `under` below it before the footer:
    /// that of print, or what a slide has room for.
    pub fn room(&self, print: f64, top: f64, under: f64) -> f64 {
        Theme::choose(print, self.slide_bottom() - top - under)
    }

    fn title_lines(&self) -> Vec<String> {
        lines(&self.title, TITLE, true, line_width())
    }

    /// Where the words over the chart end (px).
    pub fn top(&self) -> f64 {
        22.0 + 22.0 * self.title_lines().len() as f64 + 18.0 * self.subtitle.len() as f64
    }

    /// Draws the words over the chart.
    pub fn heading(&self, canvas: &Canvas<'_>) {
        let mut y = 22.0;
        for line in self.title_lines() {
            canvas.text(&line, (PAGE_EDGE, y), bold(TITLE, INK));
            y += 22.0;
        }
        for line in &self.subtitle {
            canvas.text(line, (PAGE_EDGE, y), plain(TEXT, SOFT));
            y += 18.0;
        }
    }

    /// Draws what is drawn, which gets the height of it all, and the footer from `bottom` down
    /// with `under` free below it (px).
    pub fn drawing(
        &self,
        (bottom, under): (f64, f64),
        draw: impl FnOnce(&Canvas<'_>, f64),
    ) -> [Drawing; 2] {
        let height = (bottom + FOOTER_LINE * self.footer.len() as f64 + under).ceil();
        let (bottom, height) = Theme::choose((bottom, height), (self.slide_bottom(), SLIDE.1));
        svg(page_width(), height, |canvas| {
            draw(canvas, height);
            // On the chart to draw on, too: it tells what is to be drawn.
            canvas.axes(|canvas| {
                for (i, line) in self.footer.iter().enumerate() {
                    let place = (PAGE_EDGE, bottom + 12.0 + FOOTER_LINE * i as f64);
                    canvas.text(line, place, plain(SMALL, SOFT));
                }
            });
        })
    }

    /// The chart, with what is drawn under the heading.
    pub fn picture(
        self,
        bottom_and_under: (f64, f64),
        description: String,
        draw: impl FnOnce(&Canvas<'_>),
    ) -> Picture {
        let drawings = self.drawing(bottom_and_under, |canvas, height| {
            canvas.fill((0.0, 0.0), (page_width(), height), WHITE);
            self.heading(canvas);
            draw(canvas);
        });
        Picture { title: self.title, description, drawings }
    }
}
