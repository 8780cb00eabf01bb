//! Why readings are refused.

use crate::wording::{number_hint, plain};

/// Readings that are needed at the least.
pub const LEAST_READINGS: usize = 2;

/// Why readings are refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Fault {
    /// No reading of that name.
    #[error("no reading \"{name}\"{hint}; `quarterturn readings template` names them")]
    Unknown {
        /// What was asked for.
        name: String,
        /// What may be meant.
        hint: String,
    },
    /// Not a number, or not a finite one.
    #[error("{name}: \"{text}\" is not a finite number{}", number_hint(text))]
    NotANumber {
        /// The reading.
        name: String,
        /// What stands there.
        text: String,
    },
    /// None of the words it takes.
    #[error("{name}: \"{text}\" is none of {words}")]
    NotAWord {
        /// The reading.
        name: String,
        /// What stands there.
        text: String,
        /// The words.
        words: String,
    },
    /// A value of another unit, it seems.
    #[error(
        "{name}: {value} cannot be {unit} (what there is: {shows}); it looks like {meant}: write it in {unit}"
    )]
    Unit {
        /// The reading.
        name: String,
        /// The value.
        value: String,
        /// Its unit.
        unit: &'static str,
        /// What there is: of a reading, what cars show, sound and faulty.
        shows: String,
        /// What it may be.
        meant: String,
    },
    /// Outside what it can be.
    #[error("{name}: {value} is outside {range}")]
    Outside {
        /// The reading.
        name: String,
        /// The value.
        value: String,
        /// What it can be.
        range: String,
    },
    /// Given twice.
    #[error("{name} ({when}) is given twice")]
    Twice {
        /// The reading.
        name: String,
        /// Its state.
        when: String,
    },
    /// Readings that cannot be of one car.
    #[error("these contradict each other: {0}")]
    Contradiction(String),
    /// Too few to say anything.
    #[error(
        "too few readings: {found}, at least {LEAST_READINGS} are needed; `quarterturn readings template` names them"
    )]
    TooFew {
        /// How many there are.
        found: usize,
    },
    /// A part that the rig has not got.
    #[error("{name}: this rig has {has}")]
    NotFitted {
        /// The reading.
        name: String,
        /// What there is.
        has: String,
    },
}

impl Fault {
    /// Whether it is a value outside the model's range, not wrong usage.
    pub fn is_outside(&self) -> bool {
        matches!(self, Fault::Unit { .. } | Fault::Outside { .. })
    }
}

pub(super) fn not_a_number(name: &str, text: &str) -> Fault {
    Fault::NotANumber { name: name.into(), text: text.into() }
}

pub(super) fn not_a_word(name: &str, text: &str, words: String) -> Fault {
    Fault::NotAWord { name: name.into(), text: text.into(), words }
}

pub(super) fn outside(name: &str, value: f64, range: &str) -> Fault {
    Fault::Outside { name: name.into(), value: plain(value), range: range.into() }
}
