//! The job sheet of a car: which step comes after which, what each meter should then show, and
//! how far a sound car may be off it.
//!
//! What is expected is the rig's own reading, set as it should be. How far off a sound car may be
//! comes of relatives of the rig ([`crate::diagnose::car`]), each read with meters that err.
//!
//! ```
//! use sim_core::{diagnose::{car::Asked, sheet::Taken}, job::{expected::Plan, reading::Place}};
//! let rig = sim_core::rig::shipped::shipped("six").unwrap().rig;
//! let asked = Asked { conditions: sim_core::conditions::Conditions::closed_loop(), ..Asked::default() };
//! let places = vec![Place::of("potentiometer_v", Taken::IDLE).unwrap()];
//! let plan = Plan::new(&rig, &asked, places).unwrap();
//! let shown = plan.tasks().iter().map(|task| plan.work(task)).collect();
//! let expected = plan.expected(shown, &[None])[0].clone().unwrap();
//! assert!((expected.value - 0.7).abs() < 0.01 && expected.tolerance < 0.05);
//! ```

pub mod expected;
pub mod jobs;
pub mod reading;
pub mod repair;
pub mod steps;
