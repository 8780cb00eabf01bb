//! The course against the program that it runs commands of. These tests need the whole
//! program, so they stand on top of it.

use super::Quarterturn;
use crate::cautions::IN_FULL;
use crate::course::lesson_commands::LessonCommands;
use crate::course::lessons::{Lesson, all};
use crate::course::number_binding::{Binding, TextPart, pieces as bound_pieces, worded_like};
use crate::course::plain_text::{bare, pieces};
use crate::course::sheet::PaperSize;
use crate::course::sheet_request::SheetRequest;
use crate::course::worksheet::{PAGES, key, worksheet};
use crate::text::typeset;

/// The commands that draw a lesson's figures, with their charts' files.
fn drawn_by(lesson: &Lesson) -> String {
    let figures = lesson.figures();
    figures.iter().map(|figure| figure.command).collect::<Vec<_>>().join(" ")
}

/// The number before a mark is what its command works out for the rig the pages are
/// written for.
#[test]
fn every_bound_number_of_the_lessons_is_what_its_command_works_out() {
    let request = SheetRequest::new("six", true, PaperSize::A4).ok().expect("shipped");
    let mut wrong = Vec::new();
    for lesson in all() {
        let lesson_commands = LessonCommands::new(&lesson, &request, &Quarterturn);
        for piece in bound_pieces(lesson.page).into_iter().chain(bound_pieces(lesson.answers)) {
            let TextPart::Number(shown, mark) = piece else { continue };
            let place = format!("lesson {}: {shown}<!--{}", lesson.number, mark.formula);
            if mark.command >= lesson_commands.count() {
                wrong.push(format!("{place}: there is no command {}", mark.command));
                continue;
            }
            let found = lesson_commands.result(mark.command).ok().expect("worked out");
            match mark.value(&found.value) {
                Ok(value) if worded_like(shown, value) == shown => {}
                Ok(value) => wrong.push(format!("{place}: {}", worded_like(shown, value))),
                Err(why) => wrong.push(format!("{place}: {why} (`{}`)", found.words)),
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A number of the text is bound, or is an input: it stands in a command of the lesson, or
/// it is the trade's or a definition, and stands in this list.
#[test]
fn no_number_of_a_lesson_is_typed_by_hand() {
    const GIVEN: &[(&str, &str)] = &[
        ("1", "lambda 1, one of something"),
        ("0", "none"),
        ("100", "percent"),
        ("50", "the duty of no trim, by its definition"),
        ("0.70", "the idle's voltage, common practice"),
        ("0.65", "its band, common practice"),
        ("0.75", "its band, common practice"),
        ("700", "its speed, common practice"),
        ("4", "seconds in which a right static setting fires, common practice"),
    ];
    let mut typed = Vec::new();
    for lesson in all() {
        let commands = lesson.commands().join(" ") + " " + &drawn_by(&lesson);
        let inputs: Vec<&str> = numbers_in(&commands);
        for (text, place) in [(lesson.page, "page"), (lesson.answers, "answers")] {
            for piece in bound_pieces(&text_alone(text)) {
                let TextPart::Words(words) = piece else { continue };
                for number in numbers_in(words) {
                    let given = GIVEN.iter().any(|(known, _)| *known == number);
                    if !given && !inputs.contains(&number) {
                        typed.push(format!("lesson {}, {place}: {number}", lesson.number));
                    }
                }
            }
        }
    }
    assert!(typed.is_empty(), "{}", typed.join("\n"));
}

/// Prose without console blocks, commands, links, keys of sources, marks of lists, and the
/// numbers of lessons.
fn text_alone(page: &str) -> String {
    let mut text = String::new();
    let mut code = false;
    for line in page.lines() {
        code ^= line.starts_with("```");
        if code || line.starts_with(['#', '`']) || line.starts_with("Drawn by:") {
            continue;
        }
        let item = line.split_once(". ").filter(|(mark, _)| mark.parse::<u32>().is_ok());
        text += item.map_or(line, |(_, text)| text);
        text.push('\n');
    }
    let mut left = String::new();
    let mut words = text.split_inclusive(' ').peekable();
    while let Some(word) = words.next() {
        let lesson = matches!(word.trim().trim_start_matches(['(', '-']), "lesson" | "lessons");
        if lesson {
            words.next();
        } else if !word.contains("](") && !word.starts_with('[') {
            left += word;
        }
    }
    left
}

/// The numbers of a text, without their signs; a number that is part of a word is none.
fn numbers_in(text: &str) -> Vec<&str> {
    let part = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_');
    let words = text.split(|c: char| !part(c)).map(|word| word.trim_end_matches('.'));
    words.filter(|word| word.parse::<f64>().is_ok() && !word.contains('n')).collect()
}

/// The rig's numbers that answer the predictions, each with its unit if it has one, but for
/// those that the predictions give.
fn predicted(lesson: &Lesson, lesson_commands: &LessonCommands) -> Vec<String> {
    let given = bound_pieces(lesson.section("Your prediction"));
    let gives = |mark: &Binding<'_>| {
        given.iter().any(|piece| matches!(piece, TextPart::Number(_, m) if m == mark))
    };
    let printed = lesson.answers.lines().find(|line| line.starts_with("Predictions."));
    let pieces = bound_pieces(printed.expect("the predictions' answers"));
    let number = |pair: &[TextPart<'_>]| match pair {
        [TextPart::Number(shown, mark), TextPart::Words(after)] if !gives(mark) => {
            let found = lesson_commands.result(mark.command).ok()?;
            let value = worded_like(shown, mark.value(&found.value).ok()?);
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
    for (rig, paper) in [("six", PaperSize::A4), ("eight", PaperSize::Letter)] {
        let request = SheetRequest::new(rig, false, paper).ok().expect("a rig");
        for lesson in all() {
            let lesson_commands = LessonCommands::new(&lesson, &request, &Quarterturn);
            let pages = worksheet(&lesson_commands).ok().expect("a worksheet");
            let number = lesson.number;
            assert!(pages.len() <= PAGES, "lesson {number} on {rig}: {} pages", pages.len());
            let sheet = words(&pages);
            for caution in IN_FULL.iter().map(|caution| bare(caution.long)) {
                assert!(sheet.contains(&caution), "lesson {number}: {caution}");
            }
            for heading in ["At the bench", "Your prediction", "Ask yourself"] {
                assert!(sheet.contains(heading), "lesson {number}: {heading}");
            }
            let answers = lesson_commands.text_for_rig(lesson.answers).ok().expect("text");
            let answers = pieces(&answers).into_iter().map(|piece| piece.text);
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
                    let leak = format!("lesson {number} on {rig} asks for{answer} and tells it");
                    leaks.push(leak);
                }
            }
            for one in lesson_commands.figure_results().ok().expect("drawn") {
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
        let widths = line.strip_prefix("slit_width_mm = [").and_then(|row| row.strip_suffix(']'));
        match widths {
            Some(row) => {
                let width: f64 = row.split(',').filter_map(|w| w.trim().parse::<f64>().ok()).sum();
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
        ("six", PaperSize::A4),
        ("four", PaperSize::A4),
        ("eight", PaperSize::Letter),
        (&*twelve, PaperSize::Letter),
    ] {
        let request = SheetRequest::new(rig, true, paper).ok().expect("a rig");
        // The map takes its time, and one rig's is enough.
        let lessons = all().into_iter().filter(|lesson| rig == "six" || lesson.number != 11);
        for lesson in lessons {
            let lesson_commands = LessonCommands::new(&lesson, &request, &Quarterturn);
            let pages = key(&lesson_commands).ok().expect("a key");
            let number = lesson.number;
            assert!(pages.len() <= PAGES, "lesson {number} on {rig}: {} pages", pages.len());
            let key = words(&pages);
            let note = bare(lesson.section("For the instructor").lines().next().unwrap());
            let note = lesson_commands.text_for_rig(&note).ok().expect("a note");
            assert!(key.contains(&note), "lesson {number}: {note}");
            for one in lesson_commands.figure_results().ok().expect("drawn") {
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
