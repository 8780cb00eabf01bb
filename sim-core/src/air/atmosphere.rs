//! The outside air by height.

use super::GAS_CONSTANT;
use crate::units::ATMOSPHERE_PA;

/// Temperature of the standard atmosphere (K).
///
/// Equation: `T = 288.15 - 0.0065 h`. Symbols: `h` geopotential height (m).
/// Valid range: -2000 to 11 000 m; this crate's keys stop at 5000 m.
/// Source: ISO 2533:1975, eq. for the lowest layer.
///
/// ```
/// assert_eq!(sim_core::air::atmosphere::standard_temperature_k(1000.0), 281.65);
/// ```
pub fn standard_temperature_k(height_m: f64) -> f64 {
    288.15 - 0.0065 * height_m
}

/// Pressure of the standard atmosphere (Pa).
///
/// Equation: `p = 101325 (T / 288.15)^5.25588`. Valid range as the temperature.
/// Source: ISO 2533:1975.
///
/// ```
/// let p = sim_core::air::atmosphere::standard_pressure_pa(1500.0);
/// assert!((p - 84556.0).abs() < 5.0);
/// ```
pub fn standard_pressure_pa(height_m: f64) -> f64 {
    ATMOSPHERE_PA * (standard_temperature_k(height_m) / 288.15).powf(5.25588)
}

/// Density of dry air (kg/m3).
///
/// Equation: `rho = p / (R T)`. Source: ideal gas law, `R` of ISO 2533:1975.
/// Humidity is left out: saturated air at 30 degC is 1.6 % lighter.
pub fn density_kg_m3(pressure_pa: f64, temperature_k: f64) -> f64 {
    pressure_pa / (GAS_CONSTANT * temperature_k)
}
