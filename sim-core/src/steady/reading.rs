//! From a settled engine to what every meter shows.

use crate::conditions::Conditions;
use crate::engine::exhaust::mixed_gas;
use crate::operation::balance::Settled;
use crate::operation::operating_state::{Lies, Plant};
use crate::operation::roughness::{judge, roughness};
use crate::point::State;
use crate::sense::lambda_sensor::{LambdaSensor, OxygenCell};
use std::f64::consts::PI;

/// What the readings of a settled engine need beside its balance.
pub(super) struct Surroundings<'a> {
    pub plant: &'a Plant,
    pub conditions: &'a Conditions,
    pub base_a: f64,
    pub cell: &'a OxygenCell,
    /// How far its speed lies below the best it can do on its opening (rad/s).
    pub speed_drop_rad_s: f64,
}

/// Every reading of a settled engine on a current.
pub(super) fn state(
    around: &Surroundings<'_>,
    settled: &Settled,
    current_a: f64,
    wanted_a: Option<f64>,
) -> State {
    let (plant, conditions) = (around.plant, around.conditions);
    let (parts, state) = (&plant.parts, &settled.state);
    let rough = settled.rough.unwrap_or_else(|| roughness(plant, state));
    let speed_drop_rad_s = around.speed_drop_rad_s;
    let (zone, rough_by) = judge(plant, conditions, &rough, state.lambda, speed_drop_rad_s);
    let leak = conditions.exhaust_leak;
    let gas = mixed_gas(&plant.fuel, &state.lambdas, rough.mean_misfire, leak);
    let seen = LambdaSensor::reads(state.lambda, rough.mean_misfire, leak)
        + conditions.lambda_sensor_reads_leaner_by();
    let cell_v = around.cell.voltage_v(&plant.fuel, seen);
    let duty = |current| parts.controller.duty(current, around.base_a);
    let displacement = parts.breathing.displacement_m3;
    State {
        zone,
        rough_by,
        valve_limit: settled.limit,
        idle_valve: settled.valve_m2 / parts.idle_valve.full_effective_m2(),
        lambda: state.lambda,
        cov: rough.cov,
        misfire: rough.worst_misfire,
        mean_misfire: rough.mean_misfire,
        speed_drop_rad_s,
        speed_rad_s: state.speed_rad_s,
        manifold_pa: state.manifold_pa,
        residual_fraction: state.residual_fraction,
        air_kg_s: state.air_kg_s,
        metered_kg_s: state.metered_kg_s,
        fuel_kg_s: state.fuel_kg_s,
        plate_lift_m: state.height_m - plant.rest_height_m,
        potentiometer_v: plant.potentiometer_v(conditions, state.height_m),
        actuator_a: current_a,
        duty: duty(current_a),
        trim_fuel: if current_a == around.base_a {
            0.0
        } else {
            fuel_at(plant, settled, current_a) / fuel_at(plant, settled, around.base_a) - 1.0
        },
        wanted_a,
        wanted_duty: wanted_a.map(duty),
        slit_drop_pa: plant.slit_drop_pa(current_a),
        system_pa: parts.pressures.system_pa,
        lower_chamber_pa: parts.pressures.lower_chamber_pa(current_a),
        line_pa: plant.line_pa(),
        spraying: plant.lines.spraying(),
        lines_spray: plant.lines.all_spray(),
        co: gas.co,
        sensor_v: conditions.faults.lambda.shows_v(cell_v.clamp(0.0, parts.sensor.rich_cap_v)),
        brake_nm: settled.brake_pa * displacement / (4.0 * PI),
        friction_band: parts.pressures.friction_band(),
        flows_at_rest: plant
            .flows_at_rest(state.height_m - state.lift_m / parts.lever.plunger_per_plate()),
        residual: residual(plant, settled, current_a),
        mode: None,
    }
}

/// Fuel through the slits as they stand at a current (kg/s).
fn fuel_at(plant: &Plant, settled: &Settled, current_a: f64) -> f64 {
    let jet_m_s = plant.jet_m_s(current_a);
    plant.total_kg_s(settled.state.lift_m, jet_m_s)
}

/// Largest relative residual of the balances, each worked out forwards again from what the
/// point reports: plate height, valve opening, current.
fn residual(plant: &Plant, settled: &Settled, current_a: f64) -> f64 {
    let state = &settled.state;
    let parts = &plant.parts;
    let plate = &parts.plate;
    let force = if state.lies == Lies::Afloat {
        let past = plate.flow_kg_s(
            plate.area_m2(state.height_m),
            plant.density_kg_m3,
            plant.plate_drop_pa,
        );
        past / state.metered_kg_s - 1.0
    } else {
        0.0
    };
    let open = settled.valve_m2 + settled.throttle_m2;
    let inlet = plant.inlet_kg_s(open, state.manifold_pa) + plant.leak_kg_s(state.manifold_pa);
    let air = inlet / state.air_kg_s - 1.0;
    let fuel = fuel_at(plant, settled, current_a);
    let mixture = state.air_kg_s / (plant.air_for_fuel(state.air_kg_s) * fuel);
    let torque = (state.surplus_pa() - settled.brake_pa) / state.demand_pa;
    [force, air, fuel / state.fuel_kg_s - 1.0, mixture / state.lambda - 1.0, torque]
        .into_iter()
        .map(f64::abs)
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::shipped::shipped;
    use crate::steady::SteadyEngine;

    /// What is put out of one balance by a share, up or down, the residual shows as that share:
    /// who reads a small residual reads balances that hold.
    #[test]
    fn the_residual_is_the_share_by_which_any_balance_is_out() {
        let setup = shipped("six").unwrap();
        let steady = SteadyEngine::new(&setup.rig, &Conditions::default());
        let (plant, (settled, current_a)) = (&steady.plant, steady.settle(0.0).unwrap());
        let of = |settled: &Settled| residual(plant, settled, current_a);
        assert!(of(&settled) < 1e-9 && settled.brake_pa == 0.0 && plant.leak_kg_s(4e4) == 0.0);
        for by in [-1e-4, 1e-4] {
            let with = |change: fn(&mut Settled, f64)| {
                let mut changed = settled;
                change(&mut changed, by);
                of(&changed)
            };
            for (balance, out) in [
                ("force", with(|settled, by| settled.state.metered_kg_s *= 1.0 + by)),
                (
                    "air",
                    with(|settled, by| {
                        settled.valve_m2 += by * (settled.valve_m2 + settled.throttle_m2)
                    }),
                ),
                ("fuel", with(|settled, by| settled.state.fuel_kg_s *= 1.0 + by)),
                ("mixture", with(|settled, by| settled.state.lambda *= 1.0 + by)),
                ("torque", with(|settled, by| settled.brake_pa = by * settled.state.demand_pa)),
            ] {
                assert!((out / by.abs() - 1.0).abs() < 1e-3, "{balance} by {by}: {out}");
            }
        }
        // Under a brake and with a leak they hold as well.
        let (throttle, speed_rad_s, leak_kg_s) = (0.4, Some(250.0), 1e-3);
        let driven = Conditions { throttle, speed_rad_s, leak_kg_s, ..Conditions::default() };
        let steady = SteadyEngine::new(&setup.rig, &driven);
        let (settled, current_a) = steady.settle(0.0).unwrap();
        assert!(residual(&steady.plant, &settled, current_a) < 1e-9 && settled.brake_pa > 1e5);
    }
}
