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
    let pairs = matches.get_many::<String>("fail").into_iter().flatten();
    let failures: Vec<Failure> = pairs.map(|pair| one(pair)).collect::<Result<_, _>>()?;
    for (i, failure) in failures.iter().enumerate() {
        let sensor = failure.fault.sensor();
        if failures[..i].iter().any(|before| before.fault.sensor() == sensor) {
            return Err(Error::usage(format!(
                "--fail: `{sensor}` is given twice; a sensor fails in one way"
            )));
        }
    }
    Ok(failures)
}

fn one(pair: &str) -> Result<Failure, Error> {
    let fault = fault("--fail", pair)?;
    let mode = pair.split_once('=').map_or("", |(_, mode)| mode.trim());
    Ok(Failure { typed: format!("{}={mode}", fault.sensor()), fault })
}

/// The fault that a flag's value names.
pub fn fault(flag: &str, pair: &str) -> Result<SensorFault, Error> {
    let Some((name, mode)) = pair.split_once('=') else {
        return Err(Error::not_a_pair(flag, pair));
    };
    SensorFault::of(&name.trim().replace('_', "-"), mode.trim())
        .map_err(|fault| Error::no_fault(flag, fault))
}

impl Failure {
    /// Lets the sensor fail.
    pub fn apply(&self, conditions: &mut Conditions) {
        conditions.fail(self.fault);
    }
}
