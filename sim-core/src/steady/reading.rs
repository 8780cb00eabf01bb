//! From a settled engine to what every meter shows.

use super::SteadyEngine;
use super::balance::Settled;
use super::operating_state::{Lies, OperatingState, Plant};
use crate::engine::burn::ROUGH_COV;
use crate::engine::exhaust::mixed_gas;
use crate::engine::work::relative_work;
use crate::point::{State, Zone};
use crate::sense::lambda_sensor::LambdaSensor;
use std::f64::consts::PI;

pub(crate) fn state(
    steady: &SteadyEngine,
    settled: &Settled,
    current_a: f64,
    wanted_a: Option<f64>,
) -> State {
    let (plant, conditions) = (&steady.plant, &steady.conditions);
    let (parts, trial) = (&plant.parts, &settled.trial);
    let rough = roughness(plant, trial);
    let leak = conditions.exhaust_leak;
    let gas = mixed_gas(&plant.fuel, &trial.lambdas, rough.mean_misfire, leak);
    let seen = LambdaSensor::reads(trial.lambda, rough.mean_misfire, leak);
    let cell_v = steady.cell.voltage_v(&plant.fuel, seen);
    let duty = |current| parts.controller.duty(current, steady.base_a);
    let displacement = parts.breathing.displacement_m3;
    State {
        zone: zone(plant, rough.cov, trial.lambda),
        valve_limit: settled.limit,
        idle_valve: settled.valve_m2 / parts.idle_valve.full_effective_m2(),
        lambda: trial.lambda,
        cov: rough.cov,
        misfire: rough.worst_misfire,
        speed_rad_s: trial.speed_rad_s,
        manifold_pa: trial.manifold_pa,
        residual_fraction: trial.residual_fraction,
        air_kg_s: trial.air_kg_s,
        metered_kg_s: trial.metered_kg_s,
        fuel_kg_s: trial.fuel_kg_s,
        plate_lift_m: trial.height_m - plant.rest_height_m,
        potentiometer_v: plant.potentiometer_v(conditions, trial.height_m),
        actuator_a: current_a,
        duty: duty(current_a),
        trim_fuel: if current_a == steady.base_a {
            0.0
        } else {
            fuel_at(plant, settled, current_a) / fuel_at(plant, settled, steady.base_a) - 1.0
        },
        wanted_a,
        wanted_duty: wanted_a.map(duty),
        slit_drop_pa: parts.pressures.slit_drop_pa(current_a),
        co: gas.co,
        sensor_v: cell_v.clamp(0.0, parts.sensor.rich_cap_v),
        brake_nm: settled.brake_pa * displacement / (4.0 * PI),
        friction_band: parts.pressures.friction_band(),
        flows_at_rest: plant
            .flows_at_rest(trial.height_m - trial.lift_m / parts.lever.plunger_per_plate()),
        residual: residual(steady, settled, current_a),
        mode: None,
    }
}

/// How an engine runs, by its roughness and mixture.
pub(crate) fn zone(plant: &Plant, cov: f64, lambda: f64) -> Zone {
    if cov <= ROUGH_COV {
        Zone::Smooth
    } else if lambda > plant.reference.least_rough_lambda[plant.law as usize] {
        Zone::RoughLean
    } else {
        Zone::RoughRich
    }
}

/// Fuel through the slits as they stand at a current (kg/s).
fn fuel_at(plant: &Plant, settled: &Settled, current_a: f64) -> f64 {
    let jet_m_s = plant.jet_m_s(current_a);
    plant.parts.slits.total_kg_s(settled.trial.lift_m, jet_m_s, &plant.liquid)
}

/// Roughness and misfires of the whole engine.
pub(crate) struct Rough {
    /// COV of imep.
    pub cov: f64,
    /// Share of misfired cycles in the worst cylinder.
    pub worst_misfire: f64,
    /// Share of misfired cycles over all.
    pub mean_misfire: f64,
}

/// COV of imep of the whole engine and misfires.
///
/// Equation: `COV^2 = mean COV_i^2 + var(T_i)/mean(T)^2`, `T_i = g_i w_i` the torque of
/// cylinder `i`: scatter within the cylinders, and the shake of their unequal strength.
/// Source: our own sum of the two.
pub(crate) fn roughness(plant: &Plant, trial: &OperatingState) -> Rough {
    let count = trial.lambdas.len() as f64;
    let burn = plant.burn_at(trial.speed_rad_s);
    let (mut own, mut torque, mut torque2) = (0.0, 0.0, 0.0);
    let (mut worst, mut mean) = (0.0_f64, 0.0);
    for (&lambda, &slowness) in trial.lambdas.iter().zip(&trial.slowness) {
        let cycles = burn.cycles(slowness, plant.lost(lambda));
        let t = cycles.mean * relative_work(lambda);
        own += cycles.cov * cycles.cov / count;
        torque += t / count;
        torque2 += t * t / count;
        worst = worst.max(cycles.misfire);
        mean += cycles.misfire / count;
    }
    let spread = (torque2 / (torque * torque) - 1.0).max(0.0);
    Rough { cov: (own + spread).sqrt(), worst_misfire: worst, mean_misfire: mean }
}

/// Largest relative residual of the balances, each worked out forwards again from what the
/// point reports: plate height, valve opening, current.
fn residual(steady: &SteadyEngine, settled: &Settled, current_a: f64) -> f64 {
    let (plant, trial) = (&steady.plant, &settled.trial);
    let parts = &plant.parts;
    let plate = &parts.plate;
    let force = if trial.lies == Lies::Afloat {
        let past = plate.flow_kg_s(
            plate.area_m2(trial.height_m),
            plant.density_kg_m3,
            plant.plate_drop_pa,
        );
        past / trial.metered_kg_s - 1.0
    } else {
        0.0
    };
    let open = settled.valve_m2 + settled.throttle_m2;
    let inlet = plant.inlet_kg_s(open, trial.manifold_pa) + plant.leak_kg_s(trial.manifold_pa);
    let air = inlet / trial.air_kg_s - 1.0;
    let fuel = fuel_at(plant, settled, current_a);
    let mixture = trial.air_kg_s / (plant.air_fuel_ratio * plant.vapour * fuel);
    let torque = (trial.surplus_pa() - settled.brake_pa) / trial.demand_pa;
    [force, air, fuel / trial.fuel_kg_s - 1.0, mixture / trial.lambda - 1.0, torque]
        .into_iter()
        .map(f64::abs)
        .fold(0.0, f64::max)
}
