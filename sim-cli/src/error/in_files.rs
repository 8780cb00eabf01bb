//! What is wrong in a file, with its place.

use super::{did_you_mean, kilopascals};
use crate::text::{plain, rig_fault};
use sim_core::drive::{ACCELERATION_MOST, DRIVE_MOST, DriveFault, GAP_MOST_S};
use sim_core::rig::file::{FaultKind, FileFault, range_words};
use sim_core::rig::keys::{KEYS, Key};
use std::fmt;

/// A fault of a file of speeds: file, line, what was found, what is wanted.
pub fn drive_fault(f: &mut fmt::Formatter<'_>, path: &str, fault: &DriveFault) -> fmt::Result {
    match fault {
        DriveFault::Empty => write!(
            f,
            "{path}: no rows; a header time_s,speed_kmh and rows of seconds and km/h are wanted"
        ),
        DriveFault::Header { found, miles: true } => write!(
            f,
            "{path}: the header \"{found}\" speaks of miles; times 1.609, under the header time_s,speed_kmh"
        ),
        DriveFault::Header { found, miles: false } => {
            write!(f, "{path}: the header is \"{found}\", wanted is time_s,speed_kmh")
        }
        DriveFault::NotNumbers { line, found } => write!(
            f,
            "{path}: line {line}: \"{found}\" is not two numbers with decimal points, seconds and km/h"
        ),
        DriveFault::TimeGoesBack { line, time_s, before_s } => write!(
            f,
            "{path}: line {line}: time_s = {} comes after {}; time goes forward",
            plain(*time_s),
            plain(*before_s)
        ),
        DriveFault::Gap { line, gap_s } => write!(
            f,
            "{path}: line {line}: a gap of {} s; at most {GAP_MOST_S} s between rows",
            plain(*gap_s)
        ),
        DriveFault::Speed { line, kmh } => write!(
            f,
            "{path}: line {line}: speed_kmh = {} is outside 0 to {} km/h",
            plain(*kmh),
            DRIVE_MOST.0
        ),
        DriveFault::Acceleration { line, m_s2 } => write!(
            f,
            "{path}: line {line}: {m_s2:.1} m/s2 is more than a car does ({} up, {} down); are the seconds seconds?",
            ACCELERATION_MOST.0, ACCELERATION_MOST.1
        ),
        DriveFault::TooLong { lasts_s } => {
            write!(f, "{path}: lasts {} s, at most {} s", plain(*lasts_s), DRIVE_MOST.1)
        }
        DriveFault::Miles { held } => {
            let held: Vec<String> = held.iter().map(|kmh| plain(*kmh)).collect();
            write!(
                f,
                "{path}: the speeds held ({}) are those of signs in miles an hour; if they are, times 1.609",
                held.join(", ")
            )
        }
    }
}

/// A fault of a rig file: file, line, column, key, value, range, what to do.
pub fn rig_file(path: &str, fault: &FileFault) -> String {
    let place = match fault.spot {
        Some(spot) => format!("{path}: line {}, column {}: ", spot.line, spot.column),
        None => format!("{path}: "),
    };
    let range_of = |key: &str| Key::find(key).map(range_words).unwrap_or_default();
    let what = match &fault.kind {
        FaultKind::Empty => {
            "is empty; `quarterturn rig show six --format toml` prints a rig to start from, `quarterturn run --help` shows a procedure".into()
        }
        FaultKind::ByteOrderMark => {
            "starts with a byte-order mark; save it as UTF-8 without one".into()
        }
        FaultKind::Nul => "holds a NUL byte; it is not a text file".into(),
        FaultKind::Syntax { message, line, key } => syntax(message, line, *key),
        FaultKind::UnknownTable { table, nearest } => {
            let mut tables: Vec<&str> = KEYS.iter().filter_map(Key::table).collect();
            tables.dedup();
            let there = tables.join(", ");
            format!("no table [{table}]{}; there are {there}", did_you_mean(nearest))
        }
        FaultKind::UnknownKey { key, belongs: Some(belongs), .. } => {
            format!("key `{key}` belongs to table [{belongs}]")
        }
        FaultKind::UnknownKey { key, nearest, .. } => {
            format!("no key `{key}`{}", did_you_mean(nearest))
        }
        FaultKind::Missing { table: "", key } => format!("key `{key}` is missing at the top"),
        FaultKind::Missing { table, key } => {
            format!("key `{key}` is missing in table [{table}]; it takes {}", range_of(key))
        }
        FaultKind::WrongType { key, wanted, found } => {
            format!("`{key}` takes {wanted}, found {found}; range {}", range_of(key))
        }
        FaultKind::OutOfRange { key, value } => {
            let kilopascals = Key::find(key).map(|key| kilopascals(key, *value));
            let kilopascals = kilopascals.unwrap_or_default();
            format!("`{key}` = {} is outside {}{kilopascals}", plain(*value), range_of(key))
        }
        FaultKind::WrongCount { key, found, least, most } => {
            format!("`{key}` has {found} values, it takes {least} to {most}")
        }
        FaultKind::BadText { key, most } => {
            format!("`{key}` takes 1 to {most} printable characters")
        }
        FaultKind::NumberOutOfRange { key, value, low, high, unit } => {
            format!("`{key}` = {} is outside {low} to {high} {unit}", plain(*value))
        }
        FaultKind::UnknownWord { found, words } => {
            format!("\"{found}\" is none of {}", words.join(", "))
        }
        FaultKind::NoAction => "this action does nothing; it takes one of turn, blip, throttle, unplug, plug, fit, set, wait".into(),
        FaultKind::TwoActions => "this action does two things; write two actions".into(),
        FaultKind::TimeGoesBack { at_s, before_s } => {
            format!("`at_s` = {} goes back: {} s have passed by then", plain(*at_s), plain(*before_s))
        }
        FaultKind::Rig(fault) => rig_fault(fault),
    };
    place + &what
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
            let range = Key::find(key).map(range_words).unwrap_or_default();
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
