//! A point: what the engine does and every meter shows, or why it does not run. And the
//! one list of readings.
//!
//! ```
//! use sim_core::{conditions::Conditions, point::Reading, rig::shipped::shipped, steady::SteadyEngine};
//! let rig = shipped("six").unwrap().rig;
//! let state = *SteadyEngine::new(&rig, &Conditions::default()).point(0.0).state().unwrap();
//! let duty = Reading::find("duty_percent").unwrap();
//! assert_eq!(duty.value(&state), Some(50.0)); // the trim is off
//! ```

use crate::engine::roughness::{Heard, RoughBy};
use crate::units::Unit;
use std::f64::consts::PI;

/// How the engine runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zone {
    /// Rough, and leaner than its smoothest.
    RoughLean,
    /// Nothing passes its limit.
    Smooth,
    /// Rough, and neither too lean nor too rich for it: sparks are lost.
    Rough,
    /// Rough, and richer than its smoothest.
    RoughRich,
    /// Not running.
    Stalled,
}

impl Zone {
    /// The word for it in tables and files.
    pub fn word(self) -> &'static str {
        match self {
            Zone::RoughLean => "rough-lean",
            Zone::Smooth => "smooth",
            Zone::Rough => "rough",
            Zone::RoughRich => "rough-rich",
            Zone::Stalled => "stalled",
        }
    }
}

/// An end of the idle air valve's travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ValveLimit {
    /// Shut: the engine gets more air than it needs.
    Closed,
    /// Full open: it needs more than it gets.
    Full,
}

impl ValveLimit {
    /// The word for it in tables and files.
    pub fn word(self) -> &'static str {
        match self {
            ValveLimit::Closed => "closed",
            ValveLimit::Full => "full",
        }
    }
}

/// Why there is no running point.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Stall {
    /// No amount of air carries this speed: the fold, where the two running points that
    /// more and less air would give meet and vanish.
    #[error(
        "no amount of air carries {}: past the fold, at its best with {} of air (lambda {lambda:.2}) the engine still lacks {} of mean effective pressure",
        rpm(*speed_rad_s),
        kg_h(*air_kg_s),
        bar(*short_pa)
    )]
    Fold {
        /// Speed asked for.
        speed_rad_s: f64,
        /// Air at which the engine comes nearest.
        air_kg_s: f64,
        /// Its mixture there.
        lambda: f64,
        /// What it still lacks (Pa).
        short_pa: f64,
    },
    /// With the opening given no speed above the stall limit is in balance.
    #[error(
        "{} no speed down to {} is in balance: nearest at {} (lambda {lambda:.2}) it lacks {} of mean effective pressure",
        valve(limit),
        rpm(*stall_rad_s),
        rpm(*best_rad_s),
        bar(*short_pa)
    )]
    TooSlow {
        /// The limit the idle air valve stands at, if it does.
        limit: Option<ValveLimit>,
        /// The stall limit.
        stall_rad_s: f64,
        /// Speed at which the engine comes nearest.
        best_rad_s: f64,
        /// Its mixture there.
        lambda: f64,
        /// What it still lacks (Pa).
        short_pa: f64,
    },
    /// The slits stay shut at the air the plate gets.
    #[error(
        "the slits stay shut: {} of air past the plate does not lift it to where they open",
        kg_h(*air_kg_s)
    )]
    NoFuel {
        /// Air past the plate.
        air_kg_s: f64,
    },
    /// The plate has left the funnel's profile.
    #[error(
        "outside range: {} of air lifts the plate out of the funnel's profile",
        kg_h(*air_kg_s)
    )]
    BeyondFunnel {
        /// Air past the plate.
        air_kg_s: f64,
    },
    /// Unmetered air leaves the plate hanging in its throat, or falling onto its stop.
    #[error(
        "outside range: unmetered air leaves only {} for the plate, which hangs in its throat, where its height tells nothing",
        kg_h(*air_kg_s)
    )]
    InThroat {
        /// Air past the plate.
        air_kg_s: f64,
    },
    /// No cycle makes torque on this mixture.
    #[error("no cylinder fires at lambda {lambda:.2}")]
    DoesNotFire {
        /// The mixture.
        lambda: f64,
    },
    /// On no mixture does the lambda sensor read lambda 1: what misfires on it keeps moving its target.
    #[error("no mixture contents the lambda sensor: what misfires on each moves its target")]
    NoTarget,
    /// Even the least air gives more torque than is needed at this speed.
    #[error(
        "outside range: even the least air gives more torque than {} needs",
        rpm(*speed_rad_s)
    )]
    RunsAway {
        /// The speed.
        speed_rad_s: f64,
    },
}

fn rpm(rad_s: f64) -> String {
    format!("{:.0} rpm", Unit::Rpm.from_si(rad_s))
}

fn kg_h(kg_s: f64) -> String {
    format!("{:.1} kg/h", Unit::KilogramPerHour.from_si(kg_s))
}

fn bar(pa: f64) -> String {
    format!("{:.2} bar", Unit::Bar.from_si(pa))
}

fn valve(limit: &Option<ValveLimit>) -> &'static str {
    match limit {
        Some(ValveLimit::Full) => "with the idle air valve full open",
        Some(ValveLimit::Closed) => "with the idle air valve shut",
        None => "with the idle air as it stands",
    }
}

/// A running engine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// How it runs.
    pub zone: Zone,
    /// Which part of the definition makes it rough, if it is.
    pub rough_by: Option<RoughBy>,
    /// The limit the idle air valve stands at, if it does.
    pub valve_limit: Option<ValveLimit>,
    /// Opening of the idle air valve, share of full.
    pub idle_valve: f64,
    /// Air-fuel ratio of the burning mixture over stoichiometric.
    pub lambda: f64,
    /// Coefficient of variation of imep.
    pub cov: f64,
    /// Share of misfired cycles in the worst cylinder.
    pub misfire: f64,
    /// Share of misfired cycles over all cylinders.
    pub mean_misfire: f64,
    /// How far the speed lies below the best this engine can do on this opening (rad/s); 0
    /// where the speed is held.
    pub speed_drop_rad_s: f64,
    /// Crank speed (rad/s).
    pub speed_rad_s: f64,
    /// Manifold pressure, absolute (Pa).
    pub manifold_pa: f64,
    /// Mass share of burnt gas in the charge.
    pub residual_fraction: f64,
    /// Air into the cylinders (kg/s).
    pub air_kg_s: f64,
    /// Air past the plate (kg/s).
    pub metered_kg_s: f64,
    /// Fuel through the slits (kg/s).
    pub fuel_kg_s: f64,
    /// Plate height above its rest (m).
    pub plate_lift_m: f64,
    /// Airflow potentiometer (V).
    pub potentiometer_v: f64,
    /// Actuator current that flows (A).
    pub actuator_a: f64,
    /// Duty signal of it, share.
    pub duty: f64,
    /// Fuel that the trim adds to what the base current would give, share.
    pub trim_fuel: f64,
    /// Current that would bring lambda to 1 here, clipped to the authority (A).
    pub wanted_a: Option<f64>,
    /// Duty signal of that, share.
    pub wanted_duty: Option<f64>,
    /// Pressure drop over the slits (Pa).
    pub slit_drop_pa: f64,
    /// Carbon monoxide, dry, before the catalyst, volume share.
    pub co: f64,
    /// Lambda sensor (V).
    pub sensor_v: f64,
    /// Torque a brake takes (N m); negative if it has to drive the engine.
    pub brake_nm: f64,
    /// How far friction of the plunger can shift lambda either way, share.
    pub friction_band: f64,
    /// Whether fuel would run out with the engine standing and the pump on.
    pub flows_at_rest: bool,
    /// Largest relative residual of the balances.
    pub residual: f64,
    /// The slowest mode that a kick of the idle shows, trim off; `None` with an open throttle
    /// and where nobody asked.
    pub mode: Option<Mode>,
}

/// A mode of motion, as `exp(growth t) cos(turn t)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Growth (1/s); below 0 it dies away.
    pub growth_per_s: f64,
    /// Its turn (rad/s), 0 where it does not oscillate.
    pub turn_rad_s: f64,
}

impl Mode {
    /// Damping ratio: 1 or -1 where it does not oscillate.
    ///
    /// Equation: `zeta = -g / sqrt(g^2 + w^2)`. Symbols: `g` growth, `w` turn. Valid range:
    /// any mode but a resting one. Source: definition.
    pub fn damping(&self) -> f64 {
        let size = self.growth_per_s.hypot(self.turn_rad_s);
        if size > 0.0 { -self.growth_per_s / size } else { 0.0 }
    }

    /// How long a swing takes (s), if it swings.
    pub fn period_s(&self) -> Option<f64> {
        (self.turn_rad_s > 0.0).then(|| 2.0 * PI / self.turn_rad_s)
    }
}

/// What became of a point.
// A point is `Copy`: boxes have no place in it.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// It runs.
    Running(State),
    /// It does not.
    Stalled(Stall),
}

/// The engine at one screw position.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Point {
    /// Turns of the screw from where the rig stands.
    pub screw_turns: f64,
    /// What became of it.
    pub outcome: Outcome,
}

/// COV of imep from which it says nothing: as many cycles are lost as do work.
const COV_SAYS_NOTHING: f64 = 1.0;

impl State {
    /// COV of imep where it says something: not of an engine that is driven.
    pub fn told_cov(&self) -> Option<f64> {
        (self.cov < COV_SAYS_NOTHING).then_some(self.cov)
    }

    /// What the ear hears of it.
    pub fn heard(&self) -> Heard {
        Heard {
            cov: self.cov,
            misfire: self.mean_misfire,
            speed_drop_rad_s: self.speed_drop_rad_s,
            damping: self.mode.map(|mode| mode.damping()),
        }
    }
}

impl Point {
    /// The running engine, if it runs.
    pub fn state(&self) -> Option<&State> {
        match &self.outcome {
            Outcome::Running(state) => Some(state),
            Outcome::Stalled(_) => None,
        }
    }

    /// Why it does not run, if it does not.
    pub fn stall(&self) -> Option<&Stall> {
        match &self.outcome {
            Outcome::Running(_) => None,
            Outcome::Stalled(stall) => Some(stall),
        }
    }

    /// How it runs.
    pub fn zone(&self) -> Zone {
        self.state().map_or(Zone::Stalled, |state| state.zone)
    }

    /// COV of imep, if it runs.
    pub fn cov(&self) -> Option<f64> {
        self.state().map(|state| state.cov)
    }
}

/// What stands for a reading over a time in which it swings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Averaging {
    /// Its mean.
    Mean,
    /// Its largest value.
    Largest,
}

/// One reading of a running engine.
#[non_exhaustive]
pub struct Reading {
    /// Name with unit: JSON key and CSV header.
    pub name: &'static str,
    /// Words for tables and axes.
    pub label: &'static str,
    /// Unit of the value.
    pub unit: Unit,
    /// Decimals a person wants to see.
    pub decimals: usize,
    /// The value, SI.
    pub get: fn(&State) -> Option<f64>,
    /// Puts a value, SI, where `get` finds it.
    pub set: fn(&mut State, f64),
    /// What stands for it over a time in which it swings.
    pub averaging: Averaging,
}

impl Reading {
    /// The reading of a name.
    pub fn find(name: &str) -> Option<&'static Reading> {
        READINGS.iter().find(|reading| reading.name == name)
    }

    /// The value in the reading's unit, where it means something: the mixture of an engine
    /// without fuel has no lambda.
    pub fn value(&self, state: &State) -> Option<f64> {
        (self.get)(state).map(|si| self.unit.from_si(si)).filter(|value| value.is_finite())
    }
}

const fn reading(
    name: &'static str,
    label: &'static str,
    unit: Unit,
    decimals: usize,
    get: fn(&State) -> Option<f64>,
    set: fn(&mut State, f64),
) -> Reading {
    let averaging = Averaging::Mean;
    Reading { name, label, unit, decimals, get, set, averaging }
}

/// Every reading, in the order of tables and files.
#[rustfmt::skip]
pub static READINGS: &[Reading] = &[
    reading("lambda", "lambda", Unit::One, 3, |s| Some(s.lambda), |s, v| s.lambda = v),
    reading("cov_percent", "roughness (COV of imep)", Unit::Percent, 1, State::told_cov, |s, v| s.cov = v),
    reading("misfire_percent", "misfired cycles", Unit::Percent, 1, |s| Some(s.misfire), |s, v| s.misfire = v),
    reading("speed_rpm", "speed", Unit::Rpm, 0, |s| Some(s.speed_rad_s), |s, v| s.speed_rad_s = v),
    reading("manifold_bar", "manifold pressure, absolute", Unit::Bar, 3, |s| Some(s.manifold_pa), |s, v| s.manifold_pa = v),
    reading("residual_fraction", "residual gas", Unit::One, 3, |s| Some(s.residual_fraction), |s, v| s.residual_fraction = v),
    reading("air_kg_h", "air", Unit::KilogramPerHour, 2, |s| Some(s.air_kg_s), |s, v| s.air_kg_s = v),
    reading("metered_air_kg_h", "air past the plate", Unit::KilogramPerHour, 2, |s| Some(s.metered_kg_s), |s, v| s.metered_kg_s = v),
    reading("fuel_kg_h", "fuel", Unit::KilogramPerHour, 3, |s| Some(s.fuel_kg_s), |s, v| s.fuel_kg_s = v),
    reading("plate_lift_mm", "plate above rest", Unit::Millimetre, 2, |s| Some(s.plate_lift_m), |s, v| s.plate_lift_m = v),
    reading("potentiometer_v", "airflow potentiometer", Unit::Volt, 3, |s| Some(s.potentiometer_v), |s, v| s.potentiometer_v = v),
    reading("actuator_ma", "actuator current", Unit::Milliampere, 1, |s| Some(s.actuator_a), |s, v| s.actuator_a = v),
    reading("duty_percent", "duty", Unit::Percent, 0, |s| Some(s.duty), |s, v| s.duty = v),
    reading("trim_fuel_percent", "fuel added beyond the base", Unit::Percent, 1, |s| Some(s.trim_fuel), |s, v| s.trim_fuel = v),
    reading("wanted_ma", "current wanted for lambda 1", Unit::Milliampere, 1, |s| s.wanted_a, |s, v| s.wanted_a = Some(v)),
    reading("wanted_duty_percent", "duty wanted for lambda 1", Unit::Percent, 0, |s| s.wanted_duty, |s, v| s.wanted_duty = Some(v)),
    reading("slit_drop_bar", "pressure drop over the slits", Unit::Bar, 3, |s| Some(s.slit_drop_pa), |s, v| s.slit_drop_pa = v),
    reading("co_percent", "CO, dry, before the catalyst", Unit::Percent, 2, |s| Some(s.co), |s, v| s.co = v),
    reading("sensor_v", "lambda sensor", Unit::Volt, 2, |s| Some(s.sensor_v), |s, v| s.sensor_v = v),
    reading("idle_valve_percent", "idle air valve", Unit::Percent, 0, |s| Some(s.idle_valve), |s, v| s.idle_valve = v),
    reading("brake_nm", "brake torque", Unit::NewtonMetre, 1, |s| Some(s.brake_nm), |s, v| s.brake_nm = v),
    reading("friction_band_percent", "lambda either way by plunger friction", Unit::Percent, 1, |s| Some(s.friction_band), |s, v| s.friction_band = v),
    Reading { averaging: Averaging::Largest, ..reading("residual", "largest relative residual", Unit::One, 0, |s| Some(s.residual), |s, v| s.residual = v) },
];
