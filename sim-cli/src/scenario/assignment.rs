//! A value that a key is asked to take.

use crate::error::Error;
use crate::text::{key_words, plain, turns_typed};
use sim_core::rig::keys::{Key, KeyFault, Place, Setup};
use sim_core::run::procedure::parse_turns;
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;
use sim_core::wording::did_you_mean_one_of;

/// A value asked for, not yet checked against its key.
pub struct Assignment {
    /// The flag it is asked for by.
    pub flag: String,
    /// The key.
    pub key: &'static Key,
    text: String,
    number: f64,
    /// Whether the number is counted from the aim.
    from_aim: bool,
}

impl Assignment {
    /// Reads a value; only what cannot be a value at all is refused here.
    pub fn read(flag: String, key: &'static Key, text: &str) -> Result<Assignment, Error> {
        let beyond = if key.name == "screw" { text.trim().strip_prefix("aim") } else { None };
        let number = match key.place {
            Place::Choice { words, .. } if words.contains(&text) => 0.0,
            Place::Choice { words, .. } => {
                return Err(Error::not_a_word(&flag, text, words));
            }
            Place::PartRow { .. } => return Err(Error::row_key(key)),
            _ => {
                let turns = key.unit == Unit::Turns;
                let number = match beyond {
                    Some("") => Some(0.0),
                    Some(beyond) if beyond.starts_with(['+', '-']) => parse_turns(beyond),
                    _ if turns => parse_turns(text),
                    _ => text.trim().parse().ok(),
                };
                number.ok_or_else(|| Error::not_a_number(&flag, text, Some(key)))?
            }
        };
        Ok(Assignment { flag, key, text: text.into(), number, from_aim: beyond.is_some() })
    }

    /// The number asked for, in the key's unit.
    pub fn asked(&self) -> f64 {
        self.number
    }

    /// Whether the value lies in the key's range, whatever the rig.
    pub fn check(&self) -> Result<(), Error> {
        let word = matches!(self.key.place, Place::Choice { .. });
        if word || self.from_aim || self.key.allows(self.number) {
            return Ok(());
        }
        let fault = KeyFault::OutOfRange { value: self.number };
        Err(Error::of_key(&self.flag, self.key, &self.text, fault))
    }

    /// Gives a setup the value.
    pub fn apply(&self, setup: &mut Setup) -> Result<(), Error> {
        let done = match self.key.place {
            Place::Choice { .. } => self.key.choose(setup, &self.text),
            _ if self.from_aim => {
                let aim = SteadyEngine::new(&setup.rig, &setup.conditions).aim_turns();
                let aim = aim.ok_or_else(|| {
                    Error::outside(format!(
                        "{}: there is no aim: under these conditions the engine does not run at lambda 1",
                        self.flag
                    ))
                })?;
                self.key.set(setup, aim + self.number)
            }
            _ => self.key.set(setup, self.number),
        };
        done.map_err(|fault| Error::of_key(&self.flag, self.key, &self.text, fault))
    }

    /// Whether it is counted from the aim, which hangs on all else that is asked for.
    pub fn comes_last(&self) -> bool {
        self.from_aim
    }

    /// In words: "altitude 1500 m".
    pub fn words(&self) -> String {
        let unit = match (self.from_aim, self.number) {
            (true, 0.0) => "",
            _ => self.key.unit.symbol(),
        };
        let text = format!("{} {} {unit}", key_words(self.key), self.typed());
        text.trim_end().to_string()
    }

    /// As it is typed canonically.
    pub fn typed(&self) -> String {
        match self.key.place {
            Place::Choice { .. } => self.text.clone(),
            _ if self.from_aim && self.number == 0.0 => "aim".into(),
            _ if self.from_aim => {
                let sign = if self.number < 0.0 { "" } else { "+" };
                format!("aim{sign}{}", turns_typed(self.number))
            }
            _ if self.key.unit == Unit::Turns => turns_typed(self.number),
            _ => plain(self.number),
        }
    }
}

/// The plain words that stand for some of the keys that may be meant.
fn plainly(meant: &[&str]) -> String {
    let keys = meant.iter().filter_map(|name| Key::find(name));
    let plain =
        keys.filter_map(|key| Some(format!("`{}` is {}", key.plain_words().next()?, key.name)));
    let plain = plain.collect::<Vec<_>>().join(", ");
    if plain.is_empty() { plain } else { format!("in plain words {plain}; ") }
}

/// Reads a `KEY=VALUE` given to a flag.
pub fn pair_assignment(flag: &str, pair: &str) -> Result<Assignment, Error> {
    let Some((name, value)) = pair.split_once('=') else {
        return Err(Error::not_a_pair(flag, pair));
    };
    let key = Key::asked(name.trim()).ok_or_else(|| {
        let name = name.trim();
        let meant = Key::meant(name);
        let plain = plainly(&meant);
        let meant = did_you_mean_one_of(&meant);
        Error::usage(format!("no key `{name}`{meant}; {plain}`quarterturn rig keys` lists them"))
    })?;
    Assignment::read(format!("{flag} {}", key.name), key, value.trim())
}
