//! `coldstart`: from the key to an idle of its own, or why not.

use crate::chart;
use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Asked, Number, Switch};
use crate::parallel;
use crate::progress::Progress;
use crate::report::Report;
use crate::results::coldmap::{self, ColdMap, DEGC, Field, LOOKED_MAP_S, TURNS, degc_at, turns_at};
use crate::results::coldstart::{self, ColdStart, Fate};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;
use sim_core::run::start::{StartOutcome, fate, flows_at_rest, start, tries};
use sim_core::run::{Options, RunFault};
use sim_core::units::ZERO_CELSIUS_K;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "coldstart",
    group: "start",
    about: "From the key to an idle of its own, or why it does not start",
    example: "quarterturn coldstart --ambient-degc -5 --screw -1/16",
    options: &[&MAP, &TRIES],
    conditions: Some(Conditions::closed_loop),
    chart: true,
    run,
    ..PLAIN
};

static MAP: Switch =
    Switch { flag: "map", meaning: "a map over temperature and screw instead: 40 x 40 starts" };

static TRIES: Number = Number::whole(
    "tries",
    "NUMBER",
    (1.0, 20.0),
    "tries at most: the starter for 10 s each, half a minute between them",
)
.or("1");

/// How long the starter is turned at most, and how long the engine is looked at (s).
const CRANKED_S: f64 = 10.0;
/// See [`CRANKED_S`].
const LOOKED_S: f64 = 60.0;

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let asked = Asked::read([&TRIES], matches)?;
    let args = EngineArgs::read(matches)?
        .without(&["throttle_percent"], "an engine is started with the pedal released");
    let map = MAP.read(matches);
    let args = match map {
        true => args.without(&["screw", "ambient_degc"], "the map goes over temperature and screw"),
        false => args,
    };
    let own =
        OwnTemperatures { coolant: !args.gives("coolant_degc"), fuel: !args.gives("fuel_degc") };
    let mut scenario = args.load(Conditions::closed_loop())?;
    own.cool(&mut scenario.setup);
    let tries = if map { String::new() } else { asked.canonical() };
    let command = [&MAP.canonical(map), &tries, &scenario.flags].map(String::as_str).concat();
    let command = format!("quarterturn coldstart{command}");
    let [most] = asked.checked()?;
    context.begin()?;
    if map {
        let fields = fields(&scenario.setup, own, context.progress)?;
        let map = Rc::new(ColdMap::of(command, scenario, fields));
        let mut report = coldmap::report(&map);
        report.note_idle_flags(&map.scenario);
        report.note_idle(matches, &[TRIES.flag], "each start of the map is one try");
        return Ok(report.drawn(matches, || chart::coldmap::picture(&map)));
    }
    let (fate, failed) = tried_again(&scenario.setup, most as usize)?;
    let cold = Rc::new(ColdStart::of(command, scenario, fate, failed));
    let mut report = coldstart::report(&cold);
    report.note_idle_flags(&cold.scenario);
    Ok(report.drawn(matches, || chart::coldstart::picture(&cold)))
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

/// The last of so many tries at most, and why those before it failed.
fn tried_again(setup: &Setup, most: usize) -> Result<(Fate, Vec<String>), RunFault> {
    if most == 1 || flows_at_rest(setup) {
        return Ok((tried(setup, LOOKED_S, start)?, Vec::new()));
    }
    let mut found = tries(setup, Options::default(), most, LOOKED_S)?;
    let last = found.pop().unwrap_or_default();
    let failed = found.iter().filter_map(|found| Some(found.reason?.to_string())).collect();
    Ok((Fate::Tried(Box::new(last)), failed))
}

/// A start tried by a way of looking at it: at most so long cranked and so long in all (s).
fn tried(
    setup: &Setup,
    looked_s: f64,
    how: impl Fn(&Setup, Options, f64, f64) -> Result<StartOutcome, RunFault>,
) -> Result<Fate, RunFault> {
    if flows_at_rest(setup) {
        return Ok(Fate::Hazard);
    }
    how(setup, Options::default(), CRANKED_S, looked_s).map(|found| Fate::Tried(Box::new(found)))
}

fn fields(
    setup: &Setup,
    own: OwnTemperatures,
    progress: &mut Progress<'_>,
) -> Result<Vec<Vec<Field>>, RunFault> {
    let places: Vec<(usize, usize)> =
        (0..DEGC.2).flat_map(|row| (0..TURNS.2).map(move |column| (row, column))).collect();
    let field = |&(row, column): &(usize, usize)| {
        let mut here = *setup;
        here.conditions.ambient_k = degc_at(row) + ZERO_CELSIUS_K;
        own.cool(&mut here);
        here.conditions.screw_turns = turns_at(column);
        Ok(Field::of(row, column, &tried(&here, LOOKED_MAP_S, fate)?))
    };
    let show = |done| progress.show(done as f64 / places.len() as f64);
    let mut fields = parallel::map(&places, field, show).into_iter();
    (0..DEGC.2).map(|_| fields.by_ref().take(TURNS.2).collect()).collect()
}
