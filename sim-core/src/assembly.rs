//! The parts of one engine put together, as plain numbers that nobody has checked yet, and
//! the reference state that follows from them. [`crate::rig`] checks them.

use crate::air::breathing::Breathing;
use crate::air::plate::{Lever, Plate};
use crate::air::throttle::{IdleValve, Throttle};
use crate::control::idle::Idle;
use crate::control::memory::Memory;
use crate::control::starting::Starting;
use crate::control::trim::Controller;
use crate::engine::burn::Burn;
use crate::engine::flame::FLAME_LAWS;
use crate::engine::idle_spark::IdleSpark;
use crate::fuel::injector::Injectors;
use crate::fuel::pressure::Pressures;
use crate::fuel::slit::Slits;
use crate::fuel::supply::Supply;
use crate::sense::lambda_sensor::LambdaSensor;
use crate::sense::potentiometer::Potentiometer;
use crate::sense::thermistor::Thermistor;
use crate::units::Unit;
use crate::wording::plain;
use std::fmt::{self, Display};

/// The parts of an engine, each with the numbers of its own element.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Parts {
    /// Air plate and funnel.
    pub plate: Plate,
    /// Lever and mixture screw.
    pub lever: Lever,
    /// Throttle.
    pub throttle: Throttle,
    /// Idle air valve.
    pub idle_valve: IdleValve,
    /// Plunger slits.
    pub slits: Slits,
    /// Fuel pressures and actuator.
    pub pressures: Pressures,
    /// Flow of the first line that counts as "fuel shows" (m3/s).
    pub flow_threshold_m3_s: f64,
    /// Fuel supply: pump to lines.
    pub supply: Supply,
    /// Injectors at the lines' ends.
    pub injectors: Injectors,
    /// Displacement and filling.
    pub breathing: Breathing,
    /// Best indicated efficiency.
    pub efficiency: f64,
    /// Rubbing friction against the published mean of engines.
    pub rubbing_scale: f64,
    /// Accessories as a mean effective pressure (Pa).
    pub accessories_pa: f64,
    /// Burn and roughness.
    pub burn: Burn,
    /// Spark that steadies the idle.
    pub idle_spark: IdleSpark,
    /// Lambda sensor.
    pub sensor: LambdaSensor,
    /// Airflow potentiometer.
    pub potentiometer: Potentiometer,
    /// Controller.
    pub controller: Controller,
    /// What only matters while things move.
    pub dynamics: Dynamics,
    /// The controller's pace.
    pub gains: ControllerGains,
    /// What the idle speed control sees coming, and does while the engine runs down.
    pub idle: Idle,
    /// Starter and start valve.
    pub starting: Starting,
    /// Coolant thermistor.
    pub thermistor: Thermistor,
    /// Supply of the controller's memory.
    pub memory: Memory,
}

/// Spring above the plunger, as a pressure on it (Pa).
const PLUNGER_SPRING_PA: f64 = 0.3e5;

impl Parts {
    /// Drop over the plate that carries the plunger's force (Pa).
    ///
    /// Without system pressure a weak spring above the plunger is left, as strong as
    /// `PLUNGER_SPRING_PA` on it. Source: common practice, no source (it keeps the plunger down
    /// in an engine that stands).
    pub fn plate_drop_pa(&self) -> f64 {
        let pressures = &self.pressures;
        let loaded =
            Pressures { system_pa: pressures.system_pa.max(PLUNGER_SPRING_PA), ..*pressures };
        self.lever.plate_drop_pa(loaded.plunger_force_n(), self.plate.radius_m)
    }
}

/// What only matters while things move: volumes, masses, lags.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dynamics {
    /// Volume of the intake manifold (m3).
    pub manifold_m3: f64,
    /// Moment of inertia at the crank (kg m2).
    pub inertia_kg_m2: f64,
    /// Mass of plate and lever, at the plate (kg).
    pub plate_kg: f64,
    /// Damping of the plate (N s/m).
    pub plate_damping_ns_m: f64,
    /// Share of the fuel that wets the wall, warm.
    pub film_share: f64,
    /// Time the film takes to evaporate, warm (s).
    pub film_s: f64,
    /// Volume of the exhaust pipe before the lambda sensor (m3).
    pub pipe_m3: f64,
    /// Revolutions from a charge drawn in to its gas at the exhaust port.
    pub charge_to_port_rev: f64,
    /// Lag of the lambda sensor (s).
    pub sensor_lag_s: f64,
    /// Lag of the idle air valve (s).
    pub valve_lag_s: f64,
}

/// How fast the controller acts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ControllerGains {
    /// Slope of the two-point trim (A/s).
    pub trim_slope_a_s: f64,
    /// Jump of the two-point trim, peak to peak (A).
    pub trim_jump_a: f64,
    /// Time constant of the fast idle trim (s).
    pub fast_trim_s: f64,
    /// Proportional part of the idle speed control (s/rad).
    pub idle_kp: f64,
    /// Integral part of the idle speed control (1/rad).
    pub idle_ki: f64,
}

/// What a rig is like in its reference state (lambda 1, warm idle, sea level), worked out
/// once when it is loaded. It does not move with conditions or with parts changed later.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reference {
    /// Natural logarithm of the laminar flame speed (m/s), one for each law of [`FLAME_LAWS`].
    pub ln_flame: [f64; FLAME_LAWS.len()],
    /// Mixture with the least roughness, one for each law (lambda).
    pub least_rough_lambda: [f64; FLAME_LAWS.len()],
    /// Manifold pressure of the idle over the least any burning would need at that speed.
    pub pressure_over_floor: f64,
    /// Effective area of the idle air valve that gives the idle speed (m2).
    pub idle_valve_m2: f64,
    /// Height of the plate there (m).
    pub idle_height_m: f64,
    /// Spark as the rig was set (deg before top dead centre).
    pub spark_deg: f64,
    /// What the controller was made for.
    pub nominal: Nominal,
}

/// Coolant temperatures at which a controller's idle is laid out (degC).
pub const NOMINAL_DEGC: [f64; 5] = [-15.0, 0.0, 20.0, 60.0, 90.0];

/// What the controller was made for: the sound rig at sea level and 20 degC outside. Parts that
/// change later do not change it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Nominal {
    /// The potentiometer.
    pub potentiometer: Potentiometer,
    /// Plate and funnel.
    pub plate: Plate,
    /// Flow past a square metre of gap around the plate (kg/(s m2)).
    pub flow_kg_s_m2: f64,
    /// Air of the idle at lambda 1 at the temperatures of [`NOMINAL_DEGC`] (kg/s).
    pub idle_air_kg_s: [f64; NOMINAL_DEGC.len()],
    /// Duty of the idle air valve there.
    pub idle_duty: [f64; NOMINAL_DEGC.len()],
}

/// Why parts do not make a rig.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RigFault {
    /// A value outside its key's range, or not a number.
    #[error("`{key}` = {} is outside {range}", plain(*value))]
    OutOfRange {
        /// The key.
        key: &'static str,
        /// Its value, in the key's unit.
        value: f64,
        /// The range it must lie in.
        range: Range,
    },
    /// A row of too few or too many values.
    #[error("`{key}` has {found} values, it takes {least} to {most}")]
    WrongCount {
        /// Key of the row.
        key: &'static str,
        /// How many there are.
        found: usize,
        /// Least count.
        least: usize,
        /// Largest count.
        most: usize,
    },
    /// A row's values do not rise, from the entry named by its index.
    #[error("`{key}`: value {} does not rise above the one before", index + 1)]
    NotRising {
        /// Key of the row.
        key: &'static str,
        /// Index of the first entry that is not above the one before.
        index: usize,
    },
    /// A row that must start at 0 does not.
    #[error("`{key}` starts at {}, it must start at 0 {}", plain(*first), unit.symbol())]
    NotFromZero {
        /// Key of the row.
        key: &'static str,
        /// Its first value, in the key's unit.
        first: f64,
        /// The key's unit.
        unit: Unit,
    },
    /// Two rows that belong together differ in length.
    #[error("`{key}` has {count} values and `{other}` has {other_count}; they belong in pairs")]
    Unequal {
        /// Key of the row.
        key: &'static str,
        /// Its length.
        count: usize,
        /// Key of the other row.
        other: &'static str,
        /// The other's length.
        other_count: usize,
    },
    /// A key must lie above another.
    #[error(
        "`{key}` = {} must lie above `{other}` = {} {}",
        plain(*value),
        plain(*other_value),
        unit.symbol()
    )]
    NotAbove {
        /// The key.
        key: &'static str,
        /// Its value, in the keys' unit.
        value: f64,
        /// The other key.
        other: &'static str,
        /// The other's value.
        other_value: f64,
        /// The keys' unit.
        unit: Unit,
    },
    /// The engine has no running point at lambda 1, warm idle, sea level.
    #[error(
        "this engine does not idle at lambda 1, warm, at sea level: its friction and accessories take more than it makes"
    )]
    CannotIdle,
    /// Its idle needs an opening the idle air valve does not have.
    #[error(
        "idling at lambda 1 needs {:.1} mm2 of idle air valve, full open it has {:.1}; raise `idle_valve_gap_mm`",
        1e6 * needed_m2,
        1e6 * full_m2
    )]
    IdleValveTooSmall {
        /// Effective area needed (m2).
        needed_m2: f64,
        /// Effective area of the valve full open (m2).
        full_m2: f64,
    },
    /// With the throttle closed it already gets more air than its idle needs.
    #[error(
        "the closed throttle passes {:.1} kg/h, more than the {:.1} kg/h the idle needs; lower `throttle_closed_mm2`",
        Unit::KilogramPerHour.from_si(*passes_kg_s),
        Unit::KilogramPerHour.from_si(*needed_kg_s)
    )]
    ThrottleTooOpen {
        /// Air past the closed throttle (kg/s).
        passes_kg_s: f64,
        /// Air the idle needs (kg/s).
        needed_kg_s: f64,
    },
}

/// A range of values in a unit; as a text "15 to 80 mm".
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Least value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// Unit.
    pub unit: Unit,
}

impl Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{} to {} {}", self.low, self.high, self.unit.symbol());
        f.write_str(text.trim_end())
    }
}

impl RigFault {
    /// The file key the fault belongs to, if it belongs to one.
    pub fn key(&self) -> Option<&'static str> {
        match self {
            RigFault::OutOfRange { key, .. }
            | RigFault::WrongCount { key, .. }
            | RigFault::NotRising { key, .. }
            | RigFault::NotFromZero { key, .. }
            | RigFault::Unequal { key, .. }
            | RigFault::NotAbove { key, .. } => Some(key),
            RigFault::CannotIdle => None,
            RigFault::IdleValveTooSmall { .. } => Some("idle_valve_gap_mm"),
            RigFault::ThrottleTooOpen { .. } => Some("throttle_closed_mm2"),
        }
    }
}
