//! `chart`: every figure of the course by a name of its own.

use crate::command::{Command, Context, PLAIN};
use crate::course::figure::{FigureRequest, drawn, list};
use crate::course::lessons::figure;
use crate::drawing::picture::FileKind;
use crate::error::Error;
use crate::files::same_place;
use crate::options::Text;
use crate::report::Report;
use crate::theme_option::{self, THEME};
use clap::ArgMatches;
use sim_core::wording::did_you_mean;
use std::path::Path;

pub const COMMAND: Command = Command {
    name: "chart",
    group: "teach",
    about: "Every figure of the lessons by its name, for paper or for the back of a room",
    example: "quarterturn chart list",
    options: &[&NAME, &FILE, &DATA, &THEME, &RIG],
    report_to_file: false,
    run,
    ..PLAIN
};

static NAME: Text = Text {
    required: true,
    bare: true,
    ..Text::new("name", "list|NAME", "`list`, or the name of a figure")
};
static FILE: Text = Text {
    short: Some('o'),
    ..Text::new("output", "FILE", "the figure's place: .svg, .png, .pdf, or .csv for the data")
};
static DATA: Text = Text::new("data", "FILE", "the data behind it too, as CSV");
static RIG: Text =
    Text::new("rig", "NAME|FILE", "another rig than the lesson's: a shipped one or a file");

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let name = NAME.read(matches).unwrap_or_default();
    let (file, data_file, rig) = (FILE.read(matches), DATA.read(matches), RIG.read(matches));
    let theme = theme_option::read(matches)?;
    if name == "list" {
        for (given, flag) in [(file, "--output"), (data_file, "--data"), (rig, "--rig")] {
            if given.is_some() {
                return Err(Error::takes_no("chart list", flag));
            }
        }
        return Ok(list());
    }
    let figure = figure(name).map_err(|nearest| {
        let nearest = did_you_mean(nearest);
        Error::usage(format!("no chart \"{name}\"{nearest}; `quarterturn chart list` names them"))
    })?;
    let file = file.ok_or_else(|| Error::needs(&format!("chart {name}"), "-o FILE"))?;
    let kind = FileKind::of_path(file)?;
    if let Some(data) = data_file {
        if FileKind::of_path(data)? != FileKind::Csv {
            let why = "the data's file name must end in .csv";
            return Err(Error::usage(format!("--data: {data}: {why}")));
        }
        if same_place(Path::new(file), Path::new(data)) {
            return Err(Error::same_place(file));
        }
    }
    drawn(&FigureRequest { figure, file: (file, kind), data_file, theme, rig }, context)
}
