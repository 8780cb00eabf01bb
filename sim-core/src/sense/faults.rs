//! Sensors that fail, each in its own ways.

/// Coolant thermistor.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Coolant {
    /// It tells the truth.
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
    ("lambda", &["cold", "dead", "stuck", "lazy"]),
    ("altitude", &["missing", "stuck"]),
    ("exhaust-temperature", &["missing"]),
    ("potentiometer", &["worn", "MM"]),
];

impl Faults {
    /// Lets a sensor fail in a mode. `false` if it has no such mode; the potentiometer's are
    /// its track's and housing's, not set here.
    pub fn set(&mut self, sensor: &str, mode: &str) -> bool {
        match (sensor, mode) {
            ("coolant", "open") => self.coolant = Coolant::Open,
            ("coolant", "short") => self.coolant = Coolant::Short,
            ("coolant", ohm) => match ohm.parse::<f64>() {
                Ok(ohm) if (0.0..=1e7).contains(&ohm) => self.coolant = Coolant::Ohm(ohm),
                _ => return false,
            },
            ("throttle-switch", "no-idle") => self.throttle_switch = ThrottleSwitch::NoIdle,
            ("throttle-switch", "no-full") => self.throttle_switch = ThrottleSwitch::NoFull,
            ("lambda", "cold") => self.lambda = Lambda::Cold,
            ("lambda", "dead") => self.lambda = Lambda::Dead,
            ("lambda", "stuck") => self.lambda = Lambda::Stuck,
            ("lambda", "lazy") => self.lambda = Lambda::Lazy,
            ("altitude", "missing") => self.altitude = Altitude::Missing,
            ("altitude", "stuck") => self.altitude = Altitude::Stuck,
            ("exhaust-temperature", "missing") => {
                self.exhaust_temperature = ExhaustTemperature::Missing;
            }
            _ => return false,
        }
        true
    }
}
