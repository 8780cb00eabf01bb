//! Options that take numbers.

use super::CommandOption;
use crate::error::Error;
use crate::text::{plain, turns_typed};
use clap::{Arg, ArgAction, ArgMatches};
use sim_core::rig::keys::{Key, KeyFault};
use sim_core::run::procedure::parse_turns;

/// What a count without a unit is given in.
const WHOLE: &str = "in whole numbers";

/// The largest seed: whole numbers beyond are not all told apart.
const SEED_MOST: f64 = 9e15;

/// The seed of what is drawn by chance.
pub const fn seed(meaning: &'static str) -> Number {
    Number { default: Some("1"), ..Number::whole("seed", "NUMBER", (0.0, SEED_MOST), meaning) }
}

/// An option that takes one number.
pub struct Number {
    /// Flag, without its dashes.
    pub flag: &'static str,
    /// What stands for its value in help.
    pub value: &'static str,
    /// Unit, empty if none.
    pub unit: &'static str,
    /// Least and largest value.
    pub range: (f64, f64),
    /// The key whose range it has in place of one of its own.
    pub key: Option<&'static str>,
    /// What it is if it is left out, as it would be typed.
    pub default: Option<&'static str>,
    /// Whether it counts something.
    pub whole: bool,
    /// What it means, in a line.
    pub meaning: &'static str,
}

impl Number {
    /// A number in a unit.
    pub const fn new(
        flag: &'static str,
        (value, unit): (&'static str, &'static str),
        range: (f64, f64),
        meaning: &'static str,
    ) -> Number {
        Number { flag, value, unit, range, key: None, default: None, whole: false, meaning }
    }

    /// A value for a key, in its unit and range.
    pub const fn of_key(
        flag: &'static str,
        named: (&'static str, &'static str),
        key: &'static str,
        meaning: &'static str,
    ) -> Number {
        let range = (f64::NEG_INFINITY, f64::INFINITY);
        Number { key: Some(key), ..Number::new(flag, named, range, meaning) }
    }

    /// A count.
    pub const fn whole(
        flag: &'static str,
        value: &'static str,
        range: (f64, f64),
        meaning: &'static str,
    ) -> Number {
        let named = (value, WHOLE);
        Number { whole: true, ..Number::new(flag, named, range, meaning) }
    }

    /// The same with a default.
    pub const fn or(self, default: &'static str) -> Number {
        Number { default: Some(default), ..self }
    }

    fn parsed(&'static self, text: &str) -> Result<f64, Error> {
        let read = if self.unit == "turns" { parse_turns(text) } else { text.trim().parse().ok() };
        read.ok_or_else(|| {
            let key = Key::find("screw").filter(|_| self.unit == "turns");
            Error::not_a_number(&format!("--{}", self.flag), text, key)
        })
    }

    /// What is asked for: the value given, or the default. `None` without either.
    pub fn read(&'static self, matches: &ArgMatches) -> Result<Option<Given>, Error> {
        let text = matches.get_one::<String>(self.flag).map(String::as_str).or(self.default);
        text.map(|text| Ok(Given { option: self, value: self.parsed(text)? })).transpose()
    }

    /// The same for an option that has a default or must be given.
    pub fn given(&'static self, matches: &ArgMatches) -> Result<Given, Error> {
        Ok(self.read(matches)?.unwrap_or(Given { option: self, value: f64::NAN }))
    }

    /// A value, if it lies in the option's range; a NaN lies in none.
    pub fn checked(&self, value: f64) -> Result<f64, Error> {
        let (low, high) = self.least_and_most();
        if (low..=high).contains(&value) && (!self.whole || value == value.round()) {
            return Ok(value);
        }
        let flag = format!("--{}", self.flag);
        Err(match self.own_key() {
            Some(key) => Error::of_key(&flag, key, "", KeyFault::OutOfRange { value }),
            None => Error::out_of_range(&flag, value, (low, high), self.unit),
        })
    }

    fn own_key(&self) -> Option<&'static Key> {
        self.key.and_then(Key::find)
    }

    fn least_and_most(&self) -> (f64, f64) {
        self.own_key().map_or(self.range, |key| (key.low, key.high))
    }

    fn range_words(&self) -> String {
        let unit = if self.unit == WHOLE { "" } else { self.unit };
        let (low, high) = self.least_and_most();
        let low = typed(self, low);
        match high.is_finite() {
            true => format!("{low} to {} {unit}", typed(self, high)).trim_end().into(),
            false => format!("from {low} {unit}").trim_end().into(),
        }
    }
}

fn typed(option: &Number, value: f64) -> String {
    match value {
        _ if option.unit == "turns" => turns_typed(value),
        _ if option.whole => value.to_string(),
        small if small != 0.0 && small.abs() < 1e-3 => format!("{value:e}"),
        _ => plain(value),
    }
}

impl CommandOption for Number {
    fn arg(&self) -> Arg {
        let default = self.default.map(|d| format!("default {d}, ")).unwrap_or_default();
        Arg::new(self.flag)
            .long(self.flag)
            .value_name(self.value)
            .allow_hyphen_values(true)
            .help(format!("{} [{default}{}]", self.meaning, self.range_words()))
    }
}

/// A number asked for, not yet checked against its range.
#[derive(Clone, Copy)]
pub struct Given {
    option: &'static Number,
    value: f64,
}

impl Given {
    /// The value, if it lies in the option's range.
    pub fn checked(&self) -> Result<f64, Error> {
        self.option.checked(self.value)
    }

    /// The value as it is, for a check that belongs to more than one option.
    pub fn unchecked(&self) -> f64 {
        self.value
    }

    /// What stands for it in the canonical command: nothing where it is the default.
    pub fn canonical(&self) -> String {
        let option = self.option;
        let default = option.default.and_then(|text| option.parsed(text).ok());
        match default == Some(self.value) {
            true => String::new(),
            false => format!(" --{} {}", option.flag, typed(option, self.value)),
        }
    }
}

/// Numbers asked for together, not yet checked against their ranges.
pub struct Asked<const N: usize>([Given; N]);

impl<const N: usize> Asked<N> {
    /// Reads options that have a default or must be given.
    pub fn read(options: [&'static Number; N], matches: &ArgMatches) -> Result<Asked<N>, Error> {
        let mut asked = options.map(|option| Given { option, value: f64::NAN });
        for given in &mut asked {
            *given = given.option.given(matches)?;
        }
        Ok(Asked(asked))
    }

    /// The values, if each lies in its option's range.
    pub fn checked(&self) -> Result<[f64; N], Error> {
        let mut values = self.unchecked();
        for (value, given) in values.iter_mut().zip(&self.0) {
            *value = given.checked()?;
        }
        Ok(values)
    }

    /// The values as they are, for a check that belongs to more than one option.
    pub fn unchecked(&self) -> [f64; N] {
        self.0.map(|given| given.value)
    }

    /// What stands for them in the canonical command.
    pub fn canonical(&self) -> String {
        self.0.iter().map(Given::canonical).collect()
    }
}

/// An option that takes numbers: given again and again, or separated by commas.
pub struct Numbers {
    /// What each of them is.
    pub each: Number,
    /// Whether commas separate them. If not, the option is repeated.
    pub commas: bool,
}

impl Numbers {
    /// The values asked for, not yet checked; those of the default if it is left out.
    pub fn read(&'static self, matches: &ArgMatches) -> Result<Vec<Given>, Error> {
        let one = |text: &str| Ok(Given { option: &self.each, value: self.each.parsed(text)? });
        let given = matches.get_many::<String>(self.each.flag).into_iter().flatten();
        let mut texts: Vec<&str> = given.map(String::as_str).collect();
        if texts.is_empty() {
            texts.extend(self.each.default);
        }
        match self.commas {
            true => texts.iter().flat_map(|text| text.split(',')).map(str::trim).map(one).collect(),
            false => texts.into_iter().map(one).collect(),
        }
    }

    /// What stands for values in the canonical command: nothing for those of the default.
    pub fn canonical(&self, values: &[f64]) -> String {
        let values: Vec<String> = values.iter().map(|value| typed(&self.each, *value)).collect();
        let values = values.join(if self.commas { "," } else { " " });
        match values == self.each.default.unwrap_or_default() {
            true => String::new(),
            false => format!(" --{} {values}", self.each.flag),
        }
    }
}

impl CommandOption for Numbers {
    fn arg(&self) -> Arg {
        let how = if self.commas { "; a comma separates them" } else { "; repeat it for more" };
        let arg = self.each.arg();
        let help = arg.get_help().map(ToString::to_string).unwrap_or_default();
        let arg = arg.help(format!("{}{how}", help));
        if self.commas {
            return arg;
        }
        // A flag behind the numbers must not be taken for one of them.
        let arg = arg.allow_hyphen_values(false).allow_negative_numbers(true);
        arg.num_args(1..).action(ArgAction::Append)
    }
}
