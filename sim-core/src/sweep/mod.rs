//! The screw from edge to edge: where it runs rough, the middle, and how far to trust it.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::shipped::shipped, steady::SteadyEngine};
//! use sim_core::sweep::{edges, positions};
//! let steady = SteadyEngine::new(&shipped("six").unwrap().rig, &Conditions::default());
//! let points = positions(-0.125, 0.125, 1.0 / 64.0).unwrap();
//! assert!(points.iter().any(|turns| steady.point(*turns).state().is_some()));
//! assert!(edges(&steady).width().unwrap() > 0.0);
//! ```

use crate::conditions::Conditions;
use crate::engine::flame::FLAME_LAWS;
use crate::engine::roughness::RoughBy;
use crate::mechanisms::{MECHANISMS, Mechanisms};
use crate::point::{Point, Stall, Zone};
use crate::rig::keys::Setup;
use crate::rig::{Parts, Rig};
use crate::run::stability::hunts;
use crate::solve::root_to;
use crate::steady::{SteadyEngine, cov_at_lambda_one, with_cov_at_lambda_one};

/// The most points a sweep may have.
pub const POINTS_MOST: usize = 100_000;
/// How far to the lean side edges are looked for (turns).
pub const LEAN_END_TURNS: f64 = -0.5;
/// How far to the rich side edges are looked for (turns).
pub const RICH_END_TURNS: f64 = 1.0;
/// Step of the walk towards an edge (turns).
const STEP_TURNS: f64 = 1.0 / 64.0;
/// How near an edge at which the idle begins to hunt is found (turns).
const HUNTS_NEAR_TURNS: f64 = 1e-4;
/// How near to its limit a part is at an edge, as a share of it: 1e-9 of a turn or less.
const NEAR: f64 = 1e-9;
/// Share of the found width by which a setting by ear goes back from the middle.
const EAR_SHARE: f64 = 0.2;
/// Roughness at lambda 1 of the cases of the spread: the range of sound old engines (5 to 7 %,
/// from memory), and the middle of it.
pub const SPREAD_COV: [f64; 3] = [0.05, 0.06, 0.07];

/// Why a range of screw positions cannot be swept.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum RangeFault {
    /// A bound or the step is not a finite number.
    #[error("the bounds and the step must be finite numbers of turns")]
    NotFinite,
    /// The step is zero or negative.
    #[error("the step must be above 0 turns")]
    StepNotPositive,
    /// The range runs backwards.
    #[error("the first bound must not be above the last")]
    Backwards,
    /// More points than [`POINTS_MOST`].
    #[error("the range makes {points:.0} points, at most {POINTS_MOST} are allowed")]
    TooMany {
        /// How many it would be.
        points: f64,
    },
}

/// Screw positions from one to another, both ends included where the step meets them.
pub fn positions(from: f64, to: f64, step: f64) -> Result<Vec<f64>, RangeFault> {
    if ![from, to, step].iter().all(|value| value.is_finite()) {
        return Err(RangeFault::NotFinite);
    }
    if step <= 0.0 {
        return Err(RangeFault::StepNotPositive);
    }
    if from > to {
        return Err(RangeFault::Backwards);
    }
    let steps = ((to - from) / step + 1e-9).floor();
    if steps >= POINTS_MOST as f64 {
        return Err(RangeFault::TooMany { points: steps + 1.0 });
    }
    Ok((0..=steps as usize).map(|i| from + i as f64 * step).collect())
}

/// What an edge of the smooth zone is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EdgeKind {
    /// This part of the roughness reaches its limit.
    Rough(RoughBy),
    /// The running points end, for this reason.
    Stalls(Stall),
    /// Smooth as far as was looked.
    Beyond,
    /// Nowhere smooth.
    NoneSmooth,
}

impl EdgeKind {
    /// The word for it in files: the part of the roughness, or the end of what was found.
    pub fn word(&self) -> &'static str {
        match self {
            EdgeKind::Rough(by) => by.word(),
            EdgeKind::Stalls(_) | EdgeKind::Beyond | EdgeKind::NoneSmooth => "end",
        }
    }
}

/// The two edges and what lies between them, in turns of the screw.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Edges {
    /// Lean edge.
    pub lean: Option<f64>,
    /// What it is.
    pub lean_kind: EdgeKind,
    /// Rich edge.
    pub rich: Option<f64>,
    /// What it is.
    pub rich_kind: EdgeKind,
    /// Where the sensor reads lambda 1 on base current: duty 50 %.
    pub lambda_one: Option<f64>,
}

impl Edges {
    /// Width of the smooth zone.
    pub fn width(&self) -> Option<f64> {
        Some(self.rich? - self.lean?)
    }

    /// Half way between the edges.
    pub fn middle(&self) -> Option<f64> {
        Some(0.5 * (self.rich? + self.lean?))
    }

    /// Where a setting by ear alone should aim: a fifth of the found width leaner than the middle.
    pub fn ear_aim(&self) -> Option<f64> {
        Some(self.middle()? - EAR_SHARE * self.width()?)
    }
}

/// Finds the edges of the smooth zone, outwards from the lambda-1 setting.
///
/// If the engine is rough there, the search starts at the smoothest of the settings it
/// walks; if that is rough too, there are no edges.
pub fn edges(steady: &SteadyEngine) -> Edges {
    let lambda_one = steady.aim_turns();
    let smooth = |turns: f64| is_smooth(&steady.point(turns));
    let within = |turns: &f64| (LEAN_END_TURNS..=RICH_END_TURNS).contains(turns);
    let start = lambda_one
        .filter(within)
        .filter(|turns| smooth(*turns))
        .or_else(|| smoothest(steady).filter(|turns| smooth(*turns)));
    let Some(start) = start else {
        let kind = EdgeKind::NoneSmooth;
        return Edges { lean: None, lean_kind: kind, rich: None, rich_kind: kind, lambda_one };
    };
    let (lean, lean_kind) = edge(steady, start, LEAN_END_TURNS);
    let (rich, rich_kind) = edge(steady, start, RICH_END_TURNS);
    let found = Edges { lean, lean_kind, rich, rich_kind, lambda_one };
    where_it_stands(steady, start, found)
}

/// The edges drawn in to where the idle begins to hunt. Its modes are worked out at the edges,
/// and further in only if it hunts there.
fn where_it_stands(steady: &SteadyEngine, start: f64, mut found: Edges) -> Edges {
    // Just inside: at a fold nothing runs on the edge itself.
    let inside = |edge: Option<f64>| edge.map(|edge| edge - (edge - start) * 1e-3);
    let hunting = |edge: &f64| hunts(steady, *edge);
    let lean = inside(found.lean).filter(hunting);
    let rich = inside(found.rich).filter(hunting);
    if lean.is_none() && rich.is_none() {
        return found;
    }
    let standing = if hunts(steady, start) {
        let (from, to) =
            (found.lean.unwrap_or(LEAN_END_TURNS), found.rich.unwrap_or(RICH_END_TURNS));
        let steps = ((to - from) / STEP_TURNS) as usize;
        (1..=steps).map(|i| from + i as f64 * STEP_TURNS).find(|turns| !hunts(steady, *turns))
    } else {
        Some(start)
    };
    let Some(standing) = standing else {
        let kind = EdgeKind::NoneSmooth;
        return Edges { lean: None, lean_kind: kind, rich: None, rich_kind: kind, ..found };
    };
    if let Some(outside) = lean {
        found.lean = Some(begins_to_hunt(steady, standing, outside));
        found.lean_kind = EdgeKind::Rough(RoughBy::Hunting);
    }
    if let Some(outside) = rich {
        found.rich = Some(begins_to_hunt(steady, standing, outside));
        found.rich_kind = EdgeKind::Rough(RoughBy::Hunting);
    }
    found
}

/// The last setting that stands, between one that does and one that hunts.
fn begins_to_hunt(steady: &SteadyEngine, mut stands: f64, mut outside: f64) -> f64 {
    while (outside - stands).abs() > HUNTS_NEAR_TURNS {
        let half = 0.5 * (stands + outside);
        if hunts(steady, half) {
            outside = half;
        } else {
            stands = half;
        }
    }
    stands
}

fn is_smooth(point: &Point) -> bool {
    point.zone() == Zone::Smooth
}

/// The setting with the least roughness among the steps of the walk.
fn smoothest(steady: &SteadyEngine) -> Option<f64> {
    let steps = ((RICH_END_TURNS - LEAN_END_TURNS) / STEP_TURNS) as usize;
    (0..=steps)
        .map(|i| LEAN_END_TURNS + i as f64 * STEP_TURNS)
        .filter_map(|turns| Some((steady.point(turns).cov()?, turns)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, turns)| turns)
}

/// The edge between a smooth setting and `end`.
fn edge(steady: &SteadyEngine, start: f64, end: f64) -> (Option<f64>, EdgeKind) {
    let step = STEP_TURNS.copysign(end - start);
    let (mut inside, mut outside) = (start, start);
    while is_smooth(&steady.point(outside)) {
        if outside == end {
            return (None, EdgeKind::Beyond);
        }
        inside = outside;
        outside += step;
        if (end - outside) * step < 0.0 {
            outside = end;
        }
    }
    // Where running points end before the roughness does, halve down to the last of them.
    let mut beyond = steady.point(outside);
    while beyond.state().is_none() && (outside - inside).abs() > 1e-9 {
        let half = 0.5 * (inside + outside);
        let point = steady.point(half);
        if is_smooth(&point) {
            inside = half;
        } else {
            (outside, beyond) = (half, point);
        }
    }
    if let Some(stall) = beyond.stall() {
        return (Some(0.5 * (inside + outside)), EdgeKind::Stalls(*stall));
    }
    // Stalled settings in between, if the search meets them, count as rough.
    let part = |turns: f64| {
        let ear = &steady.conditions().ear;
        steady.point(turns).state().map_or((RoughBy::Cov, 9.0), |state| ear.nearest(&state.heard()))
    };
    let excess = |turns: f64| part(turns).1;
    let root = root_to(excess, inside, excess(inside), outside, excess(outside), NEAR);
    (Some(root), EdgeKind::Rough(part(root).0))
}

/// How middle and width move over the flame laws, the roughness at lambda 1 and what makes it.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Spread {
    /// Least and largest middle (turns).
    pub middle: (f64, f64),
    /// Least and largest width (turns).
    pub width: (f64, f64),
    /// Least and largest middle less lambda 1 (turns) under each law of [`FLAME_LAWS`], where
    /// any case of it has both edges.
    pub middle_from_one: [Option<(f64, f64)>; FLAME_LAWS.len()],
    /// The same under each of [`MECHANISMS`], over the flame laws.
    pub by_mechanisms: [Option<(f64, f64)>; MECHANISMS.len()],
    /// How many cases have both edges.
    pub cases: usize,
    /// How many cases there are.
    pub of: usize,
}

/// The spread of middle and width: every flame law with each of [`SPREAD_COV`] at lambda 1 under
/// the rig's own mechanisms, and with the rig's own roughness there under each of the others.
/// `loaded` is the rig as its file gives it: the mechanisms and the scatter are set there for
/// each case, and what was changed since stays changed. `None` if no case has two edges.
pub fn spread(loaded: &Rig, setup: &Setup) -> Option<Spread> {
    let own_cov = cov_at_lambda_one(loaded.parts(), setup.conditions.flame)?;
    let mut cases: Vec<_> = SPREAD_COV.map(|cov| (Mechanisms::Own, cov)).into();
    cases.extend(MECHANISMS[1..].iter().map(|&other| (other, own_cov)));
    let mut found: Option<Spread> = None;
    let wider = |range: Option<(f64, f64)>, value: f64| {
        let (low, high) = range.unwrap_or((value, value));
        (low.min(value), high.max(value))
    };
    for &(mechanisms, cov) in &cases {
        let parts = mechanisms.of(loaded.parts());
        for flame in FLAME_LAWS {
            let case = with_cov_at_lambda_one(&parts, flame, cov);
            let Some(rig) = case.and_then(|case| with_burn_of(&case, mechanisms, setup)) else {
                continue;
            };
            let conditions = Conditions { flame, ..setup.conditions };
            let edges = edges(&SteadyEngine::new(&rig, &conditions));
            let (Some(middle), Some(width)) = (edges.middle(), edges.width()) else { continue };
            let so_far = found.get_or_insert(Spread {
                middle: (middle, middle),
                width: (width, width),
                middle_from_one: [None; FLAME_LAWS.len()],
                by_mechanisms: [None; MECHANISMS.len()],
                cases: 0,
                of: cases.len() * FLAME_LAWS.len(),
            });
            so_far.middle = wider(Some(so_far.middle), middle);
            so_far.width = wider(Some(so_far.width), width);
            so_far.cases += 1;
            if let Some(one) = edges.lambda_one {
                for slot in [
                    &mut so_far.middle_from_one[flame as usize],
                    &mut so_far.by_mechanisms[mechanisms as usize],
                ] {
                    *slot = Some(wider(*slot, middle - one));
                }
            }
        }
    }
    found
}

/// The changed rig of a setup with the mechanisms, the scatter and the reference state of other
/// parts.
fn with_burn_of(case: &Parts, mechanisms: Mechanisms, setup: &Setup) -> Option<Rig> {
    let mut changed = mechanisms.of(setup.rig.parts());
    changed.burn.scatter_deg = case.burn.scatter_deg;
    Rig::new_beyond_ranges(*case).ok()?.with_parts_beyond_ranges(|parts| *parts = changed).ok()
}

/// The edges if the trapped residual gas follows the mixture as published, instead of being
/// held at lambda 1: how much the place of the middle rests on that choice.
pub fn edges_with_residual_phi(setup: &Setup) -> Option<Edges> {
    let rig =
        setup.rig.with_parts_beyond_ranges(|parts| parts.breathing.residual_phi = 1.0).ok()?;
    Some(edges(&SteadyEngine::new(&rig, &setup.conditions)))
}

/// Screw position from which the slits are open with the plate on its stop (turns): richer
/// than this, fuel runs into a standing engine when the pump is on.
pub fn hazard_turns(setup: &Setup) -> f64 {
    let parts = setup.rig.parts();
    let rest_m = setup.conditions.rest_height_m - parts.plate.rest_below_throat_m;
    (parts.lever.zero_height_m - rest_m) / parts.lever.height_per_turn_m()
}
