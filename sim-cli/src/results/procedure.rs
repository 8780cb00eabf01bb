//! A procedure as data, and its actions in words.

use crate::text::{key_words, plain, turns_typed};
use serde::Serialize;
use sim_core::rig::keys::Key;
use sim_core::run::procedure::{Action, Procedure, Value};
use sim_core::units::Unit;

/// A procedure as the JSON object it is.
#[derive(Serialize)]
pub struct ProcedureRecord<'a> {
    name: &'a str,
    about: &'a str,
    lasts_s: f64,
}

impl ProcedureRecord<'_> {
    /// The record of a procedure.
    pub fn of(procedure: &Procedure) -> ProcedureRecord<'_> {
        let Procedure { name, about, lasts_s, .. } = procedure;
        ProcedureRecord { name, about, lasts_s: *lasts_s }
    }
}

fn on_off(on: bool) -> &'static str {
    if on { "on" } else { "off" }
}

/// An action in words.
pub fn action_words(action: &Action) -> String {
    let rpm = |rad_s: &f64| format!("{:.0} rpm", Unit::Rpm.from_si(*rad_s));
    match action {
        Action::Turn(by) => {
            let side = if *by > 0.0 { "in, richer" } else { "out, leaner" };
            format!("screw {} turn {side}", turns_typed(by.abs()))
        }
        Action::Blip(speed) => format!("blip to {}", rpm(speed)),
        Action::Throttle(share, _) if *share <= 0.0 => "foot off".into(),
        Action::Throttle(share, speed) => {
            format!("throttle {:.0} %, braked at {}", 100.0 * share, rpm(speed))
        }
        Action::PlugSensor(true) => "lambda sensor plugged in".into(),
        Action::PlugSensor(false) => "lambda sensor unplugged".into(),
        Action::PlugActuator(true) => "actuator plugged in".into(),
        Action::PlugActuator(false) => "actuator unplugged".into(),
        Action::Fail(fault) => format!("{} fails: {}", fault.sensor(), fault.mode()),
        Action::Set(name, value) => {
            let key = Key::find(name);
            let words = key.map_or(name.to_string(), key_words);
            let unit = key.map_or("", |key| key.unit.symbol());
            match value {
                Value::Number(number) => format!("{words} {} {unit}", plain(*number)),
                Value::Word(word) => format!("{words} {word}"),
            }
            .trim_end()
            .to_string()
        }
        Action::Wait => "wait".into(),
        Action::KeyOn => "key on".into(),
        Action::KeyOff => "key off".into(),
        Action::Starter(on) => format!("starter {}", on_off(*on)),
        Action::PumpJumper(on) => format!("pump jumper {}", on_off(*on)),
        Action::LiftPlate(by_m) => format!("plate lifted by {} mm", plain(1e3 * by_m)),
        Action::LetPlateGo => "plate let go".into(),
        Action::OpenLines(true) => "lines off, each into a glass".into(),
        Action::OpenLines(false) => "lines on their injectors".into(),
        Action::Stand(lasts_s) => format!("stands for {} s", plain(*lasts_s)),
        // No procedure file has other actions.
        other => format!("{other:?}"),
    }
}
