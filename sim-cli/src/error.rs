//! Every error as a sentence, with its place and exit code.

use crate::text::plain;
use sim_core::drive::DriveFault;
use sim_core::rig::file::{FaultKind, FileFault, range_words};
use sim_core::rig::keys::{Key, KeyFault, Place, nearest_word};
use sim_core::run::RunFault;
use sim_core::sense::faults::{SENSORS, SensorFaultError};
use sim_core::sweep::{POINTS_MOST, RangeFault};
use sim_core::units::Unit;
use sim_core::wording::did_you_mean;
use std::fmt::{self, Display};
use std::io;

/// What went wrong.
pub enum Error {
    /// A flag's value is not a number; of which key it would be.
    NotANumber { flag: String, found: String, key: Option<&'static Key> },
    /// A flag's value is not one of its words.
    NotAWord { flag: String, found: String, words: &'static [&'static str] },
    /// `KEY=VALUE` without `=`.
    NoEquals { flag: String, found: String },
    /// A thing given twice by a flag.
    Twice { flag: &'static str, name: &'static str },
    /// A key that does not exist.
    UnknownKey { key: String, nearest: Option<&'static str> },
    /// No command of that name within the program.
    NoCommand,
    /// A key that takes a row of values.
    RowKey { key: &'static str },
    /// A range that cannot be swept.
    Range(RangeFault),
    /// A chart's file name has an ending that is no kind of chart.
    ChartKind { path: String },
    /// Two outputs at one place.
    SamePlace { path: String },
    /// A sensor that cannot fail because there is none of that name.
    UnknownSensor { name: String, nearest: Option<&'static str> },
    /// A file of answers with something wrong in it.
    AnswersFile { path: String, place: String, what: String },
    /// A lesson that is not there.
    NoLesson { number: f64, there: String },
    /// A file of data that is no .csv.
    DataKind { path: String },
    /// A figure that no lesson has.
    UnknownChart { name: String, nearest: Option<&'static str> },
    /// A flag that is needed with another argument, or not taken with it.
    Together { argument: String, flag: &'static str, takes: bool },
    /// A command within the program that was not understood.
    NestedCommand { command: String, text: String },
    /// A rig that is neither shipped nor a file.
    UnknownRig { name: String, nearest: Option<&'static str> },
    /// A rig file with something wrong in it.
    RigFile { path: String, fault: Box<FileFault> },
    /// A file of speeds with something wrong in it.
    DriveFile { path: String, fault: Box<DriveFault> },
    /// No such file.
    MissingFile { path: String },
    /// A directory where a file should be.
    IsDirectory { path: String },
    /// A file too large to be one of ours.
    TooLarge { path: String, most: u64 },
    /// Not UTF-8 text.
    NotUtf8 { path: String, at: usize, utf16: bool },
    /// A flag, change or setting outside the model's range.
    OutOfRange { flag: String, key: &'static Key, value: f64 },
    /// Changed parts that no longer make a rig.
    NotARig { flag: String, fault: sim_core::rig::RigFault },
    /// A bare number outside its range.
    NumberOutOfRange { flag: String, value: f64, low: f64, high: f64, unit: &'static str },
    /// A procedure that is neither shipped nor a file.
    UnknownProcedure { name: String, nearest: Option<&'static str> },
    /// A screw at the aim of an engine that has none.
    NoAim { flag: String },
    /// A run that cannot go on.
    Run { fault: RunFault },
    /// No line of the rig ever shows fuel.
    NeverFlows,
    /// A file that may not be replaced.
    Exists { path: String },
    /// A file that should be written in a folder that is not there.
    NoFolder { path: String, folder: String },
    /// A file where a folder should be.
    NotAFolder { path: String },
    /// A folder that is there already.
    FolderExists { path: String },
    /// A directory where a file should be written.
    WriteToDirectory { path: String },
    /// A file could not be read.
    Read { path: String, error: io::Error },
    /// A file could not be written.
    Write { path: String, error: io::Error },
}

impl Error {
    /// The program's exit code.
    pub fn code(&self) -> u8 {
        use Error::*;
        match self {
            NotANumber { .. } | NotAWord { .. } | NoEquals { .. } | UnknownKey { .. } => 2,
            UnknownSensor { .. } | UnknownChart { .. } | Together { .. } | NestedCommand { .. } => {
                2
            }
            DataKind { .. } | Twice { .. } | NoCommand => 2,
            RowKey { .. } | Range(_) | ChartKind { .. } | SamePlace { .. } => 2,
            UnknownProcedure { .. }
            | UnknownRig { .. }
            | RigFile { .. }
            | DriveFile { .. }
            | MissingFile { .. }
            | IsDirectory { .. } => 3,
            TooLarge { .. } | NotUtf8 { .. } | AnswersFile { .. } => 3,
            OutOfRange { .. }
            | NotARig { .. }
            | NumberOutOfRange { .. }
            | NoLesson { .. }
            | NeverFlows
            | NoAim { .. }
            | Run { .. } => 4,
            NotAFolder { .. } | FolderExists { .. } => 5,
            NoFolder { .. }
            | Exists { .. }
            | WriteToDirectory { .. }
            | Read { .. }
            | Write { .. } => 5,
        }
    }

    /// A file that could not be written, at a place.
    pub fn writing(path: &str) -> impl Fn(io::Error) -> Error + '_ {
        move |error| Error::Write { path: path.into(), error }
    }

    /// A sensor's fault that `--fail` asks for and that there is not.
    pub fn of_sensor(fault: SensorFaultError) -> Error {
        match fault {
            SensorFaultError::UnknownSensor { found } => {
                Error::UnknownSensor { nearest: nearest_word(&found, SENSORS), name: found }
            }
            SensorFaultError::UnknownMode { sensor, found, words } => {
                Error::NotAWord { flag: format!("--fail {sensor}"), found, words }
            }
            SensorFaultError::OutOfRange { sensor, value, low, high, unit } => {
                let flag = format!("--fail {sensor}");
                Error::NumberOutOfRange { flag, value, low, high, unit }
            }
            other => Error::NoEquals { flag: "--fail".into(), found: other.to_string() },
        }
    }

    /// What is wrong with a value given to a key by a flag.
    pub fn of_key(flag: &str, key: &'static Key, found: &str, fault: KeyFault) -> Error {
        let flag = flag.to_string();
        match fault {
            KeyFault::OutOfRange { value } => Error::OutOfRange { flag, key, value },
            KeyFault::NotAWord => {
                let words = match key.place {
                    Place::Choice { words, .. } => words,
                    _ => &[],
                };
                Error::NotAWord { flag, found: found.into(), words }
            }
            KeyFault::IsARow => Error::RowKey { key: key.name },
            KeyFault::Rig(fault) => Error::NotARig { flag, fault },
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

impl Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        use Error::*;
        match self {
            NotANumber { flag, found, key } => {
                let turns = key.is_some_and(|key| key.unit == Unit::Turns);
                let wanted = if turns { "turns, as 1/16 or 0.0625" } else { "a number" };
                let unit = key.map_or(unit_of(flag), |key| key.unit.symbol());
                let alone = if unit.is_empty() { String::new() } else { format!(", in {unit}") };
                let hint = match unit_behind(found) {
                    _ if found.contains(',') => {
                        "; write a decimal point, not a comma, and nothing between thousands".into()
                    }
                    Some(_) => format!("; write the number alone{alone}"),
                    None => String::new(),
                };
                let range = key.filter(|_| !turns).map(|key| format!(", {}", range_words(key)));
                write!(f, "{flag}: \"{found}\" is not {wanted}{}{hint}", range.unwrap_or_default())
            }
            NotAWord { flag, found, words } => {
                let nearest = nearest_word(found, words.iter().copied());
                let words = words.join(", ");
                write!(f, "{flag}: \"{found}\" is none of {words}{}", did_you_mean(nearest))
            }
            Twice { flag, name } => write!(f, "{flag}: `{name}` is given twice; once is enough"),
            NoEquals { flag, found } => write!(f, "{flag}: \"{found}\" is not KEY=VALUE"),
            UnknownKey { key, nearest } => write!(
                f,
                "no key `{key}`{}; `quarterturn rig keys` lists them",
                did_you_mean(*nearest)
            ),
            NoCommand => write!(f, "no such command"),
            RowKey { key } => write!(f, "`{key}` takes a row of values; change it in a rig file"),
            Range(RangeFault::NotFinite) => {
                write!(f, "--from, --to and --step must be finite numbers of turns")
            }
            Range(RangeFault::StepNotPositive) => write!(f, "--step must be above 0 turns"),
            Range(RangeFault::Backwards) => write!(f, "--from must not be above --to"),
            Range(RangeFault::TooMany { points }) if *points > 1e15 => {
                write!(
                    f,
                    "the range makes far more than {POINTS_MOST} points; take a larger --step"
                )
            }
            Range(RangeFault::TooMany { points }) => write!(
                f,
                "the range makes {points:.0} points, at most {POINTS_MOST} are allowed; take a larger --step"
            ),
            ChartKind { path } => {
                let pdf = if cfg!(feature = "pdf") { ", .pdf" } else { "" };
                write!(f, "{path}: a chart's file name must end in .svg, .png{pdf} or .csv")
            }
            SamePlace { path } => write!(f, "{path} is named for two outputs"),
            UnknownRig { name, nearest } => write!(
                f,
                "no rig \"{name}\"{}; `quarterturn rig list` names the shipped ones, a file ends in .toml",
                did_you_mean(*nearest)
            ),
            RigFile { path, fault } if fault.kind == FaultKind::Empty => write!(
                f,
                "{path}: {fault}; `quarterturn rig show six --format toml` prints a rig to start from, `quarterturn run --help` shows a procedure"
            ),
            RigFile { path, fault } => write!(f, "{path}: {fault}"),
            MissingFile { path } => write!(f, "{path}: no such file"),
            IsDirectory { path } => write!(f, "{path}: is a directory, a file is needed"),
            TooLarge { path, most } => {
                write!(f, "{path}: larger than {} MiB, not one of our files", most >> 20)
            }
            NotUtf8 { path, utf16: true, .. } => {
                write!(f, "{path}: line 1: is UTF-16; save it as UTF-8")
            }
            NotUtf8 { path, at, .. } => {
                write!(f, "{path}: byte {at} is not UTF-8 text; save it as UTF-8")
            }
            OutOfRange { flag, key, value } => write!(
                f,
                "{flag}: {} is outside what the model covers, {}{}",
                plain(*value),
                range_words(key),
                key.kilopascal_hint(*value)
            ),
            NotARig { flag, fault } => write!(f, "{flag}: {fault}"),
            NumberOutOfRange { flag, value, low, high, unit } => {
                let range = format!("{low} to {high} {unit}");
                write!(f, "{flag}: {} is outside {}", plain(*value), range.trim_end())
            }
            UnknownSensor { name, nearest } => write!(
                f,
                "--fail: no sensor \"{name}\"{}; {}",
                did_you_mean(*nearest),
                crate::failures::modes()
            ),
            UnknownChart { name, nearest } => write!(
                f,
                "no chart \"{name}\"{}; `quarterturn chart list` names them",
                did_you_mean(*nearest)
            ),
            NoLesson { number, there } => {
                write!(f, "--lesson: nothing for {}; there are {there}", plain(*number))
            }
            AnswersFile { path, place, what } => write!(f, "{path}: {place}: {what}"),
            DataKind { path } => write!(f, "--data: {path}: the data's file name must end in .csv"),
            Together { argument, flag, takes: true } => write!(f, "{argument} needs {flag}"),
            Together { argument, flag, takes: false } => write!(f, "{argument} takes no {flag}"),
            NestedCommand { command, text } => write!(f, "`quarterturn {command}`: {text}"),
            DriveFile { path, fault } => write!(f, "{path}: {fault}"),
            UnknownProcedure { name, nearest } => write!(
                f,
                "no procedure \"{name}\"{}; `quarterturn run --help` names the shipped ones, a file ends in .toml",
                did_you_mean(*nearest)
            ),
            Run { fault } => write!(f, "{fault}"),
            NoAim { flag } => write!(
                f,
                "{flag}: there is no aim: under these conditions the engine does not run at lambda 1"
            ),
            NeverFlows => write!(
                f,
                "no line ever passes the flow that counts as fuel showing (rig key flow_threshold_ml_min), even with the slits full open"
            ),
            Exists { path } => write!(f, "{path}: exists; --force replaces it"),
            NoFolder { path, folder } => {
                write!(f, "{path}: there is no folder {folder} to write it in; make it first")
            }
            NotAFolder { path } => write!(f, "{path}: is a file, a folder is needed"),
            FolderExists { path } => {
                write!(f, "{path}: exists; --force writes into it, over files of the same names")
            }
            WriteToDirectory { path } => write!(f, "{path}: is a directory, cannot be written"),
            Read { path, error } => write!(f, "{path}: cannot be read: {error}"),
            Write { path, error } => write!(f, "{path}: cannot be written: {error}"),
        }
    }
}
