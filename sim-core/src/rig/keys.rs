//! The one list of keys: name, unit, range, meaning, and where the value lives. Rig files,
//! flags, `--change`, `rig keys` and error messages all read it.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::{Key, Setup}, rig::shipped::shipped};
//! let mut setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! let height = Key::find("altitude_m").unwrap();
//! height.set(&mut setup, 1500.0).unwrap();
//! assert_eq!(height.get(&setup), Some(1500.0));
//! assert!(height.set(&mut setup, 9000.0).is_err()); // beyond its range
//! ```

pub(super) mod key;
mod plain_words;
pub(super) mod table;
pub use crate::wording::{nearest_word, tidy};
pub use key::{Key, KeyFault, Place};
pub use plain_words::PLAIN_WORDS;
pub use table::KEYS;

use super::Rig;
use crate::conditions::Conditions;
use crate::wording::{best_above, likeness};

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
            let whole = likeness(name, key.name);
            // A name without its unit, or the end of one, is near too.
            let part = key.name.starts_with(name) || key.name.ends_with(name);
            if part && name.len() >= 4 { whole.max(0.9) } else { whole }
        };
        best_above(0.82, keys.map(|key| (score(key), key)))
    }

    /// Gives the key a value in its own unit.
    pub fn set(&self, setup: &mut Setup, value: f64) -> Result<(), KeyFault> {
        let si = self.checked(value)?;
        match self.place {
            Place::Part { at, .. } => {
                setup.rig =
                    setup.rig.with_parts_beyond_ranges(|p| *at(p) = si).map_err(KeyFault::Rig)?;
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
