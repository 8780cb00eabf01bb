//! The worksheet and the answer key of a lesson, page by page.

use super::lesson_commands::{CommandResult, LessonCommands};
use super::lessons::{Lesson, WRITTEN_FOR, cautions_in_full, sources};
use super::plain_text::{Paragraph, bare, pieces};
use super::sheet::Sheet;
use super::sheet_request::SheetRequest;
use crate::cautions::{Caution, ENGINE, JUMPER, MODEL, PETROL};
use crate::error::Error;
use crate::report::{Block, Cell, Table};
use crate::text::typeset;
use std::rc::Rc;

/// Most pages of a worksheet, and of a key.
pub const PAGES: usize = 2;
/// How small text is made at most so that it fits, and the steps in which it is.
const SMALLEST: f64 = 0.62;
const STEPS: usize = 20;

fn write(sheet: &mut Sheet, section: &str) {
    for piece in pieces(section) {
        match piece {
            Paragraph::Plain(text) => sheet.paragraph(&text),
            Paragraph::Item(mark, text) => sheet.item(&mark, &text),
        }
    }
}

/// The cautions in full, and of the lesson's commands what goes beyond them.
fn cautions(figures: &[Rc<CommandResult>]) -> Vec<String> {
    let mut found: Vec<&Caution> = Vec::new();
    let printed = [&PETROL, &JUMPER, &ENGINE, &MODEL];
    for caution in figures.iter().flat_map(|one| &one.cautions) {
        if printed.iter().chain(&found).all(|known| *known != caution) {
            found.push(caution);
        }
    }
    let more = found.iter().map(|caution| caution.to_string());
    cautions_in_full().map(bare).chain(more).collect()
}

/// Columns of spaces, which only stand one under another where letters are all as wide, as
/// gaps.
fn with_gaps(line: &str) -> String {
    let words = line.trim().split("  ").map(str::trim).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join("   ")
}

fn footer(request: &SheetRequest) -> String {
    format!(
        "quarterturn {}, rig {}: a model of invented parts, measured on no engine",
        env!("CARGO_PKG_VERSION"),
        request.name
    )
}

fn about_rig(request: &SheetRequest) -> String {
    format!("The engine is the rig {}, invented.{}", request.name, request.error)
}

/// The worksheet: at most two pages, and no answer on them.
pub fn worksheet(
    lesson: &Lesson,
    request: &SheetRequest,
    lesson_commands: &LessonCommands,
) -> Result<Vec<String>, Error> {
    at_most_two_pages(|scale| worksheet_at_scale(lesson, request, lesson_commands, scale))
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

fn worksheet_at_scale(
    lesson: &Lesson,
    request: &SheetRequest,
    lesson_commands: &LessonCommands,
    scale: f64,
) -> Result<Sheet, Error> {
    let figures = lesson_commands.figure_results()?;
    let mut sheet = Sheet::new(request.paper_size, scale, &footer(request));
    sheet.title(&format!("Lesson {}: {}", lesson.number, lesson.title()));
    sheet.small(&format!("{} Name: ____________________  Date: ____________", about_rig(request)));
    for heading in ["What it is about", "At the bench"] {
        sheet.heading(heading);
        write(&mut sheet, &lesson_commands.text_for_rig(lesson.section(heading))?);
    }
    sheet.framed(&cautions(&figures));
    sheet.heading("Try first");
    write(&mut sheet, &lesson_commands.text_for_rig(lesson.section("Try first"))?);
    sheet.heading("Your prediction, in ink");
    for piece in pieces(&lesson_commands.text_for_rig(lesson.section("Your prediction"))?) {
        match piece {
            Paragraph::Plain(text) => sheet.paragraph(&text),
            Paragraph::Item(_, text) => sheet.answer_box(&text),
        }
    }
    lesson_commands.note_on_none().into_iter().for_each(|words| sheet.small(words));
    for one in figures {
        match (&one.picture, &one.error) {
            (Some(picture), _) => {
                let heading = format!("Draw what you expect of: quarterturn {}", one.words);
                sheet.chart(&heading, &picture.blank());
            }
            (None, Some(error)) => {
                sheet.paragraph(&format!("There is no chart for this rig: {error}."));
            }
            (None, None) => {}
        }
    }
    sheet.heading("Then run, or be shown");
    lesson_commands.commands_as_typed()?.iter().for_each(|command| sheet.small(command));
    sheet.heading("Ask yourself");
    write(&mut sheet, &lesson_commands.text_for_rig(lesson.section("Ask yourself"))?);
    let printed =
        ["What it is about", "At the bench", "Try first", "Your prediction", "Ask yourself"];
    let printed = printed.map(|heading| lesson.section(heading)).join("\n");
    sources(&printed).iter().for_each(|source| sheet.small(source));
    Ok(sheet)
}

/// The answer key: notes, answers, the chart, and every command worked out for the rig, on at
/// most two pages.
pub fn key(
    lesson: &Lesson,
    request: &SheetRequest,
    lesson_commands: &LessonCommands,
) -> Result<Vec<String>, Error> {
    at_most_two_pages(|scale| key_at_scale(lesson, request, lesson_commands, scale))
}

fn key_at_scale(
    lesson: &Lesson,
    request: &SheetRequest,
    lesson_commands: &LessonCommands,
    scale: f64,
) -> Result<Sheet, Error> {
    let figures = lesson_commands.figure_results()?;
    let mut sheet = Sheet::new(request.paper_size, scale, &footer(request));
    sheet.title(&format!("Lesson {}: {}, answer key", lesson.number, lesson.title()));
    sheet.heading("For the instructor");
    write(&mut sheet, &lesson_commands.text_for_rig(lesson.section("For the instructor"))?);
    sheet.framed(&cautions(&figures));
    sheet.heading("Answers");
    if request.rig != WRITTEN_FOR {
        sheet.paragraph(&format!(
            "The numbers are those of the rig {}; the words were read with those of the shipped rigs.{}",
            request.name, request.error
        ));
    }
    write(&mut sheet, &lesson_commands.text_for_rig(lesson.answers)?);
    lesson_commands.note_on_none().into_iter().for_each(|words| sheet.small(words));
    sheet.heading("What this model leaves out");
    write(&mut sheet, &lesson_commands.text_for_rig(lesson.section("What this model leaves out"))?);
    let printed = ["For the instructor", "What this model leaves out"];
    let printed =
        [printed.map(|heading| lesson.section(heading)).join("\n").as_str(), lesson.answers]
            .join("\n");
    sources(&printed).iter().for_each(|source| sheet.small(source));
    for one in figures {
        let heading = format!("The chart: quarterturn {}", one.words);
        match (&one.picture, &one.error) {
            (Some(picture), _) => sheet.float(&heading, picture.clone()),
            (None, error) => {
                sheet.heading(&heading);
                sheet.paragraph(error.as_deref().unwrap_or("there is none"));
            }
        }
    }
    sheet.heading("Worked out");
    let printed = lesson_commands.printed_results()?;
    sheet.columns(2);
    let (mut known, mut wide) = (Vec::new(), Vec::new());
    for result in &printed {
        wide.extend(write_result(&mut sheet, result, &known));
        known.extend(result.blocks.iter().filter_map(Block::table));
    }
    let mut across = false;
    for (heading, table) in wide {
        // Where text gets no smaller, a table in the rest of a column is better than a page more.
        let last = scale == SMALLEST;
        if !across && (!last || sheet.has_room_below(table)) {
            sheet.columns(1);
            across = true;
        }
        sheet.subheading(&heading);
        sheet.table(table);
    }
    Ok(sheet)
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
    (rows.len() < table.rows.len()).then(|| Table { columns: table.columns.clone(), rows })
}
