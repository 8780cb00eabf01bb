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
use crate::engine::burn::ROUGH_COV;
use crate::engine::flame::FLAME_LAWS;
use crate::point::{Point, Stall};
use crate::rig::keys::Setup;
use crate::rig::{Parts, Rig};
use crate::solve::root_between;
use crate::steady::{SteadyEngine, with_cov_at_lambda_one};

/// The most points a sweep may have.
pub const POINTS_MOST: usize = 100_000;
/// How far to the lean side edges are looked for (turns).
pub const LEAN_END_TURNS: f64 = -0.5;
/// How far to the rich side edges are looked for (turns).
pub const RICH_END_TURNS: f64 = 1.0;
/// Step of the walk towards an edge (turns).
const STEP_TURNS: f64 = 1.0 / 64.0;
/// Share of the found width by which a setting by ear goes back from the middle.
const EAR_SHARE: f64 = 0.2;
/// Roughness at lambda 1 of the cases of the spread.
const SPREAD_COV: [f64; 3] = [0.03, 0.05, 0.08];

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
    /// The roughness reaches its limit.
    Rough,
    /// The running points end, for this reason.
    Stalls(Stall),
    /// Smooth as far as was looked.
    Beyond,
    /// Nowhere smooth.
    NoneSmooth,
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
    Edges { lean, lean_kind, rich, rich_kind, lambda_one }
}

fn is_smooth(point: &Point) -> bool {
    point.cov().is_some_and(|cov| cov <= ROUGH_COV)
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
    let excess = |turns: f64| steady.point(turns).cov().unwrap_or(1.0) - ROUGH_COV;
    let root = root_between(excess, inside, excess(inside), outside, excess(outside));
    (Some(root), EdgeKind::Rough)
}

/// How middle and width move over three flame laws and three roughnesses at lambda 1.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Spread {
    /// Least and largest middle (turns).
    pub middle: (f64, f64),
    /// Least and largest width (turns).
    pub width: (f64, f64),
    /// How many of the nine cases have both edges.
    pub cases: usize,
}

/// The spread of middle and width. `loaded` is the rig as its file gives it: the scatter of
/// its cycles is set there for each case, and what was changed since stays changed.
/// `None` if no case has two edges.
pub fn spread(loaded: &Rig, setup: &Setup) -> Option<Spread> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    for cov in SPREAD_COV {
        for flame in FLAME_LAWS {
            let case = with_cov_at_lambda_one(loaded.parts(), flame, cov);
            let Some(rig) = case.and_then(|case| with_scatter_of(&case, setup)) else { continue };
            let conditions = Conditions { flame, ..setup.conditions };
            let edges = edges(&SteadyEngine::new(&rig, &conditions));
            found.extend(edges.middle().zip(edges.width()));
        }
    }
    let range = |get: fn(&(f64, f64)) -> f64| {
        let least = found.iter().map(get).reduce(f64::min)?;
        Some((least, found.iter().map(get).reduce(f64::max)?))
    };
    Some(Spread { middle: range(|case| case.0)?, width: range(|case| case.1)?, cases: found.len() })
}

/// The changed rig of a setup with the scatter, and the reference state, of other parts.
fn with_scatter_of(case: &Parts, setup: &Setup) -> Option<Rig> {
    let mut changed = *setup.rig.parts();
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
