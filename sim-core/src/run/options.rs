//! How a run is worked out, and why it may not go on.

use super::action::ActionError;
use crate::point::Stall;

/// The most steps of a tick.
pub const STEPS_MOST: u32 = 5000;
/// The most events of a tick.
pub const EVENTS_MOST: u32 = 50;
/// Time from tick to tick of the controller (s).
pub const TICK_S: f64 = 0.010;

/// What is added to a run for realism, and how finely it is worked out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Seed of the noise.
    pub seed: u64,
    /// Whether cycles scatter in torque.
    pub torque_noise: bool,
    /// Whether each cylinder's work is drawn cycle by cycle, in place of one scatter of the
    /// whole torque ([`Options::torque_noise`], which then draws nothing). Its random numbers
    /// are a stream of their own.
    pub works: bool,
    /// Amplitude of the intake's pulsation at the plate, share of the flow.
    pub pulsation: f64,
    /// Parts of a tick after each of which gas and sensor are advanced: so many times more
    /// than usual.
    pub finer: u32,
    /// How far into the tick the controller decides, as a share of it.
    pub decides_at: f64,
    /// Tolerance of the general solver; `None` for fixed steps.
    pub solver_tolerance: Option<f64>,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            seed: 1,
            torque_noise: false,
            works: false,
            pulsation: 0.0,
            finer: 1,
            decides_at: 0.0,
            solver_tolerance: None,
        }
    }
}

/// Why a run cannot go on.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RunFault {
    /// It cannot start from a running point.
    #[error("the engine does not run under these conditions, so nothing can be done to it: {0}")]
    NoStart(Stall),
    /// A state is no longer a number.
    #[error("at {time_s:.2} s a state is no longer a number: look at the rig's table [moving]")]
    Diverged {
        /// When (s).
        time_s: f64,
    },
    /// A tick would take more steps than it may: the engine's parts are too quick.
    #[error(
        "at {time_s:.2} s one tick of 10 ms would take {steps} steps, and {STEPS_MOST} are allowed. Either the manifold (manifold_l) is too small for its openings, or the plate (plate_kg) too light for its damping (plate_damping_ns_m)"
    )]
    TooManySteps {
        /// When (s).
        time_s: f64,
        /// How many it asks for.
        steps: u32,
    },
    /// The plate sticks and slides without end.
    #[error(
        "at {time_s:.2} s the plate stuck and slid more than {EVENTS_MOST} times in one tick: look at plunger_friction_n, plate_kg and plate_damping_ns_m"
    )]
    EventStorm {
        /// When (s).
        time_s: f64,
    },
    /// The general solver gave up.
    #[error("at {time_s:.2} s the general solver gave up")]
    SolverGaveUp {
        /// When (s).
        time_s: f64,
    },
    /// What should be done to the engine cannot be done to it as it is.
    #[error("at {time_s:.2} s: {why}")]
    Refused {
        /// When (s).
        time_s: f64,
        /// Why.
        why: ActionError,
    },
}
