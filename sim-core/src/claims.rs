//! How far the trade's rules can be trusted: each tried on many relatives of a rig.
//!
//! ```
//! use sim_core::{claims::claims, conditions::Conditions, rig::shipped::shipped};
//! let base = shipped("six").unwrap().rig;
//! let tried = claims(&base, &Conditions::default(), 1, 5, 5e-4).unwrap();
//! assert!(tried.drawn == 5 && tried.with_edges <= tried.idle);
//! ```

use crate::conditions::Conditions;
use crate::flowstart::flow_start;
use crate::point::Zone;
use crate::rig::Rig;
use crate::rig::keys::Setup;
use crate::rig::seeded::relative;
use crate::steady::SteadyEngine;
use crate::sweep::edges;

/// The sixteenth of a turn of the workshop rule.
const SIXTEENTH: f64 = 1.0 / 16.0;

/// What the rules did on one relative.
#[derive(Clone, Copy, Debug)]
pub struct RuleOutcome {
    quarter_smooth: bool,
    /// Middle, lambda 1, lean and rich edge (turns), where both edges are found.
    found: Option<(f64, f64, f64, f64)>,
    sixteenth_smooth: bool,
    ear_smooth: bool,
}

/// How often each rule held, over the relatives that idle.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Claims {
    /// Relatives drawn.
    pub drawn: usize,
    /// Those that idle at lambda 1.
    pub idle: usize,
    /// Those whose smooth zone has both edges.
    pub with_edges: usize,
    /// A quarter turn back from flow start runs smooth (of those that idle).
    pub quarter_smooth: usize,
    /// The middle of the edges is richer than lambda 1 (of those with edges, as below).
    pub middle_rich: usize,
    /// The rich edge lies farther from lambda 1 than the lean one.
    pub rich_farther: usize,
    /// The middle, then a sixteenth leaner, is still smooth.
    pub sixteenth_smooth: usize,
    /// The middle, then a fifth of the found width leaner, is still smooth.
    pub ear_smooth: usize,
    /// Middle less lambda 1 (turns): 5th, 50th, 95th percentile.
    pub middle_turns: [f64; 3],
    /// Width of the smooth zone (turns): 5th, 50th, 95th percentile.
    pub width_turns: [f64; 3],
}

/// Tries the rules on `rigs` relatives of a rig under conditions; the flame law and the
/// rest height (uniform within `rest_m` either way of the conditions') are each relative's
/// own. `None` if none of them idles with both edges.
pub fn claims(
    base: &Rig,
    conditions: &Conditions,
    seed: u64,
    rigs: usize,
    rest_m: f64,
) -> Option<Claims> {
    let outcome = |item| rule_outcome(base, conditions, (seed, item), rest_m);
    let outcomes: Vec<RuleOutcome> = (0..rigs as u64).filter_map(outcome).collect();
    counted(rigs, &outcomes)
}

/// What the rules did on one relative, by the seed of the draw and its number in it; as in
/// [`claims`], for who tries many at once. `None` if it does not idle.
pub fn rule_outcome(
    base: &Rig,
    conditions: &Conditions,
    (seed, item): (u64, u64),
    rest_m: f64,
) -> Option<RuleOutcome> {
    let relative = relative(base, seed, item, rest_m)?;
    let conditions = Conditions {
        flame: relative.flame,
        rest_height_m: conditions.rest_height_m + relative.rest_height_m,
        ..*conditions
    };
    outcome(&Setup { rig: relative.rig, conditions })
}

/// The outcomes of the relatives that idle, counted, of so many drawn. `None` if none of them
/// has both edges.
pub fn counted(drawn: usize, outcomes: &[RuleOutcome]) -> Option<Claims> {
    let count = |holds: &dyn Fn(&RuleOutcome) -> bool| outcomes.iter().filter(|t| holds(t)).count();
    let found: Vec<_> = outcomes.iter().filter_map(|outcome| outcome.found).collect();
    if found.is_empty() {
        return None;
    }
    Some(Claims {
        drawn,
        idle: outcomes.len(),
        with_edges: found.len(),
        quarter_smooth: count(&|t| t.quarter_smooth),
        middle_rich: found.iter().filter(|(middle, one, ..)| middle > one).count(),
        rich_farther: found.iter().filter(|(_, one, lean, rich)| rich - one > one - lean).count(),
        sixteenth_smooth: count(&|t| t.sixteenth_smooth),
        ear_smooth: count(&|t| t.ear_smooth),
        middle_turns: percentiles(found.iter().map(|(middle, one, ..)| middle - one)),
        width_turns: percentiles(found.iter().map(|(_, _, lean, rich)| rich - lean)),
    })
}

fn outcome(setup: &Setup) -> Option<RuleOutcome> {
    let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
    let edges = edges(&steady);
    let smooth =
        |turns: Option<f64>| turns.is_some_and(|turns| steady.point(turns).zone() == Zone::Smooth);
    let found = match (edges.middle(), edges.lambda_one, edges.lean, edges.rich) {
        (Some(middle), Some(one), Some(lean), Some(rich)) => Some((middle, one, lean, rich)),
        _ => None,
    };
    Some(RuleOutcome {
        quarter_smooth: flow_start(setup, 0.25)?.after.zone() == Zone::Smooth,
        found,
        sixteenth_smooth: smooth(edges.middle().map(|middle| middle - SIXTEENTH)),
        ear_smooth: smooth(edges.ear_aim()),
    })
}

fn percentiles(values: impl Iterator<Item = f64>) -> [f64; 3] {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    [0.05, 0.5, 0.95].map(|share| values[(share * (values.len() - 1) as f64).round() as usize])
}
