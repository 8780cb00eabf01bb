//! What the flags of the conditions ask for.

use super::assignment::{Assignment, pair_assignment};
use super::conditions::{SET, flag_keys, flag_of, value_of};
use super::loaded::Scenario;
use super::rigs::{RIG, RIG_DEFAULT, canonical_rig, load_rig};
use crate::error::Error;
use crate::failures::{self, Failure};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::Setup;

/// What tells how a standing engine was left.
const STOOD: [&str; 2] = ["lines", "stood_h"];

/// What the flags ask for, read but not yet checked against files and ranges: wrong usage
/// is found before a bad file, and that before a value outside the model.
pub struct EngineArgs {
    rig: String,
    assignments: Vec<Assignment>,
    failures: Vec<Failure>,
    /// Keys that do not matter to the command, and why.
    idle_keys: Vec<(&'static str, &'static str)>,
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
            let asked = pair_assignment("--set", pair)?;
            let key = asked.key.name;
            if let Some(before) =
                assignments.iter().find(|before: &&Assignment| before.key.name == key)
            {
                return Err(Error::usage(format!(
                    "`{key}` is given twice, by {} and by --set; once is enough",
                    if before.flag.starts_with("--set ") { "--set" } else { &before.flag }
                )));
            }
            assignments.push(asked);
        }
        let failures = failures::read(matches)?;
        Ok(EngineArgs { rig, assignments, failures, idle_keys: Vec::new() })
    }

    /// For a command that turns the screw itself: where it stood before does not matter.
    pub fn turning_the_screw(self) -> EngineArgs {
        self.without(&["screw"], "this command turns the screw itself")
    }

    /// For a command whose engine runs: how a standing one was left does not matter.
    pub fn running(self) -> EngineArgs {
        self.without(&STOOD, "the engine runs, however it stood before")
    }

    /// The key given that tells how a standing engine was left, if one is.
    pub fn stood(&self) -> Option<&'static str> {
        STOOD.into_iter().find(|key| self.gives(key))
    }

    /// For a command to which some keys do not matter: it says so, and why.
    pub fn without(mut self, keys: &[&'static str], why: &'static str) -> EngineArgs {
        self.idle_keys.extend(keys.iter().map(|key| (*key, why)));
        self
    }

    /// Whether a key is given a value.
    pub fn gives(&self, key: &str) -> bool {
        self.assignments.iter().any(|assignment| assignment.key.name == key)
    }

    /// Loads the rig and applies what is asked for to it and to the conditions' defaults.
    pub fn load(self, defaults: Conditions) -> Result<Scenario, Error> {
        self.load_beside(defaults, |_| Ok(())).map(|(scenario, ())| scenario)
    }

    /// The number asked for a key, in its unit, if it lies in its range.
    pub fn asked(&self, key: &str) -> Option<f64> {
        let asked = self.assignments.iter().find(|asked| asked.key.name == key)?;
        Some(asked.asked()).filter(|number| !asked.comes_last() && asked.key.allows(*number))
    }

    /// The same for a command with further files, which are read once the rig is known: every
    /// bad file is found before a value outside the model.
    pub fn load_beside<T>(
        self,
        defaults: Conditions,
        files: impl FnOnce(&RigFile) -> Result<T, Error>,
    ) -> Result<(Scenario, T), Error> {
        let read = load_rig(&self.rig).and_then(|file| files(&file).map(|beside| (file, beside)));
        let (file, beside) = match read {
            // A file that cannot be read comes after a value outside the model.
            Err(error) if error.is_of_a_place() => {
                self.assignments.iter().try_for_each(Assignment::check)?;
                return Err(error);
            }
            other => other?,
        };
        // A car's file has the conditions it was found in.
        let defaults = file.found.as_ref().map_or(defaults, |found| found.over(defaults));
        let mut setup = Setup { rig: file.rig, conditions: defaults };
        for last in [false, true] {
            for assignment in
                self.assignments.iter().filter(|assignment| assignment.comes_last() == last)
            {
                // What does not matter is checked, and changes nothing.
                let key = assignment.key.name;
                let mut beside = setup;
                let idle = key != "screw" && self.idle_keys.iter().any(|(idle, _)| *idle == key);
                assignment.apply(if idle { &mut beside } else { &mut setup })?;
            }
        }
        let mut flags = canonical_rig(&self.rig, &file);
        let mut changed = Vec::new();
        let standard = Setup { rig: file.rig, conditions: defaults };
        for assignment in &self.assignments {
            let ignored = self.idle_keys.iter().any(|(key, _)| *key == assignment.key.name);
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
        let idle = self.idle_keys.iter().filter_map(|(key, why)| {
            let asked = self.assignments.iter().find(|asked| asked.key.name == *key)?;
            Some((asked.flag.clone(), *why))
        });
        let idle_flags = idle.collect();
        let failed = self.failures.into_iter().map(|failure| failure.typed).collect();
        Ok((Scenario { file, setup, flags, changed, failed, idle_flags }, beside))
    }
}
