//! What the engine is run under: screw, weather, speed, load, faults.
//!
//! ```
//! use sim_core::conditions::{Conditions, Trim};
//! let cold = Conditions { coolant_k: 263.15, trim: Trim::On, ..Conditions::default() };
//! assert_eq!(cold.altitude_m, 0.0);
//! ```

use crate::engine::flame::FlameLaw;
use crate::engine::plug::Plugs;
use crate::engine::roughness::Ear;
use crate::fuel::condition::FuelSide;
use crate::fuel::kind::Fuel;
use crate::sense::faults::{Coolant, Faults, SensorFault};
use crate::sense::potentiometer::Wear;
use crate::sense::thermistor::{COLDEST_K, HOTTEST_K, Thermistor};
use crate::units::{Unit, ZERO_CELSIUS_K};

/// Whether the trim's loop is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trim {
    /// The trim moves the current until the lambda sensor reads lambda 1.
    On,
    /// The base current flows.
    Off,
}

/// What the idle air does at a closed throttle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IdleAir {
    /// The idle air valve holds the speed, within its limits.
    Held,
    /// The valve keeps the opening that gives the rig's idle speed at lambda 1, and the
    /// speed finds itself.
    Fixed,
    /// The valve is without current: its springs hold it, and the speed finds itself.
    Unpowered,
}

/// The petrol in the tank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Petrol {
    /// No ethanol.
    E0,
    /// 5 % ethanol by volume.
    E5,
    /// 10 % ethanol by volume.
    E10,
}

impl Petrol {
    /// Composition and density.
    pub fn fuel(self) -> Fuel {
        Fuel::petrol_with_ethanol(match self {
            Petrol::E0 => 0.0,
            Petrol::E5 => 0.05,
            Petrol::E10 => 0.10,
        })
    }
}

/// Everything outside the rig that a point depends on. The default is a warm engine at sea
/// level on the rig's own idle, trim off, idle air held.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Conditions {
    /// Turns of the mixture screw from where the rig stands.
    pub screw_turns: f64,
    /// Height above the sea (m); gives the pressure only.
    pub altitude_m: f64,
    /// Temperature of the outside air (K).
    pub ambient_k: f64,
    /// Temperature of the coolant (K).
    pub coolant_k: f64,
    /// Temperature of the fuel at the slits (K).
    pub fuel_k: f64,
    /// Speed held (rad/s); `None` for the rig's idle at this coolant temperature.
    pub speed_rad_s: Option<f64>,
    /// Throttle opening, share of its travel.
    pub throttle: f64,
    /// A pedal that holds the speed without load: valve shut, throttle as far open as needed.
    /// Takes the place of `throttle` and `idle_air`.
    pub pedal_holds_speed: bool,
    /// Unmetered air let in after the throttle, while choked (kg/s).
    pub leak_kg_s: f64,
    /// Whether the trim's loop is closed.
    pub trim: Trim,
    /// What the idle air does.
    pub idle_air: IdleAir,
    /// The petrol.
    pub petrol: Petrol,
    /// The law of the flame speed.
    pub flame: FlameLaw,
    /// Current forced through the actuator (A); `None` for the controller's.
    pub actuator_a: Option<f64>,
    /// How far the potentiometer's housing is turned from where it was, in plate height (m).
    pub housing_shift_m: f64,
    /// How much higher than the rig's stop the plate rests (m).
    pub rest_height_m: f64,
    /// Free play of the throttle linkage (m); below 0 it holds the throttle open.
    pub linkage_play_m: f64,
    /// Wear of the potentiometer's track.
    pub wear: Wear,
    /// Sensors that have failed.
    pub faults: Faults,
    /// Share of cycles lost to a dead spark.
    pub misfire: f64,
    /// Leak air before the lambda sensor, share of the air breathed.
    pub exhaust_leak: f64,
    /// By how much the lambda sensor takes the gas for leaner than it is (lambda).
    pub lambda_sensor_offset: f64,
    /// What counts as rough.
    pub ear: Ear,
    /// Age and faults of the fuel side, and how it was left.
    pub fuel_side: FuelSide,
    /// Voltage that the battery has left while the starter turns, against a sound one.
    pub battery: f64,
    /// The spark plugs and their coil.
    pub plugs: Plugs,
    /// Time in which the start valve's thermo-time switch cools (s).
    pub start_switch_cools_s: f64,
}

/// Depth and half width of a track that `potentiometer=worn` asks for (V, m): a pit that
/// disturbs the idle, see the procedure worn-track.
const WORN: (f64, f64) = (0.25, 5e-5);
/// Speed of the fast idle that duties are compared at (rpm).
const FAST_IDLE_RPM: f64 = 2500.0;

impl Conditions {
    /// What the controller takes the coolant for (K).
    pub fn seen_coolant_k(&self, thermistor: &Thermistor) -> f64 {
        match self.faults.coolant {
            Coolant::Sound => self.coolant_k,
            Coolant::Open => COLDEST_K,
            Coolant::Short => HOTTEST_K,
            Coolant::Ohm(ohm) => thermistor.temperature_k(ohm),
        }
    }

    /// By how much the lambda sensor takes the gas for leaner than it is: its offset, and what a
    /// poisoned one adds.
    pub fn lambda_sensor_reads_leaner_by(&self) -> f64 {
        self.lambda_sensor_offset + self.faults.lambda.reads_leaner_by()
    }

    /// Lets a sensor fail.
    pub fn fail(&mut self, fault: SensorFault) {
        match fault {
            SensorFault::Coolant(coolant) => self.faults.coolant = coolant,
            SensorFault::ThrottleSwitch(switch) => self.faults.throttle_switch = switch,
            SensorFault::Lambda(lambda) => self.faults.lambda = lambda,
            SensorFault::Altitude(altitude) => self.faults.altitude = altitude,
            SensorFault::ExhaustTemperature(sensor) => self.faults.exhaust_temperature = sensor,
            SensorFault::PotentiometerWorn => {
                (self.wear.depth_v, self.wear.width_m) = WORN;
                self.wear.above_idle_m = 0.0;
            }
            SensorFault::PotentiometerTurnedMm(mm) => self.housing_shift_m += 1e-3 * mm,
        }
    }

    /// The defaults with the trim's loop closed, as the engine is driven.
    pub fn closed_loop() -> Conditions {
        Conditions { trim: Trim::On, ..Conditions::default() }
    }

    /// The same at 2500 rpm without load, held by the pedal.
    pub fn at_fast_idle(&self) -> Conditions {
        Conditions {
            speed_rad_s: Some(Unit::Rpm.to_si(FAST_IDLE_RPM)),
            pedal_holds_speed: true,
            throttle: 0.0,
            ..*self
        }
    }
}

impl Default for Conditions {
    fn default() -> Self {
        Conditions {
            screw_turns: 0.0,
            altitude_m: 0.0,
            ambient_k: 20.0 + ZERO_CELSIUS_K,
            coolant_k: 90.0 + ZERO_CELSIUS_K,
            fuel_k: 30.0 + ZERO_CELSIUS_K,
            speed_rad_s: None,
            throttle: 0.0,
            pedal_holds_speed: false,
            leak_kg_s: 0.0,
            trim: Trim::Off,
            idle_air: IdleAir::Held,
            petrol: Petrol::E0,
            flame: FlameLaw::Gasoline,
            actuator_a: None,
            housing_shift_m: 0.0,
            rest_height_m: 0.0,
            linkage_play_m: 1e-3,
            faults: Faults::default(),
            wear: Wear { depth_v: 0.0, above_idle_m: 0.0, width_m: 1e-4, contact_ohm: 0.0 },
            misfire: 0.0,
            exhaust_leak: 0.0,
            lambda_sensor_offset: 0.0,
            ear: Ear {
                cov: 0.10,
                misfire: 0.02,
                speed_drop_rad_s: crate::units::Unit::Rpm.to_si(50.0),
                damping: 0.1,
            },
            fuel_side: FuelSide::default(),
            battery: 1.0,
            plugs: Plugs { gap_m: 0.8e-3, coil_share: 1.0 },
            // Some minutes: our own.
            start_switch_cools_s: 180.0,
        }
    }
}
