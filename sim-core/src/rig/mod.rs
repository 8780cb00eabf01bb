//! A rig: the parts of one engine, checked.

pub mod file;
pub mod keys;
pub mod seeded;
pub mod shipped;

use crate::air::breathing::Breathing;
use crate::air::plate::{Lever, Plate};
use crate::air::throttle::{IdleValve, Throttle};
use crate::control::memory::Memory;
use crate::control::starting::Starting;
use crate::control::trim::Controller;
use crate::engine::burn::Burn;
use crate::engine::flame::FLAME_LAWS;
use crate::fuel::pressure::Pressures;
use crate::fuel::slit::Slits;
use crate::fuel::supply::Supply;
use crate::sense::lambda_sensor::LambdaSensor;
use crate::sense::potentiometer::Potentiometer;
use crate::sense::thermistor::Thermistor;
use crate::steady::reference;

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
    /// Starter and start valve.
    pub starting: Starting,
    /// Coolant thermistor.
    pub thermistor: Thermistor,
    /// Supply of the controller's memory.
    pub memory: Memory,
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
}

/// Why parts do not make a rig.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RigFault {
    /// A row's values do not rise, from the entry named by its index.
    NotRising {
        /// Key of the row.
        key: &'static str,
        /// Index of the first entry that is not above the one before.
        index: usize,
    },
    /// A row that must start at 0 does not.
    NotFromZero {
        /// Key of the row.
        key: &'static str,
        /// Its first value, in the key's unit.
        first: f64,
    },
    /// Two rows that belong together differ in length.
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
    NotAbove {
        /// The key.
        key: &'static str,
        /// Its value, in the keys' unit.
        value: f64,
        /// The other key.
        other: &'static str,
        /// The other's value.
        other_value: f64,
    },
    /// The engine has no running point at lambda 1, warm idle, sea level.
    CannotIdle,
    /// Its idle needs an opening the idle air valve does not have.
    IdleValveTooSmall {
        /// Effective area needed (m2).
        needed_m2: f64,
        /// Effective area of the valve full open (m2).
        full_m2: f64,
    },
    /// With the throttle closed it already gets more air than its idle needs.
    ThrottleTooOpen {
        /// Air past the closed throttle (kg/s).
        passes_kg_s: f64,
        /// Air the idle needs (kg/s).
        needed_kg_s: f64,
    },
}

impl RigFault {
    /// The file key the fault belongs to, if it belongs to one.
    pub fn key(&self) -> Option<&'static str> {
        match self {
            RigFault::NotRising { key, .. }
            | RigFault::NotFromZero { key, .. }
            | RigFault::Unequal { key, .. }
            | RigFault::NotAbove { key, .. } => Some(key),
            RigFault::CannotIdle => None,
            RigFault::IdleValveTooSmall { .. } => Some("idle_valve_gap_mm"),
            RigFault::ThrottleTooOpen { .. } => Some("throttle_closed_mm2"),
        }
    }
}

/// A checked engine. Every value lies in the range of its key, the funnel rises, and the
/// engine idles at lambda 1; physics need not check again. `Copy` and under 2 kB.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rig {
    parts: Parts,
    reference: Reference,
}

impl Rig {
    /// Checks how the parts go together and works out the reference state. Single values
    /// must have been checked against their keys' ranges.
    pub fn new(parts: Parts) -> Result<Rig, RigFault> {
        check(&parts)?;
        let reference = reference::of(&parts)?;
        Ok(Rig { parts, reference })
    }

    /// The parts.
    pub fn parts(&self) -> &Parts {
        &self.parts
    }

    /// The reference state.
    pub fn reference(&self) -> &Reference {
        &self.reference
    }

    /// The same engine with parts changed after it left the workshop: the reference state
    /// (flame speed, idle opening) stays that of the sound engine.
    pub fn with_parts(&self, change: impl FnOnce(&mut Parts)) -> Result<Rig, RigFault> {
        let mut rig = *self;
        change(&mut rig.parts);
        check(&rig.parts)?;
        Ok(rig)
    }
}

fn check(parts: &Parts) -> Result<(), RigFault> {
    use crate::units::Unit::Millimetre;
    let plate = &parts.plate;
    let (heights, gaps) = (&*plate.profile_height_m, &*plate.profile_gap_m);
    if heights.len() != gaps.len() {
        return Err(RigFault::Unequal {
            key: "funnel_gap_mm",
            count: gaps.len(),
            other: "funnel_height_mm",
            other_count: heights.len(),
        });
    }
    for (key, row) in [("funnel_height_mm", heights), ("funnel_gap_mm", gaps)] {
        if row[0] != 0.0 {
            return Err(RigFault::NotFromZero { key, first: Millimetre.from_si(row[0]) });
        }
        if let Some(index) = (1..row.len()).find(|&i| row[i] <= row[i - 1]) {
            return Err(RigFault::NotRising { key, index });
        }
    }
    let throttle = &parts.throttle;
    above(("throttle_open_deg", throttle.open_deg), ("throttle_closed_deg", throttle.closed_deg))?;
    let controller = &parts.controller;
    above(
        ("current_high_ma", controller.most_a * 1e3),
        ("current_low_ma", controller.least_a * 1e3),
    )?;
    above(
        ("idle_rpm", crate::units::Unit::Rpm.from_si(controller.idle_rad_s)),
        ("stall_rpm", crate::units::Unit::Rpm.from_si(controller.stall_rad_s)),
    )
}

fn above(key: (&'static str, f64), other: (&'static str, f64)) -> Result<(), RigFault> {
    if key.1 > other.1 {
        return Ok(());
    }
    Err(RigFault::NotAbove { key: key.0, value: key.1, other: other.0, other_value: other.1 })
}
