//! Compressible flow of air through a restriction.

use super::GAS_CONSTANT;

/// Ratio of specific heats of air.
const GAMMA: f64 = 1.4;
/// Downstream over upstream pressure below which the flow is choked: `(2/(g+1))^(g/(g-1))`.
pub const CRITICAL_RATIO: f64 = 0.528_281_787_717_174_5;
/// Above this ratio the law is replaced by a straight line to zero flow at ratio 1, where
/// the true law has infinite slope.
const LINEAR_ABOVE: f64 = 0.999;

/// The flow function where the flow is choked: `sqrt(1.4) / 1.2^3`.
const CHOKED: f64 = 0.684_731_456_377_270_4;
/// The flow function at `LINEAR_ABOVE`.
const AT_LINEAR: f64 = 0.0446973952584066;

/// Mass flow through one square metre of effective area (kg/(s m2)).
///
/// Equation: `G = p1 / sqrt(R T1) psi(p2/p1)`,
/// `psi = r^(1/g) sqrt(2g/(g-1) (1 - r^((g-1)/g)))` for `r > 0.5283`, else
/// `psi = sqrt(g) (2/(g+1))^((g+1)/(2(g-1)))`.
/// Symbols: `p1`, `T1` upstream pressure (Pa) and temperature (K), `p2` downstream (Pa).
/// Valid range: `0 <= p2 <= p1`; above `r = 0.999` a straight line to zero, 0 for `r >= 1`.
/// Source: Heywood 1988, App. C, eqs C.8 and C.9 (from memory).
///
/// ```
/// use sim_core::air::orifice::flux_kg_s_m2;
/// let flow = flux_kg_s_m2(101_325.0, 293.15, 30_000.0) * 20e-6 * 3600.0;
/// assert!((flow - 17.2205).abs() < 1e-3); // kg/h through 20 mm2
/// ```
pub fn flux_kg_s_m2(upstream_pa: f64, upstream_k: f64, downstream_pa: f64) -> f64 {
    upstream_pa / (GAS_CONSTANT * upstream_k).sqrt() * flow_function(downstream_pa / upstream_pa)
}

/// The flow function `psi` of the pressure ratio, see [`flux_kg_s_m2`].
pub fn flow_function(ratio: f64) -> f64 {
    if ratio <= CRITICAL_RATIO {
        CHOKED
    } else if ratio < LINEAR_ABOVE {
        unchoked(ratio)
    } else {
        AT_LINEAR * ((1.0 - ratio) / (1.0 - LINEAR_ABOVE)).max(0.0)
    }
}

/// The flow function and its derivative with the pressure ratio.
///
/// Equation: with `p = r^(1/g)`, `psi^2 = 2g/(g-1) (p^2 - p r)`, so
/// `psi' = g/(g-1) (2 p^2/(g r) - p - p/g) / psi` where the flow is not choked.
/// Valid range and source as `flow_function`; at 0.999 the slope jumps, and from 1 on, where
/// nothing flows, it is that of the straight line before.
///
/// ```
/// use sim_core::air::orifice::{flow_function, flow_function_and_slope};
/// let (psi, slope) = flow_function_and_slope(0.9);
/// let difference = (flow_function(0.9001) - flow_function(0.8999)) / 0.0002;
/// assert!(psi == flow_function(0.9) && (slope / difference - 1.0).abs() < 1e-6);
/// ```
pub fn flow_function_and_slope(ratio: f64) -> (f64, f64) {
    if ratio <= CRITICAL_RATIO {
        (CHOKED, 0.0)
    } else if ratio < LINEAR_ABOVE {
        let p = ratio.powf(1.0 / GAMMA);
        let psi = unchoked_by(p, ratio);
        let bends = 2.0 * p * p / (GAMMA * ratio) - p - p / GAMMA;
        (psi, GAMMA / (GAMMA - 1.0) * bends / psi)
    } else {
        (flow_function(ratio), -AT_LINEAR / (1.0 - LINEAR_ABOVE))
    }
}

fn unchoked(ratio: f64) -> f64 {
    unchoked_by(ratio.powf(1.0 / GAMMA), ratio)
}

/// By `p = ratio^(1/g)`.
fn unchoked_by(p: f64, ratio: f64) -> f64 {
    p * (2.0 * GAMMA / (GAMMA - 1.0) * (1.0 - ratio / p)).sqrt()
}
