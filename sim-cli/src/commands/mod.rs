//! The one list of commands. Help, dispatch and tests read it; only the top of the program
//! knows it.

mod advise;
mod bleed;
mod cautions;
mod chart;
mod claims;
mod class;
mod coldstart;
mod completions;
mod consequences;
mod diagnose;
mod draw;
mod fit;
mod flowstart;
mod gas;
mod jobsheet;
mod listen;
mod live;
mod meter;
mod parts;
mod predict;
mod quiz;
mod readings;
mod relearn;
mod rig;
mod run;
mod sweep;
mod valves;
mod wear;

use crate::command::Command;

/// Parts of the job, in its order, each with the words over its commands.
pub const GROUPS: &[(&str, &str)] = &[
    ("set", "Set it: the screw cold and warm"),
    ("start", "Start it: from an opened or cold engine to a running one"),
    ("watch", "Watch it: the minutes after a move"),
    ("find", "Find it: from readings to the cause"),
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
    listen::COMMAND,
    valves::COMMAND,
    meter::COMMAND,
    wear::COMMAND,
    parts::COMMAND,
    consequences::COMMAND,
    readings::COMMAND,
    diagnose::COMMAND,
    fit::COMMAND,
    advise::COMMAND,
    jobsheet::COMMAND,
    claims::COMMAND,
    chart::COMMAND,
    live::COMMAND,
    draw::COMMAND,
    quiz::COMMAND,
    class::COMMAND,
    rig::COMMAND,
    gas::COMMAND,
    cautions::COMMAND,
    completions::COMMAND,
];
