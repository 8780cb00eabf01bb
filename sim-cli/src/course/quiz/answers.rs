//! Answers read from a file: a line for each, or JSON.

use super::kinds::{KINDS, QuizItem};
use crate::error::Error;
use crate::files::read_text;
use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer};
use serde_json::{Value, json};
use sim_core::rig::keys::nearest_word;
use std::collections::HashSet;
use std::fmt::Formatter;

/// Answers as a file gives them.
pub struct Answers {
    path: String,
    text: String,
    given: Vec<GivenAnswer>,
}

/// An answer: where it stands, the question's name, what is answered.
pub struct GivenAnswer {
    /// The line, where it is known without a search.
    line: Option<usize>,
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
        // An object without a name says that nothing is answered; a row of nothing says nothing.
        let given = given.and_then(|given| match given.is_empty() && !text.contains('{') {
            true => Err(("line 1".into(), format!("no answers: {A_LINE}"))),
            false => Ok(given),
        });
        let wrong = |(place, what)| Error::file(format!("{path}: {place}: {what}"));
        Ok(Answers { path: path.into(), text: text.into(), given: given.map_err(wrong)? })
    }

    /// Refuses answers to what is not asked, and two answers to one question; `ids` are the
    /// questions that may be answered.
    pub fn check(&self, ids: &[&'static str]) -> Result<(), Error> {
        let mut answered = HashSet::new();
        for given in &self.given {
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
            if !answered.insert(id) {
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
        let name = json!(id).to_string();
        let place = match line.or_else(|| line_of(&self.text, &name)) {
            Some(line) => format!("line {line}, "),
            None => String::new(),
        };
        Error::file(format!("{}: {place}{name}: {what}", self.path))
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
        // What is no finite number stays a text, to be refused as one.
        let number = answer.parse().ok().filter(|number: &f64| number.is_finite());
        let answer = number.map_or_else(|| json!(answer), |number| json!(number));
        given.push(GivenAnswer { line: Some(i + 1), id: id.into(), answer });
    }
    Ok(given)
}

/// The line in which a quoted name stands last: where JSON gives a name twice, its second place.
fn line_of(text: &str, quoted: &str) -> Option<usize> {
    text.rfind(quoted).map(|at| 1 + text[..at].matches('\n').count())
}

/// Names and answers of a JSON object, in their order; a name that stands there twice is kept
/// twice.
struct Pairs(Vec<(String, Value)>);

impl<'de> Deserialize<'de> for Pairs {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Pairs, D::Error> {
        struct PairsVisitor;
        impl<'de> Visitor<'de> for PairsVisitor {
            type Value = Pairs;

            fn expecting(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
                f.write_str("names and answers")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Pairs, A::Error> {
                let mut pairs = Vec::new();
                while let Some(pair) = map.next_entry()? {
                    pairs.push(pair);
                }
                Ok(Pairs(pairs))
            }
        }
        deserializer.deserialize_map(PairsVisitor)
    }
}

fn of_json(text: &str) -> Result<Vec<GivenAnswer>, PlaceAndFault> {
    let wrong = |error: serde_json::Error| {
        let words = error.to_string();
        let words = words.split(" at line ").next().unwrap_or_default();
        let curly = text.contains(['\u{201c}', '\u{201d}', '\u{201e}']);
        let hint = if curly { "; quotes must be straight: \"" } else { "" };
        (
            format!("line {}, column {}", error.line(), error.column()),
            format!("not JSON: {words}{hint}"),
        )
    };
    if text.trim_start().starts_with('{') {
        let Pairs(pairs) = serde_json::from_str(text).map_err(wrong)?;
        let given = |(id, answer)| GivenAnswer { line: None, id, answer };
        return Ok(pairs.into_iter().map(given).collect());
    }
    let rows: Vec<Value> = serde_json::from_str(text).map_err(wrong)?;
    rows.into_iter()
        .enumerate()
        .map(|(i, row)| {
            let wrong = |what: String| Err((format!("row {}", i + 1), what));
            let Value::Object(mut row) = row else {
                return wrong("is no object with `id` and `answer`".into());
            };
            let Some(Value::String(id)) = row.remove("id") else {
                return wrong("has no `id`, the question's name".into());
            };
            match row.remove("answer") {
                Some(answer) => Ok(GivenAnswer { line: None, id, answer }),
                None => {
                    let meant = row.keys().find(|key| nearest_word(key, ["answer"]).is_some());
                    let meant = meant.map(|key| format!("; no key is {}", json!(key)));
                    wrong(format!("has no `answer` to {}{}", json!(id), meant.unwrap_or_default()))
                }
            }
        })
        .collect()
}
