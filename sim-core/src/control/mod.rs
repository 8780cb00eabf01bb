//! The controller: base current, trim and idle speed as a steady engine shows them, and what
//! a start asks for.
//!
//! ```
//! use sim_core::rig::shipped::shipped;
//! let controller = shipped("six").unwrap().rig.parts().controller;
//! assert!(controller.base_current_a(263.15) > controller.base_current_a(363.15)); // warm-up
//! assert_eq!(controller.duty(controller.base_a, controller.base_a), 0.5);
//! ```

pub mod cells;
pub mod idle;
pub mod memory;
pub mod starting;
pub mod trim;
