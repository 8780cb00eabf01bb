//! The quiz of a lesson on a page, and the same with its answers.

use super::lessons::Lesson;
use super::quiz::kinds::{KINDS, QuestionKind, QuizItem, drawn_questions};
use super::quiz::question::CorrectAnswer;
use super::sheet::Sheet;
use super::sheet_request::SheetRequest;
use super::worksheet::{Fit, fitted, titled};
use crate::drawing::linked_page::LinkedPage;
use crate::error::Error;
use crate::progress::Progress;
use crate::scenario::load_rig;
use crate::text::{capital, fixed, typeset};
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;

/// The lessons whose first questions stand for a lesson that has none of its own: the whole
/// job, step by step.
const OF_THE_JOB: [u32; 7] = [3, 4, 5, 6, 7, 9, 11];

/// Questions on a lesson, for the rig of a request.
pub fn questions(
    lesson: &Lesson,
    request: &SheetRequest,
    seed: u64,
) -> Result<Vec<QuizItem>, Error> {
    let of = |number: u32| KINDS.iter().filter(move |kind| kind.lesson() == number);
    let mut kinds: Vec<&'static QuestionKind> = of(lesson.number).collect();
    if kinds.is_empty() {
        kinds = OF_THE_JOB.into_iter().filter_map(|number| of(number).next()).collect();
    }
    let setup = Setup { rig: load_rig(&request.rig)?.rig, conditions: Conditions::default() };
    Ok(drawn_questions(&kinds, &setup, seed, &mut Progress::new("class", None)))
}

/// The page, for whoever is asked or with the answers.
pub fn quiz_page(
    lesson: &Lesson,
    request: &SheetRequest,
    items: &[QuizItem],
    answers: bool,
) -> Result<Vec<LinkedPage>, Error> {
    let what = if answers { ", quiz with its answers" } else { ", quiz" };
    let made = |fit: Fit| {
        let mut sheet = titled(request, lesson, what, fit.scale);
        if !answers {
            sheet.small("Name: _________________  Date: _________  No meter, no program: a number, and why.");
        }
        if items.is_empty() {
            sheet.paragraph("No fair question comes of this rig: it does not idle as it stands.");
        }
        for (i, item) in items.iter().enumerate() {
            one(&mut sheet, i + 1, item, answers, fit);
        }
        Ok(sheet)
    };
    Ok(fitted(1, made)?.finish())
}

fn one(sheet: &mut Sheet, number: usize, item: &QuizItem, answers: bool, fit: Fit) {
    let QuizItem { question, .. } = item;
    sheet.item(&format!("{number}."), &typeset(&question.text));
    if !answers {
        sheet.item(" ", &question.answer_space());
        sheet.lines_to_write_on(fit.lines.min(5));
        return;
    }
    let right = match question.answer {
        CorrectAnswer::Choice(at) => {
            question.choices.map_or(String::new(), |choices| choices[at].clone())
        }
        CorrectAnswer::Number(value, tolerance) => {
            let value = typeset(&fixed(value, question.decimals));
            let within = fixed(tolerance, question.decimals + 1);
            let [right, within] = [value, within].map(|value| format!("{value} {}", question.unit));
            format!("{}, right within {}", right.trim_end(), within.trim_end())
        }
    };
    sheet.item(" ", &format!("{}. {}", capital(&right), question.why));
}
