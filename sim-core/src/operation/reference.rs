//! The reference state of a rig: lambda 1, warm idle, sea level.

use super::operating_state::{Mixture, Plant, idle_cycles};
use super::roughness::roughness_by;
use crate::assembly::{NOMINAL_DEGC, Nominal, Parts, Reference, RigFault};
use crate::conditions::Conditions;
use crate::engine::burn::Cycles;
use crate::engine::flame::FLAME_LAWS;
use crate::engine::scatter::THREE;
use crate::solve::{Crossing, least_to};
use crate::units::ZERO_CELSIUS_K;

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
        nominal: Nominal::default(),
    };
    let conditions = Conditions::default();
    let cycles = idle_cycles(parts);
    let plant = Plant::on_cycles(parts, &reference, &conditions, cycles.clone());
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
        let conditions = Conditions { flame: law, ..conditions };
        let mut plant = Plant::on_cycles(parts, &reference, &conditions, cycles.clone());
        // Beyond these limits cycles are lost whatever the burn: the valley is between.
        plant.parts.burn.gas_fuel_limit = f64::INFINITY;
        let state = plant.at_pressure(manifold_pa, speed, 1.0);
        let cov = |lambda: f64| roughness_by(&plant, &state.on_mixture(lambda), &THREE).cov;
        reference.least_rough_lambda[law as usize] = least_to(cov, 0.6, 1.15, 1e-3);
    }
    (reference.idle_valve_m2, reference.idle_height_m) = idle(parts, &reference, &cycles)?;
    reference.nominal = nominal(parts, &reference, &cycles);
    Ok(reference)
}

/// Effective opening of the idle air valve (m2) that gives the idle speed at lambda 1, and
/// the height of the plate (m).
fn idle(parts: &Parts, reference: &Reference, cycles: &Cycles) -> Result<(f64, f64), RigFault> {
    let plant = Plant::on_cycles(parts, reference, &Conditions::default(), cycles.clone());
    let jet_m_s = plant.jet_m_s(parts.controller.base_a);
    let mixture = Mixture::Aim { jet_m_s, lambda: 1.0 };
    let idle = plant
        .least_air(parts.controller.idle_rad_s, &mixture, 0.0)
        .map_err(|_| RigFault::CannotIdle)?;
    let full_m2 = parts.idle_valve.widest() * parts.idle_valve.full_effective_m2();
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

/// What the controller is made for, on the rig as it was built. Where the cold engine cannot idle
/// on lambda 1, or not with this valve, the controller asks for all the valve has.
fn nominal(parts: &Parts, reference: &Reference, cycles: &Cycles) -> Nominal {
    let under = |conditions: Conditions| {
        Plant::on_cycles(parts, reference, &conditions, cycles.clone()).fed(&conditions)
    };
    let warm = under(Conditions::default());
    let mut found = Nominal {
        potentiometer: parts.potentiometer,
        plate: parts.plate,
        flow_kg_s_m2: parts.plate.flow_kg_s(1.0, warm.density_kg_m3, warm.plate_drop_pa),
        ..Nominal::default()
    };
    let full_m2 = parts.idle_valve.full_effective_m2();
    // From the warm end: a colder engine takes no less air than a warmer one.
    let mut before_kg_s = warm.air_by_height_kg_s(reference.idle_height_m);
    for (i, degc) in NOMINAL_DEGC.iter().enumerate().rev() {
        let coolant_k = degc + ZERO_CELSIUS_K;
        let plant = under(Conditions { coolant_k, ..Conditions::default() });
        let jet_m_s = plant.jet_m_s(parts.controller.base_current_a(coolant_k));
        let speed_rad_s = parts.controller.idle_target_rad_s(coolant_k);
        // A cold engine needs more than this, with its slower flame.
        let guess_pa = 0.9 * reference.pressure_over_floor * plant.least_manifold_pa(speed_rad_s);
        let idle = plant.least_air(speed_rad_s, &Mixture::Aim { jet_m_s, lambda: 1.0 }, guess_pa);
        let (air_kg_s, duty) = match idle {
            Ok(idle) if idle.valve_m2.is_finite() => {
                (idle.state.metered_kg_s, parts.idle_valve.duty(idle.valve_m2 / full_m2))
            }
            _ => (before_kg_s, 1.0),
        };
        before_kg_s = before_kg_s.max(air_kg_s);
        (found.idle_air_kg_s[i], found.idle_duty[i]) = (before_kg_s, duty.clamp(0.0, 1.0));
    }
    found
}
