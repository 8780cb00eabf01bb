//! What more than one command asks for beside the conditions: numbers in a range.

use crate::error::Error;
use clap::{Arg, ArgMatches};

/// The largest seed: whole numbers beyond are not all told apart.
pub const SEED_MOST: f64 = 9e15;

/// What a count or a seed is given in.
pub const WHOLE: &str = "in whole numbers";

/// A flag that takes a value and has a default.
pub fn value_arg(
    name: &'static str,
    value: &'static str,
    default: &'static str,
    help: &'static str,
) -> Arg {
    optional_arg(name, value, help).default_value(default)
}

/// A flag that takes a value, or is left out.
pub fn optional_arg(name: &'static str, value: &'static str, help: &'static str) -> Arg {
    Arg::new(name).long(name).value_name(value).allow_hyphen_values(true).help(help)
}

/// A flag's number, not yet checked against a range.
pub fn number_of(matches: &ArgMatches, name: &'static str) -> Result<f64, Error> {
    let found = matches.get_one::<String>(name).map_or("", String::as_str);
    number_in(&format!("--{name}"), found)
}

/// The number a text given to a flag is.
pub fn number_in(flag: &str, text: &str) -> Result<f64, Error> {
    let wrong = || Error::NotANumber { flag: flag.into(), found: text.into(), key: None };
    text.trim().parse().map_err(|_| wrong())
}

/// A number checked against its range; a NaN is in none.
pub fn within(
    flag: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<f64, Error> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(Error::NumberOutOfRange { flag: flag.into(), value, low, high, unit })
    }
}

/// The same for a whole number.
pub fn whole_within(
    flag: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<f64, Error> {
    if value == value.round() {
        within(flag, value, (low, high), unit)
    } else {
        Err(Error::NumberOutOfRange { flag: flag.into(), value, low, high, unit })
    }
}
