//! `readings`: a file of readings to fill in, and whether one can be read.

use crate::command::{Below, Command, Context, PLAIN};
use crate::error::Error;
use crate::given::GivenArgs;
use crate::options::Text;
use crate::report::Report;
use crate::results::readings;
use crate::scenario::{RIG, RIG_DEFAULT, load_rig};
use clap::ArgMatches;
use sim_core::conditions::Conditions;

pub const COMMAND: Command = Command {
    name: "readings",
    group: "find",
    about: "A file of readings to fill in, and a check of yours",
    example: "quarterturn readings template",
    below: &[
        Below {
            name: "template",
            about: "Print a file to fill in, with every column's meaning",
            options: &[],
            forms: &["table", "csv", "json"],
        },
        Below {
            name: "check",
            about: "Check a file: exit code 3 and the place if something is wrong",
            options: &[&CHECKED, &RIG],
            forms: &["table", "csv", "json"],
        },
    ],
    run,
    ..PLAIN
};

static CHECKED: Text = Text {
    required: true,
    bare: true,
    ..Text::new("readings", "FILE", "a file of readings, - for stdin")
};

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (what, matches) = matches.subcommand().ok_or_else(Error::no_command)?;
    if what == "template" {
        return Ok(readings::template());
    }
    let given = GivenArgs::of_file(CHECKED.read(matches).unwrap_or_default());
    let file = load_rig(RIG.read(matches).unwrap_or(RIG_DEFAULT))?;
    let sheet = given.sheet(&file.rig, &Conditions::closed_loop())?;
    Ok(readings::checked(sheet.readings(), sheet.ear()))
}
