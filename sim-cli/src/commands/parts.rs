//! `parts`: what each part that is off does, and which repair calls for a new setting.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::report::Report;
use crate::results::parts::{PartsEffects, Thresholds, report};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::{Conditions, Trim};
use sim_core::parts::effects;
use sim_core::run::start::flows_at_rest;
use sim_core::steady::SteadyEngine;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "parts",
    group: "watch",
    about: "What each bad part does, and which repair wants a new setting",
    example: "quarterturn parts --rig four",
    conditions: Some(Conditions::closed_loop),
    run,
    ..PLAIN
};

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let scenario = EngineArgs::read(matches)?.running().load(Conditions::closed_loop())?;
    let setup = &scenario.setup;
    let untrimmed = Conditions { trim: Trim::Off, ..setup.conditions };
    let sound = [setup.conditions, untrimmed]
        .map(|conditions| SteadyEngine::new(&setup.rig, &conditions).point(conditions.screw_turns));
    // An engine that does not run is a result: no part can be told from it, and why.
    let effects = effects(setup).unwrap_or_default();
    Ok(report(&Rc::new(PartsEffects {
        command: format!("quarterturn parts{}", scenario.flags),
        calls_for_a_setting_beyond: Thresholds::of_the_model(),
        reason: sound[0].stall().map(ToString::to_string),
        effects,
        fuel_flows_at_rest: flows_at_rest(setup),
        sound,
        scenario,
    })))
}
