//! THE list of acts: what hands can do at the bench, each with its arguments, its caution and
//! what goes wrong when the caution is not heeded.

mod bench_acts;
mod engine_acts;
mod fuel_acts;
mod meter_acts;
mod setting_acts;

use crate::arguments::{Argument, Arguments};
use crate::bench::Bench;
use crate::meter::KINDS;
use serde_json::{Value, json};

/// What an act brings: an answer of its own, or `None` for a frame; or why it cannot be done.
pub type Done = Result<Option<Value>, String>;

/// An act.
pub struct Act {
    /// Its name.
    pub name: &'static str,
    /// What it does, in a line.
    pub does: &'static str,
    /// Its arguments.
    pub arguments: &'static [Argument],
    /// Its caution.
    pub caution: Option<&'static str>,
    /// What goes wrong when the caution is not heeded.
    pub ignored: Option<&'static str>,
    /// Whether something moves by it: a lesson lets nothing move before its prediction.
    pub moves: bool,
    /// Whether it belongs to the session, to be replayed.
    pub changes: bool,
    /// Does it.
    pub run: fn(&mut Bench, &Arguments<'_>) -> Done,
}

/// An act without anything special: it moves something and needs no caution.
const PLAIN: Act = Act {
    name: "",
    does: "",
    arguments: &[],
    caution: None,
    ignored: None,
    moves: true,
    changes: true,
    run: |_, _| Ok(None),
};

/// Every act, in the order of the job.
pub static ACTS: &[&Act] = &[
    &bench_acts::HELP,
    &bench_acts::BEGIN,
    &bench_acts::LOOK,
    &bench_acts::WAIT,
    &engine_acts::KEY,
    &engine_acts::PEDAL,
    &engine_acts::BLIP,
    &engine_acts::BATTERY,
    &engine_acts::CONNECTOR,
    &engine_acts::HOSE,
    &fuel_acts::JUMPER,
    &fuel_acts::LINES,
    &fuel_acts::LIFT,
    &fuel_acts::STAND,
    &setting_acts::TOOL,
    &setting_acts::TURN,
    &setting_acts::LINKAGE,
    &setting_acts::FEEL,
    &setting_acts::REST,
    &setting_acts::SCREWS,
    &setting_acts::HOUSING,
    &meter_acts::CLIP,
    &meter_acts::UNCLIP,
    &meter_acts::PREDICT,
    &meter_acts::READ,
    &bench_acts::NOTE,
    &bench_acts::NOTES,
    &bench_acts::SNAPSHOT,
    &bench_acts::BACK,
    &bench_acts::VIEW,
    &bench_acts::SESSION,
    &bench_acts::REPLAY,
];

impl Act {
    /// The act of a name.
    pub fn find(name: &str) -> Option<&'static Act> {
        ACTS.iter().copied().find(|act| act.name == name)
    }

    fn help(&self) -> Value {
        json!({
            "act": self.name,
            "does": self.does,
            "arguments": self.arguments.iter().map(Argument::help).collect::<Vec<_>>(),
            "caution": self.caution,
            "ignored": self.ignored,
        })
    }
}

/// What `help` answers.
fn help() -> Value {
    let meters = KINDS.iter().map(|kind| {
        json!({
            "meter": kind.name,
            "about": kind.about,
            "unit": kind.unit,
            "scale": [kind.scale.0, kind.scale.1],
            "step": kind.step,
            "caution": kind.caution,
        })
    });
    json!({
        "acts": ACTS.iter().map(|act| act.help()).collect::<Vec<_>>(),
        "meters": meters.collect::<Vec<_>>(),
    })
}
