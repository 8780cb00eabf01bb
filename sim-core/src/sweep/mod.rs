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

mod edges;
mod spread;

pub(crate) use edges::edges_and_stretch;
pub use edges::{EdgeKind, Edges, LEAN_END_TURNS, RICH_END_TURNS, edges};
pub use spread::{SPREAD_COV, Spread, spread};

use crate::rig::keys::Setup;
use crate::steady::SteadyEngine;

/// The most points a sweep may have.
pub const POINTS_MOST: usize = 100_000;

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
