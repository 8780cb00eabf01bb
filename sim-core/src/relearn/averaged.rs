//! What a drive teaches on average, without the engine in time: from the arithmetic of the plate's
//! lift and the actuator's current.

use super::unsettled::prerequisite;
use crate::control::cells::{CELLS, Cells, Moment, STEADY, Taught};
use crate::drive::EngineDemand;
use crate::operation::operating_state::Plant;
use crate::rig::keys::Setup;
use crate::sense::faults::{Lambda, ThrottleSwitch};
use crate::sense::lambda_sensor::LambdaSensor;
use crate::steady::SteadyEngine;

/// What a drive teaches, on average: the trim that each second's air flow asks for.
///
/// The full run's cells see a trim that swings about this; a second whose flow differs from
/// the one before teaches nothing, as in the controller.
pub(super) fn averaged_drive(setup: &Setup, cells: &Cells, asked: &[EngineDemand]) -> Taught {
    let mut taught = Taught::default();
    let Some(idle_kg_s) = idle_kg_s(setup).filter(|_| prerequisite(setup).is_none()) else {
        return taught;
    };
    let (parts, conditions) = (setup.rig.parts(), &setup.conditions);
    let current_for_a = currents_on_target(setup);
    let plant = Plant::new(parts, setup.rig.reference(), conditions);
    let idle_switch = conditions.faults.throttle_switch != ThrottleSwitch::NoIdle;
    let authority = parts.controller.authority_a;
    let (mut before_kg_s, mut steady_s) = (0.0, 0.0);
    for moment in asked {
        let air_kg_s = match moment {
            EngineDemand::Idle => idle_kg_s,
            EngineDemand::Drives { throttle, air_kg_s, .. } if *throttle > 0.0 => {
                *air_kg_s - conditions.leak_kg_s
            }
            EngineDemand::Drives { .. } => 0.0,
        };
        let near = (air_kg_s - before_kg_s).abs() < STEADY.0 * air_kg_s;
        before_kg_s = air_kg_s;
        steady_s = if near { steady_s + 1.0 } else { 0.0 };
        if air_kg_s <= 0.0 || steady_s <= STEADY.1 + STEADY.2 {
            continue;
        }
        let Some(beyond_base_a) = current_for_a(air_kg_s) else { continue };
        let stuck = conditions.faults.lambda == Lambda::Stuck;
        let Some(seen_kg_s) = plant.seen_air_of_kg_s(conditions, air_kg_s) else { continue };
        let asks_a = beyond_base_a - cells.added_at_a(seen_kg_s);
        let trim_a = if stuck { authority } else { asks_a.clamp(-authority, authority) };
        let idles = idle_switch && *moment == EngineDemand::Idle;
        cells.teach(&mut taught, Moment { air_kg_s: seen_kg_s, idles }, trim_a, 1.0);
    }
    taught
}

/// Air past the plate at the warm idle (kg/s); `None` of an engine that does not idle.
pub(super) fn idle_kg_s(setup: &Setup) -> Option<f64> {
    let engine = SteadyEngine::new(&setup.rig, &setup.conditions);
    let (settled, _) = engine.settle(setup.conditions.screw_turns).ok()?;
    Some(settled.state.metered_kg_s)
}

/// The current each cell's centre asks for beyond the base (A): a screw that is off is a
/// lift, which another air flow needs another current to make good.
pub fn wanted_a(setup: &Setup) -> [Option<f64>; CELLS] {
    let parts = setup.rig.parts();
    let cells = Cells::cleared(parts.breathing.displacement_m3, parts.controller.authority_a);
    let plant = Plant::new(parts, setup.rig.reference(), &setup.conditions);
    let asks_a = currents_on_target(setup);
    cells.centre_kg_s.map(|centre| asks_a(plant.air_taken_for_kg_s(&setup.conditions, centre)?))
}

/// For an air flow past the plate (kg/s): the current that it asks for on the sensor's mixture,
/// beyond the base (A). Air that passes no plate is burnt beside it; that, dead sparks and an
/// exhaust leak read leaner, as at the steady point.
fn currents_on_target(setup: &Setup) -> impl Fn(f64) -> Option<f64> {
    let (parts, conditions) = (*setup.rig.parts(), &setup.conditions);
    let plant = Plant::new(&parts, setup.rig.reference(), conditions);
    let opening_m = parts.lever.opening_height_m(conditions.screw_turns);
    let leaner = LambdaSensor::reads(0.0, conditions.misfire, conditions.exhaust_leak)
        + conditions.lambda_sensor_reads_leaner_by();
    let conditions = *conditions;
    move |air_kg_s| {
        let height_m = plant.afloat_height_m(air_kg_s)?;
        let base_a = plant.base_a(&conditions, height_m);
        let metered = air_kg_s / (air_kg_s + conditions.leak_kg_s);
        Some(plant.current_for_a(air_kg_s, opening_m, (1.0 - leaner) * metered)? - base_a)
    }
}
