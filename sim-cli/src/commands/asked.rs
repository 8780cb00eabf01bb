//! What more than one command asks for beside the conditions: numbers in a range, words, a
//! procedure.

use crate::files::{names_a_file, read_text};
use crate::trouble::Trouble;
use clap::ArgMatches;
use sim_core::rig::keys::nearest_word;
use sim_core::run::procedure::{Procedure, SHIPPED, parse};

/// The largest seed: whole numbers beyond are not all told apart.
pub const SEED_MOST: f64 = 9e15;

/// A flag's number, not yet checked against a range.
pub fn number_of(matches: &ArgMatches, name: &'static str) -> Result<f64, Trouble> {
    let found = matches.get_one::<String>(name).map_or("", String::as_str);
    found.trim().parse().map_err(|_| Trouble::NotANumber {
        flag: format!("--{name}"),
        found: found.into(),
        turns: false,
    })
}

/// A number checked against its range; a NaN is in none.
pub fn within(
    flag: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<f64, Trouble> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(Trouble::NumberOutOfRange { flag, value, low, high, unit })
    }
}

/// The same for a whole number.
pub fn whole_within(
    flag: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<f64, Trouble> {
    if value == value.round() {
        within(flag, value, (low, high), unit)
    } else {
        Err(Trouble::NumberOutOfRange { flag, value, low, high, unit })
    }
}

/// A flag that is on or off; `None` if it is not given.
pub fn on_or_off(
    matches: &ArgMatches,
    name: &str,
    flag: &'static str,
) -> Result<Option<bool>, Trouble> {
    match matches.get_one::<String>(name).map(String::as_str) {
        None => Ok(None),
        Some("on") => Ok(Some(true)),
        Some("off") => Ok(Some(false)),
        Some(other) => {
            let words = &["on", "off"];
            Err(Trouble::NotAWord { flag: flag.into(), found: other.into(), words })
        }
    }
}

/// A shipped procedure by its name, or one from a file, and whether it is from a file. Its
/// speeds are checked against the engine's limit (rad/s).
pub fn load_procedure(asked: &str, limit_rad_s: f64) -> Result<(Procedure, bool), Trouble> {
    let read = |text: &str| {
        parse(text, limit_rad_s)
            .map_err(|fault| Trouble::RigFile { path: asked.into(), fault: Box::new(fault) })
    };
    if let Some((_, text)) = SHIPPED.iter().find(|(name, _)| *name == asked) {
        return Ok((read(text)?, false));
    }
    if !names_a_file(asked) {
        let nearest = nearest_word(asked, SHIPPED.iter().map(|(name, _)| *name));
        return Err(Trouble::UnknownProcedure { name: asked.into(), nearest });
    }
    let text = read_text(asked)?;
    Ok((read(&text)?, true))
}
