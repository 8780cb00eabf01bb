//! From readings back to the cause: which of the named causes a car with these readings has, how
//! sure that is, and which one check would tell most.
//!
//! Equation: `P(c | y) ~ P(c) mean_s p(y | c, s)`, over strengths `s` of a cause `c`; pairs
//! likewise. `p(y | c, s)` is a multivariate t about the mean of an ensemble of relatives of the
//! rig, each set as a workshop sets it and then given the cause. The mean is that of sound engines
//! with what the cause moves in the same engine; the covariance is that of the ensemble (3 parts
//! of 10 its own, the rest that of sound engines: of few engines its own makes too sure), of the
//! meters, of as much again for what the model is off, and of the strengths between two of the
//! grid. Symbols: `y` readings. Valid range: faults of the list, engines of a
//! [`spread::Spread`]. Source: Bayes' rule; priors, spreads and full strengths are our own
//! judgement.
//!
//! Two causes are taken to add up in the readings, between the ends of each meter.
//!
//! ```
//! use sim_core::diagnose::{car::Asked, library::{Library, Plan}, sheet::{Slot, Taken}};
//! use sim_core::diagnose::posterior::{Evidence, Read, weigh};
//! let rig = sim_core::rig::shipped::shipped("six").unwrap().rig;
//! let slots = vec![Slot::of("potentiometer_v", Taken::IDLE).unwrap()];
//! let plan = Plan::new(&rig, &Asked::default(), slots, 8);
//! let worked = plan.tasks.iter().map(|task| plan.work(task)).collect();
//! let library = Library::of(plan, worked, &[]);
//! let reads = [Read { slot: 0, value: 0.55 }];
//! let found = weigh(&library, &Evidence { reads: &reads, ear: None }, false);
//! assert!((found.shared.iter().sum::<f64>() - 1.0).abs() < 1e-9);
//! ```

pub mod car;
pub mod causes;
pub mod checks;
pub mod given;
pub mod library;
pub mod posterior;
pub mod sheet;
pub mod spread;
pub mod trial;
