//! What the ear hears of a settled idle, for searches that ask for nothing else.

use super::SteadyEngine;
use crate::engine::roughness::Heard;
use crate::operation::balance::Settled;
use crate::operation::operating_state::Lies;
use crate::operation::roughness::roughness;
use crate::point::Stall;
use std::sync::OnceLock;

impl SteadyEngine {
    /// What the ear hears at a screw position: the same as of [`SteadyEngine::point`], at less
    /// than its cost.
    pub(crate) fn heard(&self, screw_turns: f64) -> Result<Heard, Stall> {
        let settled = self.settle(screw_turns);
        let drawn_kg_s = settled.as_ref().map_or(0.0, |(settled, _)| settled.state.fuel_kg_s);
        match self.starved(screw_turns, drawn_kg_s) {
            Some(starved) => Ok(starved.heard_of(&starved.settle(screw_turns)?.0)),
            None => Ok(self.heard_of(&settled?.0)),
        }
    }

    /// Whether the idle at a screw position runs and is smooth, hunting left out.
    pub(crate) fn is_smooth(&self, screw_turns: f64) -> bool {
        let ear = &self.conditions.ear;
        self.heard(screw_turns).is_ok_and(|heard| ear.rough_by(&heard).is_none())
    }

    fn heard_of(&self, settled: &Settled) -> Heard {
        let rough = settled.rough.unwrap_or_else(|| roughness(&self.plant, &settled.state));
        Heard {
            cov: rough.cov,
            misfire: rough.mean_misfire,
            speed_drop_rad_s: self.speed_drop_rad_s(settled),
            damping: None,
        }
    }

    /// The same engine with its plate resting at another height (m), as conditions give it.
    pub(crate) fn resting_at(&self, rest_height_m: f64) -> SteadyEngine {
        let mut conditions = self.conditions;
        conditions.rest_height_m = rest_height_m;
        let mut plant = self.plant.clone();
        plant.rest_height_m = rest_height_m - plant.parts.plate.rest_below_throat_m;
        match &self.aim {
            // Where the plate floats its stop is nothing to the engine.
            Ok(aim) if aim.state.lies == Lies::Afloat => SteadyEngine {
                plant,
                conditions,
                cell: self.cell,
                aim: self.aim,
                best_speed: OnceLock::new(),
                ..*self
            },
            _ => SteadyEngine::of_plant(plant, &conditions),
        }
    }
}
