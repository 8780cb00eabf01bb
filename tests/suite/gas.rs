//! What is in the exhaust, by counting moles.

use crate::support::*;
use crate::table::rows;
use sim_core::engine::exhaust::{Gas, gas_of, hydrogen_of, lambda_of, mixed_gas};
use sim_core::fuel::kind::Fuel;
use sim_core::point::READINGS;

/// Oxygen in air by volume, and hydrogen atoms for each carbon atom of petrol.
const OXYGEN: f64 = 0.2095;
const H: f64 = 1.85;

fn petrol() -> Fuel {
    Fuel::petrol_with_ethanol(0.0)
}

/// Carbon and dry gas (mol) of the charge with one mole of oxygen in it, at a mixture.
fn carbon_and_dry(gas: &Gas, lambda: f64) -> (f64, f64) {
    let carbon = 1.0 / (lambda * (1.0 + H / 4.0));
    (carbon, carbon / (gas.co + gas.co2))
}

/// Of a hundred charges two come out as they went in: their oxygen and nitrogen, and their
/// fuel, six carbon atoms to a molecule of hexane.
#[test]
fn lost_cycles_leave_the_oxygen_and_the_fuel_they_did_not_burn() {
    for lambda in [0.97, 1.0, 1.1] {
        let sound = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
        let (carbon, dry) = carbon_and_dry(&sound, lambda);
        let lost = 0.02;
        let charge = 1.0 / OXYGEN;
        let all = (1.0 - lost) * dry + lost * charge;
        let (o2, hc) = (((1.0 - lost) * sound.o2 * dry + lost) / all, lost * carbon / 6.0 / all);
        let found = mixed_gas(&petrol(), &[lambda], lost, 0.0);
        near(found.o2 - sound.o2, o2 - sound.o2, 0.12, "oxygen of lost cycles");
        near(found.hc - sound.hc, hc, 0.12, "hydrocarbons of lost cycles");
    }
}

/// What went in comes out, burnt or not: a formula that counts all of it finds the same
/// lambda.
#[test]
fn lost_cycles_do_not_move_the_lambda_worked_out_from_the_gas() {
    let fuel = (H, 0.0);
    for lambda in [0.95, 1.0, 1.1] {
        let of = |lost: f64| lambda_of(&mixed_gas(&petrol(), &[lambda], lost, 0.0), fuel).unwrap();
        let moved = of(0.03) - of(0.0);
        assert!(
            moved.abs() < 0.006,
            "lambda {lambda}: three lost cycles in a hundred move it by {moved}"
        );
    }
}

#[test]
fn an_exhaust_leak_brings_air_s_nitrogen_with_its_oxygen() {
    // So much air that there is nothing else: air.
    let flooded = mixed_gas(&petrol(), &[1.0], 0.0, 1e6);
    near(flooded.o2, OXYGEN, 1e-3, "oxygen where all is leak air");
    // A litre of gas and a measure of air.
    for lambda in [0.9, 1.1] {
        let tight = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
        let (_, dry) = carbon_and_dry(&tight, lambda);
        let leaky = mixed_gas(&petrol(), &[lambda], 0.0, 0.10);
        let thinner = dry / (dry + 0.10 / OXYGEN);
        near(leaky.co2, tight.co2 * thinner, 2e-3, "CO2 thinned by a tenth of the air");
        near(leaky.co, tight.co * thinner, 2e-3, "CO thinned by a tenth of the air");
    }
}

#[test]
fn the_meter_reads_less_carbon_monoxide_behind_a_leaky_exhaust() {
    let rich = at_lambda(&with("six", &[]), 0.9);
    let leaky = and(&rich, &[("exhaust_leak_percent", 20.0)]);
    let gas = gas_of(&petrol(), 0.9);
    let (_, dry) = carbon_and_dry(&gas, 0.9);
    let thinner = dry / (dry + 0.20 / OXYGEN);
    let co = |setup: &_| shown(&running(setup), "co_percent");
    near(co(&leaky), co(&rich) * thinner, 5e-3, "CO behind a leak of a fifth of the air");
}

/// Air let in before the sensor is oxygen that the gas did not have: so much of the air, so
/// much of lambda. The loop holds the sensor at 1 and so the engine richer by that; a lost
/// cycle's oxygen does the same.
#[test]
fn the_loop_runs_richer_by_the_oxygen_that_a_leak_or_a_dead_spark_brings() {
    let lambda = |keys: &[(&str, f64)]| {
        let setup = word(&and(&aimed(&with("six", &[])), keys), "trim", "on");
        running(&setup).lambda
    };
    let sound = lambda(&[]);
    for percent in [1.0, 2.0] {
        let leaky = 100.0 * (sound - lambda(&[("exhaust_leak_percent", percent)]));
        near(leaky, percent, 0.2, "percent of lambda that an exhaust leak takes");
        let dead = 100.0 * (sound - lambda(&[("misfire_percent", percent)]));
        assert!(
            (0.3 * percent..1.3 * percent).contains(&dead),
            "{dead} % by {percent} % dead sparks"
        );
    }
}

/// All hydrogen of the fuel is water or hydrogen, and the two stand to CO2 and CO as the
/// water-gas reaction frozen at 1740 K does (3.5; Heywood 1988, sect. 4.9, from memory).
#[test]
fn hydrogen_goes_with_carbon_monoxide_as_the_frozen_water_gas_says() {
    let constant = |co: f64, co2: f64, h2: f64| {
        let water = 0.5 * H * (co + co2) - h2;
        co * water / (co2 * h2)
    };
    for row in rows("exhaust_rich") {
        let (co, co2) = (row.number("co_percent_dry"), row.number("co2_percent_dry"));
        let h2 = 100.0 * hydrogen_of(0.01 * co, 0.01 * co2, H);
        assert!((h2 - row.number("h2_percent_dry")).abs() < 0.004, "{row}: {h2} %");
        near(constant(co, co2, h2), 3.5, 1e-6, "water-gas constant of hydrogen_of");
    }
    for lambda in [0.75, 0.85] {
        let gas = gas_of(&petrol(), lambda);
        near(constant(gas.co, gas.co2, gas.h2), 3.5, 2e-3, "water-gas constant of a rich gas");
        // Oxygen in and out, for each mole of oxygen breathed.
        let gas = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
        let (_, dry) = carbon_and_dry(&gas, lambda);
        let water = 0.5 * H * (gas.co + gas.co2) - gas.h2;
        near(dry * (gas.co2 + 0.5 * gas.co + gas.o2 + 0.5 * water), 1.0, 2e-3, "oxygen");
    }
    assert_eq!(hydrogen_of(0.0, 0.15, H), 0.0, "no CO, no hydrogen");
}

/// A batch of gas put together atom by atom: so many carbon atoms as CO2, CO and hexane, the
/// hydrogen of the burnt ones as water and hydrogen in water-gas equilibrium, some oxygen
/// left over. Lambda is the oxygen counted over the oxygen the carbon and hydrogen ask for.
#[test]
fn lambda_from_gas_is_oxygen_counted_over_oxygen_asked_for() {
    for (h, o) in [(1.7261, 0.0175), (1.85, 0.0), (3.0, 0.5)] {
        for (co2, co, hexane, o2) in [
            (100.0, 0.0, 0.0, 0.0),
            (90.0, 10.0, 0.1, 3.0),
            (70.0, 30.0, 0.2, 1.0),
            (95.0, 1.0, 0.5, 40.0),
        ] {
            // Hydrogen of the burnt carbon (H2 to H2O as CO to 3.5 CO2), by bisection.
            let pairs = 0.5 * h * (co2 + co);
            let (mut low, mut high) = (0.0, pairs);
            for _ in 0..200 {
                let h2 = 0.5 * (low + high);
                if h2 * 3.5 * co2 < co * (pairs - h2) { low = h2 } else { high = h2 }
            }
            let water = pairs - low;
            let (carbon, burnt) = (co2 + co + 6.0 * hexane, co2 + co);
            // Atoms of oxygen from the air: all there is less what the burnt fuel brought.
            let from_air = 2.0 * co2 + co + 2.0 * o2 + water - o * burnt;
            let asked = carbon * (2.0 + 0.5 * h - o);
            let dry = co2 + co + hexane + o2 + low + 500.0;
            let gas =
                Gas { co: co / dry, co2: co2 / dry, o2: o2 / dry, h2: low / dry, hc: hexane / dry };
            near(lambda_of(&gas, (h, o)).unwrap(), from_air / asked, 1e-9, "lambda from gas");
        }
    }
}

/// One cylinder burns leaner, five richer: each leaves its own gas, and the meter gets all.
#[test]
fn carbon_monoxide_is_the_mean_of_what_each_cylinder_leaves() {
    let mut setup = with("six", &[("slit_half_reynolds", 0.0)]);
    let rig = setup.rig.with_parts(|parts| parts.slits.width_m[0] *= 0.85);
    setup.rig = rig.unwrap();
    let setup = at_lambda(&setup, 1.0);
    let widths = setup.rig.parts().slits.width_m;
    let mean = widths.iter().sum::<f64>() / widths.len() as f64;
    let (mut co, mut all) = (0.0, 0.0);
    for width in widths.iter() {
        let lambda = mean / width;
        let gas = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
        let (_, dry) = carbon_and_dry(&gas, lambda);
        (co, all) = (co + gas.co * dry, all + dry);
    }
    let even = mixed_gas(&petrol(), &[1.0], 0.0, 0.0).co;
    assert!(co / all > 1.15 * even, "uneven cylinders leave more CO: {} and {even}", co / all);
    near(shown(&running(&setup), "co_percent"), 100.0 * co / all, 0.01, "CO of unequal cylinders");
}

/// The trim swings and with it every meter; at the end of a run the mean over whole swings
/// is told, not where the swing happens to stand.
#[test]
fn every_reading_at_the_end_of_a_run_is_the_mean_over_its_swing() {
    let setup = word(&aimed(&with("six", &[])), "trim", "on");
    for lasts_s in [20.0, 20.2, 20.4, 20.6, 20.8, 21.0] {
        let record = recorded(&setup, lasts_s, 1, &[]);
        let states: Vec<_> = record.rows.iter().filter_map(|row| row.state).collect();
        let late = &states[states.len() - 1000..];
        let last = record.last.expect("it idles on");
        for reading in READINGS.iter().filter(|reading| reading.name != "residual") {
            let Some(told) = reading.value(&last) else { continue };
            let seen = || late.iter().filter_map(|state| reading.value(state));
            let mean = seen().sum::<f64>() / late.len() as f64;
            let most = seen().fold(f64::MIN, f64::max);
            let least = seen().fold(f64::MAX, f64::min);
            let swing = (most - least).max(1e-9 * mean.abs());
            assert!(
                (told - mean).abs() <= 0.15 * swing,
                "{} after {lasts_s} s is told as {told}, but swings from {least} to {most} about {mean}",
                reading.name
            );
        }
    }
}

/// With a brake on the crank the swing of the trim is the brake's, too.
#[test]
fn brake_torque_at_the_end_of_a_run_is_the_mean_over_its_swing() {
    let setup = word(&aimed(&with("six", &[])), "trim", "on");
    let speed_rad_s = 2000.0 * std::f64::consts::PI / 30.0;
    for lasts_s in [30.0, 30.1, 30.2, 30.3, 30.4, 30.5] {
        let braked = [(1.0, Action::Throttle(0.12, speed_rad_s))];
        let record = recorded(&setup, lasts_s, 1, &braked);
        let states: Vec<_> = record.rows.iter().filter_map(|row| row.state).collect();
        let late: Vec<f64> = states[states.len() - 1000..].iter().map(|s| s.brake_nm).collect();
        let mean = late.iter().sum::<f64>() / late.len() as f64;
        let swing = late.iter().fold(f64::MIN, |a, b| a.max(*b))
            - late.iter().fold(f64::MAX, |a, b| a.min(*b));
        let told = record.last.expect("it runs on").brake_nm;
        assert!(
            (told - mean).abs() < 0.15 * swing,
            "after {lasts_s} s {told} N m are told, the mean is {mean}, the swing {swing} N m"
        );
    }
}

/// Before the catalyst a sound warm engine leaves 100 to 300 ppm of hydrocarbons, told as hexane,
/// that hid from the flame in gaps and oil (common practice, no source).
#[test]
fn a_sound_engine_leaves_one_to_three_hundred_ppm_of_hydrocarbons() {
    for lambda in [0.98, 1.0, 1.05] {
        let ppm = 1e6 * mixed_gas(&petrol(), &[lambda; 6], 0.0, 0.0).hc;
        assert!((100.0..300.0).contains(&ppm), "lambda {lambda}: {ppm} ppm without misfires");
    }
}
