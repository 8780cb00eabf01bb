//! Roughness of a state, and what it is called.

use super::flame::Flame;
use super::operating_state::{OperatingState, Plant};
use crate::conditions::Conditions;
use crate::engine::roughness::{Heard, RoughBy};
use crate::engine::scatter::{FIVE, THREE};
use crate::point::{Mode, State, Zone};

/// Below this share lost cycles are not told apart by cylinder.
const LOST_TELLS: f64 = 1e-6;

/// Roughness and lost cycles of the whole engine.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rough {
    /// COV of imep.
    pub cov: f64,
    /// The same without dead sparks.
    own_cov: f64,
    /// Share of lost cycles in the worst cylinder.
    pub worst_misfire: f64,
    /// Share of lost cycles over all.
    pub mean_misfire: f64,
    /// The same without dead sparks.
    own_misfire: f64,
}

/// COV of imep of the whole engine and lost cycles.
///
/// Equation: `COV^2 = (1 + s_a^2) E[y^2 w^2] / E[y w]^2 - 1` over all cylinders and cycles;
/// a share `m` lost to dead sparks makes `COV'^2 = (COV^2 + m)/(1 - m)`. Symbols: `y` work of
/// the burn relative to the best timing, 0 where the cycle does not ignite; `w` work of the
/// mixture at constant air; `s_a` scatter of the charge's mass. Source: definition of the
/// coefficient of variation; the scatters are independent of each other.
pub(crate) fn roughness(plant: &Plant, state: &OperatingState) -> Rough {
    roughness_by(plant, state, &FIVE)
}

/// The same at the points of a rule.
pub(crate) fn roughness_by(plant: &Plant, state: &OperatingState, rule: &[(f64, f64)]) -> Rough {
    let flame = plant.flame(state);
    let (mut mean, mut square, mut fired) = (0.0, 0.0, 0.0);
    flame.over_cycles(state, rule, |mixture, weight| {
        let ignited = weight * flame.ignited(mixture);
        let cycle = flame.cycles().at(flame.relative_angle(mixture));
        mean += ignited * cycle.mean * mixture.work;
        square += ignited * cycle.square * mixture.work * mixture.work;
        fired += ignited * cycle.fired;
    });
    let charge = plant.parts.burn.charge_scatter;
    let own2 = if mean > 1e-9 {
        ((1.0 + charge * charge) * square / (mean * mean) - 1.0).max(0.0)
    } else {
        1e6
    };
    let dead = plant.dead(state.manifold_pa);
    let own_misfire = (1.0 - fired).clamp(0.0, 1.0);
    // Worked out at fewer points than the mean, the worst must not come out better than that.
    let worst = if own_misfire > LOST_TELLS { worst(&flame, state) } else { 0.0 };
    let worst = worst.max(own_misfire);
    Rough {
        cov: ((own2 + dead) / (1.0 - dead).max(1e-12)).sqrt().min(1e3),
        own_cov: own2.sqrt(),
        worst_misfire: 1.0 - (1.0 - dead) * (1.0 - worst),
        mean_misfire: 1.0 - (1.0 - dead) * (1.0 - own_misfire),
        own_misfire,
    }
}

/// Share of lost cycles in the worst cylinder: the leanest or the richest.
fn worst(flame: &Flame<'_>, state: &OperatingState) -> f64 {
    let (least, most) = state
        .lambdas
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(a, b), lambda| (a.min(*lambda), b.max(*lambda)));
    let lost = |lambda: f64| {
        let mut fired = 0.0;
        flame.over_cycles_of(1.0 / lambda, &THREE, |mixture, weight| {
            let cycle = flame.cycles().at(flame.relative_angle(mixture));
            fired += weight * flame.ignited(mixture) * cycle.fired;
        });
        (1.0 - fired).clamp(0.0, 1.0)
    };
    lost(least).max(lost(most))
}

/// How an engine runs, and what makes it rough.
///
/// An engine that would be smooth if no spark were dead, or that gets no fuel at all, is rough
/// for no mixture's sake.
pub(crate) fn judge(
    plant: &Plant,
    conditions: &Conditions,
    rough: &Rough,
    lambda: f64,
    speed_drop_rad_s: f64,
) -> (Zone, Option<RoughBy>) {
    let ear = &conditions.ear;
    let damping = None;
    let heard = Heard { cov: rough.cov, misfire: rough.mean_misfire, speed_drop_rad_s, damping };
    let Some(by) = ear.rough_by(&heard) else { return (Zone::Smooth, None) };
    let own = Heard { cov: rough.own_cov, misfire: rough.own_misfire, speed_drop_rad_s, damping };
    let no_mixture = lambda.is_infinite();
    let zone = if no_mixture || (by != RoughBy::Speed && ear.rough_by(&own).is_none()) {
        Zone::Rough
    } else if lambda > plant.reference.least_rough_lambda[plant.law as usize] {
        Zone::RoughLean
    } else {
        Zone::RoughRich
    };
    (zone, Some(by))
}

/// Within this of lambda 1 and down to the mixture with the least roughness, hunting is not the
/// mixture's doing.
const NEITHER_UP_TO: f64 = 1.05;

/// The state of a settled idle with its slowest mode. Where nothing else makes it rough, a mode
/// that is damped too little does.
pub(crate) fn with_mode(
    plant: &Plant,
    conditions: &Conditions,
    state: State,
    mode: Option<Mode>,
) -> State {
    let mut state = State { mode, ..state };
    if state.rough_by.is_some() {
        return state;
    }
    state.rough_by = conditions.ear.rough_by(&state.heard());
    if state.rough_by.is_some() {
        state.zone = if state.lambda < plant.reference.least_rough_lambda[plant.law as usize] {
            Zone::RoughRich
        } else if state.lambda > NEITHER_UP_TO {
            Zone::RoughLean
        } else {
            Zone::Rough
        };
    }
    state
}
