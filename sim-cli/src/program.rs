//! The top of the program: its commands put together from their list.

#[cfg(test)]
mod course_tests;

use crate::args::{with_chart, with_form, with_output, with_readings};
use crate::command::{Command, NestedCommand, Program};
use crate::commands::{COMMANDS, GROUPS};
use crate::error::Error;
use crate::output::table::SCREEN;
use crate::scenario::with_conditions;
use crate::text::wrapped;

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
        // All of them take a hundred times as long to put together as one.
        let program = match words.first().and_then(|name| self.command(name)) {
            Some(command) => top().subcommand(definition(command)),
            None => self.definition(),
        };
        let matches = program.try_get_matches_from(start).map_err(|error| {
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
        let command = words.first().and_then(|name| self.command(name));
        command.is_some_and(|command| {
            let own = || command.options.iter().any(|option| option.arg().get_id() == "rig");
            command.conditions.is_some() || own()
        })
    }

    fn picture_flag(&self, words: &[String]) -> &'static str {
        let command = words.first().and_then(|name| self.command(name));
        if command.is_some_and(|command| command.chart) { "--chart" } else { "--output" }
    }

    fn definition(&self) -> clap::Command {
        top().after_help(help()).subcommands(COMMANDS.iter().map(definition))
    }
}

/// The program without commands and their list.
fn top() -> clap::Command {
    clap::Command::new("quarterturn")
        .term_width(SCREEN.0)
        .version(env!("CARGO_PKG_VERSION"))
        .about(
            "What mechanical continuous injection does when its mixture screw is turned, computed",
        )
        .subcommand_required(true)
        .help_template("{about}\n\nUsage: quarterturn COMMAND [FLAGS]{after-help}\n")
}

/// The list of commands, as help tells it.
fn help() -> String {
    let mut help = String::from("Commands, in the order of the job:\n");
    for (group, about) in GROUPS {
        help += &format!("\n  {about}\n");
        for command in COMMANDS.iter().filter(|command| command.group == *group) {
            let line = format!("    {:<13}{}", command.name, command.about);
            help += &format!("{}\n", wrapped(&line, SCREEN.0, &" ".repeat(17)));
        }
    }
    help + "\n`quarterturn COMMAND -h` tells a command's own flags, with an example.\n\
            Exit codes: 0 done, 1 a check failed, 2 wrong usage, 3 bad file, 4 outside the model's range, 5 cannot read or write."
}

/// What short help says about the flags that it leaves out.
fn shared_flags(command: &Command) -> String {
    let conditions = match command.conditions {
        Some(_) => "the conditions (--rig, --screw, --altitude-m ...) and ",
        None => "",
    };
    let chart = if command.chart { "--chart, " } else { "" };
    let more = command.more_help.is_empty() && (command.listed)().is_empty();
    let more = if more { "" } else { ", and more" };
    format!("`--help` tells {conditions}the output ({chart}--all, --format, -o ...){more}.")
}

/// A command with its arguments.
fn definition(command: &Command) -> clap::Command {
    let (more, listed) = (command.more_help, (command.listed)());
    let example = format!("Example:\n  {}", command.example);
    let mut found = clap::Command::new(command.name)
        .about(command.about)
        .term_width(SCREEN.0)
        .after_help(format!("{example}\n\n{}", shared_flags(command)))
        .after_long_help(format!("{example}\n\n{more}{listed}").trim_end().to_string());
    found = found.args(command.options.iter().map(|option| option.arg()));
    if let Some(defaults) = command.conditions {
        found = with_conditions(found, &defaults());
    }
    if command.chart {
        found = with_chart(found);
    }
    if command.readings {
        found = with_readings(found);
    }
    if !command.below.is_empty() {
        let below = command.below.iter().map(|below| {
            let options = below.options.iter().map(|option| option.arg());
            let found = clap::Command::new(below.name).about(below.about).args(options);
            let found = found.term_width(SCREEN.0).after_help(shared_flags(command));
            let found = found.after_long_help("");
            with_output(found).mut_arg("format", |arg| arg.value_parser(below.forms.to_vec()))
        });
        return found.subcommand_required(true).subcommands(below);
    }
    if command.report_to_file { with_output(found) } else { with_form(found) }
}
