//! Balances: what goes in comes out, worked out forwards from what a point reports.

use approx::assert_relative_eq;
use sim_core::conditions::{Conditions, IdleAir, Petrol, Trim};
use sim_core::engine::exhaust::{gas_of, mixed_gas};
use sim_core::fuel::kind::{Fuel, OXYGEN_IN_AIR};
use sim_core::noise::Noise;
use sim_core::rig::seeded::relative;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

/// A random setting of everything a point depends on.
pub fn random_conditions(noise: &mut Noise) -> Conditions {
    let pick = |noise: &mut Noise, share: f64| noise.uniform() < share;
    Conditions {
        altitude_m: noise.between(0.0, 3000.0),
        ambient_k: noise.between(253.0, 313.0),
        coolant_k: if pick(noise, 0.7) { 363.15 } else { noise.between(258.0, 363.0) },
        fuel_k: noise.between(258.0, 353.0),
        speed_rad_s: pick(noise, 0.3).then(|| Unit::Rpm.to_si(noise.between(600.0, 5000.0))),
        throttle: if pick(noise, 0.3) { noise.uniform() } else { 0.0 },
        leak_kg_s: if pick(noise, 0.3) { noise.between(0.0, 6.0 / 3600.0) } else { 0.0 },
        trim: if pick(noise, 0.5) { Trim::On } else { Trim::Off },
        idle_air: if pick(noise, 0.3) { IdleAir::Fixed } else { IdleAir::Held },
        petrol: if pick(noise, 0.2) { Petrol::E10 } else { Petrol::E0 },
        actuator_a: pick(noise, 0.1).then(|| noise.between(-0.02, 0.05)),
        misfire: if pick(noise, 0.2) { noise.between(0.0, 0.05) } else { 0.0 },
        exhaust_leak: if pick(noise, 0.1) { noise.between(0.0, 0.03) } else { 0.0 },
        rest_height_m: noise.between(-1e-3, 1e-3),
        ..Conditions::default()
    }
}

#[test]
fn force_air_fuel_mixture_and_torque_balance_to_1e_9_wherever_the_engine_runs() {
    let (mut running, mut worst) = (0, 0.0_f64);
    for (name, _) in SHIPPED {
        let base = shipped(name).unwrap().rig;
        for item in 0..3000 {
            let mut noise = Noise::new(11, item);
            let Some(one) = relative(&base, 5, item, 0.3e-3) else { continue };
            let conditions = Conditions { flame: one.flame, ..random_conditions(&mut noise) };
            let screw = noise.between(-0.25, 0.4);
            let point = SteadyEngine::new(&one.rig, &conditions).point(screw);
            let Some(state) = point.state() else { continue };
            running += 1;
            worst = worst.max(state.residual);
            assert!(
                state.residual < 1e-9,
                "{name} {item}: residual {:e} at screw {screw} under {conditions:?}",
                state.residual
            );
        }
    }
    assert!(running > 1500, "only {running} of the points run");
    println!("{running} running points, worst residual {worst:e}");
}

/// Elements of the exhaust, wet, against those of fuel and air.
#[test]
fn carbon_hydrogen_and_oxygen_of_the_exhaust_are_those_of_fuel_and_air() {
    let fuel = Fuel::petrol_with_ethanol(0.10);
    for lambda in [0.5, 0.8, 0.95, 1.0, 1.2] {
        let gas = gas_of(&fuel, lambda);
        // For each fuel carbon: total dry moles, then water from hydrogen.
        let dry = 1.0 / (gas.co + gas.co2);
        let water = fuel.h_per_c / 2.0 - gas.h2 * dry;
        let oxygen_out = dry * (gas.co + 2.0 * gas.co2 + 2.0 * gas.o2) + water;
        let oxygen_in = fuel.o_per_c + 2.0 * lambda * fuel.oxygen_demand();
        assert_relative_eq!(oxygen_out, oxygen_in, max_relative = 1e-12);
        let nitrogen = dry * (1.0 - gas.co - gas.co2 - gas.o2 - gas.h2);
        let breathed = lambda * fuel.oxygen_demand() * (1.0 - OXYGEN_IN_AIR) / OXYGEN_IN_AIR;
        assert_relative_eq!(nitrogen, breathed, max_relative = 1e-12);
    }
}

#[test]
fn the_mixed_gas_keeps_the_oxygen_of_its_mean_mixture() {
    let fuel = Fuel::petrol_with_ethanol(0.0);
    let lambdas = [0.93, 1.0, 1.08];
    let phi = lambdas.iter().map(|l| 1.0 / l).sum::<f64>() / 3.0;
    let gas = mixed_gas(&fuel, &lambdas, 0.0, 0.0);
    let dry = 1.0 / (gas.co + gas.co2);
    let water = fuel.h_per_c / 2.0 - gas.h2 * dry;
    let oxygen_out = dry * (gas.co + 2.0 * gas.co2 + 2.0 * gas.o2) + water;
    assert_relative_eq!(oxygen_out, 2.0 * fuel.oxygen_demand() / phi, max_relative = 1e-12);
}

#[test]
fn the_engine_burns_the_air_it_is_given() {
    let rig = shipped("six").unwrap().rig;
    let leak = 1.5 / 3600.0;
    let steady = SteadyEngine::new(&rig, &Conditions { leak_kg_s: leak, ..Conditions::default() });
    let state = *steady.point(0.05).state().unwrap();
    assert_relative_eq!(state.air_kg_s, state.metered_kg_s + leak, max_relative = 1e-12);
    let fuel = Fuel::petrol_with_ethanol(0.0);
    let lambda = state.air_kg_s / (state.fuel_kg_s * fuel.air_fuel_ratio());
    assert_relative_eq!(lambda, state.lambda, max_relative = 1e-9);
}
