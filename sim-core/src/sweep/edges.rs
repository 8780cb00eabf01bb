//! Where the screw makes the idle rough: the two edges of the smooth zone.

use crate::engine::roughness::RoughBy;
use crate::point::Stall;
use crate::run::stability::hunts;
use crate::solve::root_to;
use crate::steady::SteadyEngine;

/// How far to the lean side edges are looked for (turns).
pub const LEAN_END_TURNS: f64 = -0.5;
/// How far to the rich side edges are looked for (turns).
pub const RICH_END_TURNS: f64 = 1.0;
/// Step of the walk towards an edge (turns): a rough stretch within the smooth zone that is
/// narrower may be passed over. Roughness has one valley over the mixture, so that none is known.
const STEP_TURNS: f64 = 1.0 / 16.0;
/// Step where the whole range is searched for a setting that is smooth, or stands (turns).
const SEARCH_TURNS: f64 = 1.0 / 64.0;
/// How near an edge at which the idle begins to hunt is found (turns).
const HUNTS_NEAR_TURNS: f64 = 1e-4;
/// How near to its limit a part is at an edge, as a share of it: 1e-9 of a turn or less.
const NEAR: f64 = 1e-9;
/// How near the last running point is found (turns).
const LAST_NEAR_TURNS: f64 = 1e-9;
/// Share of the found width by which a setting by ear goes back from the middle.
const EAR_SHARE: f64 = 0.2;
/// What counts as the excess of a setting that stalls, where a search for an edge meets one.
const STALLED: (RoughBy, f64) = (RoughBy::Cov, 9.0);

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

/// Settings that are smooth, hunting left out, from the leanest to the richest (turns): what a
/// walk from the middle outwards found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stretch {
    lean: f64,
    rich: f64,
}

impl Stretch {
    /// Whether a setting lies within it.
    pub fn holds(&self, turns: f64) -> bool {
        (self.lean..=self.rich).contains(&turns)
    }
}

/// Finds the edges of the smooth zone, outwards from the lambda-1 setting.
///
/// If the engine is rough there, the search starts at the smoothest of the settings it
/// walks; if that is rough too, there are no edges.
pub fn edges(steady: &SteadyEngine) -> Edges {
    edges_and_stretch(steady).0
}

/// The same, with the stretch that is smooth where the idle's hunting is left out.
pub(crate) fn edges_and_stretch(steady: &SteadyEngine) -> (Edges, Option<Stretch>) {
    let lambda_one = steady.aim_turns();
    let within = |turns: &f64| (LEAN_END_TURNS..=RICH_END_TURNS).contains(turns);
    let start = lambda_one
        .filter(within)
        .and_then(|turns| Place::smooth_at(steady, turns))
        .or_else(|| smoothest(steady).and_then(|turns| Place::smooth_at(steady, turns)));
    let Some(start) = start else {
        let kind = EdgeKind::NoneSmooth;
        let none = Edges { lean: None, lean_kind: kind, rich: None, rich_kind: kind, lambda_one };
        return (none, None);
    };
    let (lean, lean_kind) = edge(steady, start, LEAN_END_TURNS);
    let (rich, rich_kind) = edge(steady, start, RICH_END_TURNS);
    let stretch =
        Stretch { lean: lean.unwrap_or(LEAN_END_TURNS), rich: rich.unwrap_or(RICH_END_TURNS) };
    let found = Edges { lean, lean_kind, rich, rich_kind, lambda_one };
    (where_it_stands(steady, start.turns, found), Some(stretch))
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
        let steps = ((to - from) / SEARCH_TURNS) as usize;
        (1..=steps).map(|i| from + i as f64 * SEARCH_TURNS).find(|turns| !hunts(steady, *turns))
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

/// A setting that runs: how far its roughest part lies above its limit, as a share of it.
#[derive(Clone, Copy)]
struct Place {
    turns: f64,
    part: RoughBy,
    excess: f64,
}

impl Place {
    fn at(steady: &SteadyEngine, turns: f64) -> Result<Place, Stall> {
        let (part, excess) = steady.conditions().ear.nearest(&steady.heard(turns)?);
        Ok(Place { turns, part, excess })
    }

    fn is_smooth(&self) -> bool {
        self.excess <= 0.0
    }

    fn smooth_at(steady: &SteadyEngine, turns: f64) -> Option<Place> {
        Place::at(steady, turns).ok().filter(Place::is_smooth)
    }
}

/// The setting with the least roughness among the steps of the search.
fn smoothest(steady: &SteadyEngine) -> Option<f64> {
    let steps = ((RICH_END_TURNS - LEAN_END_TURNS) / SEARCH_TURNS) as usize;
    (0..=steps)
        .map(|i| LEAN_END_TURNS + i as f64 * SEARCH_TURNS)
        .filter_map(|turns| Some((steady.heard(turns).ok()?.cov, turns)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, turns)| turns)
}

/// The edge between a smooth setting and `end`.
fn edge(steady: &SteadyEngine, start: Place, end: f64) -> (Option<f64>, EdgeKind) {
    let step = STEP_TURNS.copysign(end - start.turns);
    let mut inside = start;
    let (mut outside, mut beyond) = loop {
        if inside.turns == end {
            return (None, EdgeKind::Beyond);
        }
        let next = inside.turns + step;
        let next = if (end - next) * step < 0.0 { end } else { next };
        match Place::at(steady, next) {
            Ok(place) if place.is_smooth() => inside = place,
            other => break (next, other),
        }
    };
    // Where running points end before the roughness does, halve down to the last of them.
    while beyond.is_err() && (outside - inside.turns).abs() > LAST_NEAR_TURNS {
        let half = 0.5 * (inside.turns + outside);
        match Place::at(steady, half) {
            Ok(place) if place.is_smooth() => inside = place,
            other => (outside, beyond) = (half, other),
        }
    }
    let outside = match beyond {
        Ok(place) => place,
        Err(stall) => return (Some(0.5 * (inside.turns + outside)), EdgeKind::Stalls(stall)),
    };
    // Stalled settings in between, if the search meets them, count as rough.
    let mut nearest = if -inside.excess < outside.excess { inside } else { outside };
    let excess = |turns: f64| {
        let (part, excess) =
            Place::at(steady, turns).map_or(STALLED, |place| (place.part, place.excess));
        if excess.abs() <= nearest.excess.abs() {
            nearest = Place { turns, part, excess };
        }
        excess
    };
    let ends = (inside, outside);
    let root = root_to(excess, ends.0.turns, ends.0.excess, ends.1.turns, ends.1.excess, NEAR);
    (Some(root), EdgeKind::Rough(nearest.part))
}
