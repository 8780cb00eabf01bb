//! Answers read from a file: a line for each, or JSON.

use super::kinds::{KINDS, QuizItem};
use crate::error::Error;
use crate::files::read_text;
use serde_json::{Value, json};
use sim_core::rig::keys::nearest_word;

/// Answers as a file gives them.
pub struct Answers {
    path: String,
    given: Vec<GivenAnswer>,
}

/// An answer: where it stands, the question's name, what is answered.
pub struct GivenAnswer {
    line: usize,
    id: String,
    /// What is answered.
    pub answer: Value,
}

/// What stands between a name and its answer in a line.
const SEPARATORS: [char; 6] = [' ', '\t', ':', '=', ',', ';'];

impl Answers {
    /// Reads a file of answers: a line for each question, its name and what is answered; or JSON,
    /// an object of names and answers or a row of objects.
    pub fn read(path: &str) -> Result<Answers, Error> {
        let text = read_text(path)?;
        let text = text.trim_start_matches('\u{feff}');
        let given = match text.trim_start().chars().next() {
            Some('{' | '[') => of_json(text),
            _ => of_lines(text),
        };
        let wrong = |(place, what)| Error::file(format!("{path}: {place}: {what}"));
        Ok(Answers { path: path.into(), given: given.map_err(wrong)? })
    }

    /// Refuses answers to what is not asked, and two answers to one question; `ids` are the
    /// questions that may be answered.
    pub fn check(&self, ids: &[&'static str]) -> Result<(), Error> {
        for (i, given) in self.given.iter().enumerate() {
            let id = &given.id;
            if !ids.contains(&id.as_str()) {
                let known = KINDS.iter().any(|kind| kind.id == *id);
                let nearest = nearest_word(id, ids.iter().copied());
                let what = match nearest {
                    _ if known => "belongs to another lesson than the one asked".into(),
                    Some(name) => format!("no such question (did you mean `{name}`?)"),
                    None => "no such question; `quarterturn quiz` lists them".into(),
                };
                return Err(self.error(given, what));
            }
            if self.given[..i].iter().any(|before| before.id == *id) {
                return Err(self.error(given, "is answered twice".into()));
            }
        }
        Ok(())
    }

    /// What is answered to a question, if anything is.
    pub fn to(&self, item: &QuizItem) -> Option<&GivenAnswer> {
        let given = self.given.iter().find(|given| given.id == item.id)?;
        let empty = given.answer.is_null() || given.answer.as_str() == Some("");
        (!empty).then_some(given)
    }

    /// The error in an answer.
    pub fn error(&self, GivenAnswer { line, id, .. }: &GivenAnswer, what: String) -> Error {
        Error::file(format!("{}: line {line}, {}: {what}", self.path, json!(id)))
    }
}

/// What a line holds.
const A_LINE: &str = "a line takes a question's name and what you answer, as 01-leak 1.05";

/// Place and words of what is wrong with a file.
type PlaceAndFault = (String, String);

fn of_lines(text: &str) -> Result<Vec<GivenAnswer>, PlaceAndFault> {
    let mut given = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let Some((id, answer)) = line.split_once(SEPARATORS) else {
            return Err((format!("line {}", i + 1), format!("\"{line}\" is no answer: {A_LINE}")));
        };
        let answer = answer.trim_start_matches(SEPARATORS).trim_end();
        let answer = answer.parse().map_or_else(|_| json!(answer), |number: f64| json!(number));
        given.push(GivenAnswer { line: i + 1, id: id.into(), answer });
    }
    if given.is_empty() {
        return Err(("line 1".into(), format!("no answers: {A_LINE}")));
    }
    Ok(given)
}

fn of_json(text: &str) -> Result<Vec<GivenAnswer>, PlaceAndFault> {
    let value: Value = serde_json::from_str(text).map_err(|error| {
        let words = error.to_string();
        let words = words.split(" at line ").next().unwrap_or_default();
        let curly = text.contains(['\u{201c}', '\u{201d}', '\u{201e}']);
        let hint = if curly { "; quotes must be straight: \"" } else { "" };
        (
            format!("line {}, column {}", error.line(), error.column()),
            format!("not JSON: {words}{hint}"),
        )
    })?;
    let one = |id: String, answer: Value| {
        let quoted = json!(id).to_string();
        let line = 1 + text.lines().position(|line| line.contains(&quoted)).unwrap_or_default();
        // A name that stands there twice: JSON keeps the last.
        match text.matches(&quoted).count() {
            0 | 1 => Ok(GivenAnswer { line, id, answer }),
            _ => Err((format!("line {line}, {quoted}"), "is answered twice".to_string())),
        }
    };
    match value {
        Value::Object(object) => object.into_iter().map(|(id, answer)| one(id, answer)).collect(),
        Value::Array(rows) => rows
            .into_iter()
            .enumerate()
            .map(|(i, row)| {
                let id = row.get("id").and_then(Value::as_str).map(str::to_string);
                let id = id.ok_or_else(|| {
                    (format!("row {}", i + 1), "has no `id`, the question's name".to_string())
                })?;
                one(id, row.get("answer").cloned().unwrap_or_default())
            })
            .collect(),
        _ => Ok(Vec::new()),
    }
}
