//! The actuator's base current of the moment, before any trim.

use crate::air::atmosphere::standard_pressure_pa;
use crate::assembly::Parts;
use crate::conditions::Conditions;
use crate::sense::faults::Altitude;
use crate::units::ATMOSPHERE_PA;

/// Height that a stuck altitude sensor signals (m).
const STUCK_AT_M: f64 = 1500.0;

/// Base current of the moment (A): by the coolant, and by the height where a sensor for it
/// is fitted.
///
/// Equation: `dp_slit(I) = dp_slit(I_0) p/p_0`: the fuel falls with the square root of the
/// air's density, as the metered air does at a given plate height. Source: our own.
pub(super) fn base_a(parts: &Parts, conditions: &Conditions) -> f64 {
    let controller = &parts.controller;
    let seen_k = conditions.seen_coolant_k(&parts.thermistor);
    let base_a = controller.base_current_a(seen_k);
    let altitude_m = match conditions.faults.altitude {
        _ if controller.altitude_sensor < 0.5 => return base_a,
        Altitude::Missing => return base_a,
        Altitude::Sound => conditions.altitude_m,
        Altitude::Stuck => STUCK_AT_M,
    };
    let thinner = standard_pressure_pa(altitude_m) / ATMOSPHERE_PA;
    let drop_pa = parts.pressures.slit_drop_pa(base_a) * thinner;
    parts.pressures.current_for_drop_a(drop_pa).clamp(controller.least_a, controller.most_a)
}
