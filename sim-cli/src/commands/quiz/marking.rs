//! Answers read from a file, and marked.

use super::bench::Right;
use super::{KINDS, Question};
use crate::files::read_text;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::trouble::Trouble;
use crate::words::plain;
use serde_json::{Value, json};
use sim_core::rig::keys::nearest_word;
use sim_core::run::procedure::parse_turns;

/// Answers as a file gives them: name of the question and what is answered.
pub struct Answers {
    path: String,
    text: String,
    given: Vec<(String, Value)>,
}

impl Answers {
    /// Reads a file of answers: an object, or a row of objects.
    pub fn read(path: &str) -> Result<Answers, Trouble> {
        let text = read_text(path)?;
        let wrong =
            |place: String, what: String| Trouble::AnswersFile { path: path.into(), place, what };
        let value: Value = serde_json::from_str(&text).map_err(|error| {
            let place = format!("line {}, column {}", error.line(), error.column());
            wrong(place, format!("not JSON: {}", plain_error(&error)))
        })?;
        let given = match value {
            Value::Object(object) => object.into_iter().collect(),
            Value::Array(rows) => {
                let mut given = Vec::new();
                for (i, row) in rows.into_iter().enumerate() {
                    let id = row.get("id").and_then(Value::as_str).map(str::to_string);
                    let id = id.ok_or_else(|| {
                        wrong(format!("row {}", i + 1), "has no `id`, the question's name".into())
                    })?;
                    let answer = row.get("answer").cloned().unwrap_or(Value::Null);
                    given.push((id, answer));
                }
                given
            }
            _ => {
                let what =
                    "takes an object {id: answer}, or a row of {\"id\": ..., \"answer\": ...}";
                return Err(wrong("line 1".into(), what.into()));
            }
        };
        Ok(Answers { path: path.into(), text, given })
    }

    /// The trouble with one answer, with the line its name stands on.
    fn wrong(&self, id: &str, what: String) -> Trouble {
        let quoted = json!(id).to_string();
        let line = self.text.lines().position(|line| line.contains(&quoted));
        let line = line.map_or(String::new(), |at| format!("line {}, ", at + 1));
        Trouble::AnswersFile { path: self.path.clone(), place: format!("{line}{quoted}"), what }
    }

    /// Marks every question; `ids` are those that may be answered.
    pub fn marks(
        &self,
        questions: &[Question],
        ids: &[&'static str],
    ) -> Result<Vec<Mark>, Trouble> {
        for (i, (id, _)) in self.given.iter().enumerate() {
            if !ids.contains(&id.as_str()) {
                let known = KINDS.iter().any(|kind| kind.id == id);
                let nearest = nearest_word(id, KINDS.iter().map(|kind| kind.id));
                let hint = match nearest {
                    _ if known => "belongs to another lesson than the one asked".into(),
                    Some(name) => format!("no such question (did you mean `{name}`?)"),
                    None => "no such question; `quarterturn quiz` lists them".into(),
                };
                return Err(self.wrong(id, hint));
            }
            if self.given[..i].iter().any(|(before, _)| before == id) {
                return Err(self.wrong(id, "is answered twice".into()));
            }
        }
        questions.iter().map(|question| self.mark(question)).collect()
    }

    fn mark(&self, question: &Question) -> Result<Mark, Trouble> {
        let given = self.given.iter().find(|(id, _)| id == question.id).map(|(_, value)| value);
        let given = given.filter(|value| !value.is_null() && value.as_str() != Some(""));
        let right = match (&question.draft.right, given) {
            (_, None) => false,
            (Right::Number { value, tolerance, .. }, Some(given)) => {
                let number = match given {
                    Value::Number(number) => number.as_f64(),
                    Value::String(text) if question.draft.unit == "turns" => parse_turns(text),
                    Value::String(text) => text.trim().parse().ok(),
                    _ => None,
                };
                let number = number.filter(|number: &f64| number.is_finite()).ok_or_else(|| {
                    let unit = match question.draft.unit {
                        "" => String::new(),
                        unit => format!(" of {unit}"),
                    };
                    self.wrong(question.id, format!("{given} is not a number{unit}"))
                })?;
                (number - value).abs() <= tolerance + 1e-12
            }
            (Right::Choice { choices, at }, Some(given)) => {
                let same = |word: &String| {
                    given.as_str().is_some_and(|given| given.trim().eq_ignore_ascii_case(word))
                };
                let chosen = choices.iter().position(same).ok_or_else(|| {
                    let what = format!("{given} is none of: {}", choices.join(", "));
                    self.wrong(question.id, what)
                })?;
                chosen == *at
            }
        };
        Ok(Mark { right, given: given.cloned() })
    }
}

/// What serde says, without its own line and column.
fn plain_error(error: &serde_json::Error) -> String {
    let text = error.to_string();
    text.split(" at line ").next().unwrap_or(&text).to_string()
}

/// What became of an answer.
pub struct Mark {
    right: bool,
    given: Option<Value>,
}

fn expected(right: &Right) -> (Value, Value) {
    match right {
        Right::Number { value, tolerance, decimals } => {
            let round = |value: f64, decimals: usize| {
                format!("{value:.decimals$}").parse().map_or(Value::Null, |v: f64| json!(v + 0.0))
            };
            (round(*value, decimals + 1), round(*tolerance, decimals + 1))
        }
        Right::Choice { choices, at } => (json!(choices[*at]), Value::Null),
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
pub fn told(report: &mut Report, questions: &[Question], marks: &[Mark]) {
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
        let (expected, tolerance) = expected(&draft.right);
        let given = mark.given.clone().unwrap_or(Value::Null);
        let judged = match (&mark.given, mark.right) {
            (None, _) => "not answered",
            (_, true) => "right",
            (_, false) => "not right",
        };
        report.blocks.push(Block::Heading(format!("{}: {judged}", question.id)));
        report.say(draft.text.clone());
        let within = match &tolerance {
            Value::Null => String::new(),
            tolerance => format!(" \u{b1} {}", words(tolerance)),
        };
        report.say(
            format!("  {}{within} {}; you said {}", words(&expected), draft.unit, words(&given))
                .replace(" ;", ";"),
        );
        report.say(format!("  {}", draft.why));
        rows.push(vec![
            Cell::Word(question.id.into()),
            Cell::Word(judged.into()),
            Cell::Word(words(&given)),
            Cell::Word(words(&expected)),
            Cell::Word(words(&tolerance)),
            Cell::Word(draft.unit.into()),
            Cell::Word(draft.why.clone()),
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
