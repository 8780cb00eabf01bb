//! The reference state of a rig: lambda 1, warm idle, sea level.

use super::operating_state::{Mixture, Plant};
use super::roughness::roughness_by;
use crate::assembly::{Parts, Reference, RigFault};
use crate::conditions::Conditions;
use crate::engine::flame::FLAME_LAWS;
use crate::engine::scatter::THREE;
use crate::solve::{Crossing, least_to};

/// Works out the reference state of parts.
///
/// In it, by definition, the flame is as fast as itself (slowness 1), so the manifold
/// pressure of the idle follows without a flame law; the laws' speeds are then read there.
pub(crate) fn of(parts: &Parts) -> Result<Reference, RigFault> {
    let mut reference = Reference {
        ln_flame: [0.0; FLAME_LAWS.len()],
        least_rough_lambda: [1.0; FLAME_LAWS.len()],
        pressure_over_floor: 1.0,
        idle_valve_m2: 0.0,
        idle_height_m: 0.0,
        spark_deg: parts.burn.spark_deg,
    };
    let conditions = Conditions::default();
    let plant = Plant::at(parts, &reference, &conditions);
    let speed = parts.controller.idle_rad_s;
    let torque = parts.burn.cycles(parts.burn.spark_deg).mean_at(1.0);
    let surplus = |p: f64| {
        torque * plant.best_imep_pa(plant.air_kg_s(p, speed), speed) - plant.demand_pa(p, speed)
    };
    let Crossing::Root(manifold_pa) = plant.first_pressure(speed, 0.0, surplus) else {
        return Err(RigFault::CannotIdle);
    };
    reference.pressure_over_floor = manifold_pa / plant.least_manifold_pa(speed);
    let residual = parts.breathing.residual_fraction(manifold_pa, plant.exhaust_pa, speed, 1.0);
    let charge = plant.charge(manifold_pa, residual);
    for (i, law) in FLAME_LAWS.into_iter().enumerate() {
        reference.ln_flame[i] = charge.ln_laminar_speed(law, 1.0);
    }
    for law in FLAME_LAWS {
        let mut plant = Plant::at(parts, &reference, &Conditions { flame: law, ..conditions });
        // Beyond these limits cycles are lost whatever the burn: the valley is between.
        plant.parts.burn.gas_fuel_limit = f64::INFINITY;
        let state = plant.at_pressure(manifold_pa, speed, 1.0);
        let cov = |lambda: f64| roughness_by(&plant, &state.on_mixture(lambda), &THREE).cov;
        reference.least_rough_lambda[law as usize] = least_to(cov, 0.6, 1.15, 1e-3);
    }
    (reference.idle_valve_m2, reference.idle_height_m) = idle(parts, &reference)?;
    Ok(reference)
}

/// Effective opening of the idle air valve (m2) that gives the idle speed at lambda 1, and
/// the height of the plate (m).
fn idle(parts: &Parts, reference: &Reference) -> Result<(f64, f64), RigFault> {
    let plant = Plant::at(parts, reference, &Conditions::default());
    let jet_m_s = plant.jet_m_s(parts.controller.base_a);
    let mixture = Mixture::Aim { jet_m_s, lambda: 1.0 };
    let idle = plant
        .least_air(parts.controller.idle_rad_s, &mixture, 0.0)
        .map_err(|_| RigFault::CannotIdle)?;
    let full_m2 = parts.idle_valve.full_effective_m2();
    if !idle.valve_m2.is_finite() {
        Err(RigFault::CannotIdle)
    } else if idle.valve_m2 < 0.0 {
        let throttle_m2 = parts.throttle.effective_m2(0.0);
        Err(RigFault::ThrottleTooOpen {
            passes_kg_s: plant.inlet_kg_s(throttle_m2, idle.state.manifold_pa),
            needed_kg_s: idle.state.metered_kg_s,
        })
    } else if idle.valve_m2 > full_m2 {
        Err(RigFault::IdleValveTooSmall { needed_m2: idle.valve_m2, full_m2 })
    } else {
        Ok((idle.valve_m2, idle.state.height_m))
    }
}
