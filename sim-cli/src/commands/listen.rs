//! `listen`: the idle as a sound.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Number, Text, seed};
use crate::report::Report;
use crate::results::listen::{Listening, report};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::sound::listen;
use std::path::PathBuf;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "listen",
    group: "watch",
    about: "The idle as a sound: a synthesis of computed work, no recording",
    example: "quarterturn listen --screw 5/32 --trim off -o /tmp/idle.wav --force",
    more_help: TOLD,
    options: &[&SECONDS, &SEED, &FILE],
    conditions: Some(Conditions::closed_loop),
    report_to_file: false,
    run,
    ..PLAIN
};

static SECONDS: Number =
    Number::new("seconds", ("S", "s"), (0.5, 300.0), "how long it is listened to").or("10");
static SEED: Number = seed("seed of the scatter of the cycles");
static FILE: Text = Text {
    short: Some('o'),
    required: true,
    ..Text::new("output", "FILE", "the sound's place: .wav, mono, 16 bit, 44.1 kHz")
};

/// What the sound is.
const TOLD: &str = "\
The sound is a synthesis of computed work, no recording. Each cylinder's work is drawn cycle by
cycle from the law that gives the roughness, and the engine runs on it. Each firing sends a puff
through a simple exhaust, as loud as its work. A stall ends it. All files are equally loud, so
that two settings can be compared by ear. `--format csv` has every firing.";

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (seconds, seed) = (SECONDS.given(matches)?, SEED.given(matches)?);
    let file = FILE.read(matches).unwrap_or_default();
    if !file.ends_with(".wav") {
        return Err(Error::usage(format!("--output: {file}: the sound's name must end in .wav")));
    }
    let scenario = EngineArgs::read(matches)?.running().load(Conditions::closed_loop())?;
    let (lasts_s, checked_seed) = (seconds.checked()?, seed.checked()? as u64);
    let command =
        format!("quarterturn listen{}{}{}", seconds.canonical(), seed.canonical(), scenario.flags);
    let heard = listen(&scenario.setup, checked_seed, lasts_s)?;
    let place = PathBuf::from(file);
    let listening = Rc::new(Listening { scenario, heard, lasts_s, command });
    let mut report = report(&listening);
    report.files.push((place, listening.wav()));
    Ok(report)
}
