//! Numbers of the questions on lesson 17: fuel that does not arrive.

use super::question::{Drawn, QuestionSource, numbers, state};
use sim_core::units::Unit;

/// What a pump gives beyond what an idle takes: volumes a time, side by side.
pub fn share_drawn(source: &mut QuestionSource) -> Option<Drawn> {
    let (litres, seconds) = (source.stepped(0.7, 1.2, 0.1), source.one_of(&[30.0, 40.0]));
    let conditions = &source.setup.conditions;
    let density = conditions.petrol.fuel().density_kg_m3(conditions.fuel_k);
    let kg_h = 3600.0 * state(&source.setup)?.fuel_kg_s;
    let (pumped, drawn) = (3600.0 * litres / seconds, 1e3 * kg_h / density);
    let share = 100.0 * drawn / pumped;
    let numbers = numbers![litres, seconds, kg_h, density, pumped, drawn];
    Some(Drawn::number(share, 0.1 * share, numbers))
}

/// What a slit gives less on what is left of its drop: the root of the drop.
pub fn less_drop(source: &mut QuestionSource) -> Option<Drawn> {
    let sound = Unit::Bar.from_si(state(&source.setup)?.slit_drop_pa);
    let late = source.one_of(&[0.04, 0.06, 0.08, 0.10, 0.12]);
    let left = sound - late;
    if left < 0.02 {
        return None;
    }
    let less = 100.0 * (1.0 - (left / sound).sqrt());
    Some(Drawn::number(less, 0.05 * less, numbers![sound, late, left]))
}
