//! The layout of printed pages: text in lines that fit, boxes, tables and charts, from top to
//! bottom.

use super::table_layout::{BETWEEN, TableLayout, TableLine, lines_of};
use crate::drawing::fonts::{FAMILY, lines, width};
use crate::drawing::picture::{Picture, escaped};
use crate::drawing::theme::{Colour, FRAMED, INK, SOFT, WHITE, hex};
use crate::report::Table;
use std::collections::VecDeque;

/// A size of paper.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// ISO 216 A4: 210 mm x 297 mm.
    A4,
    /// 8.5 in x 11 in.
    Letter,
}

impl PaperSize {
    /// Width and height (pt).
    pub fn size(self) -> (f64, f64) {
        match self {
            PaperSize::A4 => (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0),
            PaperSize::Letter => (612.0, 792.0),
        }
    }
}

/// Blank edge of a page (pt).
const MARGIN: f64 = 42.0;
/// Room between columns (pt).
const COLUMN_GAP: f64 = 16.0;
/// How small a chart may become where text is made smaller: its least text is 6 pt then.
const CHART_SCALE_LEAST: f64 = 0.8;
/// Width of a table's cell from which its words go on in a further line, for text of size 1:
/// where there is room, and where there is none.
const WORD_WIDTHS: (f64, f64) = (20.0, 11.0);
/// Size of a table's text, of that of running text.
const TABLE_TEXT_SHARE: f64 = 0.8;
/// How much smaller it may become for the sake of a column's width.
const TABLE_TEXT_LEAST: f64 = 0.9;
/// Room at the foot for the footer (pt).
const FOOTER_HEIGHT: f64 = 20.0;
/// Size of running text before it is made smaller (pt).
const TEXT_PT: f64 = 10.0;
/// Line to line, of the size of text.
const LINE_SPACING: f64 = 1.38;

/// Pages in the making.
pub struct Sheet {
    paper_size: PaperSize,
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
    /// The name of what is being written, which stands again where it goes on elsewhere.
    repeated_name: Option<String>,
    /// Charts, with their headings, that stand on top of the next pages.
    waiting: VecDeque<(String, Picture)>,
}

impl Sheet {
    /// An empty sheet. `scale` makes all text smaller; the footer stands on every page.
    pub fn new(paper_size: PaperSize, scale: f64, footer: &str) -> Sheet {
        Sheet {
            paper_size,
            scale,
            footer: footer.into(),
            pages: vec![String::new()],
            y: MARGIN,
            columns: 1,
            column: 0,
            top: MARGIN,
            lowest: MARGIN,
            repeated_name: None,
            waiting: VecDeque::new(),
        }
    }

    /// Width of a column.
    fn column_width(&self) -> f64 {
        let count = self.columns as f64;
        (self.paper_size.size().0 - 2.0 * MARGIN - COLUMN_GAP * (count - 1.0)) / count
    }

    /// Left edge of the column.
    fn left(&self) -> f64 {
        MARGIN + self.column as f64 * (self.column_width() + COLUMN_GAP)
    }

    /// What follows goes into so many columns, from below all that stands on the page.
    pub fn columns(&mut self, columns: usize) {
        self.y = self.y.max(self.lowest);
        (self.columns, self.column, self.top) = (columns, 0, self.y);
    }

    fn bottom(&self) -> f64 {
        self.paper_size.size().1 - MARGIN - FOOTER_HEIGHT
    }

    /// Adds to the page, and begins a line of its SVG.
    fn add(&mut self, svg: &str) {
        if let Some(page) = self.pages.last_mut() {
            page.push_str(svg);
            page.push('\n');
        }
    }

    /// Goes to the next column, or to a new page.
    fn next_column(&mut self) {
        if self.column + 1 < self.columns {
            self.lowest = self.lowest.max(self.y);
            self.column += 1;
            self.y = self.top;
            self.write_repeated_name();
            return;
        }
        self.pages.push(String::new());
        (self.column, self.y, self.lowest) = (0, MARGIN, MARGIN);
        if let Some((heading, picture)) = self.waiting.pop_front() {
            let columns = std::mem::replace(&mut self.columns, 1);
            self.chart(&heading, &picture);
            self.columns = columns;
        }
        self.top = self.y;
        self.write_repeated_name();
    }

    /// What follows stands under this name, which is repeated where it goes on elsewhere; or
    /// under none.
    pub fn repeat_name(&mut self, name: Option<&str>) {
        self.repeated_name = name.map(Into::into);
    }

    fn write_repeated_name(&mut self) {
        if let Some(name) = self.repeated_name.take() {
            self.small(&format!("({name}, continued)"));
            self.repeated_name = Some(name);
        }
    }

    /// Goes on elsewhere unless there is room (pt).
    fn keep_together(&mut self, room: f64) {
        if self.y + room > self.bottom() {
            self.next_column();
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

    /// The title of the sheet.
    pub fn title(&mut self, text: &str) {
        self.bold_lines(text, 16.0 * self.scale, 0.3);
    }

    /// A heading, kept together with what follows.
    pub fn heading(&mut self, text: &str) {
        self.heading_of_size(text, 11.5);
    }

    /// A heading over a part of what a heading stands over.
    pub fn subheading(&mut self, text: &str) {
        self.heading_of_size(text, 9.0);
    }

    fn heading_of_size(&mut self, text: &str, size: f64) {
        let size = size * self.scale;
        self.keep_together(5.0 * size);
        self.y += 0.7 * size;
        self.bold_lines(text, size, 0.35);
    }

    /// Lines of bold text, with a space of a share of their size under each.
    fn bold_lines(&mut self, text: &str, size: f64, under: f64) {
        for line in lines(text, size, true, self.column_width()) {
            self.y += size;
            self.write_text(&line, (self.left(), self.y), size, true);
            self.y += under * size;
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
        let size = TEXT_PT * self.scale * share;
        let indent = if mark.is_empty() { 0.0 } else { 1.7 * size };
        let lines = lines(text, size, false, self.column_width() - indent);
        for (i, line) in lines.iter().enumerate() {
            // A short paragraph stays in one piece; of a long one no line stands alone.
            let together = match (i, lines.len()) {
                (0, count) if count <= 4 => count,
                (i, count) if i == 0 || i + 2 == count => 2,
                _ => 1,
            };
            self.keep_together(LINE_SPACING * size * together as f64);
            if i == 0 && !mark.is_empty() {
                self.write_text(mark, (self.left(), self.y + size), size, false);
            }
            self.write_line(line, indent, size);
        }
        self.y += 0.3 * size;
    }

    fn write_line(&mut self, line: &str, indent: f64, size: f64) {
        self.y += size;
        self.write_text(line, (self.left() + indent, self.y), size, false);
        self.y += (LINE_SPACING - 1.0) * size;
    }

    /// Paragraphs in a frame of their own.
    pub fn framed(&mut self, paragraphs: &[String]) {
        let size = 0.9 * TEXT_PT * self.scale;
        let room = self.column_width() - 16.0;
        let broken: Vec<Vec<String>> =
            paragraphs.iter().map(|text| lines(text, size, false, room)).collect();
        let count: usize = broken.iter().map(Vec::len).sum();
        let height_pt =
            LINE_SPACING * size * count as f64 + 0.3 * size * broken.len() as f64 + 10.0;
        self.keep_together(height_pt + 6.0);
        self.y += 3.0;
        let (place, width_pt) = ((self.left(), self.y), self.column_width());
        self.draw_frame(place, (width_pt, height_pt), FRAMED);
        self.y += 5.0;
        for paragraph in broken {
            for line in paragraph {
                self.write_line(&line, 8.0, size);
            }
            self.y += 0.3 * size;
        }
        self.y += 9.0;
    }

    /// A question with a box for what is predicted.
    pub fn answer_box(&mut self, text: &str) {
        let size = TEXT_PT * self.scale;
        let count = lines(text, size, false, self.column_width() - 1.7 * size).len() as f64;
        let height_pt = 22.0 * self.scale;
        self.keep_together(LINE_SPACING * size * count + height_pt + 8.0);
        self.item("-", text);
        let (y, width_pt) = (self.y, self.column_width());
        self.draw_frame((self.left() + 1.7 * size, y), (width_pt - 1.7 * size, height_pt), WHITE);
        self.y += height_pt + 5.0;
    }

    /// A chart under its heading, as wide as the page, or as high as there is room.
    pub fn chart(&mut self, heading: &str, picture: &Picture) {
        let most = self.bottom() - MARGIN - 60.0;
        let width_pt = (self.column_width() * self.scale.max(CHART_SCALE_LEAST))
            .min(most / picture.slenderness());
        let height_pt = width_pt * picture.slenderness();
        self.keep_together(height_pt + 40.0);
        self.heading(heading);
        let place = (self.left() + 0.5 * (self.column_width() - width_pt), self.y + 4.0);
        self.add(&picture.nested(place, width_pt));
        self.y += height_pt + 10.0;
    }

    /// A chart here if there is room, else on top of the next page.
    pub fn float(&mut self, heading: &str, picture: Picture) {
        let height_pt =
            self.column_width() * self.scale.max(CHART_SCALE_LEAST) * picture.slenderness();
        if self.y + height_pt + 60.0 <= self.bottom() {
            self.chart(heading, &picture);
        } else {
            self.waiting.push_back((heading.into(), picture));
        }
    }

    /// Whether a table's text stays large enough to be read in a column.
    pub fn readable(&self, table: &Table) -> bool {
        self.fitted_layout(table).0 >= TABLE_TEXT_LEAST * TABLE_TEXT_SHARE * TEXT_PT * self.scale
    }

    /// Size of a table's text, and the table with its words in more lines if that helps.
    fn fitted_layout(&self, table: &Table) -> (f64, TableLayout) {
        let most = TABLE_TEXT_SHARE * TEXT_PT * self.scale;
        let size = |layout: &TableLayout| most.min(self.column_width() / layout.needs);
        let wide = TableLayout::new(table, WORD_WIDTHS.0);
        if size(&wide) >= TABLE_TEXT_LEAST * most {
            return (size(&wide), wide);
        }
        let narrow = TableLayout::new(table, WORD_WIDTHS.1);
        (size(&narrow), narrow)
    }

    /// Whether a table has room on this page below all columns.
    pub fn has_room_below(&self, table: &Table) -> bool {
        let height_pt =
            LINE_SPACING * TABLE_TEXT_SHARE * TEXT_PT * self.scale * (table.rows.len() + 4) as f64;
        self.y.max(self.lowest) + height_pt <= self.bottom()
    }

    /// A table, its text as small as it must be. Where it goes on elsewhere, its head stands
    /// again, and no row stands alone.
    pub fn table(&mut self, table: &Table) {
        let (size, layout) = self.fitted_layout(table);
        let (head, body) = layout.rows.split_at(layout.heads);
        let height_pt = |rows: &[TableLine]| {
            rows.iter().map(|row| LINE_SPACING * size * lines_of(row)).sum::<f64>()
        };
        self.keep_together(height_pt(head) + height_pt(&body[..body.len().min(3)]));
        self.rows(&layout, head, size);
        for i in 0..body.len() {
            let together = if i + 2 == body.len() { i + 2 } else { i + 1 };
            if i > 0 && self.y + height_pt(&body[i..together]) > self.bottom() {
                self.next_column();
                self.rows(&layout, head, size);
            }
            self.rows(&layout, &body[i..=i], size);
        }
        self.y += 0.6 * size;
    }

    fn rows(&mut self, layout: &TableLayout, rows: &[TableLine], size: f64) {
        for row in rows {
            let mut x = self.left();
            for ((cell, wide), right) in row.iter().zip(&layout.widths).zip(&layout.right) {
                for (i, line) in cell.iter().enumerate() {
                    let shift = if *right { size * wide - width(line, size, false) } else { 0.0 };
                    let y = self.y + size * (1.0 + LINE_SPACING * i as f64);
                    if !line.is_empty() {
                        self.write_text(line, (x + shift, y), size, false);
                    }
                }
                x += size * (wide + BETWEEN);
            }
            self.y += LINE_SPACING * size * lines_of(row);
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
            self.next_column();
        }
        let (width_pt, height_pt) = self.paper_size.size();
        let count = self.pages.len();
        let pages = std::mem::take(&mut self.pages);
        let size = 7.5;
        let page = |(i, body): (usize, String)| {
            let number = format!("{} of {count}", i + 1);
            let x = width_pt - MARGIN - width(&number, size, false);
            let y = height_pt - MARGIN;
            let foot = |x: f64, text: &str| text_element(text, (x, y), size, false, SOFT);
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_pt:.2}\" height=\"{height_pt:.2}\" viewBox=\"0 0 {width_pt:.2} {height_pt:.2}\">\n<rect width=\"{width_pt:.2}\" height=\"{height_pt:.2}\" fill=\"{}\"/>\n{body}{}\n{}\n</svg>\n",
                hex(WHITE),
                foot(MARGIN, &self.footer),
                foot(x, &number)
            )
        };
        pages.into_iter().enumerate().map(page).collect()
    }
}

fn text_element(text: &str, (x, y): (f64, f64), size: f64, bold: bool, colour: Colour) -> String {
    let weight = if bold { " font-weight=\"bold\"" } else { "" };
    format!(
        "<text x=\"{x:.2}\" y=\"{y:.2}\" font-family=\"{FAMILY}\" font-size=\"{size:.2}\"{weight} fill=\"{}\" xml:space=\"preserve\">{}</text>",
        hex(colour),
        escaped(text)
    )
}
