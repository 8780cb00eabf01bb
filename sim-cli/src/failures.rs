//! `--fail SENSOR=MODE`: sensors that have failed.

use crate::error::Error;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::rig::keys::nearest_word;
use sim_core::sense::faults::MODES;

/// A sensor and how it fails.
pub struct Failure {
    /// As it is typed: `coolant=open`.
    pub typed: String,
    sensor: &'static str,
    mode: String,
}

/// Every sensor with its modes, in words for help and errors.
pub fn modes() -> String {
    let sensors: Vec<String> =
        MODES.iter().map(|(sensor, modes)| format!("{sensor}={}", modes.join("|"))).collect();
    sensors.join(", ")
}

/// Reads the `--fail` flags.
pub fn read(matches: &ArgMatches) -> Result<Vec<Failure>, Error> {
    matches.get_many::<String>("fail").into_iter().flatten().map(|pair| one(pair)).collect()
}

fn one(pair: &str) -> Result<Failure, Error> {
    let Some((name, mode)) = pair.split_once('=') else {
        return Err(Error::NoEquals { flag: "--fail".into(), found: pair.into() });
    };
    let (name, mode) = (name.trim().replace('_', "-"), mode.trim());
    let found = MODES.iter().find(|(sensor, _)| *sensor == name);
    let Some((sensor, modes)) = found else {
        let nearest = nearest_word(&name, MODES.iter().map(|(sensor, _)| *sensor));
        return Err(Error::UnknownSensor { name, nearest });
    };
    let takes_number = modes.iter().any(|mode| ["OHM", "MM"].contains(mode));
    let is_number = takes_number && mode.parse::<f64>().is_ok();
    if !is_number && (!modes.contains(&mode) || ["OHM", "MM"].contains(&mode)) {
        let flag = format!("--fail {sensor}");
        return Err(Error::NotAWord { flag, found: mode.into(), words: modes });
    }
    Ok(Failure { typed: format!("{sensor}={mode}"), sensor, mode: mode.into() })
}

impl Failure {
    /// Lets the sensor fail.
    pub fn apply(&self, conditions: &mut Conditions) -> Result<(), Error> {
        if conditions.fail(self.sensor, &self.mode) {
            return Ok(());
        }
        // The words were checked when it was read; what is left is a number out of range.
        let value = self.mode.parse().unwrap_or(f64::NAN);
        Err(match self.sensor {
            "coolant" => Error::NumberOutOfRange {
                flag: "--fail coolant",
                value,
                low: 0.0,
                high: 1e7,
                unit: "ohm",
            },
            _ => Error::NumberOutOfRange {
                flag: "--fail potentiometer",
                value,
                low: -5.0,
                high: 5.0,
                unit: "mm",
            },
        })
    }
}
