//! Arguments of acts: what each takes, and reading them from JSON.

use serde_json::{Map, Value, json};
use sim_core::run::procedure::parse_turns;

/// The longest text an act takes, in characters.
pub const TEXT_MOST: usize = 600;

/// What an argument takes.
#[derive(Clone, Copy)]
pub enum Takes {
    /// A number in a unit, within a range.
    Number(&'static str, f64, f64),
    /// Turns of the screw: a number, or a text such as `"1/16"` or `"-1/4"`.
    Turns(f64, f64),
    /// One of some words.
    Word(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A text.
    Text,
    /// An object or a list, described in words.
    Data(&'static str),
}

/// An argument of an act.
pub struct Argument {
    /// Its name.
    pub name: &'static str,
    /// What it takes.
    pub takes: Takes,
    /// Whether the act needs it.
    pub needed: bool,
    /// What it means.
    pub meaning: &'static str,
}

/// An argument that the act needs.
pub const fn needs(name: &'static str, takes: Takes, meaning: &'static str) -> Argument {
    Argument { name, takes, needed: true, meaning }
}

/// An argument that may be left out.
pub const fn may(name: &'static str, takes: Takes, meaning: &'static str) -> Argument {
    Argument { name, takes, needed: false, meaning }
}

impl Argument {
    /// Its row of the help.
    pub fn help(&self) -> Value {
        let (takes, unit, range, words) = match self.takes {
            Takes::Number(unit, low, high) => {
                ("number", json!(unit), json!([low, high]), json!(null))
            }
            Takes::Turns(low, high) => {
                ("number, or a fraction as text", json!("turns"), json!([low, high]), json!(null))
            }
            Takes::Word(words) => ("word", json!(null), json!(null), json!(words)),
            Takes::Flag => ("true or false", json!(null), json!(null), json!(null)),
            Takes::Text => ("text", json!("characters"), json!([0, TEXT_MOST]), json!(null)),
            Takes::Data(what) => (what, json!(null), json!(null), json!(null)),
        };
        json!({
            "name": self.name,
            "takes": takes,
            "unit": unit,
            "range": range,
            "words": words,
            "needed": self.needed,
            "meaning": self.meaning,
        })
    }

    /// Whether a value is one it takes.
    fn check(&self, value: &Value) -> Result<(), String> {
        let name = self.name;
        let within = |number: Option<f64>, unit: &str, low: f64, high: f64| match number {
            None => Err(format!("`{name}` takes a number in {unit}.")),
            Some(number) if (low..=high).contains(&number) => Ok(()),
            Some(number) => Err(format!("`{name}` {number} is outside {low} to {high} {unit}.")),
        };
        match self.takes {
            Takes::Number(unit, low, high) => within(value.as_f64(), unit, low, high),
            Takes::Turns(low, high) => within(turns_of(value), "turns", low, high),
            Takes::Word(words) => match value.as_str() {
                Some(word) if words.contains(&word) => Ok(()),
                _ => Err(format!("`{name}` is one of: {}.", words.join(", "))),
            },
            Takes::Flag if value.is_boolean() => Ok(()),
            Takes::Flag => Err(format!("`{name}` is true or false.")),
            Takes::Text => match value.as_str() {
                Some(text) if text.chars().count() <= TEXT_MOST => Ok(()),
                Some(_) => Err(format!("`{name}` is longer than {TEXT_MOST} characters.")),
                None => Err(format!("`{name}` takes a text.")),
            },
            Takes::Data(_) => Ok(()),
        }
    }
}

fn turns_of(value: &Value) -> Option<f64> {
    match value {
        Value::String(text) => parse_turns(text),
        other => other.as_f64(),
    }
}

/// The arguments of an act, checked against its list.
pub struct Arguments<'a>(&'a Map<String, Value>);

impl<'a> Arguments<'a> {
    /// Checks an act's object. What is null counts as left out.
    pub fn checked(
        list: &[Argument],
        given: &'a Map<String, Value>,
    ) -> Result<Arguments<'a>, String> {
        for (name, value) in given.iter().filter(|(name, value)| *name != "act" && !value.is_null())
        {
            let Some(argument) = list.iter().find(|argument| argument.name == name) else {
                let names: Vec<&str> = list.iter().map(|argument| argument.name).collect();
                return Err(match names.is_empty() {
                    true => format!("It takes no argument, and \"{name}\" is given."),
                    false => {
                        format!("It has no argument \"{name}\"; it takes {}.", names.join(", "))
                    }
                });
            };
            argument.check(value)?;
        }
        let there = |argument: &&Argument| given.get(argument.name).is_none_or(Value::is_null);
        match list.iter().filter(|argument| argument.needed).find(there) {
            Some(argument) => Err(format!("It needs `{}`: {}.", argument.name, argument.meaning)),
            None => Ok(Arguments(given)),
        }
    }

    /// None at all, in an empty object.
    pub fn none(nothing: &'a Map<String, Value>) -> Arguments<'a> {
        Arguments(nothing)
    }

    /// All of them.
    pub fn all(&self) -> &'a Map<String, Value> {
        self.0
    }

    /// A value as it is given.
    pub fn get(&self, name: &str) -> Option<&'a Value> {
        self.0.get(name).filter(|value| !value.is_null())
    }

    /// A number.
    pub fn number(&self, name: &str) -> Option<f64> {
        self.get(name).and_then(turns_of)
    }

    /// A word or a text.
    pub fn text(&self, name: &str) -> Option<&'a str> {
        self.get(name).and_then(Value::as_str)
    }

    /// Yes or no.
    pub fn flag(&self, name: &str) -> Option<bool> {
        self.get(name).and_then(Value::as_bool)
    }
}
