//! The fuel: what it is, how it is supplied, how the plunger's slits meter it, and what
//! drives it through them.
//!
//! ```
//! use sim_core::fuel::{kind::Fuel, slit::jet_speed_m_s};
//! let petrol = Fuel::petrol_with_ethanol(0.0);
//! assert!(petrol.air_fuel_ratio() > 14.0 && petrol.air_fuel_ratio() < 15.0);
//! assert!((jet_speed_m_s(20e3, 740.0) - 7.35).abs() < 0.01); // 0.2 bar over the slits
//! ```

pub mod condition;
pub mod injector;
pub mod kind;
pub mod leak;
pub mod pressure;
pub mod slit;
pub mod supply;
