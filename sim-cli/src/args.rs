//! Arguments that every command has: where its report goes, and in which form.

use crate::error::Error;
use crate::report::Wanted;
use clap::{Arg, ArgAction, ArgMatches, Command};
use sim_core::point::{READINGS, Reading};
use std::path::Path;

/// Where the report goes, and in which form.
pub struct Output {
    /// Form of the report.
    pub format: Format,
    /// How much of it is wanted for reading.
    pub wanted: Wanted,
    /// Whether files may be replaced.
    pub force: bool,
    /// Whether messages are left out.
    pub quiet: bool,
    /// The chart's place.
    pub chart: Option<String>,
    path: Option<String>,
    color: String,
}

/// Form of a report.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// For reading.
    Table,
    /// For spreadsheets.
    Csv,
    /// For programs.
    Json,
}

impl Output {
    /// The file the report goes to, if it goes to one.
    pub fn file(&self) -> Option<&Path> {
        self.path.as_deref().filter(|path| *path != "-").map(Path::new)
    }

    /// Whether the report goes to stdout.
    pub fn to_stdout(&self) -> bool {
        self.file().is_none()
    }

    /// Whether to colour, for a stdout that is a terminal or not.
    pub fn coloured(&self, terminal: bool) -> bool {
        match self.color.as_str() {
            "always" => true,
            "never" => false,
            _ => terminal && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty()),
        }
    }
}

/// A command with the flags of output, the place of its report among them.
pub fn with_output(command: Command) -> Command {
    let place = option("output", "FILE", "write the report to a file; - is stdout");
    with_form(command).arg(place.short('o'))
}

/// A command with the flags of output but for the place of its report.
pub fn with_form(command: Command) -> Command {
    let form = option("format", "FORM", "form of the report");
    let color = option("color", "WHEN", "colour in tables; NO_COLOR is heeded");
    command
        .arg(switch("all", "every row, column and note; without it one screen of what matters"))
        .arg(form.value_parser(["table", "csv", "json"]).default_value("table"))
        .arg(switch("force", "replace files that exist"))
        .arg(switch("quiet", "no messages on stderr but errors"))
        .arg(color.value_parser(["auto", "always", "never"]).default_value("auto"))
}

/// A command that draws a chart.
pub fn with_chart(command: Command) -> Command {
    let help = "draw a chart: .svg, .png, .pdf, or .csv for the data behind it";
    command.arg(option("chart", "FILE", help))
}

/// A command whose tables show readings.
pub fn with_readings(command: Command) -> Command {
    let help = "show these readings, by their names in the JSON; a comma separates them";
    command.arg(option("show", "READING,READING", help))
}

fn option(name: &'static str, value: &'static str, help: &'static str) -> Arg {
    Arg::new(name)
        .long(name)
        .value_name(value)
        .help(help)
        .help_heading("Output")
        .hide_short_help(true)
}

fn switch(name: &'static str, help: &'static str) -> Arg {
    let arg = Arg::new(name).long(name).action(ArgAction::SetTrue).help(help);
    arg.help_heading("Output").hide_short_help(true)
}

/// Reads how much of a report is wanted for reading.
pub fn wanted(matches: &ArgMatches) -> Result<Wanted, Error> {
    let all = matches.try_get_one::<bool>("all").ok().flatten().is_some_and(|all| *all);
    let named = matches.try_get_one::<String>("show").ok().flatten();
    let names = named.map(String::as_str).unwrap_or_default().split(',').map(str::trim);
    let reading = |name: &str| {
        let words = || READINGS.iter().map(|reading| reading.name).collect::<Vec<_>>();
        let found = Reading::find(&name.replace('-', "_"));
        found.map(|reading| reading.name).ok_or_else(|| Error::not_a_word("--show", name, &words()))
    };
    let readings = names.filter(|name| !name.is_empty()).map(reading).collect::<Result<_, _>>()?;
    Ok(Wanted { all, readings })
}

/// Reads the output flags. `-o` is the report's place, or an option of the command's own.
pub fn output(matches: &ArgMatches, report_to_file: bool) -> Result<Output, Error> {
    let text = |name: &str| {
        let found = matches.try_get_one::<String>(name).ok().flatten();
        found.cloned()
    };
    let chart = text("chart");
    if let Some(path) = &chart {
        crate::drawing::picture::FileKind::of_path(path)?;
    }
    let format = match text("format").as_deref() {
        Some("json") => Format::Json,
        Some("csv") => Format::Csv,
        _ => Format::Table,
    };
    Ok(Output {
        format,
        wanted: wanted(matches)?,
        force: matches.get_flag("force"),
        quiet: matches.get_flag("quiet"),
        chart,
        path: text("output").filter(|_| report_to_file),
        color: text("color").unwrap_or_default(),
    })
}
