//! `consequences`: a prerequisite that is left out, and what comes of it on the road.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::failures;
use crate::options::{Given, Number, Numbers, Text};
use crate::parallel;
use crate::report::Report;
use crate::results::consequences::{Followed, report};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::consequences::of;
use sim_core::point::Point;
use sim_core::sense::faults::SensorFault;
use sim_core::steady::SteadyEngine;
use sim_core::voltage::left_at;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "consequences",
    group: "watch",
    about: "What comes of a wrong voltage or of a failed sensor",
    example: "quarterturn consequences --volts 0.60 0.85",
    options: &[&VOLTS, &OF, &COLD],
    conditions: Some(Conditions::closed_loop),
    run,
    ..PLAIN
};

static VOLTS: Numbers = Numbers {
    each: Number::new(
        "volts",
        ("VOLTS", "V"),
        (0.1, 2.0),
        "voltages that the warm idle is left at, or 0.60, 0.70 and 0.85",
    ),
    commas: false,
};
static OF: Text = Text {
    repeated: true,
    ..Text::new("of", "SENSOR=MODE", "a sensor that has failed, as with --fail, beside a sound car")
};
static COLD: Number =
    Number::new("cold-degc", ("NUMBER", "degC"), (-30.0, 40.0), "the cold start of the voltages")
        .or("-5");
/// Voltages unless some are given (V).
const VOLTAGES: [f64; 3] = [0.60, 0.70, 0.85];

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (volts, cold) = (VOLTS.read(matches)?, COLD.given(matches)?);
    let faults: Vec<SensorFault> =
        OF.all(matches).map(|pair| failures::fault("--of", pair)).collect::<Result<_, _>>()?;
    let scenario = EngineArgs::read(matches)?.running().load(Conditions::closed_loop())?;
    let given = volts.iter().map(Given::checked).collect::<Result<Vec<f64>, Error>>()?;
    let cold_degc = cold.checked()?;
    let volts = match given.is_empty() && faults.is_empty() {
        true => VOLTAGES.to_vec(),
        false => given,
    };
    let typed = match volts == VOLTAGES && faults.is_empty() {
        true => String::new(),
        false => VOLTS.canonical(&volts),
    };
    let of_faults: String = faults.iter().map(|fault| format!(" --of {fault}")).collect();
    let setup = &scenario.setup;
    let sound: Point =
        SteadyEngine::new(&setup.rig, &setup.conditions).point(setup.conditions.screw_turns);
    context.begin()?;
    // An engine that does not run is a result: nothing can be done to it, and why.
    let reason = sound.stall().map(ToString::to_string);
    let (volts_told, faults_told) = match reason {
        Some(_) => (&[][..], &[][..]),
        None => (&volts[..], &faults[..]),
    };
    let jobs = volts_told.len() + faults_told.len();
    let mut show = |done: usize| context.progress.show(done as f64 / jobs as f64);
    let left = parallel::map(volts_told, |volts| left_at(setup, *volts, cold_degc), &mut show);
    let failed = parallel::map(
        faults_told,
        |fault| of(setup, *fault),
        |done| {
            show(volts_told.len() + done);
        },
    );
    let told_of_volts = !volts.is_empty();
    let mut report = report(&Rc::new(Followed {
        command: format!(
            "quarterturn consequences{typed}{of_faults}{}{}",
            cold.canonical(),
            scenario.flags
        ),
        cold_degc,
        reason,
        left: left.into_iter().collect::<Result<_, _>>()?,
        failed: failed.into_iter().collect::<Result<_, _>>()?,
        scenario,
    }));
    if !told_of_volts {
        report.note_idle(matches, &[COLD.flag], "it is a start at the voltages, and none is asked");
    }
    Ok(report)
}
