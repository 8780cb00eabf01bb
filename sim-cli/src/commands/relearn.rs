//! `relearn`: battery off, then start by start what the controller learns again.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::files::read_rows;
use crate::options::{Asked, Number, Switch, Text, seed};
use crate::report::Report;
use crate::results::relearn::{Learned, report};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::drive::{Drive, TooFast, engine_demand};
use sim_core::relearn::{UnsettledReason, first_cells, relearn, with_feel, with_first_drive};
use sim_core::rig::Rig;
use sim_core::rig::file::RigFile;
use sim_core::run::Options;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "relearn",
    group: "start",
    about: "Battery off, then what the controller learns start by start",
    example: "quarterturn relearn --starts 3 --minutes 5 --battery-off-s 60",
    options: &[&STARTS, &BATTERY_OFF, &MINUTES, &SEED, &DRIVE, &AVERAGED, &FELT],
    conditions: Some(Conditions::closed_loop),
    chart: true,
    run,
    ..PLAIN
};

static STARTS: Number =
    Number::whole("starts", "NUMBER", (1.0, 500.0), "how many drives, each from a start").or("40");
static BATTERY_OFF: Number =
    Number::new("battery-off-s", ("S", "s"), (0.0, 1e6), "how long the battery was off before")
        .or("60");
static MINUTES: Number =
    Number::new("minutes", ("MIN", "min"), (4.0, 60.0), "length of each drive of urban cycles")
        .or("20");
static SEED: Number = seed("seed of the scatter of the cycles' torque");
static DRIVE: Text =
    Text::new("drive", "FILE", "a CSV of time_s,speed_kmh instead of urban cycles");
static AVERAGED: Switch =
    Switch { flag: "averaged", meaning: "the quick averaged model instead of the engine in time" };

static FELT: Switch = Switch {
    flag: "felt",
    meaning: "with --averaged: also what is felt, from two of the drives driven in full",
};

/// What only an engine in time knows of.
const IN_TIME: [&str; 4] = ["idle_air", "pump_percent", "filter_bar", "battery_percent"];

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let asked = Asked::read([&STARTS, &BATTERY_OFF, &MINUTES], matches)?;
    let seed = SEED.given(matches)?;
    let averaged = AVERAGED.read(matches);
    let felt = averaged && FELT.read(matches);
    let args = EngineArgs::read(matches)?
        .without(&["throttle_percent", "speed_rpm"], "the drive moves the pedal");
    if averaged
        && !felt
        && let Some(key) = ["lines", "stood_h"].into_iter().find(|key| args.gives(key))
    {
        let flag = format!("--{}", key.replace('_', "-"));
        return Err(Error::usage(format!(
            "{flag} is how the first start finds the engine, and --averaged follows no starts: leave one of them out"
        )));
    }
    let untimed = averaged && !felt;
    let in_time = IN_TIME.iter().filter(|key| untimed && args.gives(key));
    let in_time: Vec<String> = in_time.map(|key| format!("--{}", key.replace('_', "-"))).collect();
    let file = DRIVE.read(matches);
    let parsed = |path: &str, rig: &RigFile| {
        let drive = Drive::parse(&read_rows(path)?);
        let drive = drive.map_err(|fault| Error::file(format!("{path}: {fault}")))?;
        match too_fast(&drive, &rig.rig) {
            None => Ok(drive),
            Some(why) => {
                let line = why.line.unwrap_or_default();
                Err(Error::file(format!("{path}: line {line}: {why}")))
            }
        }
    };
    let (scenario, drive) = args.load_beside(Conditions::closed_loop(), |rig| {
        file.map(|path| parsed(path, rig)).transpose()
    })?;
    let command = [
        "quarterturn relearn",
        &asked.canonical(),
        &if untimed { String::new() } else { seed.canonical() },
        if file.is_some() { " --drive <from a file>" } else { "" },
        &AVERAGED.canonical(averaged),
        &FELT.canonical(felt),
        &scenario.flags,
    ]
    .concat();
    let [count, off_s, minutes] = asked.checked()?;
    let (count, seed) = (count as usize, seed.checked()? as u64);
    let seed = if untimed { 1 } else { seed };
    let setup = &scenario.setup;
    let drive = drive.unwrap_or_else(|| Drive::urban(60.0 * minutes));
    if let Some(why) = too_fast(&drive, &setup.rig) {
        return Err(Error::outside(format!("{}: {why}", scenario.flags.trim())));
    }
    let moments = engine_demand(setup, &drive);
    let kept = setup.rig.parts().memory.keeps(off_s);
    let first = first_cells(setup, kept, &moments);
    let options = Options { seed, torque_noise: !averaged, ..Options::default() };
    context.begin()?;
    let show = |share| context.progress.show(share);
    let mut found = relearn(setup, first, &moments, (count, !averaged), options, show)?;
    if averaged {
        found = with_first_drive(setup, found, first, &moments, options)?;
    }
    if felt && found.why != Some(UnsettledReason::CannotBeDriven) {
        found = with_feel(setup, found, first, &moments, options)?;
    }
    let battery = (off_s, kept);
    let learned = Rc::new(Learned { scenario, drive, found, first, battery, command });
    let mut report = report(&learned);
    if untimed {
        report.note_idle(matches, &[SEED.flag], "--averaged learns without scatter");
        for flag in in_time {
            report.note_always(format!(
                "{flag}: with --averaged it only decides whether the engine can be driven."
            ));
        }
    }
    if file.is_some() {
        report.note_idle(
            matches,
            &[MINUTES.flag],
            "the drive of the file lasts as long as it does",
        );
    }
    if FELT.read(matches) && !averaged {
        report.note_idle(matches, &[FELT.flag], "without --averaged every drive is felt");
    }
    Ok(report.drawn(matches, || crate::chart::relearn::picture(&learned)))
}

/// Where a drive turns the engine of a rig beyond its speed limit.
fn too_fast(drive: &Drive, rig: &Rig) -> Option<TooFast> {
    let controller = &rig.parts().controller;
    drive.first_above(controller.limit_rad_s, controller.idle_rad_s)
}
