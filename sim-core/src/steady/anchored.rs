//! Parts whose roughness at lambda 1 is given.

use super::SteadyEngine;
use crate::conditions::Conditions;
use crate::engine::flame::FlameLaw;
use crate::operation::reference;
use crate::rig::Parts;
use crate::solve::root_between;

/// COV of imep of parts that idle warm on lambda 1 under a flame law, if they do.
pub(crate) fn cov_at_lambda_one(parts: &Parts, flame: FlameLaw) -> Option<f64> {
    let reference = reference::of(parts).ok()?;
    let conditions = Conditions { flame, ..Conditions::default() };
    SteadyEngine::of_parts(parts, &reference, &conditions).point_on_mixture(1.0).cov()
}

/// The parts with their scatter set so that the engine idles at lambda 1 with a given
/// roughness; `None` if no scatter between 0 and 15 degrees does.
pub(crate) fn with_cov_at_lambda_one(parts: &Parts, flame: FlameLaw, cov: f64) -> Option<Parts> {
    let with = |scatter_deg: f64| {
        let mut changed = *parts;
        changed.burn.scatter_deg = scatter_deg;
        changed
    };
    let cov_at = |scatter_deg: f64| cov_at_lambda_one(&with(scatter_deg), flame);
    // Walk up until the roughness is passed or the engine no longer idles.
    let (mut low, mut high) = (0.0, 0.5);
    if cov_at(low)? > cov {
        return None;
    }
    while cov_at(high).is_some_and(|now| now < cov) {
        (low, high) = (high, high + 0.5);
        if high > 15.0 {
            return None;
        }
    }
    let (at_low, at_high) = (cov_at(low)? - cov, cov_at(high)? - cov);
    let excess = |scatter: f64| cov_at(scatter).map_or(1.0, |now| now - cov);
    Some(with(root_between(excess, low, at_low, high, at_high)))
}
