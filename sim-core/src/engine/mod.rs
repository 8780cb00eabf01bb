//! The engine: friction, flame, the scatter of its cycles, work and exhaust gas.
//!
//! ```
//! use sim_core::{engine::exhaust::gas_of, fuel::kind::Fuel};
//! let petrol = Fuel::petrol_with_ethanol(0.0);
//! let (lean, rich) = (gas_of(&petrol, 1.1), gas_of(&petrol, 0.9));
//! assert!(lean.co == 0.0 && lean.o2 > 0.01 && rich.co > 0.02 && rich.o2 == 0.0);
//! ```

pub mod burn;
pub mod exhaust;
pub mod flame;
pub mod friction;
pub mod idle_spark;
pub mod late;
pub mod plug;
pub mod roughness;
pub mod scatter;
pub mod work;
