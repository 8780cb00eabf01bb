//! What the controller and the technician's meters see.
//!
//! ```
//! use sim_core::sense::meter::{Meter, Needle, loaded_v};
//! let mut needle = Meter::Needle(Needle::new(0.025, 2.5, 20e3)); // class 2.5, 2.5 V, 20 kohm/V
//! let at_meter_v = loaded_v(0.70, 2500.0, needle.input_ohm());
//! needle.feed(at_meter_v, 5.0);
//! assert!((needle.shown_v() - 0.667).abs() < 0.001); // the load takes 33 mV
//! ```

pub mod faults;
pub mod lambda_sensor;
pub mod meter;
pub mod potentiometer;
pub mod thermistor;
pub mod wear;
