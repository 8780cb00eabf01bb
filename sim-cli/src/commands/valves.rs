//! `valves`: which idle air valve still catches the engine when the pedal is let go.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Given, Number, Numbers};
use crate::parallel;
use crate::progress::Progress;
use crate::report::Report;
use crate::results::valves::{GapOutcome, Valves, report};
use crate::scenario::{EngineArgs, Scenario};
use clap::ArgMatches;
use sim_core::conditions::{Conditions, Trim};
use sim_core::rig::keys::Setup;
use sim_core::run::start::{NoStart, start};
use sim_core::run::valves::{PHASES, release, smallest_catching_m};
use sim_core::run::{Options, RunFault};
use sim_core::units::{Unit, ZERO_CELSIUS_K};
use sim_core::wording::{plain, tidy};
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "valves",
    group: "watch",
    about: "Idle air valves of several gaps: which one catches the engine",
    example: "quarterturn valves --gap-mm 4 2 1.2 1",
    options: &[&GAPS, &FROM],
    conditions: Some(defaults),
    chart: true,
    run,
    ..PLAIN
};

static GAPS: Numbers = Numbers {
    each: Number::of_key(
        "gap-mm",
        ("GAP", "mm"),
        "idle_valve_gap_mm",
        "gaps of the valve, full open, or eight shares of the rig's own",
    ),
    commas: false,
};
static FROM: Number =
    Number::new("from-rpm", ("RPM", "rpm"), (1600.0, 5000.0), "speed at which the pedal is let go")
        .or("3000");

/// Gaps tried unless some are given, as shares of the rig's own.
const SHARES: [f64; 8] = [1.0, 0.7, 0.5, 0.4, 0.3, 0.275, 0.25, 0.2];
/// Coolant of the start that the gaps are tried at (K).
const START_COOLANT_K: f64 = 80.0 + ZERO_CELSIUS_K;
/// How long that start is cranked and looked at (s).
const START_S: (f64, f64) = (10.0, 15.0);
/// How far from the threshold the band over phases is looked for (m).
const BAND_M: f64 = 0.2e-3;

fn defaults() -> Conditions {
    Conditions { trim: Trim::Off, ..Conditions::default() }
}

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (gaps, from) = (GAPS.read(matches)?, FROM.given(matches)?);
    let mut scenario = EngineArgs::read(matches)?.load(defaults())?;
    scenario.setup.conditions.trim = Trim::Off;
    let from_rpm = from.checked()?;
    let asked_mm: Vec<f64> = gaps.iter().map(Given::unchecked).collect();
    let command = ["quarterturn valves", &GAPS.canonical(&asked_mm), &from.canonical()].concat()
        + &scenario.flags;
    let shipped_mm = 1e3 * scenario.setup.rig.parts().idle_valve.gap_m;
    let gaps_mm = match asked_mm.is_empty() {
        true => SHARES.map(|share| (share * shipped_mm * 1e3).round() / 1e3).to_vec(),
        false => asked_mm,
    };
    for gap_mm in &gaps_mm {
        GAPS.each.checked(*gap_mm)?;
    }
    let limit_rpm = Unit::Rpm.from_si(scenario.setup.rig.parts().controller.limit_rad_s);
    if from_rpm > tidy(limit_rpm) {
        return Err(Error::outside(format!(
            "--from-rpm: the pedal cannot be let go at {} rpm: the controller cuts the fuel above {} rpm",
            plain(from_rpm),
            plain(limit_rpm)
        )));
    }
    context.begin()?;
    let valves = try_all(scenario, &gaps_mm, Unit::Rpm.to_si(from_rpm), command, context.progress)?;
    let valves = Rc::new(valves);
    Ok(report(&valves).drawn(matches, || crate::chart::valves::picture(&valves)))
}

fn try_all(
    scenario: Scenario,
    gaps_mm: &[f64],
    from_rad_s: f64,
    command: String,
    progress: &mut Progress<'_>,
) -> Result<Valves, RunFault> {
    let setup = scenario.setup;
    let count = gaps_mm.len() as f64;
    let outcomes = parallel::map(
        gaps_mm,
        |gap_mm| {
            let gap_m = 1e-3 * gap_mm;
            let release = release(&setup, gap_m, from_rad_s, PHASES[0])?;
            let (no_start, flare_rad_s) = started(&setup, gap_m)?;
            Ok(GapOutcome { release, no_start, flare_rad_s })
        },
        |done| progress.show(0.4 * done as f64 / count),
    );
    let outcomes = outcomes.into_iter().collect::<Result<Vec<GapOutcome>, RunFault>>()?;
    let of = |caught: bool| {
        outcomes.iter().map(|t| &t.release).filter(move |r| r.caught == caught).map(|r| r.gap_m)
    };
    let catches = of(true).fold(f64::INFINITY, f64::min);
    let loses = of(false).filter(|gap| *gap < catches).fold(0.0, f64::max);
    let mut valves =
        Valves { scenario, outcomes, smallest_m: None, band_m: None, from_rad_s, command };
    if catches.is_finite() {
        let threshold = |phase, bracket| smallest_catching_m(&setup, bracket, from_rad_s, phase);
        let smallest = threshold(PHASES[0], (loses, catches))?;
        progress.show(0.5);
        let bracket = ((smallest - BAND_M).max(0.0), smallest + BAND_M);
        let found = parallel::map(
            &PHASES,
            |phase| threshold(*phase, bracket),
            |done| progress.show(0.5 + 0.5 * done as f64 / PHASES.len() as f64),
        );
        let found = found.into_iter().collect::<Result<Vec<f64>, RunFault>>()?;
        let low = found.iter().copied().fold(smallest, f64::min);
        let high = found.iter().copied().fold(smallest, f64::max);
        (valves.smallest_m, valves.band_m) = (Some(smallest), Some((low, high)));
    }
    Ok(valves)
}

/// A warm start with the valve.
fn started(setup: &Setup, gap_m: f64) -> Result<(Option<NoStart>, f64), RunFault> {
    let Ok(rig) = setup.rig.with_parts(|parts| parts.idle_valve.gap_m = gap_m) else {
        return Ok((None, 0.0));
    };
    let conditions = Conditions { coolant_k: START_COOLANT_K, ..setup.conditions };
    let found = start(&Setup { rig, conditions }, Options::default(), START_S.0, START_S.1)?;
    Ok((found.reason, found.flare_rad_s))
}
