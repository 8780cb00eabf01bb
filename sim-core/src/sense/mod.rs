//! What the controller and the technician's meters see.

pub mod faults;
pub mod lambda_sensor;
pub mod potentiometer;
pub mod thermistor;
