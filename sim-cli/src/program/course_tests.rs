//! The course against the program that it runs commands of. These tests need the whole
//! program, so they stand on top of it. Here: the sheets.

mod numbers;

use super::Quarterturn;
use crate::cautions::FUEL_AT_REST;
use crate::course::lesson_commands::LessonCommands;
use crate::course::lesson_plan::{LessonPlan, PARTS};
use crate::course::lessons::{Lesson, all};
use crate::course::number_binding::{Binding, TextPart, pieces as bound_pieces, worded_like};
use crate::course::paper_size::PaperSize;
use crate::course::plain_text::{bare, pieces};
use crate::course::printed_quiz::{questions, quiz_page};
use crate::course::sheet::{LEAST_PT, NAMES_FILE};
use crate::course::sheet_request::SheetRequest;
use crate::course::worksheet::{
    KEY_PAGES, Pupil, WORKSHEET_PAGES, answer, key, machine, names, pupils_key, worksheet,
};
use crate::drawing::linked_page::LinkedPage;
use crate::text::typeset;

/// The rig's numbers that answer the predictions, each with its unit if it has one, but for
/// those that the predictions give.
fn predicted(lesson: &Lesson, lesson_commands: &LessonCommands) -> Vec<String> {
    let given = bound_pieces(lesson.section("Your prediction"));
    let gives = |mark: &Binding<'_>| {
        given.iter().any(|piece| matches!(piece, TextPart::Number(_, m) if m == mark))
    };
    let start = lesson.answers.find("Predictions.").expect("the predictions' answers");
    let printed = &lesson.answers[start..];
    let ends = ["\nWhy.", "\n1. ", "\n```"];
    let end = ends.iter().filter_map(|mark| printed.find(mark)).min().unwrap_or(printed.len());
    let pieces = bound_pieces(&printed[..end]);
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

/// The texts of pages, each as it is written.
fn texts(pages: &[LinkedPage]) -> Vec<String> {
    let texts = pages.iter().flat_map(|page| page.svg.split("<text ").skip(1));
    let words = texts.filter_map(|text| text.split_once('>')?.1.split_once('<'));
    words.map(|(words, _)| words.replace("&amp;", "&")).collect()
}

/// The words of pages, in one line.
fn words(pages: &[LinkedPage]) -> String {
    texts(pages).join(" ").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn attribute(element: &str, name: &str) -> Option<f64> {
    element.split(&format!(" {name}=\"")).nth(1)?.split('"').next()?.parse().ok()
}

/// The smallest type of a page (pt), that of a drawing on it as it is printed there.
fn smallest(page: &LinkedPage) -> f64 {
    let (mut scales, mut least) = (vec![1.0], f64::INFINITY);
    for element in page.svg.split('<') {
        if element.starts_with("svg ") {
            let view = element.split("viewBox=\"").nth(1).unwrap().split('"').next().unwrap();
            let across: f64 = view.split(' ').nth(2).unwrap().parse().unwrap();
            let scale = attribute(element, "width").unwrap() / across;
            scales.push(scales.last().unwrap() * scale);
        } else if element.starts_with("/svg>") {
            scales.pop();
        } else if element.starts_with("text ") {
            let size = attribute(element, "font-size").expect("a text has its size");
            least = least.min(size * scales.last().unwrap());
        }
    }
    least
}

/// The rows of predictions of a sheet: cases, readings, what they show now, ends of scales.
fn rows(pages: &[LinkedPage], from: &str, upto: &str) -> Vec<String> {
    let foot = |text: &String| text.starts_with("quarterturn 0.") || text.contains(" of ");
    let texts = texts(pages).into_iter().filter(|text| !foot(text) || text.starts_with("Of "));
    let rows = texts.skip_while(|text| text != from).skip(1);
    rows.take_while(|text| !text.starts_with(upto)).collect()
}

/// Whether the words of a list stand in another, in their order.
fn stands_in(few: &[String], many: &[String]) -> bool {
    let mut many = many.iter();
    few.iter().all(|one| many.any(|other| other == one))
}

/// A test for each shipped rig, so that they run side by side.
mod sheets_have_type_to_read_few_pages_and_the_same_cases_as_their_keys {
    #[test]
    fn on_six() {
        super::sheets_hold("six");
    }

    #[test]
    fn on_four() {
        super::sheets_hold("four");
    }

    #[test]
    fn on_eight() {
        super::sheets_hold("eight");
    }
}

/// Every sheet of every lesson on a rig and both papers: type, pages, the same rows on worksheet
/// and key, and no answer on the worksheet.
fn sheets_hold(rig: &str) {
    let mut wrong = Vec::new();
    let request = |rig, paper| SheetRequest::new(rig, true, paper).ok().expect("a shipped rig");
    let papers = [request(rig, PaperSize::A4), request(rig, PaperSize::Letter)];
    for lesson in all() {
        let first = LessonCommands::new(&lesson, &papers[0], &Quarterturn);
        key(&first).ok().expect("a key");
        for (request, paper) in papers.iter().zip(["a4", "letter"]) {
            let commands = first.on_paper(request);
            let place = format!("lesson {} on {rig}, {paper}", lesson.number);
            let sheet = worksheet(&commands, None).ok().expect("a worksheet");
            let key = key(&commands).ok().expect("a key");
            let items = questions(&lesson, request, 1).ok().expect("questions");
            let quiz = |answers| quiz_page(&lesson, request, &items, answers).ok().unwrap();
            let quizzes = [quiz(false), quiz(true)];
            for (what, pages, most) in [
                ("worksheet", &sheet, WORKSHEET_PAGES),
                ("key", &key, KEY_PAGES),
                ("quiz", &quizzes[0], 1),
                ("answers of the quiz", &quizzes[1], 1),
            ] {
                if pages.len() > most {
                    wrong.push(format!("{place}: {what} of {} pages", pages.len()));
                }
                for page in pages {
                    let least = smallest(page);
                    // Sizes are written to a hundredth.
                    if least < LEAST_PT - 0.005 {
                        wrong.push(format!("{place}: {what} with type of {least:.2} pt"));
                    }
                }
            }
            let ask = |page: &&LinkedPage| page.svg.contains(">Predict in ink, then see<");
            let ask = sheet
                .iter()
                .find(ask)
                .map_or(String::new(), |page| words(std::slice::from_ref(page)));
            if !["Draw a stroke", "To see it"].iter().all(|part| ask.contains(part)) {
                wrong.push(format!("{place}: predictions on two pages"));
            }
            let asked = rows(&sheet, "seen", "To see it");
            let answered = rows(&key, "then", "quarterturn ");
            let plan = LessonPlan::of(lesson.number).expect("a plan");
            let own = plan.predictions(&commands, &plan.own_numbers(), true);
            let own = own.ok().expect("worked out");
            if asked.is_empty()
                || answered.len() != asked.len() + own.len()
                || !stands_in(&asked, &answered)
            {
                wrong.push(format!("{place}: asks {asked:?}, answers {answered:?}"));
            }
            wrong.extend(leaks(&lesson, &commands, &sheet).map(|leak| format!("{place}: {leak}")));
        }
    }
    assert!(wrong.is_empty(), "{} faults\n{}", wrong.len(), wrong.join("\n"));
}

/// What a worksheet tells that it asks for.
fn leaks<'a>(
    lesson: &'a Lesson,
    commands: &LessonCommands<'_>,
    pages: &[LinkedPage],
) -> impl Iterator<Item = String> + use<'a> {
    let sheet = words(pages);
    let mut leaks = Vec::new();
    let answers = commands.text_for_rig(lesson.answers).ok().expect("text");
    for answer in pieces(&answers).into_iter().map(|piece| bare(&piece.text)) {
        for sentence in answer.split(". ").filter(|sentence| sentence.len() > 20) {
            if sheet.contains(sentence.trim()) {
                leaks.push(format!("tells \"{sentence}\""));
            }
        }
    }
    for answer in predicted(lesson, commands) {
        // The duty of no trim, which the page explains, and the mixture of a gas that is asked
        // about.
        let given = [(1, " 50 %"), (6, " 0.98")].contains(&(lesson.number, answer.as_str()));
        let stands = |(at, _): (usize, &str)| {
            !sheet[at + answer.len()..].starts_with(|c: char| c.is_ascii_digit())
        };
        if !given && answer.len() > 5 && sheet.match_indices(&answer).any(stands) {
            leaks.push(format!("asks for{answer} and tells it"));
        }
    }
    for one in commands.figure_results().ok().expect("drawn") {
        if let Some(picture) = &one.picture
            && sheet.contains(&picture.title)
        {
            leaks.push(format!("tells \"{}\"", picture.title));
        }
    }
    leaks.into_iter()
}

/// A worksheet has the machine, this lesson's own cautions and no others, and the questions of
/// its page; a key has minutes, wrong answers, a vote and what to show.
#[test]
fn a_sheet_holds_what_a_class_of_45_minutes_needs() {
    assert_eq!(PARTS.iter().map(|(minutes, _)| minutes).sum::<u32>(), 45);
    let request = SheetRequest::new("six", true, PaperSize::A4).ok().expect("shipped");
    let known = words(&names(PaperSize::A4)).to_lowercase();
    let mut unknown = Vec::new();
    for lesson in all() {
        let commands = LessonCommands::new(&lesson, &request, &Quarterturn);
        let pages = worksheet(&commands, None).ok().expect("a worksheet");
        let number = lesson.number;
        let sheet = words(&pages);
        let blank = machine(&commands).ok().expect("drawn").picture.clone().expect("a picture");
        assert!(pages[0].svg.contains("viewBox"), "lesson {number}");
        assert!(!sheet.contains(&blank.title), "lesson {number} tells {}", blank.title);
        assert!(sheet.contains("vehicle maker's data"), "lesson {number}");
        let mut of_the_lesson = lesson.page.to_lowercase();
        of_the_lesson += &lesson.answers.to_lowercase();
        if !of_the_lesson.contains("glass") {
            assert!(!sheet.contains(FUEL_AT_REST.long), "lesson {number}");
        }
        for question in pieces(lesson.section("Why")) {
            let text = commands.text_for_rig(lesson.section("Why")).ok().expect("text");
            let text = words_of(&text);
            assert!(!question.text.is_empty() && sheet_has(&sheet, &text), "lesson {number}");
        }
        let pages_of_key = key(&commands).ok().expect("a key");
        let key = words(&pages_of_key);
        let plan = LessonPlan::of(number).expect("a plan");
        assert!(plan.wrong.len() >= 2 && (2..=3).contains(&plan.vote.choices.len()));
        for wrong in &plan.wrong {
            assert!(key.contains(&wrong.says), "lesson {number}: {}", wrong.says);
            assert!(!sheet.contains(&wrong.reply), "lesson {number}: {}", wrong.reply);
        }
        // Page 1 may lie open on the desk: the vote's answer is not on it.
        let right = format!("Vote: {}.", typeset(&plan.vote.right));
        assert!(!words(&pages_of_key[..1]).contains(&right), "lesson {number}");
        assert!(words(&pages_of_key[1..]).contains("Vote: "), "lesson {number}");
        for told in ["Then the quiz", ":."] {
            assert!(!key.contains(told) && !sheet.contains(told), "lesson {number}: {told}");
        }
        for heading in ["45 minutes", "Likely wrong answers", "Vote", "Answers"] {
            assert!(key.contains(heading), "lesson {number}: {heading}");
        }
        assert!(key.contains(&format!("{number:02}-machine")), "lesson {number}");
        for one in commands.figure_results().ok().expect("drawn") {
            let Some(picture) = &one.picture else { continue };
            assert!(key.contains(&typeset(&picture.title)), "lesson {number}: {}", picture.title);
        }
        for page in &pages {
            let opens = format!("<a href=\"{NAMES_FILE}\">");
            let terms = page.svg.split(&opens).skip(1);
            assert_eq!(terms.clone().count(), page.links.len());
            for term in terms {
                let term = term.split_once('>').unwrap().1.split('<').next().unwrap();
                let term = term.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
                if !known.contains(&term) {
                    unknown.push(format!("lesson {number}: {term}"));
                }
            }
        }
        assert!(pages.iter().any(|page| !page.links.is_empty()), "lesson {number} has no term");
    }
    assert!(unknown.is_empty(), "{}", unknown.join("\n"));
}

/// Each paragraph of a section without marks, its blanks one.
fn words_of(section: &str) -> Vec<String> {
    let texts = pieces(section).into_iter().map(|piece| bare(&piece.text));
    texts.map(|text| text.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

fn sheet_has(sheet: &str, texts: &[String]) -> bool {
    texts.iter().all(|text| sheet.contains(text))
}

/// Pupils get other numbers than the lesson's and than each other, as long as there are some;
/// the key of all has the answer to each, as the program gives it.
#[test]
fn pupils_have_numbers_of_their_own_and_one_key_has_them_all() {
    let request = SheetRequest::new("four", true, PaperSize::A4).ok().expect("shipped");
    for lesson in all().into_iter().filter(|lesson| [1, 2, 4, 7, 15].contains(&lesson.number)) {
        let plan = LessonPlan::of(lesson.number).expect("a plan");
        let commands = LessonCommands::new(&lesson, &request, &Quarterturn);
        let count = 4.min(plan.choices() - 1);
        let pupil = |i| Pupil { number: i + 1, numbers: plan.pupil_numbers(7, i) };
        let pupils: Vec<Pupil> = (0..count).map(pupil).collect();
        let all = words(&pupils_key(&commands, &pupils).ok().expect("a key"));
        let mut seen = vec![plan.own_numbers()];
        for pupil in &pupils {
            assert!(!seen.contains(&pupil.numbers), "lesson {}", lesson.number);
            seen.push(pupil.numbers.clone());
            let pages = worksheet(&commands, Some(pupil)).ok().expect("a worksheet");
            assert!(pages.len() <= WORKSHEET_PAGES);
            let sheet = words(&pages);
            let worked = plan.predictions(&commands, &pupil.numbers, true).ok().expect("them");
            for one in &worked {
                assert!(sheet.contains(&one.case) && all.contains(&one.case), "{}", one.case);
                assert!(all.contains(&answer(one)), "{}: {}", one.case, answer(one));
            }
        }
        let again: Vec<_> = (0..count).map(|i| plan.pupil_numbers(7, i)).collect();
        assert!(again.iter().zip(&pupils).all(|(numbers, pupil)| *numbers == pupil.numbers));
        let other: Vec<_> = (0..count).map(|i| plan.pupil_numbers(8, i)).collect();
        assert!(plan.choices() < 9 || again != other, "another seed, other numbers");
    }
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
fn a_key_has_its_note_and_its_titles_on_any_rig() {
    let folder = tempfile::tempdir().expect("a folder");
    let twelve = folder.path().join("twelve.toml").display().to_string();
    std::fs::write(&twelve, twelve_cylinders()).expect("written");
    for (rig, paper) in [(&*twelve, PaperSize::Letter)] {
        let request = SheetRequest::new(rig, true, paper).ok().expect("a rig");
        // The map takes its time, and one rig's is enough.
        let lessons = all().into_iter().filter(|lesson| rig == "six" || lesson.number != 11);
        for lesson in lessons {
            let lesson_commands = LessonCommands::new(&lesson, &request, &Quarterturn);
            let pages = key(&lesson_commands).ok().expect("a key");
            let number = lesson.number;
            assert!(pages.len() <= KEY_PAGES, "lesson {number} on {rig}: {} pages", pages.len());
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

/// Whoever looks a word up on paper finds it by its letters.
#[test]
fn the_names_stand_from_a_to_z() {
    let terms: Vec<String> = include_str!("../../../notebooks-md/names.md")
        .lines()
        .filter_map(|line| line.strip_prefix("| **")?.split_once("**"))
        .map(|(term, _)| term.to_lowercase())
        .collect();
    assert!(terms.len() > 50);
    for pair in terms.windows(2) {
        assert!(pair[0] < pair[1], "{} before {}", pair[0], pair[1]);
    }
}
