//! Answers marked, and what is right told to who has answered.

use super::Question;
use super::answers::Answers;
use super::question::CorrectAnswer;
use crate::error::Error;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::text::plain;
use serde_json::{Value, json};
use sim_core::run::procedure::parse_turns;

/// What became of an answer.
pub struct Mark {
    right: bool,
    given: Option<Value>,
}

/// Marks every question.
pub fn marks(questions: &[Question], answers: &Answers) -> Result<Vec<Mark>, Error> {
    questions.iter().map(|question| mark(question, answers)).collect()
}

fn mark(question: &Question, answers: &Answers) -> Result<Mark, Error> {
    let Some(given) = answers.to(question) else {
        return Ok(Mark { right: false, given: None });
    };
    let right = match &question.draft.right {
        CorrectAnswer::Number { value, tolerance, .. } => {
            let unit = question.draft.unit;
            let number = match given {
                Value::Number(number) => number.as_f64(),
                Value::String(text) => number_in(text, unit),
                _ => None,
            };
            let number = number.filter(|number| number.is_finite()).ok_or_else(|| {
                let of = if unit.is_empty() { String::new() } else { format!(" of {unit}") };
                let comma = given.as_str().is_some_and(|text| text.contains(','));
                let hint = if comma { "; write a decimal point, not a comma" } else { "" };
                answers.wrong(question, format!("{given} is not a number{of}{hint}"))
            })?;
            (number - value).abs() <= tolerance + 1e-12
        }
        CorrectAnswer::Choice { choices, at } => {
            let same = |word: &String| {
                given.as_str().is_some_and(|given| given.trim().eq_ignore_ascii_case(word))
            };
            let chosen = choices.iter().position(same).ok_or_else(|| {
                answers.wrong(question, format!("{given} is none of: {}", choices.join(", ")))
            })?;
            chosen == *at
        }
    };
    Ok(Mark { right, given: Some(given.clone()) })
}

/// The number of a text, with or without its unit behind it; turns as they are typed.
fn number_in(text: &str, unit: &str) -> Option<f64> {
    let text = text.trim();
    let text = text.strip_suffix(unit).unwrap_or(text).trim_end();
    if unit == "turns" { parse_turns(text) } else { text.parse().ok() }
}

fn expected(right: &CorrectAnswer) -> (Value, Value) {
    match right {
        CorrectAnswer::Number { value, tolerance, decimals } => {
            let round = |value: f64, decimals: usize| {
                format!("{value:.decimals$}").parse().map_or(Value::Null, |v: f64| json!(v + 0.0))
            };
            (round(*value, decimals + 1), round(*tolerance, decimals + 1))
        }
        CorrectAnswer::Choice { choices, at } => (json!(choices[*at]), Value::Null),
    }
}

fn words(value: &Value) -> String {
    match value {
        Value::Null => "-".into(),
        Value::String(text) => text.clone(),
        Value::Number(number) => number.as_f64().map_or("-".into(), plain),
        other => other.to_string(),
    }
}

/// Tells the marks.
pub fn render(report: &mut Report, questions: &[Question], marks: &[Mark]) {
    let count = marks.iter().filter(|mark| mark.right).count();
    let answered = marks.iter().filter(|mark| mark.given.is_some()).count();
    report.put("right", json!(count));
    report.put("answered", json!(answered));
    let mut values = Vec::new();
    let mut rows = Vec::new();
    report
        .blocks
        .push(Block::Heading(format!("{count} of {} right, {answered} answered", questions.len())));
    for (question, mark) in questions.iter().zip(marks) {
        let draft = &question.draft;
        let given = mark.given.clone().unwrap_or_default();
        let (expected, tolerance) = expected(&draft.right);
        let judged = match (&mark.given, mark.right) {
            (None, _) => "not answered",
            (_, true) => "right",
            (_, false) => "not right",
        };
        report.blocks.push(Block::Heading(format!("{}: {judged}", question.id)));
        report.say(draft.text.clone());
        // No reader is told what is right before a prediction is written down; the JSON is the
        // whole sheet of marks, for whoever set the questions.
        let text = |value: &Value| match &mark.given {
            Some(_) => words(value),
            None => "-".into(),
        };
        if mark.given.is_some() {
            let within = match &tolerance {
                Value::Null => String::new(),
                tolerance => format!(" \u{b1} {}", words(tolerance)),
            };
            let right = format!("{}{within} {}", words(&expected), draft.unit);
            report.say(format!("  {}; you said {}", right.trim_end(), words(&given)));
            report.say(format!("  {}", draft.why));
        } else {
            report.say(format!("  {}", question.takes()));
        }
        rows.push(vec![
            Cell::Word(question.id.into()),
            Cell::Word(judged.into()),
            Cell::Word(words(&given)),
            Cell::Word(text(&expected)),
            Cell::Word(text(&tolerance)),
            Cell::Word(draft.unit.into()),
            Cell::Word(text(&json!(draft.why))),
        ]);
        values.push(json!({
            "id": question.id,
            "right": mark.right,
            "given": given,
            "expected": expected,
            "tolerance": tolerance,
            "unit": draft.unit,
            "why": draft.why,
        }));
    }
    report.put("marks", Value::Array(values));
    let columns = ["id", "mark", "given", "expected", "tolerance", "unit", "why"];
    let columns = columns.map(|name| Column::new(name, name, "", 0)).to_vec();
    report.rows = Table { columns, rows };
}
