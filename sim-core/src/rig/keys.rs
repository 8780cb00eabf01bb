//! The one list of keys: name, unit, range, meaning, and where the value lives. Rig files,
//! flags, `--change`, `rig keys` and error messages all read it.

use super::{Parts, Rig, RigFault};
use crate::conditions::{Conditions, IdleAir, Petrol, Trim};
use crate::engine::flame::FLAME_LAWS;
use crate::maths::BoundedVector;
use crate::units::Unit;

mod table;
pub use table::KEYS;

/// One key.
pub struct Key {
    /// Name, with its unit where it has one.
    pub name: &'static str,
    /// Unit of the values below.
    pub unit: Unit,
    /// Least value allowed.
    pub low: f64,
    /// Largest value allowed.
    pub high: f64,
    /// What it is, in a line.
    pub meaning: &'static str,
    /// Where it lives.
    pub place: Place,
}

/// Where a key's value lives.
pub enum Place {
    /// A number of a rig file's table.
    Part {
        /// Table of the file.
        table: &'static str,
        /// The value, SI.
        at: fn(&mut Parts) -> &mut f64,
    },
    /// A row of numbers of a rig file's table.
    PartRow {
        /// Table of the file.
        table: &'static str,
        /// Least count.
        least: usize,
        /// Largest count.
        most: usize,
        /// The values, SI.
        get: fn(&Parts) -> &[f64],
        /// Sets them; the count has been checked.
        set: fn(&mut Parts, &[f64]),
    },
    /// A number of the conditions.
    Condition(fn(&mut Conditions) -> &mut f64),
    /// A number of the conditions that the rig or the controller gives unless it is set.
    Optional(fn(&mut Conditions) -> &mut Option<f64>),
    /// One of some words of the conditions.
    Choice {
        /// The words.
        words: &'static [&'static str],
        /// Index of the word that holds.
        get: fn(&Conditions) -> usize,
        /// Sets the word by its index.
        set: fn(&mut Conditions, usize),
    },
}

/// Why a value cannot be given to a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum KeyFault {
    /// Outside the key's range, or not a number.
    OutOfRange {
        /// Value in the key's unit.
        value: f64,
    },
    /// Not one of the words.
    NotAWord,
    /// The key is a row and takes no single value.
    IsARow,
    /// The parts no longer make a rig.
    Rig(RigFault),
}

/// A rig and what it is run under: what the keys reach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setup {
    /// The engine.
    pub rig: Rig,
    /// What it is run under.
    pub conditions: Conditions,
}

impl Key {
    /// The key of a name; hyphens count as underscores.
    pub fn find(name: &str) -> Option<&'static Key> {
        let name = name.replace('-', "_");
        KEYS.iter().find(|key| key.name == name)
    }

    /// The name nearest to a misspelt one among `keys`, if one is near.
    pub fn nearest(name: &str, keys: impl Iterator<Item = &'static Key>) -> Option<&'static Key> {
        let score = |key: &Key| {
            let whole = strsim::jaro_winkler(name, key.name);
            // A name without its unit, or the end of one, is near too.
            let part = key.name.starts_with(name) || key.name.ends_with(name);
            if part && name.len() >= 4 { whole.max(0.9) } else { whole }
        };
        keys.map(|key| (score(key), key))
            .filter(|(score, _)| *score > 0.82)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, key)| key)
    }

    /// Table of the rig file the key belongs to, if it belongs to one.
    pub fn table(&self) -> Option<&'static str> {
        match self.place {
            Place::Part { table, .. } | Place::PartRow { table, .. } => Some(table),
            _ => None,
        }
    }

    /// Whether a value in the key's unit lies in its range. A NaN does not.
    pub fn allows(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }

    /// Gives the key a value in its own unit.
    pub fn set(&self, setup: &mut Setup, value: f64) -> Result<(), KeyFault> {
        let si = self.checked(value)?;
        match self.place {
            Place::Part { at, .. } => {
                setup.rig = setup.rig.with_parts(|p| *at(p) = si).map_err(KeyFault::Rig)?;
            }
            Place::Condition(at) => *at(&mut setup.conditions) = si,
            Place::Optional(at) => *at(&mut setup.conditions) = Some(si),
            Place::PartRow { .. } => return Err(KeyFault::IsARow),
            Place::Choice { .. } => return Err(KeyFault::NotAWord),
        }
        Ok(())
    }

    /// Gives a key of words one of its words.
    pub fn choose(&self, setup: &mut Setup, word: &str) -> Result<(), KeyFault> {
        let Place::Choice { words, set, .. } = self.place else {
            return Err(KeyFault::NotAWord);
        };
        let index = words.iter().position(|w| *w == word).ok_or(KeyFault::NotAWord)?;
        set(&mut setup.conditions, index);
        Ok(())
    }

    /// The SI value of a value in the key's unit, if it lies in the range.
    pub fn checked(&self, value: f64) -> Result<f64, KeyFault> {
        if !self.allows(value) {
            return Err(KeyFault::OutOfRange { value });
        }
        Ok(self.unit.to_si(value))
    }

    /// The value in the key's unit; `None` for rows, words, and what the rig decides.
    pub fn get(&self, setup: &Setup) -> Option<f64> {
        let mut copy = *setup;
        let si = match self.place {
            Place::Part { at, .. } => *at(&mut copy.rig.parts),
            Place::Condition(at) => *at(&mut copy.conditions),
            Place::Optional(at) => (*at(&mut copy.conditions))?,
            _ => return None,
        };
        Some(tidy(self.unit.from_si(si)))
    }
}

/// The word nearest to a misspelt one, if one is near.
pub fn nearest_word(
    found: &str,
    words: impl IntoIterator<Item = &'static str>,
) -> Option<&'static str> {
    words
        .into_iter()
        .map(|word| (strsim::jaro_winkler(word, found), word))
        .filter(|(score, _)| *score > 0.78)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, word)| word)
}

/// A value rid of the last digits that conversion between units leaves: 12 figures.
pub fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}
