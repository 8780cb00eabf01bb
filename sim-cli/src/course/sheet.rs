//! The layout of printed pages, from top to bottom: text in lines that fit, frames, lines to
//! write on; predictions with their scales (`predictions`), a drawing (`inset`). Nothing is set
//! smaller than [`LEAST_PT`].

mod inset;
mod predictions;

use super::paper_size::PaperSize;
use super::plain_text::Paragraph;
use crate::drawing::fonts::{FAMILY, width};
use crate::drawing::linked_page::{Link, LinkedPage};
use crate::drawing::picture::escaped;
use crate::drawing::theme::{Colour, FRAMED, INK, SOFT, WHITE, hex};

/// The smallest type (pt).
pub const LEAST_PT: f64 = 9.0;
/// The file that bold terms lead to.
pub const NAMES_FILE: &str = if cfg!(feature = "pdf") { "names.pdf" } else { "names-1.svg" };
/// Blank edge of a page (pt): a drawing as wide as what is left keeps its type above
/// [`LEAST_PT`].
const MARGIN: f64 = 42.0;
/// Blank edge at head and foot (pt).
const HEAD: f64 = 34.0;
/// Room at the foot for the footer (pt).
const FOOTER_HEIGHT: f64 = 16.0;
/// Size of running text before it is made smaller (pt).
const TEXT_PT: f64 = 10.0;
/// Line to line, of the size of text.
const LINE_SPACING: f64 = 1.34;
/// From one line to write on to the next (pt).
const WRITING_PT: f64 = 19.0;

/// Pages in the making.
pub struct Sheet {
    paper_size: PaperSize,
    scale: f64,
    footer: String,
    pages: Vec<LinkedPage>,
    y: f64,
}

/// Words of one weight in a line.
struct Run {
    words: String,
    term: bool,
}

impl Sheet {
    /// An empty sheet. `scale` makes text smaller, down to [`LEAST_PT`]; the footer stands on
    /// every page.
    pub fn new(paper_size: PaperSize, scale: f64, footer: &str) -> Sheet {
        let pages = vec![LinkedPage::default()];
        Sheet { paper_size, scale, footer: footer.into(), pages, y: HEAD }
    }

    fn wide(&self) -> f64 {
        self.paper_size.size().0 - 2.0 * MARGIN
    }

    fn bottom(&self) -> f64 {
        self.paper_size.size().1 - HEAD - FOOTER_HEIGHT
    }

    fn sized(&self, pt: f64) -> f64 {
        (pt * self.scale).max(LEAST_PT)
    }

    /// Adds to the page, and begins a line of its SVG.
    fn add(&mut self, svg: &str) {
        if let Some(page) = self.pages.last_mut() {
            page.svg.push_str(svg);
            page.svg.push('\n');
        }
    }

    /// What follows stands on a new page.
    pub fn new_page(&mut self) {
        self.pages.push(LinkedPage::default());
        self.y = HEAD;
    }

    /// Goes on on the next page unless there is room (pt).
    fn keep_together(&mut self, room: f64) {
        if self.y + room > self.bottom() {
            self.new_page();
        }
    }

    fn write_text(&mut self, text: &str, place: (f64, f64), size: f64, bold: bool) {
        self.add(&text_element(text, place, size, bold, INK));
    }

    fn draw_frame(&mut self, (x, y): (f64, f64), (width_pt, height_pt): (f64, f64), fill: Colour) {
        self.add(&format!(
            "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{width_pt:.2}\" height=\"{height_pt:.2}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"0.8\"/>",
            hex(fill),
            hex(SOFT)
        ));
    }

    fn draw_line(&mut self, from: (f64, f64), to: (f64, f64), thick: f64) {
        let ((x1, y1), (x2, y2)) = (from, to);
        self.add(&format!(
            "<line x1=\"{x1:.2}\" y1=\"{y1:.2}\" x2=\"{x2:.2}\" y2=\"{y2:.2}\" stroke=\"{}\" stroke-width=\"{thick}\"/>",
            hex(SOFT)
        ));
    }

    /// The title of the sheet.
    pub fn title(&mut self, text: &str) {
        self.bold_lines(text, 15.0, 0.25);
    }

    /// A heading, kept together with what follows.
    pub fn heading(&mut self, text: &str) {
        self.heading_over(text, 4.0 * self.sized(TEXT_PT));
    }

    /// A heading over something of a height (pt).
    fn heading_over(&mut self, text: &str, height_pt: f64) {
        let size = self.sized(11.0);
        let lines = crate::drawing::fonts::lines(text, size, true, self.wide()).len() as f64;
        self.keep_together((0.5 + 1.3 * lines) * size + height_pt);
        self.y += 0.5 * size;
        self.bold_lines(text, size, 0.3);
    }

    fn bold_lines(&mut self, text: &str, size: f64, under: f64) {
        for line in crate::drawing::fonts::lines(text, size, true, self.wide()) {
            self.y += size;
            self.write_text(&line, (MARGIN, self.y), size, true);
            self.y += under * size;
        }
    }

    /// A paragraph.
    pub fn paragraph(&mut self, text: &str) {
        self.lines(text, "", TEXT_PT);
    }

    /// Small text.
    pub fn small(&mut self, text: &str) {
        self.lines(text, "", LEAST_PT);
    }

    /// An item of a list, behind its mark.
    pub fn item(&mut self, mark: &str, text: &str) {
        self.lines(text, mark, TEXT_PT);
    }

    fn lines(&mut self, text: &str, mark: &str, pt: f64) {
        let size = self.sized(pt);
        let indent = match mark {
            "" => 0.0,
            mark => (1.7 * size).max(width(mark, size, false) + 0.6 * size),
        };
        let lines = broken(text, size, self.wide() - indent);
        for (i, line) in lines.iter().enumerate() {
            // A short paragraph stays in one piece; of a long one no line stands alone.
            let together = match (i, lines.len()) {
                (0, count) if count <= 4 => count,
                (i, count) if i == 0 || i + 2 == count => 2,
                _ => 1,
            };
            self.keep_together(LINE_SPACING * size * together as f64);
            if i == 0 && !mark.is_empty() {
                self.write_text(mark, (MARGIN, self.y + size), size, false);
            }
            self.write_line(line, indent, size);
        }
        self.y += 0.25 * size;
    }

    /// A line of text; its terms are bold and lead to the names.
    fn write_line(&mut self, line: &[Run], indent: f64, size: f64) {
        self.y += size;
        let mut x = MARGIN + indent;
        for run in line {
            let wide = width(&run.words, size, run.term);
            let place = (x, self.y);
            if run.term {
                let text = text_element(&run.words, place, size, true, INK);
                self.add(&format!("<a href=\"{NAMES_FILE}\">{text}</a>"));
                let place = (x, self.y - size);
                let link = Link { place, size: (wide, 1.2 * size), target: NAMES_FILE };
                self.pages.last_mut().into_iter().for_each(|page| page.links.push(link.clone()));
            } else {
                self.write_text(&run.words, place, size, false);
            }
            x += wide + width(" ", size, false);
        }
        self.y += (LINE_SPACING - 1.0) * size;
    }

    /// Paragraphs in a frame of their own.
    pub fn framed(&mut self, paragraphs: &[String]) {
        let size = self.sized(0.95 * TEXT_PT);
        let room = self.wide() - 14.0;
        let broken: Vec<Vec<Vec<Run>>> =
            paragraphs.iter().map(|text| broken(text, size, room)).collect();
        let count: usize = broken.iter().map(Vec::len).sum();
        let height_pt = LINE_SPACING * size * count as f64 + 0.2 * size * broken.len() as f64 + 7.0;
        self.keep_together(height_pt + 5.0);
        self.y += 2.0;
        let (place, width_pt) = ((MARGIN, self.y), self.wide());
        self.draw_frame(place, (width_pt, height_pt), FRAMED);
        self.y += 3.5;
        for paragraph in broken {
            for line in &paragraph {
                self.write_line(line, 7.0, size);
            }
            self.y += 0.2 * size;
        }
        self.y += 6.5;
    }

    /// Lines to write on.
    pub fn lines_to_write_on(&mut self, count: usize) {
        for _ in 0..count {
            self.keep_together(WRITING_PT);
            self.y += WRITING_PT;
            self.draw_line(
                (MARGIN + 17.0, self.y - 2.0),
                (MARGIN + self.wide(), self.y - 2.0),
                0.5,
            );
        }
        self.y += 3.0;
    }

    /// Questions under their heading, each in one piece with its lines to write on.
    pub fn questions(&mut self, heading: &str, asked: &[Paragraph], lines: usize) {
        let size = self.sized(TEXT_PT);
        let high = |text: &str| {
            let count = broken(text, size, self.wide() - 1.7 * size).len() as f64;
            LINE_SPACING * size * count + WRITING_PT * lines as f64 + 6.0
        };
        let heights: Vec<f64> = asked.iter().map(|one| high(&one.text)).collect();
        if let Some(first) = heights.first() {
            self.heading_over(heading, *first);
        }
        for (Paragraph { mark, text }, height_pt) in asked.iter().zip(heights) {
            self.keep_together(height_pt);
            self.item(mark, text);
            self.lines_to_write_on(lines);
        }
    }

    /// How many pages there are.
    pub fn count(&self) -> usize {
        self.pages.len()
    }

    /// The pages, each with the footer and its number.
    pub fn finish(self) -> Vec<LinkedPage> {
        let (width_pt, height_pt) = self.paper_size.size();
        let count = self.pages.len();
        let size = LEAST_PT;
        let page = |(i, LinkedPage { svg, links }): (usize, LinkedPage)| {
            let number = format!("{} of {count}", i + 1);
            let x = width_pt - MARGIN - width(&number, size, false);
            let foot =
                |x: f64, text: &str| text_element(text, (x, height_pt - HEAD), size, false, SOFT);
            let svg = format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_pt:.2}\" height=\"{height_pt:.2}\" viewBox=\"0 0 {width_pt:.2} {height_pt:.2}\">\n<rect width=\"{width_pt:.2}\" height=\"{height_pt:.2}\" fill=\"{}\"/>\n{svg}{}\n{}\n</svg>\n",
                hex(WHITE),
                foot(MARGIN, &self.footer),
                foot(x, &number)
            );
            LinkedPage { svg, links }
        };
        self.pages.into_iter().enumerate().map(page).collect()
    }
}

/// Text in lines no wider than a width (pt); words between two stars are terms.
fn broken(text: &str, size: f64, most: f64) -> Vec<Vec<Run>> {
    let mut lines: Vec<Vec<Run>> = vec![Vec::new()];
    let (mut term, mut filled) = (false, 0.0);
    let space = width(" ", size, false);
    for marked in text.split(' ') {
        let stars = marked.matches("**").count();
        let (goes_on, bold) = (term, term || stars > 0);
        term ^= stars % 2 == 1;
        let word = marked.replace("**", "");
        let wide = width(&word, size, bold);
        let mut next = filled + if filled > 0.0 { space } else { 0.0 } + wide;
        if next > most && filled > 0.0 {
            lines.push(Vec::new());
            next = wide;
        }
        filled = next;
        if let Some(line) = lines.last_mut() {
            match line.last_mut() {
                Some(run) if run.term == bold && (goes_on || !bold) => {
                    run.words.push(' ');
                    run.words.push_str(&word);
                }
                _ => line.push(Run { words: word, term: bold }),
            }
        }
    }
    lines
}

fn text_element(text: &str, (x, y): (f64, f64), size: f64, bold: bool, colour: Colour) -> String {
    let weight = if bold { " font-weight=\"bold\"" } else { "" };
    format!(
        "<text x=\"{x:.2}\" y=\"{y:.2}\" font-family=\"{FAMILY}\" font-size=\"{size:.2}\"{weight} fill=\"{}\" xml:space=\"preserve\">{}</text>",
        hex(colour),
        escaped(text)
    )
}
