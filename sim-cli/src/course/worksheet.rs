//! The worksheet and the answer key of a lesson, page by page.

use super::lesson_commands::{CommandResult, LessonCommands};
use super::lessons::{Lesson, WRITTEN_FOR, sources};
use super::plain_text::{Paragraph, bare, pieces};
use super::sheet::Sheet;
use super::sheet_request::SheetRequest;
use crate::cautions::{Caution, ENGINE, IN_FULL, JUMPER, MODEL, PETROL};
use crate::error::Error;
use crate::report::{Block, Cell, Table};
use crate::text::typeset;
use std::rc::Rc;

/// Most pages of a worksheet, and of a key.
pub const PAGES: usize = 2;
/// How small text is made at most so that it fits, and the steps in which it is.
const SMALLEST: f64 = 0.62;
const STEPS: usize = 20;

/// The cautions in full, and of the lesson's commands what goes beyond them.
fn cautions(figures: &[Rc<CommandResult>]) -> Vec<String> {
    let mut found: Vec<&Caution> = Vec::new();
    let printed = [&PETROL, &JUMPER, &ENGINE, &MODEL];
    for caution in figures.iter().flat_map(|one| &one.cautions) {
        if printed.iter().chain(&found).all(|known| *known != caution) {
            found.push(caution);
        }
    }
    let more = found.iter().map(|caution| caution.long.to_string());
    IN_FULL.iter().map(|caution| bare(caution.long)).chain(more).collect()
}

/// Columns of spaces, which only stand one under another where letters are all as wide, as
/// gaps.
fn with_gaps(line: &str) -> String {
    let words = line.trim().split("  ").map(str::trim).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join("   ")
}

/// A sheet of a lesson in the making.
struct LessonSheet<'a> {
    sheet: Sheet,
    lesson: &'a Lesson,
    commands: &'a LessonCommands<'a>,
    /// What is written of the lesson: its sources are named.
    written: String,
}

/// The worksheet: at most two pages, and no answer on them.
pub fn worksheet(commands: &LessonCommands<'_>) -> Result<Vec<String>, Error> {
    at_most_two_pages(|scale| LessonSheet::new(commands, scale, "").worksheet())
}

/// The answer key: notes, answers, the chart, and every command worked out for the rig, on at
/// most two pages.
pub fn key(commands: &LessonCommands<'_>) -> Result<Vec<String>, Error> {
    at_most_two_pages(|scale| LessonSheet::new(commands, scale, ", answer key").key(scale))
}

/// Pages with text as large as two pages allow.
fn at_most_two_pages(at_scale: impl Fn(f64) -> Result<Sheet, Error>) -> Result<Vec<String>, Error> {
    let scale = |step: usize| 1.0 - (1.0 - SMALLEST) * step as f64 / STEPS as f64;
    let mut sheet = at_scale(1.0)?;
    for step in 1..=STEPS {
        if sheet.count() <= PAGES {
            break;
        }
        sheet = at_scale(scale(step))?;
    }
    Ok(sheet.finish())
}

impl<'a> LessonSheet<'a> {
    /// A sheet with nothing but its title.
    fn new(commands: &'a LessonCommands<'a>, scale: f64, what: &str) -> LessonSheet<'a> {
        let LessonCommands { lesson, request, .. } = commands;
        let footer = format!(
            "quarterturn {}, rig {}: a model of invented parts, measured on no engine",
            env!("CARGO_PKG_VERSION"),
            request.name
        );
        let mut sheet = Sheet::new(request.paper_size, scale, &footer);
        sheet.title(&format!("Lesson {}: {}{what}", lesson.number, lesson.title()));
        LessonSheet { sheet, lesson, commands, written: String::new() }
    }

    /// Pieces of a text of the lesson, with the numbers of the rig.
    fn pieces(&mut self, text: &str) -> Result<Vec<Paragraph>, Error> {
        self.written += text;
        self.written.push('\n');
        Ok(pieces(&self.commands.text_for_rig(text)?))
    }

    /// A text of the lesson.
    fn text(&mut self, text: &str) -> Result<(), Error> {
        for Paragraph { mark, text } in self.pieces(text)? {
            self.sheet.item(&mark, &text);
        }
        Ok(())
    }

    /// A section of the lesson under its heading.
    fn section(&mut self, heading: &str) -> Result<(), Error> {
        self.sheet.heading(heading);
        self.text(self.lesson.section(heading))
    }

    fn note_on_none(&mut self) {
        self.commands.note_on_none().into_iter().for_each(|words| self.sheet.small(words));
    }

    fn sources(&mut self) {
        sources(&self.written).iter().for_each(|source| self.sheet.small(source));
    }

    fn worksheet(mut self) -> Result<Sheet, Error> {
        let figures = self.commands.figure_results()?;
        let SheetRequest { name, error, .. } = self.commands.request;
        self.sheet.small(&format!(
            "The engine is the rig {name}, invented.{error} Name: ____________________  Date: ____________"
        ));
        self.section("What it is about")?;
        self.section("At the bench")?;
        self.sheet.framed(&cautions(&figures));
        self.section("Try first")?;
        self.sheet.heading("Your prediction, in ink");
        for Paragraph { mark, text } in self.pieces(self.lesson.section("Your prediction"))? {
            match mark.is_empty() {
                true => self.sheet.paragraph(&text),
                false => self.sheet.answer_box(&text),
            }
        }
        self.note_on_none();
        for one in figures {
            if let Some(picture) = &one.picture {
                let heading = format!("Draw what you expect of: quarterturn {}", one.words);
                self.sheet.chart(&heading, &picture.blank());
            } else if let Some(error) = &one.error {
                self.sheet.paragraph(&format!("There is no chart for this rig: {error}."));
            }
        }
        self.sheet.heading("Then run, or be shown");
        let commands = self.commands.commands_as_typed()?;
        commands.iter().for_each(|command| self.sheet.small(command));
        self.section("Ask yourself")?;
        self.sources();
        Ok(self.sheet)
    }

    fn key(mut self, scale: f64) -> Result<Sheet, Error> {
        let figures = self.commands.figure_results()?;
        self.section("For the instructor")?;
        self.sheet.framed(&cautions(&figures));
        let SheetRequest { name, rig, error, .. } = self.commands.request;
        self.sheet.heading("Answers");
        if rig != WRITTEN_FOR {
            self.sheet.paragraph(&format!(
                "The numbers are those of the rig {name}; the words were read with those of the shipped rigs.{error}"
            ));
        }
        self.text(self.lesson.answers)?;
        self.note_on_none();
        self.section("What this model leaves out")?;
        self.sources();
        for one in figures {
            let heading = format!("The chart: quarterturn {}", one.words);
            if let Some(picture) = &one.picture {
                self.sheet.float(&heading, picture.clone());
            } else {
                self.sheet.heading(&heading);
                self.sheet.paragraph(one.error.as_deref().unwrap_or("there is none"));
            }
        }
        self.worked_out(scale)?;
        Ok(self.sheet)
    }

    /// Every command of page and answers with its result, in two columns; what is too wide for
    /// a column stands at the end.
    fn worked_out(&mut self, scale: f64) -> Result<(), Error> {
        let sheet = &mut self.sheet;
        sheet.heading("Worked out");
        let printed = self.commands.printed_results()?;
        sheet.columns(2);
        let (mut known, mut wide) = (Vec::new(), Vec::new());
        for result in &printed {
            wide.extend(write_result(sheet, result, &known));
            known.extend(result.blocks.iter().filter_map(Block::table));
        }
        let mut across = false;
        for (heading, table) in wide {
            // Where text gets no smaller, a table in the rest of a column is better than a page
            // more.
            let last = scale == SMALLEST;
            if !across && (!last || sheet.has_room_below(table)) {
                sheet.columns(1);
                across = true;
            }
            sheet.subheading(&heading);
            sheet.table(table);
        }
        Ok(())
    }
}

/// A command and its result, but for tables that are known. Gives those that are too wide
/// for a column, each with the words it stands under.
fn write_result<'a>(
    sheet: &mut Sheet,
    result: &'a CommandResult,
    known: &[&Table],
) -> Vec<(String, &'a Table)> {
    let mut wide = Vec::new();
    let command = format!("quarterturn {}", result.words);
    sheet.subheading(&command);
    sheet.repeat_name(Some(&command));
    if let Some(error) = &result.error {
        sheet.small(error);
    }
    for block in &result.blocks {
        match block {
            Block::Heading(text) | Block::Line(text) => {
                sheet.small(&with_gaps(&typeset(&bare(text))))
            }
            Block::Hazard(text) => sheet.small(&format!("HAZARD: {}", bare(text))),
            Block::Table(table) if known.contains(&table) => {
                sheet.small("(Its table is the one told before.)");
            }
            Block::Table(table) => match differing_rows(table) {
                Some(differing) => {
                    sheet.table(&differing);
                    sheet.small("All other readings stay.");
                }
                None if sheet.readable(table) => sheet.table(table),
                None => {
                    sheet.small("(Its table is wide and stands at the end.)");
                    wide.push((command.clone(), table));
                }
            },
            Block::Verbatim(text) => text.lines().for_each(|line| sheet.small(line)),
        }
    }
    sheet.repeat_name(None);
    wide
}

/// Of a table with differences, the rows that differ; `None` if all do or it has none.
fn differing_rows(table: &Table) -> Option<Table> {
    let of = |name: &str| table.columns.iter().position(|column| column.name == name);
    let at = of("difference").or(of("settled after"))?;
    let nothing = |row: &Vec<Cell>| {
        let text = row[at].printed(&table.columns[at]);
        text == "at once" || !text.contains(|c: char| c != '0' && c.is_alphanumeric())
    };
    let rows: Vec<_> = table.rows.iter().filter(|row| !nothing(row)).cloned().collect();
    (rows.len() < table.rows.len()).then(|| Table::new(table.columns.clone(), rows))
}
