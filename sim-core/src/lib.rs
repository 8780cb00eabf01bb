//! Physics of continuous mechanical fuel injection on spark-ignition engines:
//! what the air plate weighs, what the slits let through, how the engine burns it,
//! and what a technician's meters show.
//!
//! Data runs one way: rig file -> [`Rig`](rig::Rig) -> `(Rig, Conditions)` ->
//! [`Point`](point::Point) -> a report elsewhere. This crate reads no file, prints
//! nothing, asks no clock and starts no thread.
//!
//! Inside everything is SI, and a name that crosses a boundary carries its unit
//! (`pressure_pa`, `lift_m`, `current_a`). Screw turns are positive clockwise, which
//! is richer. Fuel-side pressures are gauge. Lambda 1 is stoichiometric.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::shipped, steady::SteadyEngine};
//! let six = shipped::shipped("six").unwrap();
//! let steady = SteadyEngine::new(&six.rig, &Conditions::default());
//! let state = *steady.point(0.0).state().unwrap();
//! assert!(state.lambda > 0.85 && state.lambda < 1.0); // a little rich, as set cold
//! ```

pub mod ageing;
pub mod air;
mod assembly;
pub mod bleed;
pub mod claims;
pub mod conditions;
pub mod consequences;
pub mod control;
pub mod diagnose;
pub mod drive;
pub mod engine;
pub mod fit;
pub mod flowstart;
pub mod fuel;
pub mod housing;
pub mod job;
pub mod maths;
pub mod mechanisms;
pub mod noise;
pub mod ode;
mod operation;
pub mod parts;
pub mod point;
pub mod relearn;
pub mod rig;
pub mod run;
pub mod section;
pub mod sense;
pub mod shares;
pub mod solve;
pub mod sound;
pub mod steady;
pub mod sweep;
pub mod units;
pub mod voltage;
pub mod wording;
