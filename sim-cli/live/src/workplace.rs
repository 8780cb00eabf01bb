//! What stands around the engine: key, tools, leads, what is loose and what is off.

use sim_core::sense::faults::Faults;

/// Key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeyAt {
    /// Off.
    Off,
    /// On.
    On,
    /// Held at start.
    Start,
}

impl KeyAt {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            KeyAt::Off => "off",
            KeyAt::On => "on",
            KeyAt::Start => "start",
        }
    }
}

/// The connectors that can be taken off, in the order of [`Workplace::connected`].
pub const CONNECTORS: &[&str] =
    &["lambda-sensor", "actuator", "coolant-sensor", "idle-valve", "throttle-switch"];

/// State of all that hands can reach beside the engine itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Workplace {
    /// Where the key stands.
    pub key: KeyAt,
    /// Whether the battery's earth lead is on.
    pub battery: bool,
    /// Whether the hex key stands in the screw.
    pub tool_in: bool,
    /// How far the screw has been turned since the car was found (turns, in is plus).
    pub turned: f64,
    /// Whether the potentiometer's four screws are loose.
    pub housing_loose: bool,
    /// How far its housing has been turned since the car was found (mm of plate height).
    pub housing_turned_mm: f64,
    /// Which of [`CONNECTORS`] are on.
    pub connected: [bool; CONNECTORS.len()],
    /// The pump's jumper.
    pub jumper: bool,
    /// Lines opened into glasses.
    pub lines_open: bool,
    /// How far a hand lifts the plate (mm above its rest).
    pub lifted_mm: f64,
    /// Pedal, share of its travel (%).
    pub pedal_percent: f64,
    /// Sensors as they were when the car was found.
    pub found_faults: Faults,
    /// Since when the starter turns (s).
    pub cranking_since_s: f64,
}

impl Workplace {
    /// A closed bonnet.
    pub fn new(found_faults: Faults) -> Workplace {
        Workplace {
            key: KeyAt::Off,
            battery: true,
            tool_in: false,
            turned: 0.0,
            housing_loose: false,
            housing_turned_mm: 0.0,
            connected: [true; CONNECTORS.len()],
            jumper: false,
            lines_open: false,
            lifted_mm: 0.0,
            pedal_percent: 0.0,
            found_faults,
            cranking_since_s: 0.0,
        }
    }

    /// Whether the ignition is on.
    pub fn key_is_on(&self) -> bool {
        self.battery && self.key != KeyAt::Off
    }
}
