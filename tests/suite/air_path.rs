//! Air, burnt gas and fuel between atmosphere and cylinder: ratios, signs and limits.

use crate::support::*;
use crate::table::rows;
use sim_core::air::orifice::flux_kg_s_m2;
use sim_core::engine::friction::rubbing_pa;
use sim_core::point::State;
use sim_core::rig::keys::Setup;
use sim_core::units::Unit;
use std::f64::consts::PI;

const ROOM_K: f64 = 293.15;

fn braked(rig: &str, percent: f64, rpm: f64, keys: &[(&str, f64)]) -> Setup {
    and(&with(rig, &[("throttle_percent", percent), ("speed_rpm", rpm)]), keys)
}

/// Slope of the logarithm of a residual fraction with that of the pressure ratio.
fn slope(setup: &Setup, at: impl Fn(f64) -> f64) -> f64 {
    let fraction = |ratio: f64| {
        let exhaust_pa = 1.0e5;
        let speed = Unit::Rpm.to_si(700.0);
        let breathing = &setup.rig.parts().breathing;
        breathing.residual_fraction(ratio * exhaust_pa, exhaust_pa, speed, 1.0) / at(ratio)
    };
    (fraction(0.6) / fraction(0.4)).ln() / (0.6_f64 / 0.4).ln()
}

/// What fills the clearance has expanded from exhaust to manifold pressure: by the inverse of
/// its ratio of specific heats, 1.30 to 1.40 for burnt gas.
#[test]
fn burnt_gas_in_the_clearance_grows_as_an_expansion_from_exhaust_to_manifold() {
    let found = slope(&with("six", &[("overlap_deg_m", 0.0)]), |_| 1.0);
    assert!((-1.0 / 1.30..-1.0 / 1.40).contains(&found), "exponent {found}");
}

/// Gas that flows back in the overlap goes with the root of the pressure difference and
/// counts against a charge as dense as the manifold: about its inverse, a little less as the
/// gas is slowed (Fox, Cheng & Heywood, SAE 931025: 0.87, from memory).
#[test]
fn burnt_gas_that_flows_back_goes_with_the_root_of_the_difference_over_the_charge() {
    let clearance = |ratio: f64| {
        let setup = with("six", &[("overlap_deg_m", 0.0)]);
        let breathing = &setup.rig.parts().breathing;
        breathing.residual_fraction(ratio * 1e5, 1e5, Unit::Rpm.to_si(700.0), 1.0)
    };
    let overlap = |ratio: f64, deg_m: f64, rpm: f64| {
        let setup = with("six", &[("overlap_deg_m", deg_m)]);
        let breathing = &setup.rig.parts().breathing;
        breathing.residual_fraction(ratio * 1e5, 1e5, Unit::Rpm.to_si(rpm), 1.0) - clearance(ratio)
    };
    let by_root = |ratio: f64| overlap(ratio, 0.5, 700.0) / (1.0 - ratio).sqrt();
    let found = (by_root(0.6) / by_root(0.4)).ln() / (0.6_f64 / 0.4).ln();
    assert!((-0.95..-0.80).contains(&found), "exponent {found}");
    // Twice the overlap twice as much, twice the speed half the time for it, none at all
    // without a difference.
    near(overlap(0.5, 1.0, 700.0), 2.0 * overlap(0.5, 0.5, 700.0), 1e-9, "twice the overlap");
    near(overlap(0.5, 0.5, 1400.0), 0.5 * overlap(0.5, 0.5, 700.0), 1e-9, "twice the speed");
    assert!(overlap(1.0, 0.5, 700.0).abs() < 1e-12, "no difference, no flow back");
}

/// A rig told to follow the published factor phi: at one air flow the burnt gas of the
/// clearance goes with the fuel.
#[test]
fn residual_gas_grows_with_a_richer_mixture_where_the_rig_says_so() {
    let told = [("residual_phi", 1.0), ("overlap_deg_m", 0.0)];
    let setup = braked("six", 12.0, 2000.0, &told);
    let x = |setup: &Setup| running(setup).residual_fraction;
    let (rich, lean) = (at_lambda(&setup, 0.85), at_lambda(&setup, 1.02));
    near(x(&rich) / x(&lean), 1.02 / 0.85, 1e-6, "residual gas, steady");
    let without = and(&setup, &[("residual_phi", 0.0)]);
    near(x(&at_lambda(&without, 0.85)), x(&at_lambda(&without, 1.02)), 1e-9, "without the factor");
    // In a run, too: the same air, a step of the current.
    let setup = aimed(&with("six", &told));
    let mut engine = engine(&setup);
    hold(&mut engine, 0.12, 2000.0);
    go_on(&mut engine, 8.0);
    let before = now(&engine);
    set(&mut engine, &[("actuator_ma", 30.0)]);
    go_on(&mut engine, 8.0);
    let after = now(&engine);
    let ratio = after.residual_fraction / before.residual_fraction;
    near(ratio, before.lambda / after.lambda, 0.01, "residual gas in the run");
}

/// A hole in the manifold: what passes it follows the law of any hole in a wall between the
/// same pressures.
#[test]
fn a_leak_passes_less_as_the_manifold_nears_the_atmosphere() {
    let leak = |state: &State| state.air_kg_s - state.metered_kg_s;
    let flux = |pa: f64| flux_kg_s_m2(101_325.0, ROOM_K, pa);
    let mut seen = Vec::new();
    for percent in [3.0, 12.0, 20.0, 40.0] {
        let state = running(&braked("six", percent, 2000.0, &[("leak_kg_h", 3.0)]));
        let ratio = state.manifold_pa / 101_325.0;
        near(leak(&state) * 3600.0 / 3.0, flux(state.manifold_pa) / flux(3e4), 1e-3, "leak");
        seen.push(ratio);
    }
    assert!(seen[0] < 0.52 && seen[3] > 0.9, "choked to nearly open: {seen:?}");
}

/// With no silencer the exhaust ends in the same thin air as the intake begins: wide open
/// the cylinder keeps as much burnt gas on a mountain as at the sea, and makes as much less
/// torque as the air is thinner, but for the rubbing, which stays.
#[test]
fn on_a_mountain_the_exhaust_ends_in_the_thin_air_too() {
    let at = |metres: f64| {
        let keys = [("exhaust_mbar", 0.0), ("altitude_m", metres)];
        running(&at_lambda(&braked("six", 100.0, 1000.0, &keys), 0.95))
    };
    let (sea, high) = (at(0.0), at(3000.0));
    near(high.residual_fraction, sea.residual_fraction, 0.02, "burnt gas kept at 3000 m");
    near(high.air_kg_s / sea.air_kg_s, 0.70109 / 1.01325, 0.01, "air at 3000 m");
    near(high.manifold_pa / sea.manifold_pa, 0.70109 / 1.01325, 0.01, "manifold at 3000 m");
}

/// The piston pushes against it once a cycle: torque falls by at least its mean effective
/// pressure, and somewhat more, as what stays in the cylinder keeps air out.
#[test]
fn back_pressure_costs_its_own_mean_effective_pressure_and_some_air() {
    let at = |mbar: f64| {
        running(&at_lambda(&braked("six", 100.0, 3000.0, &[("exhaust_mbar", mbar)]), 0.95))
    };
    let (free, choked) = (at(0.0), at(200.0));
    let pumping_nm = 200e2 * 2.8e-3 / (4.0 * PI);
    let lost = free.brake_nm - choked.brake_nm;
    assert!(choked.air_kg_s < 0.995 * free.air_kg_s, "it keeps air out");
    assert!(choked.residual_fraction > 1.05 * free.residual_fraction, "it leaves burnt gas");
    assert!(
        (pumping_nm..4.0 * pumping_nm).contains(&lost),
        "{lost} N m lost, pumping {pumping_nm}"
    );
    let idle = |mbar: f64| running(&with("six", &[("exhaust_mbar", mbar)])).air_kg_s;
    assert!(idle(200.0) > 1.02 * idle(0.0), "the idle needs more air against it");
}

/// Charles: air four fifths as warm is five quarters as dense, and the floating plate lets a
/// mass pass through an area that goes with the root of the temperature.
#[test]
fn in_cold_air_the_plate_passes_the_same_mass_through_less_area() {
    let area_for_a_kg_s = |degc: f64| {
        let setup = braked("six", 12.0, 2000.0, &[("ambient_degc", degc)]);
        let state = running(&setup);
        let plate = &setup.rig.parts().plate;
        plate.area_m2(state.plate_lift_m - plate.rest_below_throat_m) / state.metered_kg_s
    };
    let ratio = area_for_a_kg_s(40.0) / area_for_a_kg_s(-20.0);
    near(ratio, (313.15_f64 / 253.15).sqrt(), 1e-3, "area for each kg/s, 40 against -20 degC");
}

/// And so a colder day is leaner on the same screw: the lift tells the volume, the engine
/// burns the mass.
#[test]
fn a_cold_day_is_leaner_on_the_same_screw() {
    let lambda = |degc: f64| {
        let keys = [("ambient_degc", degc), ("slit_half_reynolds", 0.0)];
        running(&with("six", &keys)).lambda
    };
    assert!(lambda(-20.0) > 1.03 * lambda(30.0), "{} {}", lambda(-20.0), lambda(30.0));
}

/// Petrol grows by 0.00095 to 0.0013 of its volume for each kelvin (handbooks, from memory).
/// Through a slit without friction its mass goes with the root of its density.
#[test]
fn warm_fuel_is_thinner_and_leaner_by_half_its_expansion() {
    let lambda = |degc: f64| {
        let keys = [("fuel_degc", degc), ("slit_half_reynolds", 0.0)];
        running(&braked("six", 12.0, 2000.0, &keys)).lambda
    };
    let leaner = 2.0 * (lambda(60.0) / lambda(10.0)).ln() / 50.0;
    assert!((0.00095..0.0013).contains(&leaner), "expansion {leaner} 1/K");
    // In the run as well.
    let setup = aimed(&with("six", &[("slit_half_reynolds", 0.0), ("fuel_degc", 10.0)]));
    let mut engine = engine(&setup);
    hold(&mut engine, 0.12, 2000.0);
    go_on(&mut engine, 8.0);
    let cold = now(&engine).lambda;
    set(&mut engine, &[("fuel_degc", 60.0)]);
    go_on(&mut engine, 8.0);
    let run = 2.0 * (now(&engine).lambda / cold).ln() / 50.0;
    near(run, leaner, 0.02, "expansion in the run");
}

/// EN 228 (from memory): petrol with 5 % of ethanol by volume carries 1.8 % of oxygen by
/// mass, with 10 % 3.7 %.
#[test]
fn five_and_ten_percent_of_ethanol_carry_the_oxygen_of_the_standard() {
    let base = with("six", &[("throttle_percent", 12.0), ("speed_rpm", 2000.0)]);
    for (name, percent, oxygen) in [("e0", 0.0, 0.0), ("e5", 5.0, 1.8), ("e10", 10.0, 3.7)] {
        let setup = word(&base, "fuel", name);
        let fuel = setup.conditions.petrol.fuel();
        let share = 100.0 * 15.999 * fuel.o_per_c / fuel.molar_mass();
        assert!((share - oxygen).abs() < 0.1, "{name}: {share} % of oxygen");
        // Each percent of ethanol takes 0.4 % of the air needed (9.0 against 14.6, denser).
        let leaner = running(&setup).lambda / running(&base).lambda;
        assert!((leaner - 1.0 - 0.0041 * percent).abs() < 0.005, "{name}: {leaner} times as lean");
    }
}

/// The handbook's motored torque at wide-open throttle holds the pumping it was measured
/// with: rubbing and the pressure between exhaust and manifold must make it up again.
#[test]
fn rubbing_and_pumping_at_wide_open_throttle_are_the_motored_torque_once() {
    for row in rows("friction").iter().filter(|row| (1e3..4e3).contains(&row.number("speed_rpm"))) {
        let rpm = row.number("speed_rpm");
        let state = running(&braked("six", 100.0, rpm, &[("exhaust_mbar", 20.0)]));
        let pumping_pa = 101_325.0 + 20e2 - state.manifold_pa;
        let share = 1e-5 * (rubbing_pa(Unit::Rpm.to_si(rpm)) + pumping_pa) / row.number("mep_bar");
        assert!((0.85..1.0).contains(&share), "{row}: rubbing and pumping are {share} of it");
    }
}

/// A run left alone on a cold day stays where the steady point stands: its plate floats in
/// the same cold air.
#[test]
fn a_run_on_a_cold_day_stays_on_the_steady_point_of_that_day() {
    for degc in [-20.0, 45.0] {
        let keys = [("ambient_degc", degc), ("plunger_friction_n", 0.0), ("screw", 0.02)];
        let setup = with("six", &keys);
        let steady = running(&setup);
        let mut engine = engine(&setup);
        go_on(&mut engine, 20.0);
        let run = now(&engine);
        near(run.plate_lift_m, steady.plate_lift_m, 2e-3, "plate lift");
        near(run.lambda, steady.lambda, 2e-3, "lambda");
        near(run.metered_kg_s, steady.metered_kg_s, 2e-3, "air past the plate");
    }
}

/// A butterfly along the bore leaves all of it open, one at its stop what the file says, and
/// every degree between opens more.
#[test]
fn a_throttle_opens_from_its_stop_to_the_whole_bore() {
    let setup = with("six", &[("throttle_open_deg", 90.0)]);
    let throttle = &setup.rig.parts().throttle;
    near(throttle.area_m2(0.0), 8e-6, 1e-9, "m2 at the stop, told as 8 mm2");
    near(throttle.area_m2(1.0), PI / 4.0 * 0.060 * 0.060 + 8e-6, 1e-9, "m2 of a bore of 60 mm");
    let areas: Vec<f64> = (0..=20).map(|i| throttle.area_m2(0.05 * f64::from(i))).collect();
    assert!(areas.windows(2).all(|pair| pair[1] > pair[0]), "{areas:?}");
}

/// A choked opening passes mass by one over the root of the temperature before it (any handbook
/// of gas dynamics): a throttle that chokes passes more on a cold day, whatever the cylinders do.
#[test]
fn a_choked_throttle_passes_mass_by_one_over_the_root_of_the_air_s_temperature() {
    for (percent, rpm) in [(2.0, 1500.0), (10.0, 3000.0)] {
        let on = |degc: f64| {
            let keys = [("throttle_percent", percent), ("speed_rpm", rpm), ("ambient_degc", degc)];
            running(&with("six", &keys))
        };
        let (cold, mild) = (on(-20.0), on(20.0));
        assert!(mild.manifold_pa < 0.5e5, "{percent} %: {} Pa is not choked", mild.manifold_pa);
        let share = (293.15_f64 / 253.15).sqrt();
        near(cold.air_kg_s / mild.air_kg_s, share, 1e-3, "air at -20 over that at 20 degC");
    }
}
