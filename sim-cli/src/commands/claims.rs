//! `claims`: how often each rule of the trade holds, over many relatives of a rig.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Asked, Number, seed};
use crate::parallel;
use crate::report::Report;
use crate::results::claims::{RuleCounts, SmoothZones, report, rules};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::claims::{Bases, Counted, RIGS_MOST};
use sim_core::conditions::Conditions;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "claims",
    group: "teach",
    about: "How often each rule holds, over many rigs drawn about one",
    example: "quarterturn claims --rigs 100 --seed 7",
    options: &[&RIGS, &SEED, &REST],
    conditions: Some(Conditions::default),
    run,
    ..PLAIN
};

static RIGS: Number = Number {
    unit: "whole rigs",
    ..Number::whole(
        "rigs",
        "NUMBER",
        (1.0, RIGS_MOST as f64),
        "how many relatives of the rig to draw",
    )
    .or("500")
};
static SEED: Number = seed("seed of the draw");
static REST: Number = Number::new(
    "rest-mm",
    ("MM", "mm"),
    (0.0, 1.5),
    "their plates rest up to this much too high or too low",
)
.or("0.3");

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let asked = Asked::read([&RIGS, &SEED, &REST], matches)?;
    let scenario =
        EngineArgs::read(matches)?.running().turning_the_screw().load(Conditions::default())?;
    let [drawn, seed, rest_mm] = asked.checked()?;
    context.begin()?;
    let (drawn, seed) = (drawn as u64, seed as u64);
    let setup = &scenario.setup;
    let bases = Bases::of(&setup.rig);
    let counted = parallel::sum(
        drawn,
        |items| Counted::of(&bases, &setup.conditions, seed, items, 1e-3 * rest_mm),
        |mut sum, more| {
            sum.merge(&more);
            sum
        },
        Counted::new,
        |done| context.progress.show(done as f64 / drawn as f64),
    );
    let found = counted.claims();
    Ok(report(&Rc::new(RuleCounts {
        command: format!("quarterturn claims{}{}", asked.canonical(), scenario.flags),
        drawn,
        smooth_zones: found.as_ref().map(SmoothZones::of),
        rules: found.as_ref().map(rules).unwrap_or_default(),
        rest_mm,
        scenario,
    })))
}
