//! What can be done to an engine: the one vocabulary of procedures and drives.

use crate::assembly::Range;
use crate::rig::keys::{Key, KeyFault, Setup};
use crate::sense::faults::SensorFault;
use crate::wording::tidy;

/// What can be done to an engine that runs or stands.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Action {
    /// Turn the mixture screw by this much (turns).
    Turn(f64),
    /// Open the throttle until this speed, then let go (rad/s).
    Blip(f64),
    /// Hold the throttle at a share of its travel, a brake holding a speed (rad/s); at a share
    /// of 0 the pedal is released.
    Throttle(f64, f64),
    /// The same on the road: the wheels hold the speed, and drive the engine where it makes
    /// too little (rad/s).
    Drive(f64, f64),
    /// Plug or unplug the lambda sensor.
    PlugSensor(bool),
    /// Plug or unplug the actuator.
    PlugActuator(bool),
    /// Jolt the crank: its speed jumps by so much (rad/s).
    Kick(f64),
    /// Let a sensor fail.
    Fail(SensorFault),
    /// Give a key another value.
    Set(&'static str, Value),
    /// Turn the key off: spark and pump stop, and the controller stores what it has learned.
    KeyOff,
    /// Turn the key on.
    KeyOn,
    /// Hold the starter on until the engine has caught, or let go of it.
    Starter(bool),
    /// Take the battery off a standing engine with its key off.
    BatteryOff,
    /// Put the battery on again. What was stored is gone if that took too long.
    BatteryOn,
    /// Let a stopped engine stand for a time (s): the fuel side goes on; the clock does not.
    Stand(f64),
    /// Let the pump of a standing engine run by a jumper in place of its relay, or take it out.
    PumpJumper(bool),
    /// Lift the plate of a standing engine by hand, to a height above its rest (m).
    LiftPlate(f64),
    /// Let go of the plate: it falls back to its rest.
    LetPlateGo,
    /// Take all injection lines of a standing engine off their injectors, each into a glass of
    /// its own, or put them back on.
    OpenLines(bool),
    /// Nothing.
    Wait,
}

/// A value for a key.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number in the key's unit.
    Number(f64),
    /// A word.
    Word(String),
}

impl Value {
    /// Gives the value to a key of a setup.
    pub fn give(&self, key: &str, setup: &mut Setup) -> Result<(), KeyFault> {
        let key = Key::find(key).ok_or(KeyFault::NotAWord)?;
        match self {
            Value::Number(number) => key.set(setup, *number),
            Value::Word(word) => key.choose(setup, word),
        }
    }
}

/// Where the screw of a setup stands after a turn (turns).
pub(super) fn turned(setup: &Setup, by: f64) -> Result<f64, ActionError> {
    let turns = setup.conditions.screw_turns + by;
    match Key::find("screw").map(|key| key.range()) {
        Some(Range { low, high, .. }) if !(low..=high).contains(&turns) => {
            Err(ActionError::OutOfRange {
                what: "where the screw then stands (turns),",
                value: tidy(turns),
                low,
                high,
            })
        }
        _ => Ok(turns),
    }
}

/// Gives a key of a setup a value; what is refused leaves the setup as it was.
pub(super) fn given(
    setup: &mut Setup,
    key: &'static str,
    value: &Value,
) -> Result<(), ActionError> {
    let mut changed = *setup;
    value.give(key, &mut changed).map_err(|fault| ActionError::Key { key, fault })?;
    *setup = changed;
    Ok(())
}

/// Why something cannot be done to an engine as it is.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ActionError {
    /// A number that is not one, or outside its range.
    #[error("{what} {value} is outside {low} to {high}")]
    OutOfRange {
        /// What it is the number of, with its unit.
        what: &'static str,
        /// The number.
        value: f64,
        /// Least.
        low: f64,
        /// Largest.
        high: f64,
    },
    /// There is no key of that name.
    #[error("no key `{0}`")]
    UnknownKey(&'static str),
    /// A key does not take the value.
    #[error("`{key}`: {fault}")]
    Key {
        /// The key.
        key: &'static str,
        /// Why.
        fault: KeyFault,
    },
    /// The engine runs.
    #[error("the engine runs; stop it first")]
    EngineRuns,
    /// The key is on.
    #[error("the key is on; turn it off first")]
    KeyIsOn,
    /// The key is off.
    #[error("the key is off; turn it on first")]
    KeyIsOff,
    /// The pump runs.
    #[error("the pump runs; stop it first, or petrol sprays as the lines come off")]
    PumpRuns,
    /// Lines cannot be opened on an engine that turns.
    #[error(
        "the engine runs; lines opened now would spray petrol over a hot engine: stop it first"
    )]
    LinesWouldSpray,
    /// The lines are off their injectors.
    #[error(
        "the injection lines are off their injectors; put them back on before the starter turns"
    )]
    LinesAreOpen,
    /// The battery is off.
    #[error("the battery is off; put it on first")]
    BatteryIsOff,
}
