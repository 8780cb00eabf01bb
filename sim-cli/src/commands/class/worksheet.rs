//! The worksheet and the answer key of a lesson, page by page.

use super::SheetRequest;
use super::lesson_commands::{CommandResult, LessonCommands};
use super::plain_text::{Paragraph, bare, pieces};
use crate::cautions::{Caution, ENGINE, JUMPER, MODEL, PETROL};
use crate::error::Error;
use crate::lessons::{Lesson, cautions_in_full, sources};
use crate::report::{Block, Cell, Table};
use crate::sheet::Sheet;
use crate::text::typeset;
use std::rc::Rc;

/// Most pages of a worksheet, and of a key.
const PAGES: usize = 2;
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
fn cautions(drawn: &[Rc<CommandResult>]) -> Vec<String> {
    let mut found: Vec<&Caution> = Vec::new();
    let printed = [&PETROL, &JUMPER, &ENGINE, &MODEL];
    for caution in drawn.iter().flat_map(|one| &one.cautions) {
        if printed.iter().chain(&found).all(|known| known.short != caution.short) {
            found.push(caution);
        }
    }
    let more = found.iter().map(|caution| caution.short.to_string());
    cautions_in_full().map(bare).chain(more).collect()
}

/// Columns of spaces, which only stand one under another where letters are all as wide, as
/// gaps.
fn spaced(line: &str) -> String {
    let words = line.trim().split("  ").map(str::trim).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join("   ")
}

fn footer(assignment: &SheetRequest) -> String {
    format!(
        "quarterturn {}, rig {}: a model of invented parts, measured on no engine",
        env!("CARGO_PKG_VERSION"),
        assignment.name
    )
}

fn about_rig(assignment: &SheetRequest) -> String {
    format!("The engine is the rig {}, invented.{}", assignment.name, assignment.error)
}

/// The worksheet: at most two pages, and no answer on them.
pub fn worksheet(
    lesson: &Lesson,
    assignment: &SheetRequest,
    lesson_commands: &LessonCommands,
) -> Result<Vec<String>, Error> {
    fitted(|scale| laid_out(lesson, assignment, lesson_commands, scale))
}

/// Pages with text as large as two pages allow.
fn fitted(lay: impl Fn(f64) -> Result<Sheet, Error>) -> Result<Vec<String>, Error> {
    let scale = |step: usize| 1.0 - (1.0 - SMALLEST) * step as f64 / STEPS as f64;
    let mut sheet = lay(1.0)?;
    for step in 1..=STEPS {
        if sheet.count() <= PAGES {
            break;
        }
        sheet = lay(scale(step))?;
    }
    Ok(sheet.finish())
}

fn laid_out(
    lesson: &Lesson,
    assignment: &SheetRequest,
    lesson_commands: &LessonCommands,
    scale: f64,
) -> Result<Sheet, Error> {
    let drawn = lesson_commands.figures()?;
    let mut sheet = Sheet::new(assignment.paper, scale, &footer(assignment));
    sheet.title(&format!("Lesson {}: {}", lesson.number, lesson.title()));
    sheet.small(&format!(
        "{} Name: ____________________  Date: ____________",
        about_rig(assignment)
    ));
    for heading in ["What it is about", "At the bench"] {
        sheet.heading(heading);
        write(&mut sheet, &lesson_commands.prose(lesson.section(heading))?);
    }
    sheet.framed(&cautions(&drawn));
    sheet.heading("Try first");
    write(&mut sheet, &lesson_commands.prose(lesson.section("Try first"))?);
    sheet.heading("Your prediction, in ink");
    for piece in pieces(&lesson_commands.prose(lesson.section("Your prediction"))?) {
        match piece {
            Paragraph::Plain(text) => sheet.paragraph(&text),
            Paragraph::Item(_, text) => sheet.boxed(&text),
        }
    }
    lesson_commands.about_none().into_iter().for_each(|words| sheet.small(words));
    for one in drawn {
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
    lesson_commands.typed()?.iter().for_each(|command| sheet.small(command));
    sheet.heading("Ask yourself");
    write(&mut sheet, &lesson_commands.prose(lesson.section("Ask yourself"))?);
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
    assignment: &SheetRequest,
    lesson_commands: &LessonCommands,
) -> Result<Vec<String>, Error> {
    fitted(|scale| keyed(lesson, assignment, lesson_commands, scale))
}

fn keyed(
    lesson: &Lesson,
    assignment: &SheetRequest,
    lesson_commands: &LessonCommands,
    scale: f64,
) -> Result<Sheet, Error> {
    let drawn = lesson_commands.figures()?;
    let mut sheet = Sheet::new(assignment.paper, scale, &footer(assignment));
    sheet.title(&format!("Lesson {}: {}, answer key", lesson.number, lesson.title()));
    sheet.heading("For the instructor");
    write(&mut sheet, &lesson_commands.prose(lesson.section("For the instructor"))?);
    sheet.framed(&cautions(&drawn));
    sheet.heading("Answers");
    if assignment.rig != "six" {
        sheet.paragraph(&format!(
            "The numbers are those of the rig {}; the words were read with those of the shipped rigs.{}",
            assignment.name, assignment.error
        ));
    }
    write(&mut sheet, &lesson_commands.prose(lesson.answers)?);
    lesson_commands.about_none().into_iter().for_each(|words| sheet.small(words));
    sheet.heading("What this model leaves out");
    write(&mut sheet, &lesson_commands.prose(lesson.section("What this model leaves out"))?);
    let printed = ["For the instructor", "What this model leaves out"];
    let printed =
        [printed.map(|heading| lesson.section(heading)).join("\n").as_str(), lesson.answers]
            .join("\n");
    sources(&printed).iter().for_each(|source| sheet.small(source));
    for one in drawn {
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
    let printed = lesson_commands.printed()?;
    sheet.columns(2);
    let (mut known, mut wide) = (Vec::new(), Vec::new());
    for worked in &printed {
        wide.extend(render(&mut sheet, worked, &known));
        known.extend(worked.blocks.iter().filter_map(Block::table));
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

/// A command and what it tells, but for tables that are known. Gives those that are too wide
/// for a column, each with the words it stands under.
fn render<'a>(
    sheet: &mut Sheet,
    worked: &'a CommandResult,
    known: &[&Table],
) -> Vec<(String, &'a Table)> {
    let mut wide = Vec::new();
    let command = format!("quarterturn {}", worked.words);
    sheet.subheading(&command);
    sheet.tells(Some(&command));
    if let Some(error) = &worked.error {
        sheet.small(error);
    }
    for block in &worked.blocks {
        match block {
            Block::Heading(text) | Block::Line(text) => sheet.small(&spaced(&typeset(&bare(text)))),
            Block::Hazard(text) => sheet.small(&format!("HAZARD: {}", bare(text))),
            Block::Table(table) if known.contains(&table) => {
                sheet.small("(Its table is the one told before.)");
            }
            Block::Table(table) => match moved(table) {
                Some(moved) => {
                    sheet.table(&moved);
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
    sheet.tells(None);
    wide
}

/// Of a table with differences, the rows that differ; `None` if all do or it has none.
fn moved(table: &Table) -> Option<Table> {
    let of = |name: &str| table.columns.iter().position(|column| column.name == name);
    let at = of("difference").or(of("settled after"))?;
    let nothing = |row: &Vec<Cell>| {
        let text = row[at].printed(&table.columns[at]);
        text == "at once" || !text.contains(|c: char| c != '0' && c.is_alphanumeric())
    };
    let rows: Vec<_> = table.rows.iter().filter(|row| !nothing(row)).cloned().collect();
    (rows.len() < table.rows.len()).then(|| Table { columns: table.columns.clone(), rows })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lessons::all;
    use crate::number_binding;
    use crate::sheet::Paper;

    /// The rig's numbers that answer the predictions, each with its unit if it has one, but for
    /// those that the predictions give.
    fn predicted(lesson: &Lesson, lesson_commands: &LessonCommands) -> Vec<String> {
        let given = number_binding::pieces(lesson.section("Your prediction"));
        let gives = |mark: &number_binding::Binding<'_>| {
            given
                .iter()
                .any(|piece| matches!(piece, number_binding::TextPart::Number(_, m) if m == mark))
        };
        let printed = lesson.answers.lines().find(|line| line.starts_with("Predictions."));
        let pieces = number_binding::pieces(printed.expect("the predictions' answers"));
        let number = |pair: &[number_binding::TextPart<'_>]| match pair {
            [
                number_binding::TextPart::Number(shown, mark),
                number_binding::TextPart::Words(after),
            ] if !gives(mark) => {
                let found = lesson_commands.worked(mark.command).ok()?;
                let value = number_binding::worded_like(shown, mark.value(&found.value).ok()?);
                // "710 rpm", or a number that ends its sentence.
                let unit = after.strip_prefix(' ').and_then(|after| after.split(' ').next());
                let unit = unit.unwrap_or("").trim_end_matches(['.', ',', ';', ':', ')']);
                let printed = format!(" {value} {unit}").trim_end().to_string();
                (!unit.is_empty() || value.contains('.')).then_some(printed)
            }
            _ => None,
        };
        pieces.windows(2).filter_map(number).collect()
    }

    /// The words of pages, in one line.
    fn words(pages: &[String]) -> String {
        let texts = pages.iter().flat_map(|page| page.split("<text ").skip(1));
        let words = texts.filter_map(|text| text.split_once('>')?.1.split_once('<'));
        let words = words.map(|(words, _)| words.replace("&amp;", "&"));
        let words = words.collect::<Vec<_>>().join(" ");
        words.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_worksheet_has_two_pages_at_most_every_caution_and_no_answer() {
        let mut leaks = Vec::new();
        for (rig, paper) in [("six", Paper::A4), ("eight", Paper::Letter)] {
            let assignment = SheetRequest::new(rig, false, paper).ok().expect("a rig");
            for lesson in all() {
                let lesson_commands = LessonCommands::new(&lesson, &assignment);
                let pages =
                    worksheet(&lesson, &assignment, &lesson_commands).ok().expect("a worksheet");
                let number = lesson.number;
                assert!(pages.len() <= PAGES, "lesson {number} on {rig}: {} pages", pages.len());
                let sheet = words(&pages);
                for caution in cautions_in_full().map(bare) {
                    assert!(sheet.contains(&caution), "lesson {number}: {caution}");
                }
                for heading in ["At the bench", "Your prediction", "Ask yourself"] {
                    assert!(sheet.contains(heading), "lesson {number}: {heading}");
                }
                let answers = lesson_commands.prose(lesson.answers).ok().expect("prose");
                let answers = pieces(&answers).into_iter().map(|piece| match piece {
                    Paragraph::Plain(text) | Paragraph::Item(_, text) => text,
                });
                let mut sentences = 0;
                for answer in answers {
                    for sentence in answer.split(". ").filter(|s| s.len() > 20) {
                        assert!(!sheet.contains(sentence.trim()), "lesson {number}: {sentence}");
                        sentences += 1;
                    }
                }
                assert!(sentences > 3, "lesson {number} has answers");
                for answer in predicted(&lesson, &lesson_commands) {
                    // The duty of no trim, which the page explains, and the mixture of a gas
                    // that is asked about.
                    let given = [(1, " 50 %"), (6, " 0.98")].contains(&(number, answer.as_str()));
                    let stands = |(at, _): (usize, &str)| {
                        !sheet[at + answer.len()..].starts_with(|c: char| c.is_ascii_digit())
                    };
                    if !given && sheet.match_indices(&answer).any(stands) {
                        let leak =
                            format!("lesson {number} on {rig} asks for{answer} and tells it");
                        leaks.push(leak);
                    }
                }
                for one in lesson_commands.figures().ok().expect("drawn") {
                    let Some(picture) = &one.picture else { continue };
                    assert!(!sheet.contains(&picture.title), "lesson {number}: {}", picture.title);
                }
            }
        }
        assert!(leaks.is_empty(), "{}", leaks.join("\n"));
    }

    /// The rig eight with its fuel in twelve lines: the widest tables there are.
    fn twelve_cylinders() -> String {
        let eight = sim_core::rig::shipped::shipped("eight").expect("shipped");
        let mut text = String::new();
        for line in sim_core::rig::file::to_toml(&eight).lines() {
            let widths =
                line.strip_prefix("slit_width_mm = [").and_then(|row| row.strip_suffix(']'));
            match widths {
                Some(row) => {
                    let width: f64 =
                        row.split(',').filter_map(|w| w.trim().parse::<f64>().ok()).sum();
                    let row = vec![format!("{}", width / 12.0); 12];
                    text += &format!("slit_width_mm = [{}]\n", row.join(", "));
                }
                None => text += &format!("{line}\n"),
            }
        }
        text
    }

    #[test]
    fn an_answer_key_has_two_pages_at_most_its_answers_and_the_numbers_of_its_rig() {
        let folder = tempfile::tempdir().expect("a folder");
        let twelve = folder.path().join("twelve.toml").display().to_string();
        std::fs::write(&twelve, twelve_cylinders()).expect("written");
        for (rig, paper) in [
            ("six", Paper::A4),
            ("four", Paper::A4),
            ("eight", Paper::Letter),
            (&*twelve, Paper::Letter),
        ] {
            let assignment = SheetRequest::new(rig, true, paper).ok().expect("a rig");
            // The map takes its time, and one rig's is enough.
            let lessons = all().into_iter().filter(|lesson| rig == "six" || lesson.number != 11);
            for lesson in lessons {
                let lesson_commands = LessonCommands::new(&lesson, &assignment);
                let pages = key(&lesson, &assignment, &lesson_commands).ok().expect("a key");
                let number = lesson.number;
                assert!(pages.len() <= PAGES, "lesson {number} on {rig}: {} pages", pages.len());
                let key = words(&pages);
                let note = bare(lesson.section("For the instructor").lines().next().unwrap());
                let note = lesson_commands.prose(&note).ok().expect("a note");
                assert!(key.contains(&note), "lesson {number}: {note}");
                for one in lesson_commands.figures().ok().expect("drawn") {
                    let Some(picture) = &one.picture else { continue };
                    assert!(
                        key.contains(&typeset(&picture.title)),
                        "lesson {number}: {}",
                        picture.title
                    );
                }
            }
        }
    }
}
