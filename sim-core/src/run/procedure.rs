//! What is done to a running engine, as data: a TOML file of timed actions.
//!
//! ```
//! use sim_core::run::procedure::parse;
//! let text = r#"
//! name = "lean"
//! about = "a sixteenth of a turn out"
//! lasts_s = 20
//! [[action]]
//! at_s = 5
//! turn = "-1/16"
//! "#;
//! let procedure = parse(text, 700.0).unwrap(); // the engine's speed limit in rad/s
//! assert_eq!(procedure.last_action_s(), 5.0);
//! ```

pub use super::action::{Action, Value};
use super::action::{ActionError, given, turned};
use crate::rig::file::{FaultKind, FileFault, Reader, document, float};
use crate::rig::keys::{KEYS, Key, KeyFault, Place, Setup, nearest_word, tidy};
use crate::sense::faults::{MODES, SENSORS, SensorFault, SensorFaultError};
use crate::units::Unit;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Largest length of a procedure (s).
pub const LONGEST_S: f64 = 7200.0;

/// A procedure.
#[derive(Clone, Debug, PartialEq)]
pub struct Procedure {
    /// Its name.
    pub name: String,
    /// What it does, in a sentence.
    pub about: String,
    /// How long it lasts (s).
    pub lasts_s: f64,
    /// Whether the torque of cycles scatters in it, unless it is asked otherwise.
    pub noise: bool,
    /// Pulsation of the intake in it, share of the flow, unless it is asked otherwise.
    pub pulsation: f64,
    /// Its actions, in order.
    pub steps: Vec<Step>,
}

impl Procedure {
    /// Whether the engine stands when it begins, its key off: the first thing it does to key,
    /// starter or fuel side is one that a running engine with its key on has no use for.
    pub fn begins_standing(&self) -> bool {
        let first = self.steps.iter().find_map(|step| match &step.action {
            Action::KeyOff => Some(false),
            Action::KeyOn | Action::Starter(_) | Action::PumpJumper(_) => Some(true),
            Action::LiftPlate(_) | Action::OpenLines(_) | Action::Stand(_) => Some(true),
            _ => None,
        });
        first.unwrap_or(false)
    }

    /// The first of its steps that cannot be done to an engine, by its number, and why: turns
    /// that come to more than the screw has, a `set` that makes no engine.
    pub fn first_impossible(&self, setup: &Setup) -> Option<(usize, ActionError)> {
        let mut setup = *setup;
        let done = |step: &Step| match &step.action {
            Action::Turn(by) => {
                turned(&setup, *by).map(|turns| setup.conditions.screw_turns = turns)
            }
            Action::Set(key, value) => given(&mut setup, key, value),
            _ => Ok(()),
        };
        let steps = self.steps.iter().map(done).enumerate();
        steps.filter_map(|(i, done)| Some((i, done.err()?))).next()
    }

    /// When its last action is taken (s); 0 if there is none.
    pub fn last_action_s(&self) -> f64 {
        self.steps.last().map_or(0.0, |step| step.at_s)
    }
}

/// An action at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// When (s).
    pub at_s: f64,
    /// What.
    pub action: Action,
}

/// The procedures that come with the library.
pub const SHIPPED: &[(&str, &str)] = &[
    ("screw-step", include_str!("../../procedures/screw-step.toml")),
    ("screw-wait", include_str!("../../procedures/screw-wait.toml")),
    ("screw-wait-sixteenth", include_str!("../../procedures/screw-wait-sixteenth.toml")),
    ("screw-step-rich", include_str!("../../procedures/screw-step-rich.toml")),
    ("screw-wait-rich", include_str!("../../procedures/screw-wait-rich.toml")),
    ("both-edges", include_str!("../../procedures/both-edges.toml")),
    ("worn-track", include_str!("../../procedures/worn-track.toml")),
    ("stuck-linkage", include_str!("../../procedures/stuck-linkage.toml")),
    ("linkage-gap", include_str!("../../procedures/linkage-gap.toml")),
    ("climb", include_str!("../../procedures/climb.toml")),
    ("throttle-release", include_str!("../../procedures/throttle-release.toml")),
    ("sensor-unplug", include_str!("../../procedures/sensor-unplug.toml")),
    ("key-start", include_str!("../../procedures/key-start.toml")),
    ("full-throttle", include_str!("../../procedures/full-throttle.toml")),
];

/// The shipped procedure of a name.
pub fn shipped(name: &str) -> Option<Procedure> {
    let (_, text) = SHIPPED.iter().find(|(shipped, _)| *shipped == name)?;
    parse(text, Unit::Rpm.to_si(f64::INFINITY)).ok()
}

const TOP: [&str; 6] = ["name", "about", "lasts_s", "noise", "pulsation_percent", "action"];
/// Largest pulsation that can be asked for (% of the flow).
pub const PULSATION_MOST_PERCENT: f64 = 60.0;
const ACTIONS: [&str; 15] = [
    "turn",
    "blip",
    "throttle",
    "unplug",
    "plug",
    "fit",
    "fail",
    "set",
    "wait",
    "key",
    "starter",
    "jumper",
    "lift_plate_mm",
    "open_lines",
    "stand",
];
const ON_OFF: [&str; 2] = ["on", "off"];
const PLUGS: [&str; 2] = ["lambda", "actuator"];
/// Least speed that a blip or a brake may ask for (rpm).
const SLOWEST_RPM: f64 = 800.0;

/// Reads a procedure file for an engine with a speed limit (rad/s).
pub fn parse(text: &str, limit_rad_s: f64) -> Result<Procedure, FileFault> {
    placed(text, limit_rad_s).map(|(procedure, _)| procedure)
}

/// The same for the engine of a setup: what its moves of the screw and its `set` come to must be
/// possible on it, one after the other.
pub fn parse_for(text: &str, limit_rad_s: f64, setup: &Setup) -> Result<Procedure, FileFault> {
    let (procedure, spans) = placed(text, limit_rad_s)?;
    match procedure.first_impossible(setup) {
        None => Ok(procedure),
        Some((step, why)) => {
            let kind = FaultKind::CannotBeDone { what: why.to_string() };
            Err(Reader { text }.fault(spans[step].clone(), kind))
        }
    }
}

/// Reads a procedure, with the place of each of its steps in the text.
fn placed(text: &str, limit_rad_s: f64) -> Result<(Procedure, Vec<Range<usize>>), FileFault> {
    let document = document(text)?;
    let top = document.get_ref();
    let read = Reader { text };
    for (name, _) in top.iter() {
        if !TOP.contains(&name.get_ref().as_ref()) {
            return Err(read.fault(name.span(), unknown(name.get_ref(), &TOP)));
        }
    }
    let name = read.words(top, "name", 40)?;
    let about = read.words(top, "about", 200)?;
    let lasts = top.get("lasts_s").ok_or_else(|| read.missing("", "lasts_s", top))?;
    let lasts_s = number(&read, "lasts_s", lasts, (0.1, LONGEST_S), "s")?;
    let noise = match top.get("noise").map(|value| (value, value.get_ref())) {
        None => false,
        Some((_, DeValue::Boolean(noise))) => *noise,
        Some((value, _)) => return Err(read.wrong_type("noise", "true or false", value)),
    };
    let pulsation = match top.get("pulsation_percent") {
        None => 0.0,
        Some(value) => {
            let range = (0.0, PULSATION_MOST_PERCENT);
            0.01 * number(&read, "pulsation_percent", value, range, "%")?
        }
    };
    let (mut steps, mut spans): (Vec<Step>, Vec<Range<usize>>) = (Vec::new(), Vec::new());
    let mut so_far = SoFar { clock_s: 0.0, limit_rad_s };
    if let Some(actions) = top.get("action") {
        let DeValue::Array(array) = actions.get_ref() else {
            return Err(read.wrong_type("action", "[[action]] tables", actions));
        };
        for value in array.iter() {
            let DeValue::Table(table) = value.get_ref() else {
                return Err(read.wrong_type("action", "[[action]] tables", value));
            };
            step(&read, value, table, &mut so_far, lasts_s, &mut steps)?;
            spans.resize(steps.len(), value.span());
        }
    }
    Ok((Procedure { name, about, lasts_s, noise, pulsation, steps }, spans))
}

fn unknown(name: &str, known: &[&'static str]) -> FaultKind {
    let nearest = nearest_word(name, known.iter().copied());
    FaultKind::UnknownKey { key: name.to_string(), nearest, belongs: None }
}

fn number(
    read: &Reader<'_>,
    key: &'static str,
    value: &Spanned<DeValue<'_>>,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<f64, FileFault> {
    let found = match value.get_ref() {
        DeValue::String(text) if unit == "turns" => parse_turns(text).unwrap_or(f64::NAN),
        _ => float(value).ok_or_else(|| read.wrong_type(key, "a number", value))?,
    };
    if (low..=high).contains(&found) {
        return Ok(found);
    }
    let kind = FaultKind::NumberOutOfRange { key, value: found, low, high, unit };
    Err(read.fault(value.span(), kind))
}

/// Turns as a decimal or a fraction: `-1/16`.
pub fn parse_turns(text: &str) -> Option<f64> {
    let text = text.trim();
    match text.split_once('/') {
        None => text.parse().ok(),
        Some((above, below)) => {
            let whole = |part: &str| part.bytes().all(|b| b.is_ascii_digit()) && !part.is_empty();
            let digits = above.strip_prefix(['+', '-']).unwrap_or(above);
            if !whole(digits) || !whole(below) {
                return None;
            }
            let (above, below): (f64, f64) = (above.parse().ok()?, below.parse().ok()?);
            (below != 0.0).then(|| above / below)
        }
    }
}

/// What the steps before one have come to.
struct SoFar {
    clock_s: f64,
    /// The speed above which the controller now cuts the fuel (rad/s).
    limit_rad_s: f64,
}

fn step(
    read: &Reader<'_>,
    whole: &Spanned<DeValue<'_>>,
    table: &DeTable<'_>,
    so_far: &mut SoFar,
    lasts_s: f64,
    steps: &mut Vec<Step>,
) -> Result<(), FileFault> {
    let mut found: Option<(&'static str, &Spanned<DeValue<'_>>)> = None;
    for (name, value) in table.iter() {
        let known = ACTIONS.iter().find(|known| **known == name.get_ref().as_ref());
        match known {
            Some(action) if found.is_none() => found = Some((action, value)),
            Some(_) => return Err(read.fault(name.span(), FaultKind::TwoActions)),
            None if ["at_s", "speed_rpm"].contains(&name.get_ref().as_ref()) => {}
            None => return Err(read.fault(name.span(), unknown(name.get_ref(), &ACTIONS))),
        }
    }
    let Some((action, value)) = found else {
        return Err(read.fault(whole.span(), FaultKind::NoAction));
    };
    let clock = &mut so_far.clock_s;
    if let Some(at) = table.get("at_s") {
        let at_s = number(read, "at_s", at, (0.0, lasts_s), "s")?;
        if at_s < *clock {
            let kind = FaultKind::TimeGoesBack { at_s, before_s: *clock };
            return Err(read.fault(at.span(), kind));
        }
        *clock = at_s;
    }
    let speeds = (SLOWEST_RPM, tidy(Unit::Rpm.from_si(so_far.limit_rad_s)));
    let rpm = |key, value| number(read, key, value, speeds, "rpm").map(|rpm| Unit::Rpm.to_si(rpm));
    let action = match action {
        "turn" => Action::Turn(number(read, "turn", value, (-2.0, 2.0), "turns")?),
        "blip" => Action::Blip(rpm("blip", value)?),
        "throttle" => {
            let share = number(read, "throttle", value, (0.0, 100.0), "%")? / 100.0;
            let speed = match table.get("speed_rpm") {
                Some(speed) => rpm("speed_rpm", speed)?,
                None => Unit::Rpm.to_si(2500.0),
            };
            Action::Throttle(share, speed)
        }
        "fit" => {
            let key = Key::find("idle_valve_gap_mm").map_or((0.1, 20.0), |k| (k.low, k.high));
            Action::Set("idle_valve_gap_mm", Value::Number(number(read, "fit", value, key, "mm")?))
        }
        "fail" => fail(read, value)?,
        "key" if on_off(read, "key", value)? => Action::KeyOn,
        "key" => Action::KeyOff,
        "starter" => Action::Starter(on_off(read, "starter", value)?),
        "jumper" => Action::PumpJumper(on_off(read, "jumper", value)?),
        "open_lines" => Action::OpenLines(on_off(read, "open_lines", value)?),
        "lift_plate_mm" => match number(read, "lift_plate_mm", value, (0.0, 120.0), "mm")? {
            0.0 => Action::LetPlateGo,
            lifted_mm => Action::LiftPlate(1e-3 * lifted_mm),
        },
        "stand" => Action::Stand(number(read, "stand", value, (0.0, 3.6e7), "s")?),
        "set" => set(read, value)?,
        "wait" => {
            *clock += number(read, "wait", value, (0.0, tidy(lasts_s - *clock)), "s")?;
            return Ok(());
        }
        plug => {
            let plugged = plug == "plug";
            match value.get_ref() {
                DeValue::String(text) if text == "lambda" => Action::PlugSensor(plugged),
                DeValue::String(text) if text == "actuator" => Action::PlugActuator(plugged),
                DeValue::String(text) => {
                    let kind = FaultKind::UnknownWord { found: text.to_string(), words: &PLUGS };
                    return Err(read.fault(value.span(), kind));
                }
                _ => return Err(read.wrong_type(plug, "a text in quotes", value)),
            }
        }
    };
    if *clock > lasts_s {
        let kind = FaultKind::NumberOutOfRange {
            key: "at_s",
            value: *clock,
            low: 0.0,
            high: lasts_s,
            unit: "s",
        };
        return Err(read.fault(whole.span(), kind));
    }
    if let Action::Set("limit_rpm", Value::Number(rpm)) = action {
        so_far.limit_rad_s = Unit::Rpm.to_si(rpm);
    }
    steps.push(Step { at_s: *clock, action });
    Ok(())
}

/// `"on"` or `"off"`.
fn on_off(
    read: &Reader<'_>,
    key: &'static str,
    value: &Spanned<DeValue<'_>>,
) -> Result<bool, FileFault> {
    match value.get_ref() {
        DeValue::String(text) if text == "on" => Ok(true),
        DeValue::String(text) if text == "off" => Ok(false),
        DeValue::String(text) => {
            let kind = FaultKind::UnknownWord { found: text.to_string(), words: &ON_OFF };
            Err(read.fault(value.span(), kind))
        }
        _ => Err(read.wrong_type(key, "\"on\" or \"off\"", value)),
    }
}

/// `fail = "SENSOR=MODE"`.
fn fail(read: &Reader<'_>, value: &Spanned<DeValue<'_>>) -> Result<Action, FileFault> {
    let pair = match value.get_ref() {
        DeValue::String(text) => text.split_once('='),
        _ => None,
    };
    let Some((sensor, mode)) = pair.map(|(sensor, mode)| (sensor.trim(), mode.trim())) else {
        return Err(read.wrong_type("fail", "a text \"SENSOR=MODE\"", value));
    };
    let unknown =
        |found: String, words| read.fault(value.span(), FaultKind::UnknownWord { found, words });
    SensorFault::of(sensor, mode).map(Action::Fail).map_err(|error| match error {
        SensorFaultError::UnknownMode { found, words, .. } => unknown(found, words),
        SensorFaultError::OutOfRange { sensor, .. } => {
            let words = MODES.iter().find(|(name, _)| *name == sensor).map_or(&[][..], |m| m.1);
            unknown(mode.into(), words)
        }
        _ => unknown(sensor.into(), &SENSORS),
    })
}

/// `set = "KEY=VALUE"`.
fn set(read: &Reader<'_>, value: &Spanned<DeValue<'_>>) -> Result<Action, FileFault> {
    let DeValue::String(text) = value.get_ref() else {
        return Err(read.wrong_type("set", "a text \"KEY=VALUE\"", value));
    };
    let fault = |kind| read.fault(value.span(), kind);
    let Some((name, given)) = text.split_once('=') else {
        return Err(read.wrong_type("set", "a text \"KEY=VALUE\"", value));
    };
    let (name, given) = (name.trim(), given.trim());
    let Some(key) = Key::find(name) else {
        return Err(fault(FaultKind::UnknownKey {
            key: name.to_string(),
            nearest: Key::nearest(name, KEYS.iter()).map(|key| key.name),
            belongs: None,
        }));
    };
    if let Place::Choice { words, .. } = key.place {
        return match words.contains(&given) {
            true => Ok(Action::Set(key.name, Value::Word(given.into()))),
            false => Err(fault(FaultKind::UnknownWord { found: given.into(), words })),
        };
    }
    if let Place::PartRow { .. } = key.place {
        let fault = ActionError::Key { key: key.name, fault: KeyFault::IsARow };
        return Err(read.fault(value.span(), FaultKind::CannotBeDone { what: fault.to_string() }));
    }
    let turns = key.unit == Unit::Turns;
    let number = if turns { parse_turns(given) } else { given.parse().ok() };
    match number {
        Some(number) if key.allows(number) => Ok(Action::Set(key.name, Value::Number(number))),
        Some(number) => Err(fault(FaultKind::OutOfRange { key: key.name, value: number })),
        None if turns => Err(read.wrong_type(key.name, "turns, as 1/16 or 0.0625", value)),
        None => Err(read.wrong_type(key.name, "a number alone", value)),
    }
}
