//! Pages for paper: text in lines that fit, boxes, tables and charts, from top to bottom.

mod table_layout;

use crate::chart::picture::{Picture, escaped};
use crate::fonts::{FAMILY, lines, width};
use crate::report::Table;
use std::collections::VecDeque;
use std::fmt::Write;
use table_layout::{BETWEEN, TableLayout, TableLine, deep};

/// A size of paper.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4: 210 mm x 297 mm.
    A4,
    /// 8.5 in x 11 in.
    Letter,
}

impl Paper {
    /// Width and height (pt).
    pub fn size(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0),
            Paper::Letter => (612.0, 792.0),
        }
    }
}

/// Blank edge of a page (pt).
const EDGE: f64 = 42.0;
/// Room between columns (pt).
const GAP: f64 = 16.0;
/// How small a chart may become where text is made smaller: its least text is 6 pt then.
const CHART: f64 = 0.8;
/// Width of a table's cell from which its words go on in a further line, for text of size 1:
/// where there is room, and where there is none.
const WORDS: (f64, f64) = (20.0, 11.0);
/// Size of a table's text, of that of running text.
const TABLE: f64 = 0.8;
/// How much smaller it may become for the sake of a column's width.
const SMALLEST: f64 = 0.9;
/// Room at the foot for the footer (pt).
const FOOT: f64 = 20.0;
/// Size of running text before it is made smaller (pt).
const TEXT: f64 = 10.0;
/// Line to line, of the size of text.
const LEAD: f64 = 1.38;

/// Pages in the making.
pub struct Sheet {
    paper: Paper,
    scale: f64,
    footer: String,
    pages: Vec<String>,
    y: f64,
    /// Columns side by side, which one is filled, and where they begin on this page.
    columns: usize,
    column: usize,
    top: f64,
    /// How far down the columns before this one are filled on this page.
    lowest: f64,
    /// What is being told, named again where it goes on elsewhere.
    telling: Option<String>,
    /// Charts, with their headings, that stand on top of the next pages.
    waiting: VecDeque<(String, Picture)>,
}

impl Sheet {
    /// An empty sheet. `scale` makes all text smaller; the footer stands on every page.
    pub fn new(paper: Paper, scale: f64, footer: &str) -> Sheet {
        Sheet {
            paper,
            scale,
            footer: footer.into(),
            pages: vec![String::new()],
            y: EDGE,
            columns: 1,
            column: 0,
            top: EDGE,
            lowest: EDGE,
            telling: None,
            waiting: VecDeque::new(),
        }
    }

    /// Width of a column.
    fn wide(&self) -> f64 {
        let count = self.columns as f64;
        (self.paper.size().0 - 2.0 * EDGE - GAP * (count - 1.0)) / count
    }

    /// Left edge of the column.
    fn left(&self) -> f64 {
        EDGE + self.column as f64 * (self.wide() + GAP)
    }

    /// What follows goes into so many columns, from below all that stands on the page.
    pub fn columns(&mut self, columns: usize) {
        self.y = self.y.max(self.lowest);
        (self.columns, self.column, self.top) = (columns, 0, self.y);
    }

    fn bottom(&self) -> f64 {
        self.paper.size().1 - EDGE - FOOT
    }

    fn page(&mut self) -> &mut String {
        if self.pages.is_empty() {
            self.pages.push(String::new());
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    /// Goes to the next column, or to a new page.
    fn turn(&mut self) {
        if self.column + 1 < self.columns {
            self.lowest = self.lowest.max(self.y);
            self.column += 1;
            self.y = self.top;
            self.name_again();
            return;
        }
        self.pages.push(String::new());
        (self.column, self.y, self.lowest) = (0, EDGE, EDGE);
        if let Some((heading, picture)) = self.waiting.pop_front() {
            let columns = std::mem::replace(&mut self.columns, 1);
            self.chart(&heading, &picture);
            self.columns = columns;
        }
        self.top = self.y;
        self.name_again();
    }

    /// What follows is told under this name, or under none.
    pub fn tells(&mut self, name: Option<&str>) {
        self.telling = name.map(Into::into);
    }

    fn name_again(&mut self) {
        if let Some(name) = self.telling.take() {
            self.small(&format!("({name}, continued)"));
            self.telling = Some(name);
        }
    }

    /// Goes on elsewhere unless there is room (pt).
    fn keep(&mut self, room: f64) {
        if self.y + room > self.bottom() {
            self.turn();
        }
    }

    fn word(&mut self, text: &str, (x, y): (f64, f64), size: f64, bold: bool) {
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        let text = escaped(text);
        let _ = writeln!(
            self.page(),
            "<text x=\"{x:.2}\" y=\"{y:.2}\" font-family=\"{FAMILY}\" font-size=\"{size:.2}\"{weight} fill=\"#1a1a1a\" xml:space=\"preserve\">{text}</text>"
        );
    }

    fn frame(&mut self, (x, y): (f64, f64), (wide, high): (f64, f64), fill: &str) {
        let _ = writeln!(
            self.page(),
            "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{wide:.2}\" height=\"{high:.2}\" fill=\"{fill}\" stroke=\"#505050\" stroke-width=\"0.8\"/>"
        );
    }

    /// The title of the sheet.
    pub fn title(&mut self, text: &str) {
        let size = 16.0 * self.scale;
        for line in lines(text, size, true, self.wide()) {
            self.y += size;
            self.word(&line, (self.left(), self.y), size, true);
            self.y += 0.3 * size;
        }
    }

    /// A heading, kept together with what follows.
    pub fn heading(&mut self, text: &str) {
        self.headed(text, 11.5);
    }

    /// A heading over a part of what a heading stands over.
    pub fn subheading(&mut self, text: &str) {
        self.headed(text, 9.0);
    }

    fn headed(&mut self, text: &str, size: f64) {
        let size = size * self.scale;
        self.keep(5.0 * size);
        self.y += 0.7 * size;
        for line in lines(text, size, true, self.wide()) {
            self.y += size;
            self.word(&line, (self.left(), self.y), size, true);
            self.y += 0.35 * size;
        }
    }

    /// A paragraph.
    pub fn paragraph(&mut self, text: &str) {
        self.lines(text, "", 1.0);
    }

    /// Small text, as of a table's words.
    pub fn small(&mut self, text: &str) {
        self.lines(text, "", 0.85);
    }

    /// An item of a list, behind its mark.
    pub fn item(&mut self, mark: &str, text: &str) {
        self.lines(text, mark, 1.0);
    }

    fn lines(&mut self, text: &str, mark: &str, share: f64) {
        let size = TEXT * self.scale * share;
        let hang = if mark.is_empty() { 0.0 } else { 1.7 * size };
        let lines = lines(text, size, false, self.wide() - hang);
        for (i, line) in lines.iter().enumerate() {
            // A short paragraph stays in one piece; of a long one no line stands alone.
            let together = match (i, lines.len()) {
                (0, count) if count <= 4 => count,
                (i, count) if i == 0 || i + 2 == count => 2,
                _ => 1,
            };
            self.keep(LEAD * size * together as f64);
            self.y += size;
            if i == 0 && !mark.is_empty() {
                self.word(mark, (self.left(), self.y), size, false);
            }
            self.word(line, (self.left() + hang, self.y), size, false);
            self.y += (LEAD - 1.0) * size;
        }
        self.y += 0.3 * size;
    }

    /// Paragraphs in a frame of their own.
    pub fn framed(&mut self, paragraphs: &[String]) {
        let size = 0.9 * TEXT * self.scale;
        let room = self.wide() - 16.0;
        let broken: Vec<Vec<String>> =
            paragraphs.iter().map(|text| lines(text, size, false, room)).collect();
        let count: usize = broken.iter().map(Vec::len).sum();
        let high = LEAD * size * count as f64 + 0.3 * size * broken.len() as f64 + 10.0;
        self.keep(high + 6.0);
        self.y += 3.0;
        let (y, wide) = (self.y, self.wide());
        self.frame((self.left(), y), (wide, high), "#f2f2f2");
        self.y += 5.0;
        for paragraph in broken {
            for line in paragraph {
                self.y += size;
                self.word(&line, (self.left() + 8.0, self.y), size, false);
                self.y += (LEAD - 1.0) * size;
            }
            self.y += 0.3 * size;
        }
        self.y += 9.0;
    }

    /// A question with a box for what is predicted.
    pub fn boxed(&mut self, text: &str) {
        let size = TEXT * self.scale;
        let count = lines(text, size, false, self.wide() - 1.7 * size).len() as f64;
        let high = 22.0 * self.scale;
        self.keep(LEAD * size * count + high + 8.0);
        self.item("-", text);
        let (y, wide) = (self.y, self.wide());
        self.frame((self.left() + 1.7 * size, y), (wide - 1.7 * size, high), "#ffffff");
        self.y += high + 5.0;
    }

    /// A chart under its heading, as wide as the page, or as high as there is room.
    pub fn chart(&mut self, heading: &str, picture: &Picture) {
        let most = self.bottom() - EDGE - 60.0;
        let wide = (self.wide() * self.scale.max(CHART)).min(most / picture.slender());
        let high = wide * picture.slender();
        self.keep(high + 40.0);
        self.heading(heading);
        let place = (self.left() + 0.5 * (self.wide() - wide), self.y + 4.0);
        let drawing = picture.nested(place, wide);
        self.page().push_str(&drawing);
        self.page().push('\n');
        self.y += high + 10.0;
    }

    /// A chart here if there is room, else on top of the next page.
    pub fn float(&mut self, heading: &str, picture: Picture) {
        let high = self.wide() * self.scale.max(CHART) * picture.slender();
        if self.y + high + 60.0 <= self.bottom() {
            self.chart(heading, &picture);
        } else {
            self.waiting.push_back((heading.into(), picture));
        }
    }

    /// Whether a table's text stays large enough to be read in a column.
    pub fn readable(&self, table: &Table) -> bool {
        self.fitted(table).0 >= SMALLEST * TABLE * TEXT * self.scale
    }

    /// Size of a table's text, and the table with its words in more lines if that helps.
    fn fitted(&self, table: &Table) -> (f64, TableLayout) {
        let most = TABLE * TEXT * self.scale;
        let size = |laid: &TableLayout| most.min(self.wide() / laid.needs);
        let wide = TableLayout::new(table, WORDS.0);
        if size(&wide) >= SMALLEST * most {
            return (size(&wide), wide);
        }
        let narrow = TableLayout::new(table, WORDS.1);
        (size(&narrow), narrow)
    }

    /// Whether a table has room on this page below all columns.
    pub fn has_room_below(&self, table: &Table) -> bool {
        let high = LEAD * TABLE * TEXT * self.scale * (table.rows.len() + 4) as f64;
        self.y.max(self.lowest) + high <= self.bottom()
    }

    /// A table, its text as small as it must be. Where it goes on elsewhere, its head stands
    /// again, and no row stands alone.
    pub fn table(&mut self, table: &Table) {
        let (size, laid) = self.fitted(table);
        let (head, body) = laid.rows.split_at(laid.heads);
        let high = |rows: &[TableLine]| rows.iter().map(|row| LEAD * size * deep(row)).sum::<f64>();
        self.keep(high(head) + high(&body[..body.len().min(3)]));
        self.rows(&laid, head, size);
        for i in 0..body.len() {
            let together = if i + 2 == body.len() { i + 2 } else { i + 1 };
            if i > 0 && self.y + high(&body[i..together]) > self.bottom() {
                self.turn();
                self.rows(&laid, head, size);
            }
            self.rows(&laid, &body[i..=i], size);
        }
        self.y += 0.6 * size;
    }

    fn rows(&mut self, laid: &TableLayout, rows: &[TableLine], size: f64) {
        for row in rows {
            let mut x = self.left();
            for ((cell, wide), right) in row.iter().zip(&laid.widths).zip(&laid.right) {
                for (i, line) in cell.iter().enumerate() {
                    let shift = if *right { size * wide - width(line, size, false) } else { 0.0 };
                    let y = self.y + size * (1.0 + LEAD * i as f64);
                    if !line.is_empty() {
                        self.word(line, (x + shift, y), size, false);
                    }
                }
                x += size * (wide + BETWEEN);
            }
            self.y += LEAD * size * deep(row);
        }
    }

    /// How many pages there are.
    pub fn count(&self) -> usize {
        self.pages.len() + self.waiting.len()
    }

    /// The pages as SVG, each with the footer and its number.
    pub fn finish(mut self) -> Vec<String> {
        self.column = self.columns;
        while !self.waiting.is_empty() {
            self.turn();
        }
        let (wide, high) = self.paper.size();
        let count = self.pages.len();
        let pages = std::mem::take(&mut self.pages);
        let size = 7.5;
        let page = |(i, body): (usize, String)| {
            let number = format!("{} of {count}", i + 1);
            let x = wide - EDGE - width(&number, size, false);
            let y = high - EDGE;
            let foot = |x: f64, text: &str| {
                format!(
                    "<text x=\"{x:.2}\" y=\"{y:.2}\" font-family=\"{FAMILY}\" font-size=\"{size}\" fill=\"#505050\">{}</text>\n",
                    escaped(text)
                )
            };
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{wide:.2}\" height=\"{high:.2}\" viewBox=\"0 0 {wide:.2} {high:.2}\">\n<rect width=\"{wide:.2}\" height=\"{high:.2}\" fill=\"#ffffff\"/>\n{body}{}{}</svg>\n",
                foot(EDGE, &self.footer),
                foot(x, &number)
            )
        };
        pages.into_iter().enumerate().map(page).collect()
    }
}
