//! What the controller and the technician's meters see.

pub mod lambda_sensor;
pub mod meter;
pub mod potentiometer;
pub mod wear;
