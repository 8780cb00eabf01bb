//! Why a running engine stalled: what failed first on its last way down, with its numbers.

use super::dynamics::{self, Inputs};
use super::engine::Engine;
use crate::engine::work::MOST_WORK;
use crate::operation::operating_state::OperatingState;
use crate::units::Unit;

/// A charge that makes less than this of what the engine needs leaves it short.
const SHORT: f64 = 0.95;
/// Burnt at its best, a charge must carry the engine with this much to spare, or air lacks.
const SPARE: f64 = 1.02;
/// Between these mixtures neither lean nor rich is to blame.
const LEAN_FROM: f64 = 1.1;
/// See [`LEAN_FROM`].
const RICH_FROM: f64 = 0.85;

/// What failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failed {
    /// The fuel was cut or its slits stayed shut.
    NoFuel,
    /// The mixture was too lean to burn well enough.
    Lean,
    /// The mixture was too rich to burn well enough.
    Drowned,
    /// Even burnt at its best there was too little air.
    NoAir,
    /// Air and mixture would have done; the burning, or a load, took the torque.
    NoTorque,
}

/// Why an engine stalled: the first charge of the last time it was short of torque.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StallCause {
    /// What failed.
    pub failed: Failed,
    /// When that charge was drawn in (s).
    pub time_s: f64,
    /// Crank speed then (rad/s).
    pub speed_rad_s: f64,
    /// Its mixture; infinite without fuel.
    pub lambda: f64,
    /// Its air (kg/s).
    pub air_kg_s: f64,
    /// Manifold pressure (Pa).
    pub manifold_pa: f64,
    /// Indicated pressure it makes, would make burnt at its best, and the engine needs (Pa).
    pub imep_pa: f64,
    /// See `imep_pa`.
    pub best_pa: f64,
    /// See `imep_pa`.
    pub needs_pa: f64,
    /// Air past the plate over air into the cylinders.
    pub plate_over_cylinders: f64,
}

impl StallCause {
    /// The cause as a sentence.
    pub fn sentence(&self) -> String {
        let rpm = Unit::Rpm.from_si(self.speed_rad_s);
        let bar = |pa: f64| Unit::Bar.from_si(pa);
        let short = format!(
            "it makes {:.2} bar and needs {:.2} bar",
            bar(self.imep_pa),
            bar(self.needs_pa)
        );
        let lambda = self.lambda;
        match self.failed {
            Failed::NoFuel => format!("no fuel: at {rpm:.0} rpm the cylinders get air alone"),
            Failed::Lean => {
                format!("too lean: at {rpm:.0} rpm lambda is {lambda:.2}, {short}")
            }
            Failed::Drowned => format!(
                "drowned: at {rpm:.0} rpm lambda is {lambda:.2}, {short}; the plate meters {:.2} times the air the cylinders take",
                self.plate_over_cylinders
            ),
            Failed::NoAir => format!(
                "no air: at {rpm:.0} rpm and {:.2} bar in the manifold even the best burning makes {:.2} bar, and {:.2} bar are needed",
                bar(self.manifold_pa),
                bar(self.best_pa),
                bar(self.needs_pa)
            ),
            Failed::NoTorque => {
                format!("no torque: at {rpm:.0} rpm and lambda {lambda:.2} {short}")
            }
        }
    }
}

impl Engine {
    /// Why the engine stalled, if it did; turning the key off is no stall.
    pub fn stalled_because(&self) -> Option<StallCause> {
        self.stalled_at_s?;
        self.short.filter(|_| self.power.key_on)
    }

    /// Follows whether the charges carry the engine.
    pub(super) fn note_shortage(&mut self, charge: &OperatingState, inputs: &Inputs) {
        let makes = charge.imep_pa;
        if !self.power.key_on {
            self.short = None;
        } else if makes >= SHORT * charge.demand_pa && self.stalled_at_s.is_none() {
            self.short = None;
        } else if self.short.is_none() {
            self.short = Some(self.cause(charge, inputs));
        }
    }

    fn cause(&self, charge: &OperatingState, inputs: &Inputs) -> StallCause {
        let plant = &self.plant;
        let best_pa = MOST_WORK * plant.best_imep_pa(charge.air_kg_s, charge.speed_rad_s);
        let least_rough = plant.reference.least_rough_lambda[plant.law as usize];
        let intake =
            dynamics::intake(plant, inputs.inlet_m2.1, charge.manifold_pa, charge.height_m);
        let failed = if !charge.lambda.is_finite() || self.controls.is_cut() {
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
            plate_over_cylinders: intake.metered_kg_s / charge.air_kg_s,
        }
    }
}
