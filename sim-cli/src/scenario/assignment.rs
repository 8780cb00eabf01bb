//! Values asked for by flags.

use super::load_rig;
use crate::error::Error;
use crate::text::{key_words, plain, turns_typed};
use clap::ArgMatches;
use sim_core::rig::keys::{KEYS, Key, Place, Setup};
use sim_core::rig::shipped::shipped;
use sim_core::run::procedure::parse_turns;
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

/// Reads the `--change` flags.
pub fn changes(matches: &ArgMatches) -> Result<Vec<Change>, Error> {
    let pairs = matches.get_many::<String>("change").into_iter().flatten();
    let changes: Vec<Change> = pairs
        .map(|pair| match pair.split_once('=') {
            Some((name, rig)) if name.trim() == "rig" => Ok(Change::Rig(rig.trim().into())),
            _ => pair_assignment("--change", pair).map(Change::Key),
        })
        .collect::<Result<_, _>>()?;
    for (i, change) in changes.iter().enumerate() {
        let name = change.name();
        if changes[..i].iter().any(|before| before.name() == name) {
            return Err(Error::Twice { flag: "--change", name });
        }
    }
    Ok(changes)
}

/// What `--change` asks for.
pub enum Change {
    /// Another value of a key.
    Key(Assignment),
    /// Another rig.
    Rig(String),
}

impl Change {
    /// Applies the change to a setup.
    pub fn apply(&self, setup: &mut Setup) -> Result<(), Error> {
        match self {
            Change::Key(assignment) => assignment.apply(setup),
            Change::Rig(name) => {
                setup.rig = load_rig(name)?.rig;
                Ok(())
            }
        }
    }

    /// As it is typed canonically.
    pub fn typed(&self) -> String {
        match self {
            Change::Key(assignment) => format!("{}={}", assignment.key.name, assignment.typed()),
            Change::Rig(name) if shipped(name).is_some() => format!("rig={name}"),
            Change::Rig(_) => "rig=<from a file>".into(),
        }
    }

    /// In words: "screw -1/16 turns".
    pub fn words(&self) -> String {
        match self {
            Change::Key(assignment) => assignment.words(),
            Change::Rig(name) => format!("rig {name}"),
        }
    }

    fn name(&self) -> &'static str {
        match self {
            Change::Key(assignment) => assignment.key.name,
            Change::Rig(_) => "rig",
        }
    }

    /// In which order changes are applied: files before ranges, and what is counted from the
    /// aim last, since the aim hangs on all else.
    pub fn order(&self) -> u8 {
        match self {
            Change::Rig(_) => 0,
            Change::Key(assignment) if assignment.comes_last() => 2,
            Change::Key(_) => 1,
        }
    }
}

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
                return Err(Error::NotAWord { flag, found: text.into(), words });
            }
            Place::PartRow { .. } => return Err(Error::RowKey { key: key.name }),
            _ => {
                let turns = key.unit == Unit::Turns;
                let number = match beyond {
                    Some("") => Some(0.0),
                    Some(beyond) if beyond.starts_with(['+', '-']) => parse_turns(beyond),
                    _ if turns => parse_turns(text),
                    _ => text.trim().parse().ok(),
                };
                let (flag, found) = (flag.clone(), text.into());
                number.ok_or(Error::NotANumber { flag, found, key: Some(key) })?
            }
        };
        Ok(Assignment { flag, key, text: text.into(), number, from_aim: beyond.is_some() })
    }

    /// Gives a setup the value.
    pub fn apply(&self, setup: &mut Setup) -> Result<(), Error> {
        let done = match self.key.place {
            Place::Choice { .. } => self.key.choose(setup, &self.text),
            _ if self.from_aim => {
                let aim = SteadyEngine::new(&setup.rig, &setup.conditions).aim_turns();
                let aim = aim.ok_or_else(|| Error::NoAim { flag: self.flag.clone() })?;
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

pub fn pair_assignment(flag: &str, pair: &str) -> Result<Assignment, Error> {
    let Some((name, value)) = pair.split_once('=') else {
        return Err(Error::NoEquals { flag: flag.into(), found: pair.into() });
    };
    let key = Key::find(name.trim()).ok_or_else(|| Error::UnknownKey {
        key: name.trim().into(),
        nearest: Key::nearest(name.trim(), KEYS.iter()).map(|key| key.name),
    })?;
    Assignment::read(format!("{flag} {}", key.name), key, value.trim())
}
