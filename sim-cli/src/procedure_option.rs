//! The option that names a procedure: one that comes with the program, or a file.

use crate::error::Error;
use crate::files::{names_a_file, read_text};
use crate::options::CommandOption;
use crate::scenario::Scenario;
use clap::{Arg, ArgMatches};
use sim_core::rig::keys::nearest_word;
use sim_core::run::procedure::{Procedure, SHIPPED, parse};
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
    /// Loads the procedure, for the engine it is to run on, and gives what stands for it in
    /// the canonical command.
    pub fn load(
        &self,
        matches: &ArgMatches,
        scenario: &Scenario,
    ) -> Result<(Procedure, String), Error> {
        let asked = matches.get_one::<String>("procedure").map_or("", String::as_str);
        let limit_rad_s = scenario.setup.rig.parts().controller.limit_rad_s;
        let read = |text: &str| parse(text, limit_rad_s).map_err(Error::in_file(asked));
        if let Some((_, text)) = SHIPPED.iter().find(|(name, _)| *name == asked) {
            return Ok((read(text)?, format!(" --procedure {asked}")));
        }
        if !names_a_file(asked) {
            let nearest = nearest_word(asked, SHIPPED.iter().map(|(name, _)| *name));
            return Err(Error::file(format!(
                "no procedure \"{asked}\"{}; `quarterturn run --help` names the shipped ones, a file ends in .toml",
                did_you_mean(nearest)
            )));
        }
        let procedure = read(&read_text(asked)?)?;
        let canonical = format!(" --procedure <{}, from a file>", procedure.name);
        Ok((procedure, canonical))
    }
}
