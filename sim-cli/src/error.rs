//! Every error as a sentence, with its place and exit code.

use crate::text::plain;
use sim_core::rig::file::{FaultKind, FileFault, range_words};
use sim_core::rig::keys::{Key, KeyFault, Place, nearest_word};
use sim_core::run::RunFault;
use sim_core::sense::faults::{SENSORS, SensorFaultError, modes};
use sim_core::sweep::{POINTS_MOST, RangeFault};
use sim_core::units::Unit;
use sim_core::wording::{did_you_mean, number_hint};
use std::fmt::{self, Display};
use std::io;
use std::path::Path;

/// Why a command could not be done.
pub struct Error {
    code: u8,
    sentence: String,
    /// Whether `--force` would do what was asked for.
    forceable: bool,
}

impl Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.sentence)
    }
}

impl Error {
    /// Exit code of the program.
    pub fn code(&self) -> u8 {
        self.code
    }

    /// Whether it is that of a place that cannot be read or written.
    pub fn is_of_a_place(&self) -> bool {
        self.code == 5
    }

    fn of(code: u8, sentence: impl Display) -> Error {
        Error { code, sentence: sentence.to_string(), forceable: false }
    }

    /// Wrong usage.
    pub fn usage(sentence: impl Display) -> Error {
        Error::of(2, sentence)
    }

    /// A file that is missing, cannot be understood, or is not named.
    pub fn file(sentence: impl Display) -> Error {
        Error::of(3, sentence)
    }

    /// A value outside what the model covers.
    pub fn outside(sentence: impl Display) -> Error {
        Error::of(4, sentence)
    }

    /// A place that cannot be read or written.
    pub fn place(path: impl Display, why: impl Display) -> Error {
        Error::of(5, format!("{path}: {why}"))
    }

    /// A place where something is already.
    pub fn exists(path: impl Display) -> Error {
        Error::unless_forced(path, "exists; --force replaces it")
    }

    /// A place that only `--force` lets be written.
    pub fn unless_forced(path: impl Display, why: &str) -> Error {
        Error { forceable: true, ..Error::place(path, why) }
    }

    /// Whether the same with `--force` would do what was asked for.
    pub fn is_forceable(&self) -> bool {
        self.forceable
    }

    /// A place that could not be written.
    pub fn writing(path: impl Display) -> impl Fn(io::Error) -> Error {
        move |error| Error::place(&path, format!("cannot be written: {error}"))
    }

    /// Two outputs with one name.
    pub fn same_place(path: &str) -> Error {
        Error::usage(format!("{path} is named for two outputs"))
    }

    /// A file that is read and would be written over.
    pub fn read_and_written(path: &Path) -> Error {
        Error::usage(format!("{} is both read and written; write to another place", path.display()))
    }

    /// No command is named, or one that is not there.
    pub fn no_command() -> Error {
        Error::usage("no such command")
    }

    /// An argument without one that it needs.
    pub fn needs(argument: &str, flag: &str) -> Error {
        Error::usage(format!("{argument} needs {flag}"))
    }

    /// An argument with one that does not go with it.
    pub fn takes_no(argument: &str, flag: &str) -> Error {
        Error::usage(format!("{argument} takes no {flag}"))
    }

    /// A lesson that is not there, and which are.
    pub fn no_lesson(number: f64, there: &str) -> Error {
        Error::outside(format!("--lesson: nothing for {}; there are {there}", plain(number)))
    }

    /// A rig or procedure file that is wrong.
    pub fn in_file(path: &str) -> impl Fn(FileFault) -> Error + '_ {
        move |fault| {
            let more = match fault.kind {
                FaultKind::Empty => {
                    "; `quarterturn rig show six --format toml` prints a rig to start from, `quarterturn run --help` shows a procedure"
                }
                _ => "",
            };
            Error::file(format!("{path}: {fault}{more}"))
        }
    }

    /// A text that should be a number: of a key, or of an option of a command.
    pub fn not_a_number(flag: &str, found: &str, key: Option<&Key>) -> Error {
        let turns = key.is_some_and(|key| key.unit == Unit::Turns);
        let wanted = if turns { "turns, as 1/16 or 0.0625" } else { "a number" };
        let unit = key.map_or(unit_of(flag), |key| key.unit.symbol());
        let alone = if unit.is_empty() { String::new() } else { format!(", in {unit}") };
        let hint = match unit_behind(found) {
            _ if found.contains(',') => {
                "; write a decimal point, not a comma, and nothing between thousands".into()
            }
            None => number_hint(found).into(),
            Some(_) => format!("; write the number alone{alone}"),
        };
        let range = key.filter(|_| !turns).map(|key| format!(", {}", range_words(key)));
        let range = range.unwrap_or_default();
        Error::usage(format!("{flag}: \"{found}\" is not {wanted}{range}{hint}"))
    }

    /// A word that is none of those there are.
    pub fn not_a_word(flag: &str, found: &str, words: &[&'static str]) -> Error {
        let nearest = did_you_mean(nearest_word(found, words.iter().copied()));
        Error::usage(format!("{flag}: \"{found}\" is none of {}{nearest}", words.join(", ")))
    }

    /// A text that should be a key and its value.
    pub fn not_a_pair(flag: &str, found: &str) -> Error {
        Error::usage(format!("{flag}: \"{found}\" is not KEY=VALUE"))
    }

    /// A key whose value is a row.
    pub fn row_key(key: &Key) -> Error {
        Error::usage(format!("`{}` takes a row of values; change it in a rig file", key.name))
    }

    /// A number outside its range.
    pub fn out_of_range(flag: &str, value: f64, (low, high): (f64, f64), unit: &str) -> Error {
        let range = format!("{low} to {high} {unit}");
        Error::outside(format!("{flag}: {} is outside {}", plain(value), range.trim_end()))
    }

    /// What is wrong with the value of a key.
    pub fn of_key(flag: &str, key: &'static Key, found: &str, fault: KeyFault) -> Error {
        match fault {
            KeyFault::OutOfRange { value } => Error::outside(format!(
                "{flag}: {} is outside what the model covers, {}{}",
                plain(value),
                range_words(key),
                key.kilopascal_hint(value)
            )),
            KeyFault::NotAWord => {
                let words = match key.place {
                    Place::Choice { words, .. } => words,
                    _ => &[],
                };
                Error::not_a_word(flag, found, words)
            }
            KeyFault::IsARow => Error::row_key(key),
            KeyFault::Rig(fault) => Error::outside(format!("{flag}: {fault}")),
        }
    }
}

impl From<RunFault> for Error {
    fn from(fault: RunFault) -> Error {
        Error::outside(fault)
    }
}

impl From<RangeFault> for Error {
    fn from(fault: RangeFault) -> Error {
        Error::usage(match fault {
            RangeFault::NotFinite => {
                "--from, --to and --step must be finite numbers of turns".into()
            }
            RangeFault::StepNotPositive => "--step must be above 0 turns".into(),
            RangeFault::Backwards => "--from must not be above --to".into(),
            RangeFault::TooMany { points } if points > 1e15 => {
                format!("the range makes far more than {POINTS_MOST} points; take a larger --step")
            }
            RangeFault::TooMany { points } => format!(
                "the range makes {points:.0} points, at most {POINTS_MOST} are allowed; take a larger --step"
            ),
        })
    }
}

impl Error {
    /// A flag's value that is no fault of a sensor.
    pub fn no_fault(flag: &str, fault: SensorFaultError) -> Error {
        match fault {
            SensorFaultError::UnknownSensor { found } => {
                let nearest = did_you_mean(nearest_word(&found, SENSORS));
                Error::usage(format!("{flag}: no sensor \"{found}\"{nearest}; {}", modes()))
            }
            SensorFaultError::UnknownMode { sensor, found, words } => {
                Error::not_a_word(&format!("{flag} {sensor}"), &found, words)
            }
            SensorFaultError::OutOfRange { sensor, value, low, high, unit } => {
                Error::out_of_range(&format!("{flag} {sensor}"), value, (low, high), unit)
            }
            other => Error::not_a_pair(flag, &other.to_string()),
        }
    }
}

/// What stands right behind a number: "ft" of "1500ft".
fn unit_behind(found: &str) -> Option<&str> {
    let found = found.trim();
    let (number, unit) = found.split_at(found.find(|c: char| !"+-.0123456789".contains(c))?);
    let unit = unit.trim();
    let word = unit.starts_with(|c: char| c.is_alphabetic() || "%°".contains(c));
    (number.parse::<f64>().is_ok() && word).then_some(unit)
}

/// The unit that a flag's name ends with.
fn unit_of(flag: &str) -> &'static str {
    let units = [
        ("-ms", "ms"),
        ("-s", "s"),
        ("-min", "min"),
        ("-mm", "mm"),
        ("-m", "m"),
        ("-v", "V"),
        ("-degc", "degC"),
        ("-kpa", "kPa"),
        ("-rpm", "rpm"),
        ("-percent", "%"),
        ("-ppm", "ppm"),
        ("-years", "years"),
        ("-volt", "ohm/V"),
    ];
    units.iter().find(|(end, _)| flag.ends_with(end)).map_or("", |(_, unit)| unit)
}
