//! What the engine itself takes: rubbing parts and accessories.

use std::f64::consts::PI;

/// Motored friction at wide-open throttle (Pa), four-stroke engines of 0.8 to 2.0 l.
///
/// Equation: `fmep = 0.97 + 0.15 n + 0.05 n^2` bar, `n = N/1000` [1/min].
/// Valid range: about 500 to 6000 rpm; includes wide-open pumping.
/// Source: Heywood 1988, eq. 13.6 (from memory).
pub fn motored_wide_open_pa(speed_rad_s: f64) -> f64 {
    let n = thousands_rpm(speed_rad_s);
    1e5 * (0.97 + n * (0.15 + 0.05 * n))
}

/// Rubbing friction alone (Pa): the motored value less its own wide-open pumping.
///
/// Equation: `motored - (0.05 + 0.018 n^2)` bar. Source: the pumping term is our own fit;
/// without it, adding `p_e - p_m` would count pumping twice.
pub fn rubbing_pa(speed_rad_s: f64) -> f64 {
    let n = thousands_rpm(speed_rad_s);
    motored_wide_open_pa(speed_rad_s) - 1e5 * (0.05 + 0.018 * n * n)
}

/// How much thicker oil rubs: factor on the rubbing friction at a coolant temperature.
///
/// Equation: `exp(0.011 (90 degC - T))`, 1 above 90 degC. Valid range: -30 to 90 degC.
/// Source: our own law; 2.2 at 20 degC, 3.2 at -15 degC.
pub fn cold_factor(coolant_k: f64) -> f64 {
    (0.011 * (363.15 - coolant_k)).exp().max(1.0)
}

fn thousands_rpm(speed_rad_s: f64) -> f64 {
    speed_rad_s * 0.03 / PI
}
