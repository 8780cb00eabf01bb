//! Follows a running engine's charges: which of them was the first, on its last way down, that
//! no longer carried it, below the speed it should idle at.

use super::dynamics::{self, Inputs};
use super::engine::Engine;
use super::stall_cause::{Failed, StallCause};
use crate::engine::late::MOST_RELATIVE;
use crate::engine::work::MOST_WORK;
use crate::operation::operating_state::OperatingState;

/// A charge that makes less than this of what the engine needs leaves it short.
const SHORT: f64 = 0.95;
/// Burnt at its best, a charge must carry the engine with this much to spare, or air lacks.
const SPARE: f64 = 1.02;
/// Between these mixtures neither lean nor rich is to blame.
const LEAN_FROM: f64 = 1.1;
/// See [`LEAN_FROM`].
const RICH_FROM: f64 = 0.85;

impl Engine {
    /// Why the engine stalled, if it did; turning the key off is no stall.
    pub fn stalled_because(&self) -> Option<StallCause> {
        self.stalled_at_s?;
        self.short.filter(|_| self.power.key_on)
    }

    /// Follows whether the charges carry the engine.
    pub(super) fn note_shortage(&mut self, charge: &OperatingState, inputs: &Inputs) {
        let stands = self.stalled_at_s.is_some();
        // Charges that carry the engine must have come to their work.
        let carries = charge.imep_pa >= SHORT * charge.demand_pa;
        // Above its idle speed an engine may well slow down, after a blip or the flare of a start.
        let conditions = &self.setup.conditions;
        let idle = &self.plant.parts.controller;
        let idle_rad_s =
            conditions.speed_rad_s.unwrap_or_else(|| idle.idle_target_rad_s(conditions.coolant_k));
        let above = charge.speed_rad_s > idle_rad_s;
        let well = above || (carries && self.acceleration_rad_s2 >= 0.0);
        if !self.power.key_on || (well && !stands) {
            self.short = None;
        } else if (!carries || stands) && self.short.is_none() {
            self.short = Some(self.cause(charge, inputs));
        }
    }

    fn cause(&self, charge: &OperatingState, inputs: &Inputs) -> StallCause {
        let plant = &self.plant;
        let best_pa =
            MOST_WORK * MOST_RELATIVE * plant.best_imep_pa(charge.air_kg_s, charge.speed_rad_s);
        let least_rough = plant.reference.least_rough_lambda[plant.law as usize];
        let intake =
            dynamics::intake(plant, inputs.inlet_m2.1, charge.manifold_pa, charge.height_m);
        let failed = if plant.lines.spraying() == 0 {
            Failed::NothingSprays
        } else if !charge.lambda.is_finite() || self.controls.is_cut() {
            Failed::NoFuel
        } else if best_pa < SPARE * charge.demand_pa {
            Failed::NoAir
        } else if charge.imep_pa >= charge.demand_pa {
            Failed::NoTorque
        } else if charge.lambda > least_rough.max(LEAN_FROM) {
            Failed::Lean
        } else if charge.lambda < least_rough.min(RICH_FROM) {
            Failed::Drowned
        } else {
            Failed::NoTorque
        };
        StallCause {
            failed,
            time_s: self.time_s(),
            speed_rad_s: charge.speed_rad_s,
            lambda: charge.lambda,
            air_kg_s: charge.air_kg_s,
            manifold_pa: charge.manifold_pa,
            imep_pa: charge.imep_pa,
            best_pa,
            needs_pa: charge.demand_pa,
            system_pa: plant.parts.pressures.system_pa,
            plate_over_cylinders: intake.metered_kg_s / charge.air_kg_s,
        }
    }
}
