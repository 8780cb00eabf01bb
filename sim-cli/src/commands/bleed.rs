//! `bleed`: pressure built up, lines bled, pressure held, hot restart.

use crate::chart::bleed::picture;
use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Asked, Number};
use crate::report::Report;
use crate::results::bleed::{Bleeding, Outcome, Settings, report};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::bleed::{LONGEST_S, bleed};
use sim_core::conditions::Conditions;
use sim_core::run::restart::restart;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "bleed",
    group: "start",
    about: "Pump on the jumper: pressure, lines bled, hot restart",
    example: "quarterturn bleed --check-valve leaks",
    options: &[&LIFT, &STAND, &HOT, &VAPOUR],
    conditions: Some(Conditions::default),
    chart: true,
    run,
    ..PLAIN
};

static LIFT: Number = Number::new(
    "lift-mm",
    ("NUMBER", "mm"),
    (0.0, 60.0),
    "how far the plate is lifted above rest by hand",
)
.or("20");
static STAND: Number = Number::new(
    "stand-min",
    ("NUMBER", "min"),
    (1.0, 600.0),
    "how long the hot engine stands before it is started",
)
.or("30");
static HOT: Number = Number::new(
    "hot-degc",
    ("NUMBER", "degC"),
    (-20.0, 130.0),
    "temperature of feed and lines under the bonnet while it stands",
)
.or("90");
static VAPOUR: Number = Number::new(
    "vapour-kpa",
    ("NUMBER", "kPa"),
    (45.0, 100.0),
    "vapour pressure of the fuel at 37.8 degC: about 60 in summer, 90 in winter (EN 228)",
)
.or("90");
fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let asked = Asked::read([&LIFT, &STAND, &HOT, &VAPOUR], matches)?;
    let args = EngineArgs::read(matches)?
        .without(&["speed_rpm", "throttle_percent", "idle_air"], "the engine stands or is started");
    let scenario = args.load(Conditions::default())?;
    let [lift_mm, stand_min, hot_degc, vapour_kpa] = asked.checked()?;
    let flags = asked.canonical();
    let fuel_side = &scenario.setup.conditions.fuel_side;
    let accumulator_percent = 100.0 * fuel_side.accumulator_share;
    let check_valve = fuel_side.check_valve.word();
    let settings =
        Settings { lift_mm, accumulator_percent, stand_min, hot_degc, vapour_kpa, check_valve };
    let again = restart(&settings.stood(&scenario.setup), LONGEST_S)?;
    let bleeding = Rc::new(Bleeding {
        command: format!("quarterturn bleed{flags}{}", scenario.flags),
        outcome: Outcome::of(&scenario.setup, bleed(&scenario.setup, &settings.request()), again),
        settings,
        scenario,
    });
    let mut report = report(&bleeding);
    report.note_idle_flags(&bleeding.scenario);
    Ok(match &bleeding.outcome {
        Outcome::Bled(bled) => report.drawn(matches, || picture(&bleeding, bled)),
        Outcome::OpenAtRest(_) => report,
    })
}
