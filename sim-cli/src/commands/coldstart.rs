//! `coldstart`: from the key to an idle of its own, or why not.

use crate::chart;
use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::Switch;
use crate::parallel;
use crate::progress::Progress;
use crate::report::Report;
use crate::results::coldmap::{self, ColdMap, DEGC, Field, LOOKED_MAP_S, TURNS, degc_at, turns_at};
use crate::results::coldstart::{self, ColdStart, Fate};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;
use sim_core::run::start::{flows_at_rest, start};
use sim_core::run::{Options, RunFault};
use sim_core::units::ZERO_CELSIUS_K;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "coldstart",
    group: "start",
    about: "From the key to an idle of its own, or why it does not start",
    example: "quarterturn coldstart --ambient-degc -5 --screw -1/16",
    options: &[&MAP],
    conditions: Some(Conditions::closed_loop),
    chart: true,
    run,
    ..PLAIN
};

static MAP: Switch =
    Switch { flag: "map", meaning: "a map over temperature and screw instead: 40 x 40 starts" };

/// How long the starter is turned at most, and how long the engine is looked at (s).
const CRANKED_S: f64 = 10.0;
/// See [`CRANKED_S`].
const LOOKED_S: f64 = 60.0;

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let args = EngineArgs::read(matches)?;
    let own =
        OwnTemperatures { coolant: !args.gives("coolant_degc"), fuel: !args.gives("fuel_degc") };
    let mut scenario = args.load(Conditions::closed_loop())?;
    own.cool(&mut scenario.setup);
    let map = MAP.read(matches);
    let command = format!("quarterturn coldstart{}{}", MAP.canonical(map), scenario.flags);
    if map {
        let fields = fields(&scenario.setup, own, context.progress)?;
        let map = Rc::new(ColdMap::of(command, scenario, fields));
        return Ok(coldmap::report(&map).drawn(matches, || chart::coldmap::picture(&map)));
    }
    let fate = tried(&scenario.setup, LOOKED_S)?;
    let cold = Rc::new(ColdStart::of(command, scenario, fate));
    Ok(coldstart::report(&cold).drawn(matches, || chart::coldstart::picture(&cold)))
}

/// Which temperatures are the ambient's, because none was given.
#[derive(Clone, Copy)]
struct OwnTemperatures {
    coolant: bool,
    fuel: bool,
}

impl OwnTemperatures {
    /// A cold start: coolant at the ambient and fuel with it, unless they were given.
    fn cool(self, setup: &mut Setup) {
        let conditions = &mut setup.conditions;
        if self.coolant {
            conditions.coolant_k = conditions.ambient_k;
        }
        if self.fuel && conditions.coolant_k == conditions.ambient_k {
            conditions.fuel_k = conditions.ambient_k;
        }
    }
}

fn tried(setup: &Setup, looked_s: f64) -> Result<Fate, RunFault> {
    if flows_at_rest(setup) {
        return Ok(Fate::Hazard);
    }
    start(setup, Options::default(), CRANKED_S, looked_s).map(|found| Fate::Tried(Box::new(found)))
}

fn fields(
    setup: &Setup,
    own: OwnTemperatures,
    progress: &mut Progress<'_>,
) -> Result<Vec<Vec<Field>>, RunFault> {
    let rows: Vec<usize> = (0..DEGC.2).collect();
    let field = |row: usize, column: usize| {
        let mut here = *setup;
        here.conditions.ambient_k = degc_at(row) + ZERO_CELSIUS_K;
        own.cool(&mut here);
        here.conditions.screw_turns = turns_at(column);
        Ok(Field::of(row, column, &tried(&here, LOOKED_MAP_S)?))
    };
    let fields = parallel::map(
        &rows,
        |row| (0..TURNS.2).map(|column| field(*row, column)).collect(),
        |done| progress.show(done as f64 / DEGC.2 as f64),
    );
    fields.into_iter().collect()
}
