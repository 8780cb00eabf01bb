//! What more than one command asks for beside the conditions: numbers in a range, words, a
//! procedure.

use crate::error::Error;
use crate::files::{names_a_file, read_text};
use clap::{Arg, ArgMatches};
use sim_core::rig::keys::nearest_word;
use sim_core::run::procedure::{Procedure, SHIPPED, parse};

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

/// The flag that names a procedure.
pub fn procedure_arg() -> Arg {
    let names: Vec<&str> = SHIPPED.iter().map(|(name, _)| *name).collect();
    let help = format!("{}, or a file", names.join(", "));
    Arg::new("procedure").long("procedure").value_name("NAME|FILE").required(true).help(help)
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
        Err(Error::NumberOutOfRange { flag, value, low, high, unit })
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
        Err(Error::NumberOutOfRange { flag, value, low, high, unit })
    }
}

/// A flag that is on or off; `None` if it is not given.
pub fn on_or_off(
    matches: &ArgMatches,
    name: &str,
    flag: &'static str,
) -> Result<Option<bool>, Error> {
    match matches.get_one::<String>(name).map(String::as_str) {
        None => Ok(None),
        Some("on") => Ok(Some(true)),
        Some("off") => Ok(Some(false)),
        Some(other) => {
            let words = &["on", "off"];
            Err(Error::NotAWord { flag: flag.into(), found: other.into(), words })
        }
    }
}

/// A shipped procedure by its name, or one from a file, and whether it is from a file. Its
/// speeds are checked against the engine's limit (rad/s).
pub fn load_procedure(asked: &str, limit_rad_s: f64) -> Result<(Procedure, bool), Error> {
    let read = |text: &str| {
        parse(text, limit_rad_s)
            .map_err(|fault| Error::RigFile { path: asked.into(), fault: Box::new(fault) })
    };
    if let Some((_, text)) = SHIPPED.iter().find(|(name, _)| *name == asked) {
        return Ok((read(text)?, false));
    }
    if !names_a_file(asked) {
        let nearest = nearest_word(asked, SHIPPED.iter().map(|(name, _)| *name));
        return Err(Error::UnknownProcedure { name: asked.into(), nearest });
    }
    let text = read_text(asked)?;
    Ok((read(&text)?, true))
}
