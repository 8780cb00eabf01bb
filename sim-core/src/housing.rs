//! How far the housing of the airflow potentiometer is turned until the warm idle shows a
//! voltage.
//!
//! ```
//! use sim_core::{conditions::Conditions, housing::turn_for, rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! let turn = turn_for(&setup, 0.85).unwrap();
//! assert!(turn.to_m > turn.from_m); // more voltage: the plate seems to stand higher
//! assert!(turn_for(&setup, 4.0).is_err());
//! ```

use crate::conditions::Conditions;
use crate::point::{Outcome, Stall};
use crate::rig::keys::{Key, Setup};
use crate::solve::root_between;
use crate::steady::SteadyEngine;

/// Places of the housing that are looked at before the one that shows the voltage is narrowed
/// down: a worn track shows one voltage at more than one of them.
const PLACES: usize = 200;

/// A turn of the housing.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct HousingTurn {
    /// Where it stands, in plate height (m).
    pub from_m: f64,
    /// Where it is turned to (m).
    pub to_m: f64,
    /// Voltage of the warm idle before (V).
    pub before_v: f64,
    /// Angle about the lever's axis, on which the housing sits (rad): turn over plate arm.
    pub angle_rad: f64,
}

/// Why the housing cannot be turned until a voltage shows.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum HousingFault {
    /// The engine does not idle, so there is nothing to read.
    #[error("there is no warm idle to read it at: {0}")]
    NoIdle(Stall),
    /// No place of the housing shows it.
    #[error("the housing does not reach it")]
    OutOfReach {
        /// Least voltage that some place shows (V).
        low_v: f64,
        /// Largest (V).
        high_v: f64,
    },
}

/// The turn of the housing after which the warm idle shows a voltage (V): of all places that
/// show it the one nearest to where the housing stands. Load, pedal and cold of the conditions
/// do not matter, since a housing is set at the warm idle.
pub fn turn_for(setup: &Setup, potentiometer_v: f64) -> Result<HousingTurn, HousingFault> {
    let idle = warm_idle(setup);
    let shown = |at_m: f64| {
        let conditions = Conditions { housing_shift_m: at_m, ..idle.conditions };
        let steady = SteadyEngine::new(&idle.rig, &conditions);
        match steady.point(conditions.screw_turns).outcome {
            Outcome::Running(state) => Ok(state.potentiometer_v),
            Outcome::Stalled(why) => Err(HousingFault::NoIdle(why)),
        }
    };
    let from_m = idle.conditions.housing_shift_m;
    let before_v = shown(from_m)?;
    let range = Key::find("housing_mm")
        .map_or((0.0, 0.0), |key| (key.unit.to_si(key.low), key.unit.to_si(key.high)));
    let place = |i: usize| range.0 + (range.1 - range.0) * i as f64 / PLACES as f64;
    let mut looked = vec![(from_m, before_v)];
    for i in 0..=PLACES {
        looked.push((place(i), shown(place(i))?));
    }
    looked.sort_by(|one, other| one.0.total_cmp(&other.0));
    let off = |at: &(f64, f64)| at.1 - potentiometer_v;
    let across = looked.windows(2).filter(|pair| off(&pair[0]) * off(&pair[1]) <= 0.0);
    let far = |pair: &&[(f64, f64)]| (0.5 * (pair[0].0 + pair[1].0) - from_m).abs();
    let Some(pair) = across.min_by(|one, other| far(one).total_cmp(&far(other))) else {
        let volts = || looked.iter().map(|at| at.1);
        let (low_v, high_v) = (volts().fold(f64::MAX, f64::min), volts().fold(f64::MIN, f64::max));
        return Err(HousingFault::OutOfReach { low_v, high_v });
    };
    let miss = |at_m: f64| shown(at_m).map_or(f64::NAN, |shown_v| shown_v - potentiometer_v);
    let to_m = match (off(&pair[0]), off(&pair[1])) {
        (0.0, _) => pair[0].0,
        (_, 0.0) => pair[1].0,
        (low, high) => root_between(miss, pair[0].0, low, pair[1].0, high),
    };
    let angle_rad = (to_m - from_m) / idle.rig.parts().lever.plate_arm_m;
    Ok(HousingTurn { from_m, to_m, before_v, angle_rad })
}

/// The same engine at its warm idle.
fn warm_idle(setup: &Setup) -> Setup {
    let standard = Conditions::default();
    Setup {
        conditions: Conditions {
            throttle: 0.0,
            pedal_holds_speed: false,
            speed_rad_s: None,
            coolant_k: setup.conditions.coolant_k.max(standard.coolant_k),
            ..setup.conditions
        },
        ..*setup
    }
}
