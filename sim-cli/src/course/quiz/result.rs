//! A quiz as data, and its report.

use super::kinds::QuizItem;
use super::marking::{Mark, Marks, text};
use crate::cautions::RUNNING;
use crate::report::{Found, Report, Table};
use crate::text::plain;
use serde::Serialize;
use std::rc::Rc;

/// Questions, with the marks of the answers if there are any.
#[derive(Serialize)]
pub struct Quiz {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// Name of the rig asked about.
    pub rig: String,
    /// Seed of the numbers in the questions.
    pub seed: u64,
    /// The questions.
    #[serde(rename = "questions")]
    pub items: Vec<QuizItem>,
    /// The marks.
    #[serde(flatten)]
    pub marks: Option<Marks>,
}

impl Found for Quiz {
    fn table(&self) -> Table {
        match &self.marks {
            Some(marks) => Table::of_words(
                ["id", "mark", "given", "expected", "tolerance", "unit", "why"],
                marks.marks.iter().map(mark_row),
            ),
            None if self.items.is_empty() => Table::default(),
            None => Table::of_words(
                ["id", "lesson", "text", "unit", "choices"],
                self.items.iter().map(item_row),
            ),
        }
    }
}

fn item_row(QuizItem { id, lesson, question }: &QuizItem) -> [String; 5] {
    let choices = question.choices.unwrap_or_default().join(" / ");
    [(*id).into(), plain(f64::from(*lesson)), question.text.clone(), question.unit.into(), choices]
}

/// No reader sees what is right before a prediction is written down; the JSON is the whole
/// sheet of marks, for whoever set the questions.
fn mark_row(mark: &Mark) -> [String; 7] {
    let hidden = || [(); 3].map(|()| "-".to_string());
    let [expected, tolerance, why] = mark.given.as_ref().map_or_else(hidden, |_| {
        [text(&mark.expected), mark.tolerance.map_or("-".into(), plain), mark.why.clone()]
    });
    let (verdict, unit) = (mark.verdict().into(), mark.unit.into());
    [mark.id.into(), verdict, mark.given_text(), expected, tolerance, unit, why]
}

/// The report of a quiz.
pub fn report(quiz: &Rc<Quiz>) -> Report {
    let mut report = Report::of("quiz", quiz.clone());
    match &quiz.marks {
        None => render_questions(&mut report, quiz),
        Some(marks) => render_marks(&mut report, &quiz.items, marks),
    }
    report.cautions = RUNNING.to_vec();
    report
}

fn render_questions(report: &mut Report, Quiz { items, rig, .. }: &Quiz) {
    let Some(first) = items.first() else {
        report.say(format!(
            "No fair question comes of the rig {rig} here: does it idle? `quarterturn sweep` tells."
        ));
        return;
    };
    report.say(format!(
        "{} question{} about the rig {rig}, invented. Write what you predict into a file, a line each ({} and your answer), then ask again with --answers FILE.",
        items.len(),
        if items.len() == 1 { "" } else { "s" },
        first.id
    ));
    for QuizItem { id, lesson, question } in items {
        report.heading(format!("{id} (lesson {lesson})"));
        report.say(question.text.clone());
        report.say(format!("  {}", question.answer_space()));
    }
    report.note("Warm engine, the rest as the question says. How near a number counts as right is told with its mark: a quarter of the change where a change is asked for, less where a law gives it.");
}

fn render_marks(report: &mut Report, items: &[QuizItem], marks: &Marks) {
    let Marks { right, answered, marks } = marks;
    let count = items.len();
    report.heading(format!("{right} of {count} right, {answered} answered"));
    for (QuizItem { question, .. }, mark) in items.iter().zip(marks) {
        report.heading(format!("{}: {}", mark.id, mark.verdict()));
        report.say(question.text.clone());
        if mark.given.is_none() {
            report.say(format!("  {}", question.answer_space()));
            continue;
        }
        let within = mark.tolerance.map(|t| format!(" \u{b1} {}", plain(t))).unwrap_or_default();
        let right = format!("{}{within} {}", text(&mark.expected), mark.unit);
        report.say(format!("  {}; you said {}", right.trim_end(), mark.given_text()));
        report.say(format!("  {}", mark.why));
    }
}
