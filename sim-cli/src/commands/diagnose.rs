//! `diagnose`: from readings to the cause, and the one check that tells most.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::given::{Filled, GivenArgs, READING, READINGS};
use crate::options::{Number, Switch, seed};
use crate::parallel;
use crate::report::Report;
use crate::results::diagnose::{Diagnosis, TrialScores, causes_report, report, trial_report};
use crate::scenario::{EngineArgs, Scenario};
use crate::weighed::{MEMBERS_MOST, Weighed, library};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::diagnose::car::Asked;
use sim_core::diagnose::causes::causes_of;
use sim_core::diagnose::checks::groups;
use sim_core::diagnose::library::Plan;
use sim_core::diagnose::sheet::Slot;
use sim_core::diagnose::trial::observer::{self, Observer};
use sim_core::diagnose::trial::{Scores, Tried, roles, tried};
use sim_core::rig::Rig;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "diagnose",
    group: "find",
    about: "From readings to the cause, and the one check that tells most",
    example: "quarterturn diagnose --reading duty_percent=85 --reading potentiometer_v=0.671 --reading co_percent=0.57 --reading system_bar=5.4",
    more_help: "`quarterturn diagnose causes` lists what can be found. `quarterturn readings template` prints a file of readings to fill in. `--trial 300` tells how often it is right.",
    options: &[&READINGS, &READING, &CHECKS, &ALONE, &TRIAL, &SEED, &OBSERVER],
    conditions: Some(Conditions::closed_loop),
    run,
    ..PLAIN
};

static CHECKS: Switch = Switch { flag: "checks", meaning: "every check, the one worth most first" };
static ALONE: Switch = Switch { flag: "alone", meaning: "single causes only: no two at once" };
static TRIAL: Number = Number {
    unit: "whole cars",
    ..Number::whole(
        "trial",
        "NUMBER",
        (1.0, 100_000.0),
        "how often it is right: so many cars with a single cause, and others beside them",
    )
};
static SEED: Number = seed("seed of the trial's cars");

static OBSERVER: Switch = Switch {
    flag: "observer",
    meaning: "with --trial: beside it an observer who knows the model (some minutes)",
};
/// Relatives that the observer has of each strength of each cause.
const OBSERVED: usize = 400;

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let given = GivenArgs::read(matches)?;
    let (checks, alone) = (CHECKS.read(matches), ALONE.read(matches));
    let observed = OBSERVER.read(matches);
    let (cars, seed) = (TRIAL.read(matches)?, SEED.given(matches)?);
    let args = EngineArgs::read(matches)?.running();
    let wants_causes = given.asks_for("causes");
    for (what, takes_none) in [("diagnose causes", wants_causes), ("--trial", cars.is_some())] {
        let excluded = [
            ("--checks", checks),
            ("--alone", alone),
            ("--observer", observed && cars.is_none()),
            ("--reading or a file", !given.is_empty() && !given.asks_for("causes")),
            ("--trial", wants_causes && cars.is_some()),
        ];
        if let Some((flag, _)) = excluded.iter().find(|(_, there)| takes_none && *there) {
            return Err(Error::takes_no(what, flag));
        }
    }
    if observed && cars.is_none() {
        return Err(Error::needs("--observer", "--trial"));
    }
    if given.is_empty() && cars.is_none() {
        let words = "readings (a file, or --reading KEY=VALUE), `causes` or --trial";
        return Err(Error::needs("diagnose", words));
    }
    if wants_causes {
        let scenario = args.load(Conditions::closed_loop())?;
        return Ok(causes_report(&causes_of(&scenario.setup.rig)));
    }
    if let Some(cars) = cars {
        let scenario = args.load(Conditions::closed_loop())?;
        let of = (cars.checked()? as u64, seed.checked()? as u64, observed);
        return trial(of, scenario, context);
    }
    let (scenario, Filled { sheet, .. }) = given.load(args)?;
    let rig = scenario.setup.rig;
    let weighed = Weighed::of((&scenario.file, &rig), &sheet, !alone)?;
    let mut report = report(&Rc::new(Diagnosis::new(
        format!(
            "quarterturn diagnose{}{}{}{}",
            given.canonical(),
            CHECKS.canonical(checks),
            ALONE.canonical(alone),
            scenario.flags
        ),
        scenario,
        &sheet,
        (&weighed.library, &weighed.posterior, &weighed.reads),
        (&weighed.check_library, &weighed.worths, checks),
    )));
    report.note_idle(matches, &[SEED.flag], "it is the seed of a --trial");
    Ok(report)
}

fn all_slots(lines: usize) -> Vec<Slot> {
    groups(lines).into_iter().flatten().collect()
}

fn trial(
    (cars, seed, observed): (u64, u64, bool),
    scenario: Scenario,
    context: &mut Context<'_, '_>,
) -> Result<Report, Error> {
    let rig: Rig = scenario.setup.rig;
    let lines = rig.parts().slits.width_m.len();
    let plan = Plan::new(&rig, &Asked::default(), all_slots(lines), MEMBERS_MOST);
    let tasks = plan.tasks.len();
    // The library takes about as long as a hundred cars.
    let made = 0.2;
    let library =
        library(plan, &[], &mut |done| context.progress.show(made * done as f64 / tasks as f64));
    let observer = observed.then(|| {
        let plan = observer::Plan::new(&rig, &library, OBSERVED);
        let worked = parallel::map(&plan.tasks, |task| plan.work(task), |_| {});
        Observer::of(&plan, &worked)
    });
    let items: Vec<_> = roles(cars)
        .into_iter()
        .flat_map(|(role, count)| (0..count).map(move |number| (seed, role, number)))
        .collect();
    let count = items.len() as f64;
    let found = parallel::map(
        &items,
        |item| tried(&rig, &library, observer.as_ref(), *item),
        |done| {
            context.progress.show(made + (1.0 - made) * done as f64 / count);
        },
    );
    let found: Vec<Tried> = found.into_iter().flatten().collect();
    let scores = Scores::of(&found, library.causes.len());
    let flags = &scenario.flags;
    let seeds = if seed == 1 { String::new() } else { format!(" --seed {seed}") };
    let observer = OBSERVER.canonical(observed);
    let command = format!("quarterturn diagnose --trial {cars}{seeds}{observer}{flags}");
    Ok(trial_report(&Rc::new(TrialScores::new(command, scenario, scores, &library))))
}
