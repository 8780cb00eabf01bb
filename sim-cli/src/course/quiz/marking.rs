//! Answers marked.

use super::answers::{Answers, GivenAnswer};
use super::kinds::QuizItem;
use super::question::{CorrectAnswer, Question};
use crate::error::Error;
use crate::text::plain;
use serde::Serialize;
use serde_json::{Value, json};
use sim_core::run::procedure::parse_turns;
use sim_core::wording::number_hint;

/// The marks of a quiz.
#[derive(Serialize)]
pub struct Marks {
    /// How many answers are right.
    pub right: usize,
    /// How many questions are answered.
    pub answered: usize,
    /// The mark of each question.
    pub marks: Vec<Mark>,
}

/// What became of an answer.
#[derive(Serialize)]
pub struct Mark {
    /// The question's name.
    pub id: &'static str,
    /// Whether the answer is right.
    pub right: bool,
    /// The answer given, if any.
    pub given: Option<Value>,
    /// What is right, rounded as it is shown.
    pub expected: Value,
    /// How far off a number may be.
    pub tolerance: Option<f64>,
    /// Unit of the answer.
    pub unit: &'static str,
    /// Why it is so.
    pub why: String,
}

/// An answer as text.
pub fn text(answer: &Value) -> String {
    match answer {
        Value::String(text) => text.clone(),
        Value::Number(number) => number.as_f64().map_or("-".into(), plain),
        other => other.to_string(),
    }
}

impl Mark {
    /// What became of it, as text.
    pub fn verdict(&self) -> &'static str {
        match (&self.given, self.right) {
            (None, _) => "not answered",
            (_, true) => "right",
            (_, false) => "not right",
        }
    }

    /// The answer given, as text.
    pub fn given_text(&self) -> String {
        self.given.as_ref().map_or("-".into(), text)
    }
}

/// Marks every question.
pub fn marked(items: &[QuizItem], answers: &Answers) -> Result<Marks, Error> {
    let marks = items.iter().map(|item| mark(item, answers)).collect::<Result<Vec<_>, _>>()?;
    Ok(Marks {
        right: marks.iter().filter(|mark| mark.right).count(),
        answered: marks.iter().filter(|mark| mark.given.is_some()).count(),
        marks,
    })
}

fn mark(item: &QuizItem, answers: &Answers) -> Result<Mark, Error> {
    let QuizItem { id, question, .. } = item;
    let given = answers.to(item);
    let right = given.map(|given| is_right(question, given, answers)).transpose()?;
    let rounded = |value: f64| rounded(value, question.decimals);
    let (expected, tolerance) = match (question.answer, question.choices) {
        (CorrectAnswer::Number(value, tolerance), _) => {
            (json!(rounded(value)), Some(rounded(tolerance)))
        }
        (CorrectAnswer::Choice(at), choices) => (json!(choices.map(|words| &words[at])), None),
    };
    Ok(Mark {
        id,
        right: right.unwrap_or(false),
        given: given.map(|given| given.answer.clone()),
        expected,
        tolerance,
        unit: question.unit,
        why: question.why.clone(),
    })
}

/// A number with a decimal more than its question shows, and no minus before a zero.
fn rounded(value: f64, decimals: usize) -> f64 {
    format!("{value:.*}", decimals + 1).parse().map_or(f64::NAN, |value: f64| value + 0.0)
}

fn is_right(question: &Question, given: &GivenAnswer, answers: &Answers) -> Result<bool, Error> {
    let Question { unit, choices, answer, .. } = question;
    let wrong = |what: String| answers.error(given, what);
    let given = &given.answer;
    match answer {
        CorrectAnswer::Number(value, tolerance) => {
            let number = match given {
                Value::Number(number) => number.as_f64(),
                Value::String(text) => number_in(text, unit),
                _ => None,
            };
            let number = number.filter(|number| number.is_finite()).ok_or_else(|| {
                let of = if unit.is_empty() { String::new() } else { format!(" of {unit}") };
                let hint = given.as_str().map_or("", number_hint);
                wrong(format!("{given} is not a number{of}{hint}"))
            })?;
            Ok((number - value).abs() <= tolerance + 1e-12)
        }
        CorrectAnswer::Choice(at) => {
            let choices = choices.unwrap_or_default();
            let word = given.as_str().unwrap_or_default().trim();
            let all = choices.join(", ");
            let chosen = chosen(word, choices).ok_or_else(|| match word {
                "" => wrong(format!("{given} is none of: {all}")),
                _ => wrong(format!("{given} is none of, or not clearly one of: {all}")),
            })?;
            Ok(chosen == *at)
        }
    }
}

/// Which of the choices is meant: by all its words, or else by its first words or its last, as
/// long as no other choice begins, or ends, with them. Case, commas and a leading "the" count
/// for nothing.
fn chosen(given: &str, choices: &[String]) -> Option<usize> {
    let words = |text: &str| -> Vec<String> {
        let words = text.split_whitespace().map(|word| word.trim_end_matches([',', '.']));
        words.map(str::to_lowercase).skip_while(|word| word == "the").collect()
    };
    let given = words(given);
    let choices: Vec<Vec<String>> = choices.iter().map(|choice| words(choice)).collect();
    let one = |fits: &dyn Fn(&Vec<String>) -> bool| {
        let mut fit = choices.iter().enumerate().filter(|(_, choice)| fits(choice));
        fit.next().filter(|_| fit.next().is_none()).map(|(at, _)| at)
    };
    if given.is_empty() {
        return None;
    }
    let whole = one(&|choice| *choice == given);
    let first = || one(&|choice| choice.starts_with(&given));
    let last = || one(&|choice| choice.ends_with(&given));
    whole.or_else(first).or_else(last)
}

/// The number of a text, with or without its unit behind it; turns as they are typed.
fn number_in(text: &str, unit: &str) -> Option<f64> {
    let text = text.trim();
    let text = text.strip_suffix(unit).unwrap_or(text).trim_end();
    if unit == "turns" { parse_turns(text) } else { text.parse().ok() }
}

#[cfg(test)]
mod tests {
    use super::chosen;

    #[test]
    fn a_shortened_choice_counts_if_no_other_can_be_meant() {
        let of = |given: &str, choices: &[&str]| {
            chosen(given, &choices.iter().map(|choice| choice.to_string()).collect::<Vec<_>>())
        };
        let sides = ["lean of lambda 1", "lambda 1 within 0.02", "rich of lambda 1"];
        assert_eq!(of("rich", &sides), Some(2));
        assert_eq!(of("Lean", &sides), Some(0));
        assert_eq!(of("lambda 1", &sides), Some(1));
        assert_eq!(of("1", &sides), None);
        assert_eq!(of("ric", &sides), None);
        assert_eq!(of("", &sides), None);
        let starts = ["starts within 4 s", "starts later", "does not start, too lean"];
        assert_eq!(of("starts", &starts), None);
        assert_eq!(of("start", &starts), None);
        assert_eq!(of("later", &starts), Some(1));
        assert_eq!(of("too lean", &starts), Some(2));
        assert_eq!(of("does not start", &starts), Some(2));
        assert_eq!(of("duty", &["the duty", "the speed"]), Some(0));
    }

    #[test]
    fn no_choice_of_a_question_is_hidden_behind_another() {
        for kind in super::super::kinds::KINDS.iter() {
            for (at, choice) in kind.choices().iter().enumerate() {
                assert_eq!(chosen(choice, kind.choices()), Some(at), "{}: {choice}", kind.id);
            }
        }
    }
}
