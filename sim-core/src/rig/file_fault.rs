//! What can be wrong in a rig file or a procedure, as sentences.

use super::RigFault;
use super::keys::{KEYS, Key};
use crate::wording::{did_you_mean, plain};
use std::fmt::{self, Display};

/// Where in a text something stands, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spot {
    /// Line.
    pub line: usize,
    /// Column, in characters.
    pub column: usize,
}

/// What is wrong with a rig file or a procedure, and where.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{}{kind}", spot.map(|spot| format!("{spot}: ")).unwrap_or_default())]
pub struct FileFault {
    /// Where; `None` if it is missing or concerns the whole.
    pub spot: Option<Spot>,
    /// What.
    pub kind: FaultKind,
}

/// What is wrong with a rig file.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FaultKind {
    /// Nothing but white space.
    #[error("is empty")]
    Empty,
    /// It starts with a byte-order mark.
    #[error("starts with a byte-order mark; save it as UTF-8 without one")]
    ByteOrderMark,
    /// It holds a NUL byte.
    #[error("holds a NUL byte; it is not a text file")]
    Nul,
    /// Not TOML.
    #[error("{}", syntax(message, line, *key))]
    Syntax {
        /// What the reader stumbled over.
        message: String,
        /// The line it stumbled in.
        line: String,
        /// The key of that line.
        key: Option<&'static str>,
    },
    /// No such table.
    #[error("no table [{table}]{}; there are {}", did_you_mean(*nearest), tables())]
    UnknownTable {
        /// Its name.
        table: String,
        /// The nearest that exists.
        nearest: Option<&'static str>,
    },
    /// No such key in this table.
    #[error("{}", unknown_key(key, *nearest, *belongs))]
    UnknownKey {
        /// Its name.
        key: String,
        /// The nearest that exists.
        nearest: Option<&'static str>,
        /// The table it belongs to, if it exists elsewhere.
        belongs: Option<&'static str>,
    },
    /// A key is missing.
    #[error("{}", missing(table, key))]
    Missing {
        /// Table, empty at the top.
        table: &'static str,
        /// The key.
        key: &'static str,
    },
    /// A value of the wrong type.
    #[error("`{key}` takes {wanted}, found {found}{}", range_behind(key))]
    WrongType {
        /// The key.
        key: String,
        /// What is wanted.
        wanted: &'static str,
        /// What was found.
        found: &'static str,
    },
    /// A value outside the key's range, or not a finite number.
    #[error("`{key}` = {} is outside {}{}", plain(*value), range_of(key), kilopascal_hint(key, *value))]
    OutOfRange {
        /// The key.
        key: &'static str,
        /// The value.
        value: f64,
    },
    /// A text that is empty or too long.
    #[error("`{key}` takes 1 to {most} printable characters")]
    BadText {
        /// The key.
        key: &'static str,
        /// Largest length in characters.
        most: usize,
    },
    /// A number outside its range, with its own words.
    #[error("`{key}` = {} is outside {low} to {high} {unit}", plain(*value))]
    NumberOutOfRange {
        /// What it is called.
        key: &'static str,
        /// The value.
        value: f64,
        /// Least value.
        low: f64,
        /// Largest value.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
    /// A word that is none of those allowed.
    #[error("\"{found}\" is none of {}", words.join(", "))]
    UnknownWord {
        /// What was found.
        found: String,
        /// What is allowed.
        words: &'static [&'static str],
    },
    /// An action that does nothing.
    #[error(
        "this action does nothing; it takes one of turn, blip, throttle, unplug, plug, fit, set, wait"
    )]
    NoAction,
    /// An action that cannot be done to the engine as it then is.
    #[error("this cannot be done: {what}")]
    CannotBeDone {
        /// Why.
        what: String,
    },
    /// An action that does two things.
    #[error("this action does two things; write two actions")]
    TwoActions,
    /// An action before the one above it.
    #[error("`at_s` = {} goes back: {} s have passed by then", plain(*at_s), plain(*before_s))]
    TimeGoesBack {
        /// Its time (s).
        at_s: f64,
        /// The time reached by then (s).
        before_s: f64,
    },
    /// No covariance.
    #[error(
        "`matrix` takes {keys} rows of {keys} numbers, the covariance of `keys`: mirrored, none beyond what its diagonal allows"
    )]
    NoCovariance {
        /// How many keys there are.
        keys: usize,
    },
    /// The values do not make a rig.
    #[error(transparent)]
    Rig(RigFault),
}

impl Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}", self.line, self.column)
    }
}

fn range_of(key: &str) -> String {
    Key::find(key).map(Key::range_words).unwrap_or_default()
}

/// The range of a key behind a sentence about it; nothing for what is no key of a rig.
fn range_behind(key: &str) -> String {
    Key::find(key).map(|key| format!("; range {}", key.range_words())).unwrap_or_default()
}

fn kilopascal_hint(key: &str, value: f64) -> String {
    Key::find(key).map(|key| key.kilopascal_hint(value)).unwrap_or_default()
}

fn tables() -> String {
    let mut tables: Vec<&str> = KEYS.iter().filter_map(Key::table).collect();
    tables.dedup();
    tables.join(", ")
}

fn unknown_key(key: &str, nearest: Option<&str>, belongs: Option<&str>) -> String {
    match belongs {
        Some(table) => format!("key `{key}` belongs to table [{table}]"),
        None => format!("no key `{key}`{}", did_you_mean(nearest)),
    }
}

fn missing(table: &str, key: &str) -> String {
    match table {
        "" => format!("key `{key}` is missing at the top"),
        _ => format!("key `{key}` is missing in table [{table}]; it takes {}", range_of(key)),
    }
}

/// What is wrong with a line that is not TOML, and what it should be.
fn syntax(message: &str, line: &str, key: Option<&'static str>) -> String {
    let shown: String = line.chars().take(60).collect();
    let message = message.replace('\n', "; ");
    if message.contains("duplicate") {
        return format!("duplicate: what \"{shown}\" names stands there twice");
    }
    let hint = match key {
        Some(key) => {
            let range = range_of(key);
            format!(
                "`{key}` takes {range}: a number alone behind the =, decimal point and no comma, no unit and no fraction"
            )
        }
        None if !line.contains('=') && !line.starts_with('[') => {
            "a line is KEY = VALUE, [table], or begins with # for a comment".into()
        }
        None if line.contains('/') => {
            "a fraction stands in quotes, \"1/32\", or is written as a decimal".into()
        }
        None => "a text stands in quotes, a number alone with a decimal point".into(),
    };
    format!("\"{shown}\" is not TOML ({message}); {hint}")
}
