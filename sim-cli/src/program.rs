//! The top of the program: its commands put together from their list.

#[cfg(test)]
mod course_tests;

use crate::args::{with_chart, with_form, with_output};
use crate::command::{Command, NestedCommand, Program};
use crate::commands::{COMMANDS, GROUPS};
use crate::error::Error;
use crate::scenario::with_conditions;

/// The program with all its commands.
pub struct Quarterturn;

impl Quarterturn {
    /// The command of a name.
    pub fn command(&self, name: &str) -> Option<&'static Command> {
        COMMANDS.iter().find(|command| command.name == name)
    }
}

impl Program for Quarterturn {
    fn understand(&self, words: &[String]) -> Result<NestedCommand, Error> {
        let command = words.join(" ");
        let start = ["quarterturn"].into_iter().chain(words.iter().map(String::as_str));
        let matches = self.definition().try_get_matches_from(start).map_err(|error| {
            let text = error.to_string();
            let text = text.lines().next().unwrap_or_default();
            let text = text.strip_prefix("error: ").unwrap_or(text);
            Error::usage(format!("`quarterturn {command}`: {text}"))
        })?;
        let (name, matches) = matches.subcommand().ok_or(Error::no_command())?;
        let command = self.command(name).ok_or(Error::no_command())?;
        Ok(NestedCommand { words: words.to_vec(), command, matches: matches.clone() })
    }

    fn takes_rig(&self, words: &[String]) -> bool {
        let program = self.definition();
        let command = words.first().and_then(|name| program.find_subcommand(name));
        command.is_some_and(|command| command.get_arguments().any(|arg| arg.get_id() == "rig"))
    }

    fn picture_flag(&self, words: &[String]) -> &'static str {
        let command = words.first().and_then(|name| self.command(name));
        if command.is_some_and(|command| command.chart) { "--chart" } else { "--output" }
    }

    fn definition(&self) -> clap::Command {
        let mut help = String::from("Commands, in the order of the job:\n");
        for (group, about) in GROUPS {
            help += &format!("\n  {about}\n");
            for command in COMMANDS.iter().filter(|command| command.group == *group) {
                help += &format!("    {:<12}{}\n", command.name, command.about);
            }
        }
        help += "\n`quarterturn COMMAND --help` tells the flags of a command, with an example.\n\
                 Exit codes: 0 done, 1 a check failed, 2 wrong usage, 3 bad file, 4 outside the model's range, 5 cannot read or write.";
        clap::Command::new("quarterturn")
            .version(env!("CARGO_PKG_VERSION"))
            .about(
                "What mechanical continuous injection does when its mixture screw is turned, computed",
            )
            .subcommand_required(true)
            .help_template("{about}\n\nUsage: quarterturn COMMAND [FLAGS]\n\n{after-help}\n")
            .after_help(help)
            .subcommands(COMMANDS.iter().map(definition))
    }
}

/// A command with its arguments.
fn definition(command: &Command) -> clap::Command {
    let example = format!("Example:\n  {}\n\n{}", command.example, command.more_help);
    let mut found = clap::Command::new(command.name)
        .about(command.about)
        .after_help(example.trim_end().to_string());
    found = found.args(command.options.iter().map(|option| option.arg()));
    if let Some(defaults) = command.conditions {
        found = with_conditions(found, &defaults());
    }
    if command.chart {
        found = with_chart(found);
    }
    if !command.below.is_empty() {
        let below = command.below.iter().map(|below| {
            let options = below.options.iter().map(|option| option.arg());
            let found = clap::Command::new(below.name).about(below.about).args(options);
            with_output(found).mut_arg("format", |arg| arg.value_parser(below.forms.to_vec()))
        });
        return found.subcommand_required(true).subcommands(below);
    }
    if command.report_to_file { with_output(found) } else { with_form(found) }
}
