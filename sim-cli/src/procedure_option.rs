//! The option that names a procedure: one that comes with the program, or a file.

use crate::error::Error;
use crate::files::{names_a_file, read_text};
use crate::options::CommandOption;
use crate::scenario::{EngineArgs, Scenario};
use clap::{Arg, ArgMatches};
use sim_core::conditions::Conditions;
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::{Setup, nearest_word};
use sim_core::run::procedure::{Procedure, SHIPPED, parse_for};
use sim_core::units::Unit;
use sim_core::wording::did_you_mean;

/// The option of every command that takes a procedure.
pub static PROCEDURE: ProcedureOption = ProcedureOption;

/// An option that takes the name of a procedure.
pub struct ProcedureOption;

impl CommandOption for ProcedureOption {
    fn arg(&self) -> Arg {
        let names: Vec<&str> = SHIPPED.iter().map(|(name, _)| *name).collect();
        let help = format!("{}, or a file", names.join(", "));
        Arg::new("procedure").long("procedure").value_name("NAME|FILE").required(true).help(help)
    }
}

impl ProcedureOption {
    /// Reads the procedure for the rig of a file, with what the flags ask of the engine: what is
    /// wrong with it on the rig as it is, is wrong in the file.
    pub fn read(
        &self,
        matches: &ArgMatches,
        file: &RigFile,
        defaults: Conditions,
        [limit_rpm, screw_turns]: [Option<f64>; 2],
    ) -> Result<ProcedureAsked, Error> {
        let asked = matches.get_one::<String>("procedure").map_or("", String::as_str);
        let shipped = SHIPPED.iter().find(|(name, _)| *name == asked);
        if shipped.is_none() && !names_a_file(asked) {
            let nearest = nearest_word(asked, SHIPPED.iter().map(|(name, _)| *name));
            return Err(Error::file(format!(
                "no procedure \"{asked}\"{}; `quarterturn run --help` names the shipped ones, a file ends in .toml",
                did_you_mean(nearest)
            )));
        }
        let text = match shipped {
            Some((_, text)) => text.to_string(),
            None => read_text(asked)?,
        };
        let mut setup = Setup { rig: file.rig, conditions: defaults };
        setup.conditions.screw_turns = screw_turns.unwrap_or(defaults.screw_turns);
        let limit_rad_s = file.rig.parts().controller.limit_rad_s;
        let limit_rad_s =
            limit_rpm.map_or(limit_rad_s, |rpm| Unit::Rpm.to_si(rpm).max(limit_rad_s));
        // A shipped one is sound; what does not suit it is the engine asked for.
        if shipped.is_none() {
            parse_for(&text, limit_rad_s, &setup).map_err(Error::in_file(asked))?;
        }
        Ok(ProcedureAsked { asked: asked.into(), text, shipped: shipped.is_some() })
    }

    /// Loads the engine of a command that takes a procedure, and the procedure for it, with what
    /// stands for it in the canonical command.
    pub fn load(
        &self,
        matches: &ArgMatches,
        args: EngineArgs,
        defaults: Conditions,
    ) -> Result<(Scenario, Procedure, String), Error> {
        let flags = ["limit_rpm", "screw"].map(|key| args.asked(key));
        let stood = args.stood();
        let (scenario, asked) =
            args.load_beside(defaults, |file| self.read(matches, file, defaults, flags))?;
        let (procedure, named) = asked.on(&scenario)?;
        if let (Some(key), false) = (stood, procedure.begins_standing()) {
            return Err(Error::usage(format!(
                "--{} tells how a standing engine was left, but `{}` begins with a running one. Take `--procedure key-start`, or a file whose first move is `key = \"on\"`",
                key.replace('_', "-"),
                procedure.name
            )));
        }
        Ok((scenario, procedure, named))
    }
}

/// A procedure as it was asked for, its file read.
pub struct ProcedureAsked {
    asked: String,
    text: String,
    shipped: bool,
}

impl ProcedureAsked {
    /// The procedure on the engine of a scenario: what the flags make impossible lies outside
    /// the model.
    fn on(&self, scenario: &Scenario) -> Result<(Procedure, String), Error> {
        let limit_rad_s = scenario.setup.rig.parts().controller.limit_rad_s;
        let procedure = parse_for(&self.text, limit_rad_s, &scenario.setup).map_err(|fault| {
            Error::outside(format!(
                "--procedure {}: with{} {fault}",
                self.asked,
                if scenario.flags.is_empty() { " this rig" } else { &scenario.flags }
            ))
        })?;
        let named = match self.shipped {
            true => format!(" --procedure {}", self.asked),
            false => format!(" --procedure <{}, from a file>", procedure.name),
        };
        Ok((procedure, named))
    }
}
