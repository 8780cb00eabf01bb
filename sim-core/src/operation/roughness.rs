//! How roughly an engine runs, and in which zone of the screw that is.

use super::operating_state::{OperatingState, Plant};
use crate::engine::burn::ROUGH_COV;
use crate::engine::work::relative_work;
use crate::point::Zone;

/// Roughness and misfires of the whole engine.
pub(crate) struct Rough {
    /// COV of imep.
    pub cov: f64,
    /// Share of misfired cycles in the worst cylinder.
    pub worst_misfire: f64,
    /// Share of misfired cycles over all.
    pub mean_misfire: f64,
}

/// COV of imep of the whole engine and misfires.
///
/// Equation: `COV^2 = mean COV_i^2 + var(T_i)/mean(T)^2`, `T_i = g_i w_i` the torque of
/// cylinder `i`: scatter within the cylinders, and the shake of their unequal strength.
/// Source: our own sum of the two.
pub(crate) fn roughness(plant: &Plant, state: &OperatingState) -> Rough {
    let count = state.lambdas.len() as f64;
    let (mut own, mut torque, mut torque2) = (0.0, 0.0, 0.0);
    let (mut worst, mut mean) = (0.0_f64, 0.0);
    for (&lambda, &slowness) in state.lambdas.iter().zip(&state.slowness) {
        let cycles = plant.parts.burn.cycles(slowness, plant.lost(lambda));
        let t = cycles.mean * relative_work(lambda);
        own += cycles.cov * cycles.cov / count;
        torque += t / count;
        torque2 += t * t / count;
        worst = worst.max(cycles.misfire);
        mean += cycles.misfire / count;
    }
    let spread = (torque2 / (torque * torque) - 1.0).max(0.0);
    Rough { cov: (own + spread).sqrt(), worst_misfire: worst, mean_misfire: mean }
}

/// How an engine runs, by its roughness and mixture.
pub(crate) fn zone(plant: &Plant, cov: f64, lambda: f64) -> Zone {
    if cov <= ROUGH_COV {
        Zone::Smooth
    } else if lambda > plant.reference.least_rough_lambda[plant.law as usize] {
        Zone::RoughLean
    } else {
        Zone::RoughRich
    }
}
