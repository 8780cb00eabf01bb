//! Sensors that fail, each in its own ways.

use crate::wording::{did_you_mean, nearest_word, plain};
use std::fmt::{self, Display};
use std::str::FromStr;

/// How many times as long a lazy lambda sensor lags. Our own.
pub(crate) const LAZY: f64 = 10.0;

/// Coolant thermistor.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Coolant {
    /// It works.
    #[default]
    Sound,
    /// Its circuit is open: the controller takes it for the coldest.
    Open,
    /// It is shorted: the controller takes it for the hottest.
    Short,
    /// It has this resistance, whatever the coolant (ohm).
    Ohm(f64),
}

/// Throttle switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum ThrottleSwitch {
    /// Both contacts close.
    #[default]
    Sound,
    /// The idle contact never closes.
    NoIdle,
    /// The full-load contact never closes.
    NoFull,
}

/// Lambda sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Lambda {
    /// It works.
    #[default]
    Sound,
    /// Its tip never warms up: the loop stays open.
    Cold,
    /// It gives nothing: the controller falls back on the base current.
    Dead,
    /// It reads lean whatever the gas.
    Stuck,
    /// It lags ten times as long.
    Lazy,
    /// It is poisoned: it takes every gas for leaner than it is.
    Shifted,
}

/// By how much a poisoned lambda sensor takes the gas for leaner: an aged or poisoned cell
/// changes over at lambda 0.97 to 0.99; common practice, no source.
const SHIFTED_LEANER: f64 = 0.02;

/// Voltage that the controller itself puts on a lambda sensor that drives nothing (V), and the
/// voltage of a lean gas (V): common practice, no source.
const BIAS_V: f64 = 0.45;
/// See [`BIAS_V`].
const LEAN_V: f64 = 0.1;

impl Lambda {
    /// Voltage at its plug (V) in a gas in which a sound one gives another (V).
    pub fn shows_v(self, sound_v: f64) -> f64 {
        match self {
            Lambda::Sound | Lambda::Lazy | Lambda::Shifted => sound_v,
            Lambda::Cold => BIAS_V,
            Lambda::Dead => 0.0,
            Lambda::Stuck => LEAN_V,
        }
    }

    /// By how much it takes every gas for leaner than it is (lambda).
    pub fn reads_leaner_by(self) -> f64 {
        if self == Lambda::Shifted { SHIFTED_LEANER } else { 0.0 }
    }
}

/// Altitude sensor, where one is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Altitude {
    /// It works.
    #[default]
    Sound,
    /// It is gone: no correction.
    Missing,
    /// It says 1500 m, wherever the car is.
    Stuck,
}

/// Exhaust-temperature sensor, where one is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum ExhaustTemperature {
    /// It works.
    #[default]
    Sound,
    /// It is gone: the controller waits longer before it closes its loop.
    Missing,
}

/// What has failed.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Faults {
    /// Coolant thermistor.
    pub coolant: Coolant,
    /// Throttle switch.
    pub throttle_switch: ThrottleSwitch,
    /// Lambda sensor.
    pub lambda: Lambda,
    /// Altitude sensor.
    pub altitude: Altitude,
    /// Exhaust-temperature sensor.
    pub exhaust_temperature: ExhaustTemperature,
}

/// Every sensor with the words of its modes; `OHM` and `MM` stand for a number.
pub const MODES: &[(&str, &[&str])] = &[
    ("coolant", &["open", "short", "OHM"]),
    ("throttle-switch", &["no-idle", "no-full"]),
    ("lambda", &["cold", "dead", "stuck", "lazy", "shifted"]),
    ("altitude", &["missing", "stuck"]),
    ("exhaust-temperature", &["missing"]),
    ("potentiometer", &["worn", "MM"]),
];

/// The sensors of [`MODES`].
pub const SENSORS: [&str; MODES.len()] = {
    let mut names = [""; MODES.len()];
    let mut i = 0;
    while i < names.len() {
        names[i] = MODES[i].0;
        i += 1;
    }
    names
};

/// Largest resistance of a failed coolant thermistor (ohm).
const OHM_MOST: f64 = 1e7;
/// Largest turn of the housing that a failed potentiometer is given (mm).
const HOUSING_MOST_MM: f64 = 5.0;

/// A sensor that fails in one of its modes. As a text it is `SENSOR=MODE`.
///
/// ```
/// use sim_core::sense::faults::{Coolant, SensorFault};
/// let open: SensorFault = "coolant=open".parse().unwrap();
/// assert_eq!(open, SensorFault::Coolant(Coolant::Open));
/// assert_eq!(open.to_string(), "coolant=open");
/// assert!("coolant=melted".parse::<SensorFault>().is_err());
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum SensorFault {
    /// Coolant thermistor.
    Coolant(Coolant),
    /// Throttle switch.
    ThrottleSwitch(ThrottleSwitch),
    /// Lambda sensor.
    Lambda(Lambda),
    /// Altitude sensor.
    Altitude(Altitude),
    /// Exhaust-temperature sensor.
    ExhaustTemperature(ExhaustTemperature),
    /// The potentiometer's track is worn where the engine idles.
    PotentiometerWorn,
    /// The potentiometer's housing is turned by so much plate height (mm).
    PotentiometerTurnedMm(f64),
}

/// The faults that are one word of a sensor.
const NAMED: &[(&str, &str, SensorFault)] = &[
    ("coolant", "open", SensorFault::Coolant(Coolant::Open)),
    ("coolant", "short", SensorFault::Coolant(Coolant::Short)),
    ("throttle-switch", "no-idle", SensorFault::ThrottleSwitch(ThrottleSwitch::NoIdle)),
    ("throttle-switch", "no-full", SensorFault::ThrottleSwitch(ThrottleSwitch::NoFull)),
    ("lambda", "cold", SensorFault::Lambda(Lambda::Cold)),
    ("lambda", "dead", SensorFault::Lambda(Lambda::Dead)),
    ("lambda", "stuck", SensorFault::Lambda(Lambda::Stuck)),
    ("lambda", "lazy", SensorFault::Lambda(Lambda::Lazy)),
    ("lambda", "shifted", SensorFault::Lambda(Lambda::Shifted)),
    ("altitude", "missing", SensorFault::Altitude(Altitude::Missing)),
    ("altitude", "stuck", SensorFault::Altitude(Altitude::Stuck)),
    (
        "exhaust-temperature",
        "missing",
        SensorFault::ExhaustTemperature(ExhaustTemperature::Missing),
    ),
    ("potentiometer", "worn", SensorFault::PotentiometerWorn),
];

/// Why a text names no fault of a sensor.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SensorFaultError {
    /// It is not `SENSOR=MODE`.
    #[error("\"{found}\" is not SENSOR=MODE")]
    NotAPair {
        /// What it is.
        found: String,
    },
    /// There is no such sensor.
    #[error("no sensor \"{found}\"{}; {}", did_you_mean(nearest_word(found, SENSORS)), modes())]
    UnknownSensor {
        /// What was found.
        found: String,
    },
    /// The sensor does not fail in this way.
    #[error("{sensor}: \"{found}\" is none of {}", words.join(", "))]
    UnknownMode {
        /// The sensor.
        sensor: &'static str,
        /// What was found.
        found: String,
        /// Its modes.
        words: &'static [&'static str],
    },
    /// A number that the sensor does not take.
    #[error("{sensor}: {} is outside {low} to {high} {unit}", plain(*value))]
    OutOfRange {
        /// The sensor.
        sensor: &'static str,
        /// The number.
        value: f64,
        /// Least.
        low: f64,
        /// Largest.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
}

/// Every sensor with its modes, in words: `coolant=open|short|OHM, ...`.
pub fn modes() -> String {
    let sensors: Vec<String> =
        MODES.iter().map(|(sensor, modes)| format!("{sensor}={}", modes.join("|"))).collect();
    sensors.join(", ")
}

impl FromStr for SensorFault {
    type Err = SensorFaultError;

    fn from_str(text: &str) -> Result<SensorFault, SensorFaultError> {
        let (sensor, mode) = text
            .split_once('=')
            .ok_or_else(|| SensorFaultError::NotAPair { found: text.to_string() })?;
        SensorFault::of(sensor.trim(), mode.trim())
    }
}

impl SensorFault {
    /// The fault of a sensor in a mode, both as words.
    pub fn of(sensor: &str, mode: &str) -> Result<SensorFault, SensorFaultError> {
        let Some(&(sensor, words)) = MODES.iter().find(|(name, _)| *name == sensor) else {
            return Err(SensorFaultError::UnknownSensor { found: sensor.to_string() });
        };
        let unknown = || SensorFaultError::UnknownMode { sensor, found: mode.to_string(), words };
        let number = |low: f64, high: f64, unit| {
            let value: f64 = mode.parse().map_err(|_| unknown())?;
            match (low..=high).contains(&value) {
                true => Ok(value),
                false => Err(SensorFaultError::OutOfRange { sensor, value, low, high, unit }),
            }
        };
        if let Some((.., fault)) = NAMED.iter().find(|named| (named.0, named.1) == (sensor, mode)) {
            return Ok(*fault);
        }
        match sensor {
            "coolant" => Ok(SensorFault::Coolant(Coolant::Ohm(number(0.0, OHM_MOST, "ohm")?))),
            "potentiometer" => number(-HOUSING_MOST_MM, HOUSING_MOST_MM, "mm")
                .map(SensorFault::PotentiometerTurnedMm),
            _ => Err(unknown()),
        }
    }

    /// The sensor's name.
    pub fn sensor(&self) -> &'static str {
        match self {
            SensorFault::Coolant(_) => "coolant",
            SensorFault::ThrottleSwitch(_) => "throttle-switch",
            SensorFault::Lambda(_) => "lambda",
            SensorFault::Altitude(_) => "altitude",
            SensorFault::ExhaustTemperature(_) => "exhaust-temperature",
            SensorFault::PotentiometerWorn | SensorFault::PotentiometerTurnedMm(_) => {
                "potentiometer"
            }
        }
    }

    /// How it fails, in a word or a number.
    pub fn mode(&self) -> String {
        match self {
            SensorFault::Coolant(Coolant::Ohm(number))
            | SensorFault::PotentiometerTurnedMm(number) => plain(*number),
            _ => {
                NAMED.iter().find(|named| named.2 == *self).map_or("sound", |named| named.1).into()
            }
        }
    }
}

impl Display for SensorFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}={}", self.sensor(), self.mode())
    }
}
