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
    use sim_core::run::Options;
    use sim_core::run::procedure::Procedure;
    use sim_core::run::record::perform;
    let setup = word(&aimed(&with("six", &[])), "trim", "on");
    for lasts_s in [20.0, 20.2, 20.4, 20.6, 20.8, 21.0] {
        let idle = Procedure {
            name: "idle".into(),
            about: "left alone".into(),
            lasts_s,
            noise: false,
            pulsation: 0.0,
            steps: Vec::new(),
        };
        let record = perform(&setup, &idle, Options::default(), 1, |_| {}).unwrap();
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
