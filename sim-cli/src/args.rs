//! Arguments that every command has: where its report goes, and in which form.

use crate::error::Error;
use clap::{Arg, ArgAction, ArgMatches, Command};
use std::path::Path;

/// Where the report goes, and in which form.
pub struct Output {
    /// Form of the report.
    pub format: Format,
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

/// Adds the flags that every command has: form and place of the report.
pub fn with_output(command: Command) -> Command {
    with_form(command).arg(
        Arg::new("output")
            .short('o')
            .long("output")
            .value_name("FILE")
            .help("write the report to a file; - is stdout")
            .help_heading("Output"),
    )
}

/// The same for a command whose `-o` is a place of its own.
pub fn with_form(command: Command) -> Command {
    command
        .arg(
            Arg::new("format")
                .long("format")
                .value_name("FORM")
                .value_parser(["table", "csv", "json"])
                .default_value("table")
                .help("form of the report")
                .help_heading("Output"),
        )
        .arg(switch("force", "replace files that exist"))
        .arg(switch("quiet", "no messages on stderr but errors"))
        .arg(
            Arg::new("color")
                .long("color")
                .value_name("WHEN")
                .value_parser(["auto", "always", "never"])
                .default_value("auto")
                .help("colour in tables; NO_COLOR is heeded")
                .help_heading("Output"),
        )
}

fn switch(name: &'static str, help: &'static str) -> Arg {
    Arg::new(name).long(name).action(ArgAction::SetTrue).help(help).help_heading("Output")
}

/// Adds `--chart`.
pub fn with_chart(command: Command) -> Command {
    command.arg(
        Arg::new("chart")
            .long("chart")
            .value_name("FILE")
            .help("draw a chart: .svg, .png, .pdf, or .csv for the data behind it")
            .help_heading("Output"),
    )
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
        force: matches.get_flag("force"),
        quiet: matches.get_flag("quiet"),
        chart,
        path: text("output").filter(|_| report_to_file),
        color: text("color").unwrap_or_default(),
    })
}
