//! A rig made into one car: what a handful of readings tells of its parts and its setting, how
//! sure each of that is, and what they cannot tell.
//!
//! Equation: `x^ = argmin sum((y_i - m_i(x))^2/s_i^2) + sum(x_j^2) - 2 sum ln P(mark | x)`, the
//! maximum of the posterior; its covariance `(J^T J)^-1` by Gauss and Newton, with the spread
//! between the flame laws. Symbols: `x` parameters in units of their prior's standard deviation
//! ([`parameters::PARAMETERS`]), `y` readings, `m` what the model shows, `s` meter and what the
//! model is off, `mark` rough or smooth by ear. Valid range: cars within a few spreads of their
//! rig. Source: Bayes' rule; the spreads are our own judgement.
//!
//! ```
//! use sim_core::diagnose::sheet::{Slot, Taken};
//! use sim_core::fit::question::{Question, Read};
//! use sim_core::{conditions::Conditions, fit::posterior::fit, rig::keys::Setup};
//! let rig = sim_core::rig::shipped::shipped("six").unwrap().rig;
//! let setup = Setup { rig, conditions: Conditions::default() };
//! let mut question = Question::of(&setup);
//! for (name, value) in [("duty_percent", 75.0), ("potentiometer_v", 0.74)] {
//!     question.reads.push(Read::of(Slot::of(name, Taken::IDLE).unwrap(), value, None));
//! }
//! let found = fit(&question).unwrap();
//! assert!(found.told("screw_turns").unwrap().value < 0.0); // the duty adds fuel: too far out
//! ```

pub mod advise;
pub mod bench_trial;
pub mod car_file;
pub mod least_squares;
pub mod model;
pub mod parameters;
pub mod posterior;
pub mod question;
pub mod trial;
