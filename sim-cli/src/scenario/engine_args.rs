//! What the flags of the conditions ask for.

use super::assignment::{Assignment, pair_assignment};
use super::conditions::{SET, flag_keys, flag_of, value_of};
use super::loaded::Scenario;
use super::rigs::{RIG, RIG_DEFAULT, canonical_rig, load_rig};
use crate::error::Error;
use crate::failures::{self, Failure};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;

/// What the flags ask for, read but not yet checked against files and ranges: wrong usage
/// is found before a bad file, and that before a value outside the model.
pub struct EngineArgs {
    rig: String,
    assignments: Vec<Assignment>,
    failures: Vec<Failure>,
    turns_the_screw: bool,
}

impl EngineArgs {
    /// Reads the conditions' flags.
    pub fn read(matches: &ArgMatches) -> Result<EngineArgs, Error> {
        let rig = RIG.read(matches).unwrap_or(RIG_DEFAULT).into();
        let mut assignments = Vec::new();
        for key in flag_keys() {
            if let Some(text) = matches.get_one::<String>(key.name) {
                assignments.push(Assignment::read(format!("--{}", flag_of(key)), key, text)?);
            }
        }
        for pair in SET.all(matches) {
            assignments.push(pair_assignment("--set", pair)?);
        }
        let failures = failures::read(matches)?;
        Ok(EngineArgs { rig, assignments, failures, turns_the_screw: false })
    }

    /// For a command that turns the screw itself: where it stood before does not matter.
    pub fn turning_the_screw(self) -> EngineArgs {
        EngineArgs { turns_the_screw: true, ..self }
    }

    /// Whether a key is given a value.
    pub fn gives(&self, key: &str) -> bool {
        self.assignments.iter().any(|assignment| assignment.key.name == key)
    }

    /// Loads the rig and applies what is asked for to it and to the conditions' defaults.
    pub fn load(self, defaults: Conditions) -> Result<Scenario, Error> {
        let file = load_rig(&self.rig)?;
        let mut setup = Setup { rig: file.rig, conditions: defaults };
        for last in [false, true] {
            for assignment in
                self.assignments.iter().filter(|assignment| assignment.comes_last() == last)
            {
                assignment.apply(&mut setup)?;
            }
        }
        let mut flags = canonical_rig(&self.rig, &file);
        let mut changed = Vec::new();
        let standard = Setup { rig: file.rig, conditions: defaults };
        for assignment in &self.assignments {
            let ignored = self.turns_the_screw && assignment.key.name == "screw";
            if ignored || value_of(assignment.key, &setup) == value_of(assignment.key, &standard) {
                continue;
            }
            if !["trim", "idle_air"].contains(&assignment.key.name) {
                changed.push(assignment.words());
            }
            flags += &match assignment.flag.as_str() {
                flag if flag.starts_with("--set ") => {
                    format!(" --set {}={}", assignment.key.name, assignment.typed())
                }
                flag => format!(" {flag} {}", assignment.typed()),
            };
        }
        for failure in &self.failures {
            failure.apply(&mut setup.conditions);
            flags += &format!(" --fail {}", failure.typed);
            changed.push(format!("failed: {}", failure.typed));
        }
        let screw_ignored = self.turns_the_screw && self.gives("screw");
        let failed = self.failures.into_iter().map(|failure| failure.typed).collect();
        Ok(Scenario { file, setup, flags, changed, failed, screw_ignored })
    }
}
