//! `run`: the engine in time, through a procedure.

use crate::alike::over;
use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Choice, Given, Number, Switch, on_or_off, seed};
use crate::procedure_option::PROCEDURE;
use crate::report::Report;
use crate::results::run::{BANDED, Run, RunIntervals, report};
use crate::results::trace::TraceWriter;
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::point::{Outcome, Point, Reading};
use sim_core::run::attribution::{FACTORS, attribute};
use sim_core::run::procedure::PULSATION_MOST_PERCENT;
use sim_core::run::record::{TraceRow, perform_streamed};
use sim_core::run::{Options, TICK_S};
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "run",
    group: "watch",
    about: "The minutes after a move of the screw, every meter traced",
    example: "quarterturn run --procedure throttle-release --every-ms 500",
    more_help: FILE,
    options: &[&PROCEDURE, &SEED, &EVERY_MS, &NOISE, &PULSATION, &BLAME],
    conditions: Some(Conditions::closed_loop),
    chart: true,
    readings: true,
    run,
    ..PLAIN
};

static SEED: Number = seed("seed of the noise, where there is any");
static EVERY_MS: Number = Number {
    unit: "ms, whole",
    default: Some("100"),
    ..Number::whole(
        "every-ms",
        "MS",
        (10.0, 60_000.0),
        "time from row to row of the trace, in steps of 10",
    )
};
/// Time of a tick (ms).
const TICK_MS: f64 = 1e3 * TICK_S;
static NOISE: Choice = on_or_off("noise", None, "scatter of the cycles' torque [the procedure's]");
static PULSATION: Number = Number::new(
    "pulsation-percent",
    ("PERCENT", "%"),
    (0.0, PULSATION_MOST_PERCENT),
    "amplitude of the intake's pulsation at the plate, of the flow, or the procedure's",
);
static BLAME: Switch = Switch {
    flag: "blame",
    meaning: "run again with each part in turn made quick: what each wait is owed to",
};

/// What a procedure's file looks like.
const FILE: &str = r#"A procedure of your own is a text file, as mine.toml:
  name = "mine"
  about = "a thirty-second out, wait, a blip"
  lasts_s = 120
  [[action]]
  at_s = 10
  turn = "-1/32"
  [[action]]
  at_s = 60
  blip = 2500
Actions: turn (turns), blip (rpm), throttle (%) with speed_rpm, unplug and plug ("lambda",
"actuator"), fit (mm of the air valve), set ("KEY=VALUE"), fail ("SENSOR=MODE"), wait (s).
key, starter, jumper, open_lines ("on" or "off"); lift_plate_mm (0 lets go), stand (s): on an
engine that stands. Where the key or the starter is turned on first, the engine stands to begin
with, its key off."#;

/// Cars like a fitted one that run beside it.
const RUNS: u64 = 60;

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (seed, every_ms) = (SEED.given(matches)?, EVERY_MS.given(matches)?);
    let (pulsation, noise) = (PULSATION.read(matches)?, NOISE.read(matches)?);
    let blame = BLAME.read(matches);
    let args = EngineArgs::read(matches)?;
    let (scenario, procedure, named) = PROCEDURE.load(matches, args, Conditions::closed_loop())?;
    let checked_seed = seed.checked()? as u64;
    let every_ms_checked = every_ms.checked()?;
    let every = (every_ms_checked / TICK_MS) as u64;
    if every_ms_checked % TICK_MS != 0.0 {
        return Err(Error::outside(format!(
            "--every-ms: {every_ms_checked} is no multiple of {TICK_MS}, the step of a run: {} or {}",
            every as f64 * TICK_MS,
            (every + 1) as f64 * TICK_MS
        )));
    }
    let pulsation_share = pulsation.map(|given| given.checked()).transpose()?.map(|p| 0.01 * p);
    let options = Options {
        seed: checked_seed,
        torque_noise: noise.map_or(procedure.noise, |word| word == "on"),
        pulsation: pulsation_share.unwrap_or(procedure.pulsation),
        ..Options::default()
    };
    context.begin()?;
    let progress = &mut *context.progress;
    let runs = if blame { FACTORS.len() + 2 } else { 1 } as f64;
    let first = |share: f64| progress.show(share / runs);
    let mut trace = TraceWriter::new();
    let keep = |row: &TraceRow| trace.push(row);
    let record =
        perform_streamed(&scenario.setup, &procedure, options, every, first, |_| {}, keep)?;
    let trace = trace.finish().map_err(Error::writing("a temporary file"))?;
    let banded: Vec<&Reading> = BANDED.iter().filter_map(|name| Reading::find(name)).collect();
    let intervals = over(&scenario.file, RUNS, |alike| {
        let setup = alike(&scenario.setup)?;
        let mut rows = Vec::new();
        let mut screw_turns = 0.0;
        let keep = |row: &TraceRow| {
            screw_turns = row.screw_turns;
            let value = |i: usize| row.state.as_ref().and_then(|state| banded[i].value(state));
            rows.push([0, 1, 2, 3].map(|i| value(i).map_or(f32::NAN, |value| value as f32)));
        };
        let run =
            perform_streamed(&setup, &procedure, options, every, |_| {}, |_| {}, keep).ok()?;
        let outcome = Outcome::Running(run.last?);
        Some((Point { screw_turns, outcome }, rows))
    })?;
    let intervals = intervals.map(|runs| RunIntervals::of(&runs, every as f64 * TICK_S));
    let rest = |share: f64| progress.show((1.0 + share * (runs - 1.0)) / runs);
    let attribution = match blame {
        true => attribute(&scenario.setup, &procedure, options, rest)?,
        false => None,
    };
    let asks_noise = noise.filter(|_| options.torque_noise != procedure.noise);
    let asks_pulsation = pulsation.filter(|_| options.pulsation != procedure.pulsation);
    let command = [
        format!("quarterturn run{named}"),
        NOISE.canonical(asks_noise),
        if options.torque_noise { seed.canonical() } else { String::new() },
        asks_pulsation.as_ref().map(Given::canonical).unwrap_or_default(),
        BLAME.canonical(blame) + &every_ms.canonical() + &scenario.flags,
    ]
    .concat();
    let shaken = options.torque_noise || options.pulsation > 0.0;
    let run = Rc::new(Run {
        scenario,
        procedure,
        record,
        trace,
        shaken,
        attribution,
        intervals,
        command,
    });
    let mut report = report(&run);
    if !options.torque_noise {
        report.note_idle(matches, &[SEED.flag], "there is no noise");
    }
    Ok(report.drawn(matches, || crate::chart::run::picture(&run)))
}
