//! Commands of the program run from within it: what a lesson tells, for another rig.

use super::COMMANDS;
use crate::args::program;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::Report;
use clap::ArgMatches;

/// A command with its words understood.
pub struct NestedCommand {
    /// Its words after the program's name.
    pub words: Vec<String>,
    matches: ArgMatches,
}

impl NestedCommand {
    /// Understands a command's words. `rig` takes the place of the rig they name, or is added
    /// where the command takes one.
    pub fn read(words: &[&str], rig: Option<&str>, chart: bool) -> Result<NestedCommand, Error> {
        let mut words: Vec<String> = words.iter().map(|word| word.to_string()).collect();
        if let Some(rig) = rig.filter(|_| takes_rig(&words)) {
            match words.iter().position(|word| word == "--rig") {
                Some(at) if at + 1 < words.len() => words[at + 1] = rig.into(),
                _ => words.extend(["--rig".into(), rig.into()]),
            }
        }
        let start = ["quarterturn"].into_iter().chain(words.iter().map(String::as_str));
        let end = ["--chart", "chart.svg"].into_iter().take(if chart { 2 } else { 0 });
        let matches = program().try_get_matches_from(start.chain(end)).map_err(|error| {
            let text = error.to_string();
            let text = text.lines().next().unwrap_or_default();
            let text = text.strip_prefix("error: ").unwrap_or(text).to_string();
            Error::NestedCommand { command: words.join(" "), text }
        })?;
        Ok(NestedCommand { words, matches })
    }

    /// Works out its report.
    pub fn report(&self, progress: &mut Progress<'_>) -> Result<Report, Error> {
        let unknown =
            || Error::NestedCommand { command: self.words.join(" "), text: "no command".into() };
        let (name, matches) = self.matches.subcommand().ok_or_else(unknown)?;
        let command = COMMANDS.iter().find(|command| command.name == name).ok_or_else(unknown)?;
        (command.report)(matches, progress)
    }
}

/// Whether a command has the flag `--rig`.
pub fn takes_rig(words: &[String]) -> bool {
    let program = program();
    let command = words.first().and_then(|name| program.find_subcommand(name));
    command.is_some_and(|command| command.get_arguments().any(|arg| arg.get_id() == "rig"))
}
