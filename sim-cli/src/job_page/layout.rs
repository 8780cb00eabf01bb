//! Where everything on the sheet stands.

use crate::course::paper_size::PaperSize;
use crate::drawing::fonts::{FAMILY, lines, width};
use crate::drawing::page::footer;
use crate::drawing::picture::escaped;
use crate::drawing::theme::{ACCENT, Colour, FRAMED, INK, SOFT, WHITE, hex};
use crate::results::jobsheet::{JobSheet, Reading, SheetStep};
use crate::text::typeset;

/// The smallest type (pt).
const LEAST_PT: f64 = 9.0;
/// Blank edge of a page (pt).
const EDGE: f64 = 24.0;
/// Blank beside what stands in a cell (pt).
const BESIDE: f64 = 3.5;
/// Pages that a sheet should have at most.
const PAGES: usize = 2;

/// How close everything stands.
#[derive(Clone, Copy)]
struct Spacing {
    /// Line to line (pt).
    line: f64,
    /// Blank above and below what stands in a cell (pt).
    pad: f64,
    /// Least height of a row that a hand writes in (pt).
    written: f64,
}

/// From wide to close: the first with which the sheet has no more than [`PAGES`] pages is taken.
const SPACINGS: [Spacing; 4] = [
    Spacing { line: 11.2, pad: 3.0, written: 15.0 },
    Spacing { line: 10.8, pad: 2.0, written: 13.5 },
    Spacing { line: 10.4, pad: 1.5, written: 12.5 },
    Spacing { line: 10.0, pad: 1.0, written: 11.5 },
];
/// Moves that the record has room for.
const MOVES: usize = 10;
/// Columns of the table: head, share of the width.
const COLUMNS: [(&str, f64); 7] = [
    ("step, tool, caution", 0.352),
    ("reading", 0.148),
    ("expected", 0.074),
    ("+/-", 0.054),
    ("maker", 0.050),
    ("found", 0.064),
    ("if not, then", 0.258),
];

/// Pages: their size (pt), and what stands on each.
pub struct Pages {
    /// Width and height (pt).
    pub size: (f64, f64),
    /// The elements of each.
    pub bodies: Vec<String>,
}

impl Pages {
    /// Each page as an SVG of its own.
    #[cfg(feature = "pdf")]
    pub fn svgs(&self) -> Vec<String> {
        let (wide, high) = self.size;
        let page = |body: &String| {
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{wide:.2}\" height=\"{high:.2}\" viewBox=\"0 0 {wide:.2} {high:.2}\">\n{body}</svg>\n"
            )
        };
        self.bodies.iter().map(page).collect()
    }
}

/// A row of a reading: column, lines and weight of each cell, and its height (pt).
struct Row {
    cells: [(usize, Vec<String>, bool); 4],
    high: f64,
}

struct Maker {
    size: (f64, f64),
    bodies: Vec<String>,
    y: f64,
    bottom: f64,
    spacing: Spacing,
}

/// The pages of a sheet.
pub fn pages(sheet: &JobSheet, paper_size: PaperSize) -> Pages {
    let [widest, closer @ ..] = SPACINGS;
    let mut made = spaced(sheet, paper_size, widest);
    for spacing in closer {
        if made.bodies.len() > PAGES {
            made = spaced(sheet, paper_size, spacing);
        }
    }
    made
}

fn spaced(sheet: &JobSheet, paper_size: PaperSize, spacing: Spacing) -> Pages {
    let (short, long) = paper_size.size();
    let size = (long, short);
    let foot = lines(&footer(&sheet.command), LEAST_PT, false, size.0 - 2.0 * EDGE - 50.0);
    let bottom = size.1 - EDGE - spacing.line * foot.len() as f64 - 2.0;
    let mut maker = Maker { size, bodies: vec![String::new()], y: EDGE, bottom, spacing };
    maker.head(sheet);
    maker.table_head();
    for (i, step) in sheet.steps.iter().enumerate() {
        maker.step(i + 1, step);
    }
    if sheet.turns_the_screw() {
        maker.record();
    }
    maker.finish(&foot)
}

impl Maker {
    fn wide(&self) -> f64 {
        self.size.0 - 2.0 * EDGE
    }

    fn add(&mut self, element: &str) {
        if let Some(body) = self.bodies.last_mut() {
            body.push_str(element);
            body.push('\n');
        }
    }

    fn text(&mut self, words: &str, (x, y): (f64, f64), size: f64, bold: bool, colour: Colour) {
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        self.add(&format!(
            "<text x=\"{x:.2}\" y=\"{y:.2}\" font-family=\"{FAMILY}\" font-size=\"{size:.2}\"{weight} fill=\"{}\" xml:space=\"preserve\">{}</text>",
            hex(colour),
            escaped(&typeset(words))
        ));
    }

    fn frame(&mut self, (x, y): (f64, f64), (wide, high): (f64, f64), fill: Colour) {
        self.add(&format!(
            "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{wide:.2}\" height=\"{high:.2}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"0.6\"/>",
            hex(fill),
            hex(SOFT)
        ));
    }

    /// Lines of text from the top down; where the next begins.
    fn paragraph(&mut self, words: &[String], (x, y): (f64, f64), bold: bool, ink: Colour) -> f64 {
        let mut y = y;
        for line in words {
            self.text(line, (x, y + 8.4), LEAST_PT, bold, ink);
            y += self.spacing.line;
        }
        y
    }

    fn head(&mut self, sheet: &JobSheet) {
        let wide = self.wide();
        for line in lines(&sheet.title(), 14.0, true, wide) {
            self.text(&line, (EDGE, self.y + 12.0), 14.0, true, INK);
            self.y += 17.0;
        }
        let mut told = vec![sheet.circumstances()];
        told.extend(sheet.verdict.map(str::to_string));
        told.extend(sheet.judgement());
        for words in told {
            let broken = lines(&words, LEAST_PT, false, wide);
            self.y = self.paragraph(&broken, (EDGE, self.y), false, INK);
        }
        let blank = "Car ______________________  Engine no. ___________________  Km _______________  Date _______________  By _____________________";
        self.y += 5.0;
        self.text(blank, (EDGE, self.y + 9.0), LEAST_PT, false, INK);
        self.y += self.spacing.line + 5.0;
        let room = wide - 2.0 * BESIDE;
        let cautions = sheet.cautions();
        let broken: Vec<String> = cautions
            .iter()
            .flat_map(|caution| lines(&format!("! {}", caution.long), LEAST_PT, false, room))
            .collect();
        let high = self.spacing.line * broken.len() as f64 + 2.0 * self.spacing.pad;
        self.frame((EDGE, self.y), (wide, high), FRAMED);
        self.paragraph(&broken, (EDGE + BESIDE, self.y + self.spacing.pad), false, INK);
        self.y += high + 5.0;
    }

    /// Left edge and width of a column.
    fn column(&self, at: usize) -> (f64, f64) {
        let before: f64 = COLUMNS[..at].iter().map(|(_, share)| share).sum();
        (EDGE + before * self.wide(), COLUMNS[at].1 * self.wide())
    }

    fn table_head(&mut self) {
        let high = self.spacing.line + 2.0 * self.spacing.pad;
        for (at, (words, _)) in COLUMNS.iter().enumerate() {
            let (x, wide) = self.column(at);
            self.frame((x, self.y), (wide, high), FRAMED);
            self.text(words, (x + BESIDE, self.y + self.spacing.pad + 8.4), LEAST_PT, true, INK);
        }
        self.y += high;
    }

    fn new_page(&mut self) {
        self.bodies.push(String::new());
        self.y = EDGE;
    }

    fn broken(&self, words: &str, column: usize, bold: bool) -> Vec<String> {
        lines(&typeset(words), LEAST_PT, bold, self.column(column).1 - 2.0 * BESIDE)
    }

    /// A reading's row: what was found outside is bold.
    fn row(&self, reading: &Reading) -> Row {
        let (expected, tolerance) = reading.expected();
        let found = format!("{} {}", reading.found(), reading.judged().unwrap_or_default());
        let off = reading.inside() == Some(false);
        let cell = |at: usize, words: &str, bold: bool| (at, self.broken(words, at, bold), bold);
        let cells = [
            cell(1, &reading.label(), false),
            cell(2, &expected, true),
            cell(3, &tolerance, false),
            cell(5, found.trim(), off),
        ];
        let count = cells.iter().map(|(_, words, _)| words.len()).max().unwrap_or(1);
        let high = self.spacing.line * count as f64 + 2.0 * self.spacing.pad;
        Row { cells, high: high.max(self.spacing.written) }
    }

    fn step(&mut self, number: usize, one: &SheetStep) {
        let step = &one.step;
        let title = self.broken(&format!("{number}. {}", step.title), 0, true);
        let what = self.broken(step.what, 0, false);
        // The tool stands behind the title where there is room for it.
        let room = self.column(0).1 - 2.0 * BESIDE;
        let head = width(&title[title.len() - 1], LEAST_PT, true) + 6.0;
        let beside = format!("({})", step.tool);
        let fits = head + width(&beside, LEAST_PT, false) <= room;
        let tool = match fits {
            true => Vec::new(),
            false => self.broken(&beside, 0, false),
        };
        let caution = self.broken(&format!("! {}", step.caution), 0, false);
        let if_not = self.broken(&one.if_not(), 6, false);
        let left = title.len() + what.len() + tool.len() + caution.len();
        let rows: Vec<Row> = one.readings.iter().map(|reading| self.row(reading)).collect();
        let readings_high: f64 = rows.iter().map(|row| row.high).sum();
        let text_high = self.spacing.line * left.max(if_not.len()) as f64 + 2.0 * self.spacing.pad;
        let high = text_high.max(readings_high);
        if self.y + high > self.bottom {
            self.new_page();
            self.table_head();
        }
        let top = self.y;
        for at in [0, 6] {
            let (x, wide) = self.column(at);
            self.frame((x, top), (wide, high), WHITE);
        }
        let x = self.column(0).0 + BESIDE;
        let mut y = self.paragraph(&title, (x, top + self.spacing.pad), true, INK);
        if fits {
            let place = (x + head, y - self.spacing.line + 8.4);
            self.text(&beside, place, LEAST_PT, false, SOFT);
        }
        y = self.paragraph(&tool, (x, y), false, SOFT);
        y = self.paragraph(&what, (x, y), false, INK);
        self.paragraph(&caution, (x, y), false, ACCENT);
        let x = self.column(6).0 + BESIDE;
        self.paragraph(&if_not, (x, top + self.spacing.pad), false, INK);
        if rows.is_empty() {
            let x = self.column(1).0;
            let wide = (1..6).map(|at| self.column(at).1).sum::<f64>();
            self.frame((x, top), (wide, high), WHITE);
            let place = (x + BESIDE, top + self.spacing.pad + 8.4);
            self.text("done, and what was seen:", place, LEAST_PT, false, SOFT);
            self.y = top + high;
            return;
        }
        // What is over is shared by the rows: a hand needs room.
        let more = (high - readings_high) / rows.len() as f64;
        let mut y = top;
        for row in &rows {
            let row_high = row.high + more;
            for at in 1..6 {
                let (x, wide) = self.column(at);
                self.frame((x, y), (wide, row_high), WHITE);
            }
            for (at, words, bold) in &row.cells {
                let x = self.column(*at).0 + BESIDE;
                self.paragraph(words, (x, y + self.spacing.pad), *bold, INK);
            }
            y += row_high;
        }
        self.y = top + high;
    }

    /// The record of the screw's moves.
    fn record(&mut self) {
        let rows = ["move", "turns, in is plus", "sum from found", "duty, %", "volts"];
        let high = self.spacing.written.max(12.5);
        let needed = 2.0 * self.spacing.line + high * rows.len() as f64;
        if self.y + needed > self.bottom {
            self.new_page();
        }
        self.y += 7.0;
        let words = "Record of the screw: found is 0. The way back is the last sum with its sign turned. One turn at a time: wait, blip, wait, read, write.";
        self.text(words, (EDGE, self.y + 8.4), LEAST_PT, true, INK);
        self.y += self.spacing.line + 3.0;
        let label = 105.0;
        let cell = (self.wide() - label) / MOVES as f64;
        for (i, words) in rows.iter().enumerate() {
            self.frame((EDGE, self.y), (label, high), FRAMED);
            self.text(words, (EDGE + BESIDE, self.y + 0.5 * high + 3.3), LEAST_PT, false, INK);
            for number in 0..MOVES {
                let x = EDGE + label + cell * number as f64;
                self.frame((x, self.y), (cell, high), WHITE);
                let head = match (i, number) {
                    (0, 0) => "found".to_string(),
                    (0, _) => number.to_string(),
                    (1 | 2, 0) => "0".to_string(),
                    _ => String::new(),
                };
                self.text(&head, (x + BESIDE, self.y + 0.5 * high + 3.3), LEAST_PT, false, INK);
            }
            self.y += high;
        }
    }

    /// The pages, each with paper, footer and number.
    fn finish(self, foot: &[String]) -> Pages {
        let count = self.bodies.len();
        let (wide, high) = self.size;
        let mut maker = Maker {
            size: self.size,
            bodies: Vec::new(),
            y: 0.0,
            bottom: 0.0,
            spacing: self.spacing,
        };
        for (i, body) in self.bodies.iter().enumerate() {
            maker.bodies.push(format!(
                "<rect width=\"{wide:.2}\" height=\"{high:.2}\" fill=\"{}\"/>\n{body}",
                hex(WHITE)
            ));
            let top = self.bottom + 2.0;
            for (line, words) in foot.iter().enumerate() {
                let y = top + self.spacing.line * (line as f64 + 0.8);
                maker.text(words, (EDGE, y), LEAST_PT, false, SOFT);
            }
            let number = format!("{} of {count}", i + 1);
            let x = wide - EDGE - width(&number, LEAST_PT, false);
            maker.text(&number, (x, top + 0.8 * self.spacing.line), LEAST_PT, false, SOFT);
        }
        Pages { size: self.size, bodies: maker.bodies }
    }
}
