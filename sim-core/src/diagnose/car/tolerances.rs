//! What a sound car differs by from another, one sigma, beside [`crate::rig::seeded::relative`]'s
//! spread: our own judgement.

/// Where the screw was left beside a centred duty (turns).
pub const SCREW: f64 = 1.0 / 128.0;
/// Where the housing was left beside the rig's own voltage (V).
pub const HOUSING_V: f64 = 0.012;
/// How much higher or lower than its stop should be the plate rests at most (m).
pub const REST_M: f64 = 0.15e-3;
/// System pressure (Pa).
pub const SYSTEM_PA: f64 = 0.05e5;
/// The actuator's slope (share).
pub const ACTUATOR: f64 = 0.02;
/// Delivery of the pump (share).
pub const PUMP: f64 = 0.05;
/// Where the regulator closes (Pa).
pub const CLOSES_PA: f64 = 0.1e5;
/// Leaks of the fuel side (natural logarithm).
pub const LEAKS: f64 = 0.3;
/// An injector's opening (Pa).
pub const INJECTOR_PA: f64 = 0.08e5;
/// The fall of speed without a cylinder: of all (share), of each (rpm).
pub const DROP: (f64, f64) = (0.15, 4.0);
/// Resistance of the coolant sensor (logarithm).
pub const COOLANT: f64 = 0.05;
/// Resistance of a closed contact (logarithm).
pub const CONTACT: f64 = 0.7;
/// Hydrocarbons of a sound engine (logarithm).
pub const HC: f64 = 0.25;
/// Oxygen that a sound engine's crevices and probe add (share of the gas).
pub const O2: f64 = 0.05e-2;
/// Time of a swing (logarithm).
pub const SWING: f64 = 0.15;
/// Cranking of a cold engine (logarithm).
pub const CRANKING: f64 = 0.2;
