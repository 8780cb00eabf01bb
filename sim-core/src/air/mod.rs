//! The air path: what is outside, the plate that weighs it, the throttle and the idle
//! air valve, what the cylinders take in and what stays in them.

pub mod atmosphere;
pub mod breathing;
pub mod orifice;
pub mod plate;
pub mod throttle;

/// Specific gas constant of dry air (J/(kg K)), ISO 2533:1975.
pub const GAS_CONSTANT: f64 = 287.05287;
