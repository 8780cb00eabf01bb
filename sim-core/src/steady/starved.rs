//! An engine that draws more fuel than its pump gives at the pressure the regulator holds.

use super::SteadyEngine;

/// How often the range of a starved engine's pressure is halved: to less than a pascal.
const STARVED_HALVINGS: u32 = 24;

impl SteadyEngine {
    /// The same engine at the lower system pressure that its pump keeps while it runs at a screw
    /// position, where it draws more than the pump gives at its own (kg/s); `None` where the
    /// regulator holds, as it does behind a sound pump.
    ///
    /// The pressure at which the pump gives what the engine draws at that pressure, halved down
    /// to: the pump gives less the higher it is, the engine draws more.
    pub(crate) fn starved(&self, screw_turns: f64, drawn_kg_s: f64) -> Option<SteadyEngine> {
        let system_pa = self.plant.parts.pressures.system_pa;
        let kept_pa = |engine: &SteadyEngine, drawn_m3_s| {
            engine.plant.kept_pa(&engine.conditions, drawn_m3_s)
        };
        if kept_pa(self, drawn_kg_s / self.plant.liquid.density_kg_m3) >= system_pa {
            return None;
        }
        let drawn_m3_s = |engine: &SteadyEngine| {
            let settled = engine.settle(screw_turns);
            settled.map_or(0.0, |(s, _)| s.state.fuel_kg_s / engine.plant.liquid.density_kg_m3)
        };
        let at = |system_pa: f64| {
            let mut plant = self.plant.clone();
            plant.feed_fallen(system_pa);
            SteadyEngine::of_plant(plant, &self.conditions)
        };
        let (mut low_pa, mut high_pa) = (0.0, system_pa);
        for _ in 0..STARVED_HALVINGS {
            let middle_pa = 0.5 * (low_pa + high_pa);
            let engine = at(middle_pa);
            if kept_pa(&engine, drawn_m3_s(&engine)) > middle_pa {
                low_pa = middle_pa;
            } else {
                high_pa = middle_pa;
            }
        }
        Some(at(low_pa))
    }
}
