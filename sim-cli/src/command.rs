//! A command of the program: what it is called, what it takes, what works it out.

use crate::error::Error;
use crate::options::CommandOption;
use crate::progress::Progress;
use crate::report::Report;
use clap::ArgMatches;
use sim_core::conditions::Conditions;

/// A command.
pub struct Command {
    /// Its name.
    pub name: &'static str,
    /// Which part of the job it belongs to.
    pub group: &'static str,
    /// What it does, in a line.
    pub about: &'static str,
    /// An example that a test runs.
    pub example: &'static str,
    /// What its long help says below the example.
    pub more_help: &'static str,
    /// A list that its help ends with.
    pub listed: fn() -> String,
    /// Its own options, in the order of its help.
    pub options: &'static [&'static dyn CommandOption],
    /// The defaults of the conditions, if it runs an engine: it then has `--rig`, `--set`,
    /// `--fail` and a flag for each condition.
    pub conditions: Option<fn() -> Conditions>,
    /// Whether it draws a chart (`--chart`).
    pub chart: bool,
    /// Whether its tables show readings that can be chosen (`--show`).
    pub readings: bool,
    /// Whether `-o` is the place of its report. If not, `-o` is an option of its own.
    pub report_to_file: bool,
    /// Commands below it, each with options of its own: `rig list`.
    pub below: &'static [Below],
    /// Works out its report.
    pub run: fn(&ArgMatches, &mut Context<'_, '_>) -> Result<Report, Error>,
}

/// A command below a command.
pub struct Below {
    /// Its name.
    pub name: &'static str,
    /// What it does, in a line.
    pub about: &'static str,
    /// Its own options.
    pub options: &'static [&'static dyn CommandOption],
    /// The forms of its report.
    pub forms: &'static [&'static str],
}

/// What a command without anything special is made of.
pub const PLAIN: Command = Command {
    name: "",
    group: "",
    about: "",
    example: "",
    more_help: "",
    listed: String::new,
    options: &[],
    conditions: None,
    chart: false,
    readings: false,
    report_to_file: true,
    below: &[],
    run: |_, _| Err(Error::no_command()),
};

/// What a command is given beside its arguments.
pub struct Context<'a, 'p> {
    /// Where it tells how far it has got.
    pub progress: &'a mut Progress<'p>,
    /// The program it is a command of.
    pub program: &'a dyn Program,
    /// Why the files asked for could not be written, if that is known before the work.
    pub unwritable: Option<Error>,
}

impl Context<'_, '_> {
    /// All that was asked for is understood, and the work begins: what cannot be written then
    /// is told now.
    pub fn begin(&mut self) -> Result<(), Error> {
        self.unwritable.take().map_or(Ok(()), Err)
    }
}

/// The whole program, as its commands need it: the course runs commands of lessons.
pub trait Program: Sync {
    /// Understands a command's words, without the program's name.
    fn understand(&self, words: &[String]) -> Result<NestedCommand, Error>;

    /// Whether a command has the flag `--rig`.
    fn takes_rig(&self, words: &[String]) -> bool;

    /// The flag of a command that takes the file of its picture.
    fn picture_flag(&self, words: &[String]) -> &'static str;

    /// Its definition for completions and the manual.
    fn definition(&self) -> clap::Command;
}

/// A command run from within the program, with its words understood.
pub struct NestedCommand {
    /// Its words after the program's name.
    pub words: Vec<String>,
    /// The command.
    pub command: &'static Command,
    /// Its arguments.
    pub matches: ArgMatches,
}

impl NestedCommand {
    /// Understands a command's words. `rig` takes the place of the rig they name, or is added
    /// where the command takes one.
    pub fn read(
        program: &dyn Program,
        words: &[&str],
        rig: Option<&str>,
        chart: bool,
    ) -> Result<NestedCommand, Error> {
        let mut words: Vec<String> = words.iter().map(|word| word.to_string()).collect();
        if let Some(rig) = rig.filter(|_| program.takes_rig(&words)) {
            match words.iter().position(|word| word == "--rig") {
                Some(at) if at + 1 < words.len() => words[at + 1] = rig.into(),
                _ => words.extend(["--rig".into(), rig.into()]),
            }
        }
        let shown = words.clone();
        if chart {
            words.extend([program.picture_flag(&words).into(), "chart.svg".into()]);
        }
        let nested = program.understand(&words)?;
        Ok(NestedCommand { words: shown, ..nested })
    }

    /// Works out its report.
    pub fn report(
        &self,
        program: &dyn Program,
        progress: &mut Progress<'_>,
    ) -> Result<Report, Error> {
        (self.command.run)(&self.matches, &mut Context { progress, program, unwritable: None })
    }
}

/// The arguments of a command, or of the command below it that was asked for.
pub fn leaf(matches: &ArgMatches) -> &ArgMatches {
    matches.subcommand().map_or(matches, |(_, below)| leaf(below))
}
