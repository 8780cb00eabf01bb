//! How far to trust middle and width: over flame laws, roughness and what makes it.

use super::edges;
use crate::conditions::Conditions;
use crate::engine::flame::FLAME_LAWS;
use crate::mechanisms::{MECHANISMS, Mechanisms};
use crate::rig::keys::Setup;
use crate::rig::{Parts, Rig};
use crate::steady::{SteadyEngine, cov_at_lambda_one, with_cov_at_lambda_one};

/// Roughness at lambda 1 of the cases of the spread: the range of sound old engines (5 to 7 %,
/// from memory), and the middle of it.
pub const SPREAD_COV: [f64; 3] = [0.05, 0.06, 0.07];

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
