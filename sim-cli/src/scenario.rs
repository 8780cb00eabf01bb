//! The engine a command runs: flags from the list of keys, read, then loaded and checked.

mod assignment;

use crate::error::Error;
use crate::failures::{self, Failure};
use crate::files::{names_a_file, read_text};
use crate::report::{Block, Report};
use crate::text::plain;
use assignment::{Assignment, pair_assignment};
pub use assignment::{Change, changes};
use clap::builder::Str;
use clap::{Arg, ArgAction, ArgMatches, Command};
use serde_json::{Map, Value, json};
use sim_core::conditions::{Conditions, IdleAir, Trim};
use sim_core::point::Point;
use sim_core::rig::file::{RigFile, parse, range_words};
use sim_core::rig::keys::{KEYS, Key, Place, Setup, nearest_word};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::start::flows_at_rest;
use sim_core::sense::faults::ThrottleSwitch;
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

/// Keys of the rig that are flags of every command that runs the engine, too.
const RIG_FLAGS: [&str; 3] = ["spark_deg", "system_pressure_bar", "accessories_bar"];

/// The keys that are flags, in the order of the list.
fn flag_keys() -> impl Iterator<Item = &'static Key> {
    KEYS.iter().filter(|key| key.table().is_none() || RIG_FLAGS.contains(&key.name))
}

fn flag_of(key: &Key) -> String {
    key.name.replace('_', "-")
}

/// Adds the conditions: a flag for each key that is one, `--rig` and `--set`.
pub fn with_conditions(mut command: Command, defaults: &Conditions) -> Command {
    const HEADING: &str = "Conditions";
    command = command.arg(
        Arg::new("rig")
            .long("rig")
            .value_name("NAME|FILE")
            .default_value("six")
            .help("a shipped rig or a rig file")
            .help_heading(HEADING),
    );
    for key in flag_keys() {
        let (name, default) = match key.place {
            Place::Choice { words, get, .. } => {
                (words.join("|"), Some(words[get(defaults)].into()))
            }
            Place::Condition(at) => {
                let mut defaults = *defaults;
                let value = key.unit.from_si(*at(&mut defaults));
                (unit_name(key), Some(plain(value)))
            }
            _ => (unit_name(key), None),
        };
        let default = default.map_or("the rig's".to_string(), |d| format!("default {d}"));
        let range = match key.place {
            Place::Choice { .. } => String::new(),
            _ => format!(", {}", range_words(key)),
        };
        command = command.arg(
            Arg::new(key.name)
                .long(Str::from(flag_of(key)))
                .value_name(Str::from(name))
                .allow_hyphen_values(true)
                .help(format!(
                    "{} [{default}{range}{}]",
                    key.meaning,
                    if key.name == "screw" {
                        "; or aim, aim-1/32: from where the duty is 50 %"
                    } else {
                        ""
                    }
                ))
                .help_heading(HEADING),
        );
    }
    let command = command.arg(
        Arg::new("fail")
            .long("fail")
            .value_name("SENSOR=MODE")
            .action(ArgAction::Append)
            .help(format!("let a sensor fail: {}", failures::modes()))
            .help_heading(HEADING),
    );
    command.arg(
        Arg::new("set")
            .long("set")
            .value_name("KEY=VALUE")
            .action(ArgAction::Append)
            .allow_hyphen_values(true)
            .help("give any key of `quarterturn rig keys` another value, parts of the rig included")
            .help_heading(HEADING),
    )
}

fn unit_name(key: &Key) -> String {
    match key.unit {
        Unit::One => "NUMBER".into(),
        unit => unit.symbol().to_uppercase().replace(['/', ' '], "_"),
    }
}

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
        let rig = matches.get_one::<String>("rig").cloned().unwrap_or_default();
        let mut assignments = Vec::new();
        for key in flag_keys() {
            if let Some(text) = matches.get_one::<String>(key.name) {
                assignments.push(Assignment::read(format!("--{}", flag_of(key)), key, text)?);
            }
        }
        for pair in matches.get_many::<String>("set").into_iter().flatten() {
            assignments.push(pair_assignment("--set", pair)?);
        }
        let failures = failures::read(matches)?;
        Ok(EngineArgs { rig, assignments, failures, turns_the_screw: false })
    }

    /// For a command that turns the screw itself: where it stood before does not matter.
    pub fn turning_the_screw(self) -> EngineArgs {
        EngineArgs { turns_the_screw: true, ..self }
    }

    /// Loads the rig and applies the wishes to it and to the conditions' defaults.
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
        let shipped = SHIPPED.iter().any(|(name, _)| *name == self.rig);
        let mut flags = String::new();
        match (shipped, self.rig.as_str()) {
            (true, "six") => {}
            (true, name) => flags += &format!(" --rig {name}"),
            (false, _) => flags += &format!(" --rig <{}, from a file>", file.name),
        }
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
            failure.apply(&mut setup.conditions)?;
            flags += &format!(" --fail {}", failure.typed);
            changed.push(format!("failed: {}", failure.typed));
        }
        let screw_ignored = self.turns_the_screw
            && self.assignments.iter().any(|assignment| assignment.key.name == "screw");
        let failed = self.failures.into_iter().map(|failure| failure.typed).collect();
        Ok(Scenario { file, setup, flags, changed, failed, screw_ignored })
    }
}

/// The value of a key as JSON: a number, a word, or `null` for what the rig decides.
fn value_of(key: &Key, setup: &Setup) -> Value {
    match key.place {
        Place::Choice { words, get, .. } => json!(words[get(&setup.conditions)]),
        _ => json!(key.get(setup)),
    }
}

/// What a screw means at which fuel runs with the plate at rest.
pub const AT_REST: &str = "with the screw where it stands the slits are open with the plate at rest: with the pump on, fuel runs into a standing engine. Not a setting to start or to drive on. If it has run: do not crank, plugs out, let it dry, look for petrol in the oil.";

/// A rig's warm idle with the screw where it stands, trim off.
pub fn as_it_stands(file: &RigFile) -> Point {
    SteadyEngine::new(&file.rig, &Conditions::default()).point(0.0)
}

/// A rig under conditions, as asked for.
pub struct Scenario {
    /// The rig as its file gives it.
    pub file: RigFile,
    /// The rig with what was set, and the conditions.
    pub setup: Setup,
    /// The flags that differ from the defaults, canonically, each with a space before it.
    pub flags: String,
    /// The same in words, but for what [`Scenario::words`] says anyway.
    changed: Vec<String>,
    /// Sensors that have failed, as typed.
    failed: Vec<String>,
    /// Whether a screw was asked for that does not matter.
    screw_ignored: bool,
}

impl Scenario {
    /// The conditions as JSON, with the rig's name.
    pub fn value(&self) -> Value {
        let mut object = Map::new();
        object.insert("rig".into(), json!(self.file.name));
        for key in flag_keys() {
            object.insert(key.name.into(), value_of(key, &self.setup));
        }
        object.insert("failed".into(), json!(self.failed));
        Value::Object(object)
    }

    /// Notes that the screw asked for does not matter to a command that turns it itself.
    pub fn note_screw(&self, report: &mut Report) {
        if self.screw_ignored {
            report
                .notes
                .push("--screw does not matter here: this command turns the screw itself.".into());
        }
    }

    /// Tells that fuel runs into the standing engine with the screw where it is, if it does.
    pub fn render_hazard(&self, report: &mut Report) {
        let runs = flows_at_rest(&self.setup);
        report.put("fuel_flows_at_rest", json!(runs));
        if runs {
            report.blocks.push(Block::Hazard(AT_REST.into()));
        }
    }

    /// The conditions in words for a chart or a heading.
    pub fn words(&self) -> String {
        let conditions = &self.setup.conditions;
        let trim = match conditions.trim {
            Trim::On => "trim on",
            Trim::Off => "trim off",
        };
        let throttle = &self.setup.rig.parts().throttle;
        let released = throttle.held_open_share(conditions.linkage_play_m);
        let open = throttle.effective_m2(released) >= throttle.idle_switch_opens_m2()
            || conditions.faults.throttle_switch == ThrottleSwitch::NoIdle;
        let idle = match (conditions.throttle > 0.0, conditions.idle_air) {
            (true, _) => "speed held by a brake",
            _ if open => "idle switch open, air valve left where it was",
            (_, IdleAir::Held) => "idle air held",
            (_, IdleAir::Fixed) => "idle air fixed",
        };
        let changed: String = self.changed.iter().map(|words| format!("; {words}")).collect();
        format!("Rig {}, invented; warm point, {trim}, {idle}{changed}", self.file.name)
    }
}

/// A shipped rig by its name, or a rig file.
pub fn load_rig(name: &str) -> Result<RigFile, Error> {
    if let Some(file) = shipped(name) {
        return Ok(file);
    }
    if !names_a_file(name) {
        let nearest = nearest_word(name, SHIPPED.iter().map(|(shipped, _)| *shipped));
        return Err(Error::UnknownRig { name: name.into(), nearest });
    }
    let text = read_text(name)?;
    parse(&text).map_err(|fault| Error::RigFile { path: name.into(), fault: Box::new(fault) })
}
