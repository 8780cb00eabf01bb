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

mod reading;

pub use reading::{Averaging, READINGS, Reading, WORKSHOP_RANGES, WORKSHOP_READINGS};

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
        "no amount of air carries {}: at its best, with {} of air (lambda {lambda:.2}), the engine still lacks {} of mean effective pressure",
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
    /// No injector opens.
    #[error(
        "nothing sprays: the system pressure is {}, and the injectors open at {}",
        bar(*system_pa),
        bar(*opening_pa)
    )]
    NothingSprays {
        /// System pressure above ambient.
        system_pa: f64,
        /// Pressure at which the injectors open.
        opening_pa: f64,
    },
    /// Some injectors stay shut, and the others do not carry the engine.
    #[error(
        "only {spraying} of {lines} injectors spray: the system pressure is {}, and they open at about {}",
        bar(*system_pa),
        bar(*opening_pa)
    )]
    FewSpray {
        /// System pressure above ambient.
        system_pa: f64,
        /// Pressure at which the injectors open, the mean of the set.
        opening_pa: f64,
        /// How many open.
        spraying: usize,
        /// Of how many.
        lines: usize,
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
    /// The speed lies above the controller's limit, where it cuts the fuel.
    #[error(
        "the controller cuts the fuel: {} is above its limit, {}",
        rpm(*speed_rad_s),
        rpm(*limit_rad_s)
    )]
    FuelCut {
        /// The speed.
        speed_rad_s: f64,
        /// The limit.
        limit_rad_s: f64,
    },
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
    /// System pressure above ambient (Pa).
    pub system_pa: f64,
    /// Lower chambers of the differential-pressure valves, above ambient (Pa).
    pub lower_chamber_pa: f64,
    /// Injection line of the first cylinder, above ambient (Pa).
    pub line_pa: f64,
    /// How many injectors open.
    pub spraying: usize,
    /// Whether all of them do.
    pub lines_spray: bool,
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
#[expect(clippy::large_enum_variant, reason = "a state is `Copy`, and a box would not be")]
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

/// Lambda from which its number says nothing: ten times the air that the fuel can burn, as in a
/// fuel cut. What is left there counts as air.
pub const LAMBDA_SAYS_NOTHING: f64 = 10.0;

/// COV of imep from which it says nothing: as many cycles are lost as do work.
const COV_SAYS_NOTHING: f64 = 1.0;

impl State {
    /// Lambda where it says something: not of next to no fuel.
    pub fn told_lambda(&self) -> Option<f64> {
        told_lambda(self.lambda)
    }

    /// COV of imep where it says something: not of an engine that is driven.
    pub fn told_cov(&self) -> Option<f64> {
        told_cov(self.cov)
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

/// A COV of imep where it says something.
pub fn told_cov(cov: f64) -> Option<f64> {
    (cov < COV_SAYS_NOTHING).then_some(cov)
}

/// A lambda where it says something.
pub fn told_lambda(lambda: f64) -> Option<f64> {
    (lambda < LAMBDA_SAYS_NOTHING).then_some(lambda)
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
