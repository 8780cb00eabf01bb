//! What a key is.

use crate::assembly::{Parts, Range, RigFault};
use crate::conditions::Conditions;
use crate::units::Unit;
use crate::wording::{plain, tidy};

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
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum KeyFault {
    /// Outside the key's range, or not a number.
    #[error("{} is outside what the model covers", plain(*value))]
    OutOfRange {
        /// Value in the key's unit.
        value: f64,
    },
    /// Not one of the words.
    #[error("not one of its words")]
    NotAWord,
    /// The key is a row and takes no single value.
    #[error("it takes a row of values, which only a rig file has")]
    IsARow,
    /// The parts no longer make a rig.
    #[error(transparent)]
    Rig(#[from] RigFault),
}

impl Key {
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

    /// Its range.
    pub fn range(&self) -> Range {
        Range { low: self.low, high: self.high, unit: self.unit }
    }

    /// What it takes, in words: "15 to 80 mm", or its words.
    pub fn range_words(&self) -> String {
        match self.place {
            Place::Choice { words, .. } => words.join(" | "),
            _ => self.range().to_string(),
        }
    }

    /// A hint for a pressure that seems to be meant in kilopascals: what it is in bar.
    pub fn kilopascal_hint(&self, value: f64) -> String {
        match self.unit {
            Unit::Bar if self.allows(0.01 * value) => {
                format!(" ({} kPa is {} bar)", plain(value), plain(tidy(0.01 * value)))
            }
            _ => String::new(),
        }
    }

    /// The SI value of a value in the key's unit, if it lies in the range.
    pub fn checked(&self, value: f64) -> Result<f64, KeyFault> {
        if !self.allows(value) {
            return Err(KeyFault::OutOfRange { value });
        }
        Ok(self.unit.to_si(value))
    }
}
