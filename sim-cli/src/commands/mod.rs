//! The one list of commands. Help, dispatch and tests read it.

mod asked;
mod bleed;
mod chart;
mod claims;
mod class;
mod coldstart;
mod completions;
mod flowstart;
mod gas;
mod meter;
mod nested;
mod parts;
mod predict;
mod quiz;
mod relearn;
mod rig;
mod run;
mod sweep;
mod valves;
mod wear;

pub use bleed::{Bled, LEAST_RESIDUAL_BAR};
pub use coldstart::{Cold, ColdMap, DEGC, TURNS, degc_at, map_word};
pub use meter::Watch;
pub use predict::Prediction;
pub use relearn::Learned;
pub use run::{Run, action_words};
pub use sweep::{Sweep, hazard_words};
pub use valves::{GapOutcome, Valves};
pub use wear::Ageing;

use crate::error::Error;
use crate::progress::Progress;
use crate::report::Report;
use clap::ArgMatches;

/// A command.
pub struct Command {
    /// Its name.
    pub name: &'static str,
    /// Which part of the job it belongs to.
    pub group: &'static str,
    /// What it does, in a line.
    pub about: &'static str,
    /// An example that a test runs.
    pub example: &'static str,
    /// Adds its arguments.
    pub args: fn(clap::Command) -> clap::Command,
    /// Works out its report.
    pub report: fn(&ArgMatches, &mut Progress<'_>) -> Result<Report, Error>,
}

/// Parts of the job, in its order, each with the words over its commands.
pub const GROUPS: &[(&str, &str)] = &[
    ("set", "Set it: the screw cold and warm"),
    ("start", "Start it: from an opened or cold engine to a running one"),
    ("watch", "Watch it: the minutes after a move"),
    ("teach", "Teach it: how far each rule can be trusted"),
    ("look-up", "Look it up"),
];

/// Every command, in the order of the job.
pub static COMMANDS: &[Command] = &[
    flowstart::COMMAND,
    sweep::COMMAND,
    predict::COMMAND,
    bleed::COMMAND,
    coldstart::COMMAND,
    relearn::COMMAND,
    run::COMMAND,
    valves::COMMAND,
    meter::COMMAND,
    wear::COMMAND,
    parts::COMMAND,
    claims::COMMAND,
    chart::COMMAND,
    quiz::COMMAND,
    class::COMMAND,
    rig::COMMAND,
    gas::COMMAND,
    completions::COMMAND,
];
