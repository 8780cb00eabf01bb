//! How a run is worked out, and why it may not go on.

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
            pulsation: 0.0,
            finer: 1,
            decides_at: 0.0,
            solver_tolerance: None,
        }
    }
}

/// Why a run cannot go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RunFault {
    /// It cannot start from a running point.
    NoStart(Stall),
    /// A state is no longer a number.
    Diverged {
        /// When (s).
        time_s: f64,
    },
    /// A tick would take more steps than it may: the engine's parts are too quick.
    TooManySteps {
        /// When (s).
        time_s: f64,
        /// How many it asks for.
        steps: u32,
    },
    /// The plate sticks and slides without end.
    EventStorm {
        /// When (s).
        time_s: f64,
    },
    /// The general solver gave up.
    SolverGaveUp {
        /// When (s).
        time_s: f64,
    },
}
