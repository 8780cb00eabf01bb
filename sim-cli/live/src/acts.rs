//! THE list of acts: what hands can do at the bench, each with its arguments, its caution and
//! what goes wrong when the caution is not heeded.

mod bench_acts;
mod engine_acts;
mod fuel_acts;
mod meter_acts;
mod setting_acts;

use crate::act::Act;
use crate::meter::KINDS;
use serde_json::{Value, json};

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

/// The act of a name.
pub fn find(name: &str) -> Option<&'static Act> {
    ACTS.iter().copied().find(|act| act.name == name)
}

/// What `help` answers.
pub fn help() -> Value {
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
