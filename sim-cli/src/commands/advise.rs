//! `advise`: the next move, what the meters should then show, when to stop.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::given::{Filled, GivenArgs, READING, READINGS};
use crate::options::{Number, seed};
use crate::parallel;
use crate::report::Report;
use crate::results::advise::{AdviseTrial, Advised, report, trial_report};
use crate::scenario::{EngineArgs, Scenario};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::diagnose::car::Law;
use sim_core::fit::advise::{Belief, Wanted, advise};
use sim_core::fit::bench_trial::{Played, Scores, first_look, played};
use sim_core::fit::posterior::fit;
use sim_core::fit::question::Question;
use sim_core::fit::trial::laws;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "advise",
    group: "find",
    about: "The next move of screw or housing, and what then shows",
    example: "quarterturn advise --reading duty_percent=75 --reading potentiometer_v=0.74 --reading vacuum_bar=0.67 --reading system_bar=5.4 --reading drop_1_rpm=60",
    more_help: TOLD,
    options: &[&READINGS, &READING, &VOLTS, &TRIAL, &SEED],
    conditions: Some(Conditions::closed_loop),
    run,
    ..PLAIN
};

/// What is asked for, and when nothing is moved.
const TOLD: &str = "\
Wanted: warm idle, duty 50 %, and the voltage. No move before ignition (drop_N_rpm), leaks
(vacuum_bar) and pressure (system_bar) have been read. Write what you read after a move as a new
row, the screw counted from where it was found: the last row is where it stands. `--trial 1000`
plays it on hidden cars, beside the way of the ear.";

static VOLTS: Number = Number::new(
    "volts",
    ("VOLTS", "V"),
    (0.05, 5.0),
    "what the airflow potentiometer is to show at the warm idle",
)
.or("0.7");
static TRIAL: Number = Number {
    unit: "whole engines",
    ..Number::whole(
        "trial",
        "NUMBER",
        (1.0, 100_000.0),
        "plays it on so many hidden engines, and on some of other laws",
    )
};
static SEED: Number = seed("seed of the trial's engines");

/// Engines of each other law, against those of the same.
const OTHERS: u64 = 4;

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let given = GivenArgs::read(matches)?;
    let (engines, seed) = (TRIAL.read(matches)?, SEED.given(matches)?);
    let volts = VOLTS.given(matches)?;
    let args = EngineArgs::read(matches)?.running();
    if engines.is_some() && !given.is_empty() {
        return Err(Error::takes_no("--trial", "--reading or a file"));
    }
    if given.is_empty() && engines.is_none() {
        let words = "readings (a file, or --reading KEY=VALUE) or --trial";
        return Err(Error::needs("advise", words));
    }
    if let Some(engines) = engines {
        let scenario = args.load(Conditions::closed_loop())?;
        let asked = (engines.checked()? as u64, seed.checked()? as u64, volts.checked()?);
        return trial(asked, volts.canonical(), scenario, context);
    }
    let (scenario, Filled { sheet, .. }) = given.load(args)?;
    let wanted_v = volts.checked()?;
    let (question, _) = Question::of_sheet(&scenario.setup, &sheet);
    context.begin()?;
    let no_idle =
        || Error::outside("the rig does not idle under these conditions: nothing to advise");
    let fitted = fit(&question).ok_or_else(no_idle)?;
    let mut belief = Belief::of(&fitted);
    // The last row of the idle is where the screw stands now.
    let mut idle = question.reads.iter().filter_map(|read| read.slot.taken());
    let turned = idle.rfind(|taken| !taken.fast).map_or(0.0, |taken| taken.screw_turns);
    belief.turned(turned);
    let names: Vec<&str> = sheet.readings().iter().map(|given| given.slot.kind.name()).collect();
    let wanted =
        Wanted { potentiometer_v: wanted_v, read: &names, meter_ohm: sheet.asked().meter_ohm };
    let advice = advise(&belief, &wanted).ok_or_else(no_idle)?;
    let plate_arm_m = scenario.setup.rig.parts().lever.plate_arm_m;
    let command =
        format!("quarterturn advise{}{}{}", given.canonical(), volts.canonical(), scenario.flags);
    let found = Advised::new((command, scenario), &advice, (turned, wanted_v, plate_arm_m));
    let mut report = report(&Rc::new(found));
    report.note_idle(matches, &[SEED.flag], "it is the seed of a --trial");
    Ok(report)
}

fn trial(
    (engines, seed, wanted_v): (u64, u64, f64),
    volts: String,
    scenario: Scenario,
    context: &mut Context<'_, '_>,
) -> Result<Report, Error> {
    let question = first_look(&scenario.setup);
    let count = |law: Law| if law == Law::Same { engines } else { engines.div_ceil(OTHERS) };
    let items: Vec<(u64, u64, Law)> =
        laws().flat_map(|law| (0..count(law)).map(move |number| (seed, number, law))).collect();
    let all = items.len() as f64;
    let found = parallel::map(
        &items,
        |item| played(&question, wanted_v, *item),
        |done| context.progress.show(done as f64 / all),
    );
    let found: Vec<Played> = found.into_iter().flatten().collect();
    let scores = laws().map(|law| Scores::of(&found, law)).collect();
    let seeds = if seed == 1 { String::new() } else { format!(" --seed {seed}") };
    let command = format!("quarterturn advise --trial {engines}{seeds}{volts}{}", scenario.flags);
    Ok(trial_report(&Rc::new(AdviseTrial::new(command, scenario, scores))))
}
