//! Options that take words and texts, and those that are there or not.

use super::CommandOption;
use crate::error::Error;
use clap::builder::{PossibleValue, StringValueParser, TypedValueParser};
use clap::{Arg, ArgAction, ArgMatches};
use std::ffi::OsStr;

/// An option that takes one of some words.
pub struct Choice {
    /// Flag, without its dashes.
    pub flag: &'static str,
    /// What stands for its value in help.
    pub value: &'static str,
    /// The words.
    pub words: &'static [&'static str],
    /// The word that holds if it is left out.
    pub default: Option<&'static str>,
    /// What it means, in a line.
    pub meaning: &'static str,
}

/// An option that is `on` or `off`.
pub const fn on_or_off(
    flag: &'static str,
    default: Option<&'static str>,
    meaning: &'static str,
) -> Choice {
    Choice { flag, value: "on|off", words: &["on", "off"], default, meaning }
}

impl Choice {
    /// The word asked for, or the default.
    pub fn read(&self, matches: &ArgMatches) -> Result<Option<&'static str>, Error> {
        let Some(found) = matches.get_one::<String>(self.flag) else { return Ok(self.default) };
        let word = self.words.iter().find(|word| **word == found.as_str());
        word.copied()
            .map(Some)
            .ok_or_else(|| Error::not_a_word(&format!("--{}", self.flag), found, self.words))
    }

    /// What stands for a word in the canonical command: nothing for the default.
    pub fn canonical(&self, word: Option<&str>) -> String {
        match word.filter(|word| Some(*word) != self.default) {
            Some(word) => format!(" --{} {word}", self.flag),
            None => String::new(),
        }
    }
}

impl CommandOption for Choice {
    fn arg(&self) -> Arg {
        let told = |word: &&str| self.meaning.contains(*word) || self.value.contains(*word);
        let words = match self.words.iter().all(told) {
            true => String::new(),
            false => format!(": {}", self.words.join(", ")),
        };
        let default = self.default.map(|word| format!(" [default {word}]")).unwrap_or_default();
        Arg::new(self.flag)
            .long(self.flag)
            .value_name(self.value)
            .allow_hyphen_values(true)
            .value_parser(Offered(self.words))
            .hide_possible_values(true)
            .help(format!("{}{words}{default}", self.meaning))
    }
}

/// Takes any text, and offers words to shells that complete it: a word that is none of them is
/// refused when the option is read, in our own sentence.
#[derive(Clone)]
struct Offered(&'static [&'static str]);

impl TypedValueParser for Offered {
    type Value = String;

    fn parse_ref(
        &self,
        command: &clap::Command,
        arg: Option<&Arg>,
        text: &OsStr,
    ) -> Result<String, clap::Error> {
        StringValueParser::new().parse_ref(command, arg, text)
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        let words = self.0.iter().copied().map(PossibleValue::new);
        (!self.0.is_empty()).then(|| Box::new(words) as _)
    }
}

/// An option that is there or not.
pub struct Switch {
    /// Flag, without its dashes.
    pub flag: &'static str,
    /// What it means, in a line.
    pub meaning: &'static str,
}

impl Switch {
    /// Whether it is there.
    pub fn read(&self, matches: &ArgMatches) -> bool {
        matches.get_flag(self.flag)
    }

    /// What stands for it in the canonical command.
    pub fn canonical(&self, there: bool) -> String {
        if there { format!(" --{}", self.flag) } else { String::new() }
    }
}

impl CommandOption for Switch {
    fn arg(&self) -> Arg {
        Arg::new(self.flag).long(self.flag).action(ArgAction::SetTrue).help(self.meaning)
    }
}

/// An option, or an argument without a flag, that takes a text: a file, a name.
pub struct Text {
    /// Flag without its dashes; for an argument its name.
    pub flag: &'static str,
    /// A one-letter flag beside it.
    pub short: Option<char>,
    /// What stands for its value in help.
    pub value: &'static str,
    /// What it is if it is left out.
    pub default: Option<&'static str>,
    /// Whether it must be given.
    pub required: bool,
    /// Whether it is given without a flag.
    pub bare: bool,
    /// Whether it may be given again and again.
    pub repeated: bool,
    /// Words offered to shells that complete it.
    pub offered: &'static [&'static str],
    /// What it means, in a line.
    pub meaning: &'static str,
}

impl Text {
    /// An option that may be left out.
    pub const fn new(flag: &'static str, value: &'static str, meaning: &'static str) -> Text {
        Text {
            flag,
            short: None,
            value,
            default: None,
            required: false,
            bare: false,
            repeated: false,
            offered: &[],
            meaning,
        }
    }

    /// The text given, or the default.
    pub fn read<'m>(&self, matches: &'m ArgMatches) -> Option<&'m str> {
        matches.get_one::<String>(self.flag).map(String::as_str).or(self.default)
    }

    /// All texts given.
    pub fn all<'m>(&self, matches: &'m ArgMatches) -> impl Iterator<Item = &'m str> + use<'m> {
        matches.get_many::<String>(self.flag).into_iter().flatten().map(String::as_str)
    }
}

impl CommandOption for Text {
    fn arg(&self) -> Arg {
        let default = self.default.map(|text| format!(" [default {text}]")).unwrap_or_default();
        let mut arg = Arg::new(self.flag)
            .value_name(self.value)
            .required(self.required)
            .value_parser(Offered(self.offered))
            .hide_possible_values(true)
            .help(format!("{}{default}", self.meaning));
        if !self.bare {
            arg = arg.long(self.flag).allow_hyphen_values(true);
        }
        if let Some(short) = self.short {
            arg = arg.short(short);
        }
        if self.repeated { arg.action(ArgAction::Append) } else { arg }
    }
}
