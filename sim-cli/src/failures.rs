//! `--fail SENSOR=MODE`: sensors that have failed.

use crate::error::Error;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::sense::faults::SensorFault;
pub use sim_core::sense::faults::modes;

/// A sensor and how it fails.
pub struct Failure {
    /// As it is typed: `coolant=open`.
    pub typed: String,
    fault: SensorFault,
}

/// Reads the `--fail` flags.
pub fn read(matches: &ArgMatches) -> Result<Vec<Failure>, Error> {
    matches.get_many::<String>("fail").into_iter().flatten().map(|pair| one(pair)).collect()
}

fn one(pair: &str) -> Result<Failure, Error> {
    let Some((name, mode)) = pair.split_once('=') else {
        return Err(Error::not_a_pair("--fail", pair));
    };
    let (name, mode) = (name.trim().replace('_', "-"), mode.trim());
    let fault = SensorFault::of(&name, mode)?;
    Ok(Failure { typed: format!("{}={mode}", fault.sensor()), fault })
}

impl Failure {
    /// Lets the sensor fail.
    pub fn apply(&self, conditions: &mut Conditions) {
        conditions.fail(self.fault);
    }
}
