//! The air path: what is outside, the plate that weighs it, the throttle and the idle
//! air valve, what the cylinders take in and what stays in them.
//!
//! ```
//! use sim_core::{air::atmosphere::standard_pressure_pa, rig::shipped::shipped};
//! assert!((standard_pressure_pa(0.0) - 101_325.0).abs() < 1e-9);
//! let plate = shipped("six").unwrap().rig.parts().plate;
//! assert!(plate.area_m2(10e-3) > plate.area_m2(5e-3)); // it opens as it rises
//! ```

pub mod atmosphere;
pub mod breathing;
pub mod orifice;
pub mod plate;
pub mod throttle;

/// Specific gas constant of dry air (J/(kg K)), ISO 2533:1975.
pub const GAS_CONSTANT: f64 = 287.05287;
