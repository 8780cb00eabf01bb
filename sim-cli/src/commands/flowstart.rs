//! `flowstart`: the static setting, and what the rest height does to it.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::Number;
use crate::report::Report;
use crate::results::flowstart::{StaticSetting, report};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::flowstart::flow_start;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "flowstart",
    group: "set",
    about: "Where fuel just flows, the way back, and how it then runs",
    example: "quarterturn flowstart --back-off 1/4",
    options: &[&BACK_OFF],
    conditions: Some(Conditions::default),
    run,
    ..PLAIN
};

static BACK_OFF: Number = Number::new(
    "back-off",
    ("TURNS", "turns"),
    (-1.0, 1.0),
    "how far back from where fuel just flows",
)
.or("1/4");

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let back_off = BACK_OFF.given(matches)?;
    let args = EngineArgs::read(matches)?.running().turning_the_screw();
    let scenario = args.load(Conditions::default())?;
    let back_off_turns = back_off.checked()?;
    let found = flow_start(&scenario.setup, back_off_turns).ok_or_else(|| Error::outside("no line ever passes the flow that counts as fuel showing (rig key flow_threshold_ml_min), even with the slits full open"))?;
    let command = format!("quarterturn flowstart{}{}", back_off.canonical(), scenario.flags);
    Ok(report(&Rc::new(StaticSetting::of(command, scenario, back_off_turns, found))))
}
