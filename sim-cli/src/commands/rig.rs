//! `rig`: the shipped rigs, a file's check, and the table of keys.

use crate::command::{Below, Command, Context, PLAIN};
use crate::error::Error;
use crate::options::Text;
use crate::report::Report;
use crate::results::rig::{self, RigCheck};
use crate::scenario::{as_it_stands, load_rig};
use clap::ArgMatches;
use sim_core::rig::keys::Setup;
use sim_core::run::start::flows_at_rest;

pub const COMMAND: Command = Command {
    name: "rig",
    group: "look-up",
    about: "The invented engines, the list of keys, a check of your file",
    example: "quarterturn rig show six --format toml",
    below: &[
        Below { name: "list", about: "The shipped rigs", options: &[], forms: FORMS },
        Below {
            name: "show",
            about: "Show one rig: every key with value and meaning",
            options: &[&SHOWN],
            forms: &["table", "toml", "csv", "json"],
        },
        Below {
            name: "check",
            about: "Check a rig file: exit code 3 and the place if something is wrong",
            options: &[&CHECKED],
            forms: FORMS,
        },
        Below {
            name: "keys",
            about: "Every key: name, unit, range, meaning",
            options: &[],
            forms: FORMS,
        },
    ],
    run,
    ..PLAIN
};

const FORMS: &[&str] = &["table", "csv", "json"];

const fn name(value: &'static str, meaning: &'static str) -> Text {
    Text { required: true, bare: true, ..Text::new("name", value, meaning) }
}

static SHOWN: Text = name("NAME|FILE", "a shipped rig or a rig file");
static CHECKED: Text = name("FILE", "a rig file, - for stdin");

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (what, matches) = matches.subcommand().ok_or_else(Error::no_command)?;
    match what {
        "list" => Ok(rig::list()),
        "keys" => Ok(rig::keys()),
        "check" => {
            let path = CHECKED.read(matches).unwrap_or_default();
            let file = load_rig(path)?;
            let setup = Setup { rig: file.rig, conditions: Default::default() };
            let point = as_it_stands(&file);
            let flows_at_rest = flows_at_rest(&setup);
            Ok(rig::check(RigCheck { path: path.into(), file, flows_at_rest, point }))
        }
        _ => {
            let file = load_rig(SHOWN.read(matches).unwrap_or_default())?;
            let toml = matches.get_one::<String>("format").is_some_and(|form| form == "toml");
            Ok(if toml { rig::toml(file) } else { rig::show(file) })
        }
    }
}
