//! `wear`: how the wiper wears the potentiometer's track, and when the idle is bad for it.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Asked, Number, Numbers, seed};
use crate::parallel;
use crate::progress::Progress;
use crate::report::Report;
use crate::results::wear::render::report;
use crate::results::wear::{Ageing, Curve, IDLES};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::ageing::Fleet;
use sim_core::conditions::Conditions;
use sim_core::run::idle_wear::{DEEPEST_V, NoIdle, dither, idle_on, search};
use sim_core::sense::wear::{Rubbing, TRACK};
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "wear",
    group: "watch",
    about: "The potentiometer's track over the years, and bad idles",
    example: "quarterturn wear --years 20 --change-years 4",
    options: &[&YEARS, &PARTS, &CHANGES, &HOURS, &WEAR, &SPREAD, &SEED],
    conditions: Some(Conditions::closed_loop),
    chart: true,
    run,
    ..PLAIN
};

static YEARS: Number = Number {
    unit: "whole years",
    default: Some("15"),
    ..Number::whole("years", "YEARS", (1.0, 60.0), "how long")
};
static PARTS: Number = Number {
    unit: "whole cars",
    default: Some("500"),
    ..Number::whole("parts", "NUMBER", (1.0, 100_000.0), "how many cars")
};
static CHANGES: Numbers = Numbers {
    each: Number::new(
        "change-years",
        ("YEARS,...", "years"),
        (0.5, 60.0),
        "the part is changed so often",
    )
    .or("3,5"),
    commas: true,
};
/// Up to the hours of a whole year: more cannot be idled.
static HOURS: Number =
    Number::new("hours-a-year", ("H", "h"), (1.0, 8766.0), "idling of a car in a year").or("100");
static WEAR: Number = Number::new(
    "wear-mm3-nm",
    ("MM3_NM", "mm3/(N m)"),
    (1e-10, 1e-3),
    "specific wear of the median track, invented",
)
.or("1e-7");
static SPREAD: Number = Number::new(
    "spread",
    ("NUMBER", "as a bare number"),
    (0.0, 3.0),
    "deviation of its logarithm over parts",
)
.or("0.5");
static SEED: Number = seed("seed of noise and draw");

/// Most periods of change that are compared: curves have to stay apart.
const CHANGES_MOST: f64 = 4.0;

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let changes = CHANGES.read(matches)?;
    let fleet = Asked::read([&YEARS, &PARTS], matches)?;
    let asked = Asked::read([&HOURS, &WEAR, &SPREAD, &SEED], matches)?;
    let scenario = EngineArgs::read(matches)?.running().load(Conditions::closed_loop())?;
    let [years, parts] = fleet.checked()?;
    let mut periods = changes.iter().map(|one| one.unchecked()).collect::<Vec<f64>>();
    periods.sort_by(f64::total_cmp);
    periods.dedup();
    for period in &periods {
        CHANGES.each.checked(*period)?;
    }
    let count = periods.len() as f64;
    if count > CHANGES_MOST {
        let flag = "--change-years (how many)";
        return Err(Error::out_of_range(flag, count, (1.0, CHANGES_MOST), "times"));
    }
    let [hours_a_year, wear_mm3_nm, spread, seed] = asked.checked()?;
    let flags = fleet.canonical() + &CHANGES.canonical(&periods) + &asked.canonical();
    let mut ageing = Ageing {
        command: format!("quarterturn wear{flags}{}", scenario.flags),
        scenario,
        parts,
        hours_a_year,
        wear_mm3_nm,
        spread,
        found: None,
        reason: None,
        fleet: None,
        curves: Vec::new(),
        lost_v_h: 0.0,
    };
    context.begin()?;
    work_out(&mut ageing, years as u32, &periods, seed as u64, context.progress)?;
    let ageing = Rc::new(ageing);
    Ok(report(&ageing).drawn(matches, || crate::chart::wear::picture(&ageing)))
}

fn work_out(
    ageing: &mut Ageing,
    years: u32,
    periods: &[f64],
    seed: u64,
    progress: &mut Progress<'_>,
) -> Result<(), Error> {
    let setup = ageing.scenario.setup;
    let dither = match dither(&setup, seed) {
        Ok(dither) => dither,
        Err(NoIdle::Fault(fault)) => return Err(fault.into()),
        Err(why) => {
            ageing.reason = Some(match why {
                NoIdle::NoStart(why) => why.to_string(),
                NoIdle::Stalls(at_s) => format!("the idle stalls {at_s:.1} s after the start"),
                _ => "the wiper does not move at idle".into(),
            });
            return Ok(());
        }
    };
    let seeds: Vec<u64> = (0..IDLES).map(|i| seed.wrapping_add(i)).collect();
    let idles = |lost_v: f64| {
        progress.show(lost_v / DEEPEST_V);
        let ran = parallel::map(&seeds, |seed| idle_on(&setup, &dither, lost_v, *seed), |_| {});
        ran.into_iter().collect::<Result<Vec<_>, _>>()
    };
    let found = search(idles)?;
    let track = Rubbing { specific_m3_n_m: 1e-9 * ageing.wear_mm3_nm, ..TRACK };
    ageing.lost_v_h = track.lost_v(3600.0 * dither.pace_m_s, dither.half_width_m());
    if let Some(bad_from_v) = found.bad_from_v {
        let fleet = Fleet {
            parts: ageing.parts as usize,
            hours_a_year: ageing.hours_a_year,
            median_h: bad_from_v / ageing.lost_v_h,
            spread: ageing.spread,
            seed,
        };
        let changes = [None].into_iter().chain(periods.iter().copied().map(Some));
        let curve = |change_years| Curve { change_years, rows: fleet.age(years, change_years) };
        ageing.curves = changes.map(curve).collect();
        ageing.fleet = Some(fleet);
    }
    ageing.found = Some((dither, found));
    Ok(())
}
