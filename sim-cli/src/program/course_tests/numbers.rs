//! Numbers: those of the pages, and those of the plans.

use super::super::Quarterturn;
use crate::course::lesson_commands::LessonCommands;
use crate::course::lesson_plan::LessonPlan;
use crate::course::lessons::{Lesson, all};
use crate::course::number_binding::{TextPart, pieces as bound_pieces, worded_like};
use crate::course::paper_size::PaperSize;
use crate::course::sheet_request::SheetRequest;
use crate::course::worksheet::answer;

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
                Err(why) => wrong.push(format!("{place}: {why}")),
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
        let before = word.trim().trim_start_matches('(');
        let lesson = matches!(before, "lesson" | "lessons" | "--lesson");
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

/// The answers of the plan are those of the lesson: a reading of one of the lesson's own
/// commands stands in its answers to the predictions, or in the lesson's printed tables.
#[test]
fn the_cases_of_a_plan_are_those_of_its_lesson() {
    for lesson in all() {
        let request = SheetRequest::new("six", true, PaperSize::A4).ok().expect("shipped");
        let commands = LessonCommands::new(&lesson, &request, &Quarterturn);
        let plan = LessonPlan::of(lesson.number).expect("a plan");
        let worked = plan.predictions(&commands, &plan.own_numbers(), true).ok().expect("them");
        let page = format!("{} {}", lesson.page, lesson.answers);
        let missing: Vec<String> = worked
            .iter()
            .filter(|one| {
                let then = one.then.as_deref().unwrap_or("none").replace('\u{2212}', "-");
                let rounded = then.split_once('.').map_or(then.as_str(), |(whole, _)| whole);
                !page.contains(&then) && (then.len() < 3 || !page.contains(rounded))
            })
            .map(answer)
            .collect();
        assert!(2 * missing.len() < worked.len(), "lesson {}: {missing:?}", lesson.number);
    }
}
