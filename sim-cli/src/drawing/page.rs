//! The page of a chart: title and subtitle over what is drawn, the command under it.

use super::canvas::{Canvas, bold, plain, svg};
use super::fonts::lines;
use super::picture::{Drawing, Picture};
use super::theme::{INK, PAGE_EDGE, RIGHT, SMALL, SOFT, TEXT, TITLE, WHITE, WIDTH};
use crate::text::typeset;

/// Widest line of text (px).
const LINE_WIDTH: f64 = RIGHT - PAGE_EDGE;
/// Usual height under the last line of the footer (px).
pub const UNDER_FOOTER: f64 = 12.0;

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
            title: typeset(title),
            subtitle: lines(&typeset(subtitle), TEXT, false, LINE_WIDTH),
            footer: lines(&footer(command), SMALL, false, LINE_WIDTH),
        }
    }

    fn title_lines(&self) -> Vec<String> {
        lines(&self.title, TITLE, true, LINE_WIDTH)
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
        let height = (bottom + 16.0 * self.footer.len() as f64 + under).ceil();
        svg(WIDTH, height, |canvas| {
            draw(canvas, height);
            // On the chart to draw on, too: it tells what is to be drawn.
            canvas.axes(|canvas| {
                for (i, line) in self.footer.iter().enumerate() {
                    let place = (PAGE_EDGE, bottom + 12.0 + 16.0 * i as f64);
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
            canvas.fill((0.0, 0.0), (WIDTH, height), WHITE);
            self.heading(canvas);
            draw(canvas);
        });
        Picture { title: self.title, description, drawings }
    }
}
