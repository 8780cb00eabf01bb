//! What the controller and the technician's meters see.

pub mod faults;
pub mod lambda_sensor;
pub mod meter;
pub mod potentiometer;
pub mod thermistor;
pub mod wear;
