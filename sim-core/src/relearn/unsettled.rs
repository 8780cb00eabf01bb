//! Why stored cells do not settle.

use crate::conditions::Trim;
use crate::control::cells::LEARNS_FROM_K;
use crate::rig::keys::Setup;
use crate::sense::faults::Lambda;

/// Why the cells do not settle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UnsettledReason {
    /// The loop is never closed: no lambda sensor that works.
    NoSensor(Lambda),
    /// The loop is not asked to close.
    TrimOff,
    /// A current is forced by hand.
    Forced,
    /// The controller takes the coolant for too cold (K) to close the loop.
    TakenForCold(f64),
    /// The engine cannot be driven at this setting.
    CannotBeDriven,
    /// There were too few starts.
    TooFewStarts,
    /// No cell was driven in steadily enough to learn.
    NothingSteady,
    /// The idle switch never closes: the idle's cell does not learn.
    NoIdleSwitch,
}

/// What a controller cannot do without, if it is missing.
pub(super) fn prerequisite(setup: &Setup) -> Option<UnsettledReason> {
    let (parts, conditions) = (setup.rig.parts(), &setup.conditions);
    let seen_k = conditions.seen_coolant_k(&parts.thermistor);
    match conditions.faults.lambda {
        fault @ (Lambda::Cold | Lambda::Dead) => return Some(UnsettledReason::NoSensor(fault)),
        Lambda::Sound | Lambda::Stuck | Lambda::Lazy | Lambda::Shifted => {}
    }
    if conditions.trim == Trim::Off {
        return Some(UnsettledReason::TrimOff);
    }
    if conditions.actuator_a.is_some() {
        return Some(UnsettledReason::Forced);
    }
    (seen_k < parts.controller.closed_loop_from_k.max(LEARNS_FROM_K)
        && conditions.coolant_k > seen_k)
        .then_some(UnsettledReason::TakenForCold(seen_k))
}
