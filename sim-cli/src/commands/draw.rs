//! `draw`: the machine in section, or its fuel side, with the numbers of a rig in a position.

use crate::chart;
use crate::command::{Command, Context, PLAIN};
use crate::drawing::picture::FileKind;
use crate::drawing::theme::Theme;
use crate::error::Error;
use crate::options::{Choice, Text};
use crate::report::Report;
use crate::results::draw::{DrawnMachine, Sheet, report};
use crate::scenario::EngineArgs;
use crate::theme_option::{self, THEME};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::section::{Position, section};
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "draw",
    group: "teach",
    about: "The machine drawn to scale: plate to slit, or the fuel side",
    example: "quarterturn draw --position rest -o machine.svg",
    options: &[&FILE, &SHEET, &POSITION, &THEME],
    conditions: Some(Conditions::default),
    report_to_file: false,
    run,
    ..PLAIN
};

static FILE: Text = Text {
    short: Some('o'),
    ..Text::new("output", "FILE", "the drawing's place: .svg, .png or .pdf")
};
static SHEET: Choice = Choice {
    flag: "sheet",
    value: "SHEET",
    words: &[Sheet::Metering.word(), Sheet::Fuel.word()],
    default: Some(Sheet::Metering.word()),
    meaning: "metering (plate to slits) or fuel (tank to injectors)",
};
static POSITION: Choice = Choice {
    flag: "position",
    value: "POSITION",
    words: &[
        Position::Rest.word(),
        Position::Touch.word(),
        Position::FirstFuel.word(),
        Position::WarmIdle.word(),
        Position::FullLoad.word(),
    ],
    default: Some(Position::WarmIdle.word()),
    meaning: "where the plate stands; full-load is the throttle open at 4000 rpm",
};
fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (sheet, position) = (SHEET.read(matches)?, POSITION.read(matches)?);
    // A figure of the course is drawn in the theme that is in force.
    let theme = match theme_option::read(matches)? {
        Theme::Print => Theme::now(),
        theme => theme,
    };
    let file = FILE.read(matches).ok_or_else(|| Error::needs("draw", "-o FILE"))?;
    let kind = FileKind::of_path(file)?;
    if kind == FileKind::Csv {
        let why =
            "a drawing's file name must end in .svg, .png or .pdf; --format csv prints its numbers";
        return Err(Error::usage(format!("{file}: {why}")));
    }
    let args = EngineArgs::read(matches)?.running();
    let place = Position::ALL.into_iter().find(|known| Some(known.word()) == position);
    let place = place.unwrap_or(Position::WarmIdle);
    let scenario = args.load(place.conditions())?;
    let theme_word = Some(theme.word());
    let command = ["quarterturn draw", &SHEET.canonical(sheet), &POSITION.canonical(position)]
        .concat()
        + &THEME.canonical(theme_word)
        + &scenario.flags;
    let fuel = sheet == Some(Sheet::Fuel.word());
    let drawn = Rc::new(DrawnMachine {
        command,
        section: section(&scenario.setup, place),
        scenario,
        sheet: if fuel { Sheet::Fuel } else { Sheet::Metering },
        file: file.into(),
    });
    let picture = theme.during(|| chart::machine::picture(&drawn));
    let mut report = report(&drawn);
    let bytes = picture.bytes(kind).map_err(Error::writing(file))?;
    report.files.push((file.into(), bytes));
    report.chart = Some(picture);
    Ok(report)
}
