//! Changes of parts by a full strength: our own judgement of what a workshop meets.

/// Potentiometer's housing (m).
pub const HOUSING_M: f64 = 0.6e-3;
/// Pit in its track: depth (V), half width (m).
pub const PIT: (f64, f64) = (0.15, 0.3e-3);
/// Plate's stop (m).
pub const REST_M: f64 = 0.6e-3;
/// Screw (turns).
pub const SCREW: f64 = 0.125;
/// Width of all slits, share.
pub const SLITS: f64 = 0.10;
/// Width of one slit, share.
pub const SLIT: f64 = 0.35;
/// Air after the throttle (kg/s).
pub const LEAK_KG_S: f64 = 2.5 / 3600.0;
/// Gap that passes air beside the plate (m).
pub const BESIDE_M: f64 = 0.06e-3;
/// Actuator's pressure for each mA, share.
pub const ACTUATOR: f64 = 0.5;
/// System pressure (Pa).
pub const SYSTEM_PA: f64 = 0.6e5;
/// Share of the pump that is gone.
pub const PUMP: f64 = 0.8;
/// Pressure that a filter takes (Pa).
pub const FILTER_PA: f64 = 40e5;
/// Opening left in the check valve, against the rig's dirt.
pub const CHECK: f64 = 2.0;
/// An injector's opening pressure (Pa).
pub const INJECTOR_PA: f64 = 1.0e5;
/// Air into the exhaust, share of the air breathed.
pub const EXHAUST: f64 = 0.08;
/// The coolant sensor's resistance, times; its logarithm is graded.
pub const COOLANT: f64 = 8.0;
/// Idle air valve's gap, times.
pub const VALVE: f64 = 2.0;
/// Throttle linkage (m).
pub const LINKAGE_M: f64 = 1.4e-3;
/// Fuel by another way, share of the idle's.
pub const OTHER_FUEL: f64 = 0.15;
