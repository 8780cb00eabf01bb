//! `fit`: a rig made into one car by its readings.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::given::{Filled, GivenArgs, READING, READINGS};
use crate::options::{Number, Text, seed};
use crate::parallel;
use crate::report::Report;
use crate::results::fit::{Fit, report};
use crate::results::fit_trial::{FitTrial, trial_report};
use crate::scenario::{EngineArgs, Scenario};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::diagnose::car::Law;
use sim_core::fit::car_file::rig_file;
use sim_core::fit::posterior::fit;
use sim_core::fit::question::Question;
use sim_core::fit::trial::{Scores, Tried, laws, question, tried};
use sim_core::rig::file::to_toml;
use std::path::PathBuf;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "fit",
    group: "find",
    about: "A rig made into your car by its readings, and how sure that is",
    example: "quarterturn fit --reading duty_percent=75 --reading potentiometer_v=0.74 --reading vacuum_bar=0.62",
    more_help: TOLD,
    options: &[&READINGS, &READING, &FILE, &TRIAL, &SEED],
    conditions: Some(Conditions::closed_loop),
    report_to_file: false,
    run,
    ..PLAIN
};

/// What the file is good for.
const TOLD: &str = "\
`-o my-car.toml` writes the rig with what was found. `--rig my-car.toml` then takes it anywhere:
screw 0 is where it was found, and `predict`, `sweep` and `run` tell intervals that hold in 90 of
100 cases. Rows with the screw turned and the mark smooth or rough by ear tell the edges.
`--trial 1000` tells how often the intervals hold.";

static FILE: Text = Text {
    short: Some('o'),
    ..Text::new("output", "FILE", "where the car is written: a rig file, .toml")
};
static TRIAL: Number = Number {
    unit: "whole cars",
    ..Number::whole(
        "trial",
        "NUMBER",
        (1.0, 100_000.0),
        "how good it is: so many cars whose parts are known, and some of other laws",
    )
};
static SEED: Number = seed("seed of the trial's cars");

/// Cars of each other law, against those of the same.
const OTHERS: u64 = 4;

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let given = GivenArgs::read(matches)?;
    let (cars, seed) = (TRIAL.read(matches)?, SEED.given(matches)?);
    let place = FILE.read(matches);
    if let Some(place) = place.filter(|place| !place.ends_with(".toml")) {
        return Err(Error::usage(format!("--output: {place}: the car's name must end in .toml")));
    }
    let args = EngineArgs::read(matches)?.running();
    if cars.is_some() {
        let excluded = [("--reading or a file", !given.is_empty()), ("--output", place.is_some())];
        if let Some((flag, _)) = excluded.iter().find(|(_, there)| *there) {
            return Err(Error::takes_no("--trial", flag));
        }
    }
    if given.is_empty() && cars.is_none() {
        let words = "readings (a file, or --reading KEY=VALUE) or --trial";
        return Err(Error::needs("fit", words));
    }
    if let Some(cars) = cars {
        let scenario = args.load(Conditions::closed_loop())?;
        return trial((cars.checked()? as u64, seed.checked()? as u64), scenario, context);
    }
    let (scenario, Filled { sheet, lines }) = given.load(args)?;
    let (question, not_used) = Question::of_sheet(&scenario.setup, &sheet);
    context.begin()?;
    let no_idle = || Error::outside("the rig does not idle under these conditions: nothing to fit");
    let fitted = fit(&question).ok_or_else(no_idle)?;
    let car = rig_file(&scenario.file, &fitted).ok_or_else(no_idle)?;
    let command = format!("quarterturn fit{}{}", given.canonical(), scenario.flags);
    let found = Fit::new((command, scenario), (&sheet, &lines, &not_used), &fitted);
    let mut report = report(&Rc::new(found), place);
    report.note_idle(matches, &[SEED.flag], "it is the seed of a --trial");
    if let Some(place) = place {
        report.files.push((PathBuf::from(place), to_toml(&car).into_bytes()));
    }
    Ok(report)
}

fn trial(
    (cars, seed): (u64, u64),
    scenario: Scenario,
    context: &mut Context<'_, '_>,
) -> Result<Report, Error> {
    let question = question(&scenario.setup);
    let cars_of = |law: Law| if law == Law::Same { cars } else { cars.div_ceil(OTHERS) };
    let items: Vec<(u64, u64, Law)> =
        laws().flat_map(|law| (0..cars_of(law)).map(move |number| (seed, number, law))).collect();
    let count = items.len() as f64;
    let found = parallel::map(
        &items,
        |item| tried(&question, *item),
        |done| context.progress.show(done as f64 / count),
    );
    let found: Vec<Tried> = found.into_iter().flatten().collect();
    let scores = laws().map(|law| Scores::of(&found, law)).collect();
    let seeds = if seed == 1 { String::new() } else { format!(" --seed {seed}") };
    let command = format!("quarterturn fit --trial {cars}{seeds}{}", scenario.flags);
    Ok(trial_report(&Rc::new(FitTrial::new(command, scenario, scores, &question))))
}
