//! `meter`: what a needle or a digital voltmeter shows of the airflow potentiometer.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Asked, Choice, Number, on_or_off, seed};
use crate::procedure_option::PROCEDURE;
use crate::report::Report;
use crate::results::meter::{MeterReading, report};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::run::voltmeter::{metered, shaken};
use sim_core::sense::meter::{Digital, Meter, Needle};
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "meter",
    group: "watch",
    about: "What a needle and a digital voltmeter show of the potentiometer",
    example: "quarterturn meter --procedure screw-wait --kind digital",
    options: &[&PROCEDURE, &KIND, &CLASS, &RANGE, &OHM_PER_VOLT, &NOISE, &SEED],
    conditions: Some(Conditions::closed_loop),
    chart: true,
    run,
    ..PLAIN
};

static KIND: Choice = Choice {
    flag: "kind",
    value: "needle|digital",
    words: &["needle", "digital"],
    default: Some("needle"),
    meaning: "which instrument",
};
/// Accuracy classes: from the finest to the coarsest of IEC 60051-1 (from memory).
static CLASS: Number =
    Number::new("class", ("PERCENT", "% of full scale"), (0.05, 5.0), "needle: accuracy class")
        .or("2.5");
/// Full scales that voltmeters have: common practice, no source.
static RANGE: Number =
    Number::new("range-v", ("V", "V"), (0.1, 1000.0), "needle: full scale").or("2.5");
/// Resistances that voltmeters have: common practice, no source.
static OHM_PER_VOLT: Number =
    Number::new("ohm-per-volt", ("OHM_V", "ohm/V"), (100.0, 10e6), "needle: resistance")
        .or("20000");
static NOISE: Choice =
    on_or_off("noise", Some("on"), "pulsation of the intake and scatter of the torque");
static SEED: Number = seed("seed of that scatter");

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let digital = KIND.read(matches)? == Some("digital");
    let asked = Asked::read([&CLASS, &RANGE, &OHM_PER_VOLT], matches)?;
    let (seed, noise) = (SEED.given(matches)?, NOISE.read(matches)?);
    let args = EngineArgs::read(matches)?;
    let (scenario, procedure, named) = PROCEDURE.load(matches, args, Conditions::closed_loop())?;
    let [class_percent, range_v, ohm_per_volt] = asked.checked()?;
    let needle = Needle::new(0.01 * class_percent, range_v, ohm_per_volt);
    let noisy = noise != Some("off");
    let options = shaken(&procedure, noisy, seed.checked()? as u64);
    let (meter, kind) = match digital {
        true => (Meter::Digital(Digital::default()), KIND.canonical(Some("digital"))),
        false => (Meter::Needle(needle), asked.canonical()),
    };
    context.begin()?;
    let show = |share: f64| context.progress.show(share);
    let found = metered(&scenario.setup, &procedure, options, meter, show)?;
    let shaking = if noisy { seed.canonical() } else { NOISE.canonical(noise) };
    let command = format!("quarterturn meter{named}{kind}{shaking}{}", scenario.flags);
    let reading = Rc::new(MeterReading { scenario, procedure, options, found, command });
    let mut report = report(&reading);
    // Flags that describe a needle say nothing about the other instrument.
    if digital {
        let needles = [CLASS.flag, RANGE.flag, OHM_PER_VOLT.flag];
        report.note_idle(matches, &needles, "it is a needle's, and the meter is digital");
    }
    if !noisy {
        report.note_idle(matches, &[SEED.flag], "there is no noise");
    }
    Ok(report.drawn(matches, || crate::chart::meter::picture(&reading)))
}
