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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conditions::Conditions;
    use crate::rig::shipped::shipped;

    /// A plate that floats does not know its stop; one that lies on it, for all the air that comes
    /// in past it, meters by it. Made anew at the other stop or moved to it, it is one engine.
    #[test]
    fn an_engine_with_its_stop_moved_is_one_made_at_that_stop() {
        let rig = shipped("six").unwrap().rig;
        for (leak_kg_s, lies) in [(0.0, Lies::Afloat), (20.0 / 3600.0, Lies::OnStop)] {
            let at = |rest_height_m: f64| {
                let conditions = Conditions { rest_height_m, leak_kg_s, ..Conditions::default() };
                let mut parts = *rig.parts();
                // A tight throttle: what leaks in is all the air there is.
                parts.throttle.closed_area_m2 *= if leak_kg_s > 0.0 { 0.05 } else { 1.0 };
                SteadyEngine::of_parts(&parts, rig.reference(), &conditions)
            };
            let aim = |engine: &SteadyEngine| (engine.aim_turns(), engine.aim.unwrap().state.lies);
            let (low, high) = (at(0.0), at(5e-4));
            let moved = low.resting_at(5e-4);
            assert_eq!(aim(&low).1, lies);
            assert_eq!(aim(&moved), aim(&high), "{lies:?}");
            // Higher by 0.5 mm: so much further out the screw, or not at all.
            let lever = &rig.parts().lever;
            let turned = aim(&low).0.unwrap() - aim(&moved).0.unwrap();
            let expected =
                if lies == Lies::OnStop { 5e-4 / lever.height_per_turn_m() } else { 0.0 };
            assert!((turned.abs() - expected).abs() < 1e-6, "{lies:?}: {turned} turns");
            // A screw at which the plate lies on its stop, whatever it does at the aim.
            for screw_turns in [aim(&high).0.unwrap(), aim(&high).0.unwrap() + 0.05] {
                assert_eq!(moved.heard(screw_turns), high.heard(screw_turns), "{lies:?}");
            }
            let rests_m = |engine: &SteadyEngine| engine.parts().0.plate_height(0.0).1;
            assert_eq!(rests_m(&moved), rests_m(&high));
            assert!((rests_m(&moved) - rests_m(&low) - 5e-4).abs() < 1e-12);
        }
    }
}
