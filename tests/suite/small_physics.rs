//! Small physics, each against something outside: a balance, a handbook, a published fit.

use crate::trade::{aim, rigs, run};
use sim_core::conditions::{Conditions, IdleAir};
use sim_core::engine::exhaust::{lambda_of, mixed_gas};
use sim_core::engine::friction::cold_factor;
use sim_core::engine::roughness::{Ear, Heard, RoughBy};
use sim_core::fuel::kind::{Fuel, viscosity_pa_s};
use sim_core::fuel::supply::vapour_pressure_pa;
use sim_core::point::{Point, Zone};
use sim_core::rig::Rig;
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::shipped::shipped;
use sim_core::sense::lambda_sensor::LambdaSensor;
use sim_core::shares::shares;
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

fn six() -> Rig {
    shipped("six").unwrap().rig
}

fn driven(rpm: f64, throttle: f64) -> Conditions {
    Conditions { throttle, speed_rad_s: Some(Unit::Rpm.to_si(rpm)), ..Conditions::default() }
}

/// Element balance of CH1.85 in air, by hand: burnt at lambda 1 a mole of oxygen leaves 3.774
/// of nitrogen and 0.684 of carbon oxides, unburnt 4.774 of air and 0.114 of hexane.
#[test]
fn a_dead_spark_thins_the_carbon_monoxide() {
    let petrol = Fuel::petrol_with_ethanol(0.0);
    let sound = mixed_gas(&petrol, &[1.0], 0.0, 0.0);
    let one_of_six = mixed_gas(&petrol, &[1.0], 1.0 / 6.0, 0.0);
    let (burnt, unburnt) = (3.774 + 0.684, 4.774 + 0.114);
    let thinned = 5.0 * burnt / (5.0 * burnt + unburnt);
    assert!((one_of_six.co / sound.co - thinned).abs() < 2e-3, "{} of {}", one_of_six.co, sound.co);
    // The air and fuel that went through are still there: Brettschneider's balance finds them.
    let told = lambda_of(&one_of_six, (1.85, 0.0)).unwrap();
    assert!((told - 1.0).abs() < 0.01, "{told}");
}

/// Oxygen balance: a hundredth more air beside that breathed is a hundredth more lambda.
#[test]
fn a_hundredth_of_leak_air_reads_a_hundredth_leaner() {
    let petrol = Fuel::petrol_with_ethanol(0.0);
    let at = |leak: f64| lambda_of(&mixed_gas(&petrol, &[1.0], 0.0, leak), (1.85, 0.0)).unwrap();
    for leak in [0.01, 0.03] {
        let by_gas = at(leak) - at(0.0);
        let by_sensor = LambdaSensor::reads(1.0, 0.0, leak) - 1.0;
        assert!((by_gas / leak - 1.0).abs() < 0.02, "gas: {by_gas}");
        assert!((by_sensor / by_gas - 1.0).abs() < 0.02, "sensor {by_sensor}, gas {by_gas}");
    }
}

/// Heywood 1988, sect. 6.2.2, and Taylor, vol. I, ch. 6 (from memory): air drawn in under load
/// goes with the root of the temperature, `sqrt(293/253) = 1.076` from 20 to -20 degC.
#[test]
fn cold_air_fills_the_engine_by_the_root_of_its_temperature() {
    for (name, rig) in rigs() {
        let at = |celsius: f64| {
            let full = driven(3000.0, 1.0);
            let conditions = Conditions { ambient_k: Unit::Celsius.to_si(celsius), ..full };
            run(&rig, &conditions, aim(&rig)).air_kg_s
        };
        let more = at(-20.0) / at(20.0);
        assert!((1.05..1.09).contains(&more), "{name}: {more}");
    }
}

/// Heywood 1988, sect. 15.3, after Caris & Nelson (from memory): about 3 % a unit from 8 to 11.
#[test]
fn compression_gives_about_three_percent_a_unit_at_full_load() {
    let torque = |compression: f64| {
        let rig = six().with_parts(|parts| parts.breathing.compression = compression).unwrap();
        run(&rig, &driven(3000.0, 1.0), aim(&six())).brake_nm
    };
    let a_unit = (torque(10.5) / torque(9.0)).powf(1.0 / 1.5);
    assert!((1.02..1.04).contains(&a_unit), "{a_unit} a unit");
}

/// EPA AP-42 ch. 7.1, fit for refined stocks with 3 degF a percent of slope (from memory).
#[test]
fn petrol_boils_where_the_fit_for_gasolines_has_it() {
    for reid_kpa in [45.0, 60.0, 70.0, 90.0, 100.0] {
        for celsius in [20.0, 37.8, 60.0, 90.0] {
            let rankine = celsius * 1.8 + 491.67;
            let (root, log) = (3.0_f64.sqrt(), f64::log10(reid_kpa / 6.894_757));
            let psi = ((0.7553 - 413.0 / rankine) * root * log - (1.854 - 1042.0 / rankine) * root
                + (2416.0 / rankine - 2.013) * log
                - 8742.0 / rankine
                + 15.64)
                .exp();
            let ours = vapour_pressure_pa(1e3 * reid_kpa, Unit::Celsius.to_si(celsius));
            let off = ours / (6894.757 * psi) - 1.0;
            assert!(off.abs() < 0.025, "{reid_kpa} kPa at {celsius} degC: off by {off}");
        }
    }
}

/// CRC Handbook (from memory), mPa s: n-heptane 0.757 at -25, 0.523 at 0, 0.387 at 25 degC.
#[test]
fn cold_petrol_thickens_as_its_hydrocarbons_do() {
    let at = |celsius: f64| viscosity_pa_s(Unit::Celsius.to_si(celsius));
    for (celsius, heptane) in [(-25.0, 0.757), (0.0, 0.523)] {
        let (ours, theirs) = (at(celsius) / at(25.0), heptane / 0.387);
        assert!((ours / theirs - 1.0).abs() < 0.02, "{celsius} degC: {ours}, heptane {theirs}");
    }
}

#[test]
fn an_engine_that_is_driven_or_dead_has_no_roughness_to_tell() {
    for throttle in [0.03, 0.2, 1.0] {
        for current_ma in [-50.0, -20.0, 0.0, 60.0, 150.0] {
            let actuator_a = Some(1e-3 * current_ma);
            let steady =
                SteadyEngine::new(&six(), &Conditions { actuator_a, ..driven(3000.0, throttle) });
            for screw in [-0.4, 0.0, 0.8] {
                let point = steady.point(screw);
                let Some(state) = point.state() else { continue };
                assert!(state.told_cov().is_none_or(|cov| cov < 1.0), "{state:?}");
                assert!(state.brake_nm > -60.0 || state.mean_misfire < 0.999, "dead: {state:?}");
            }
        }
    }
}

fn at_aim(rig: &Rig, conditions: &Conditions) -> Point {
    SteadyEngine::new(rig, conditions).point(aim(rig))
}

#[test]
fn lost_sparks_on_lambda_one_are_rough_and_neither_lean_nor_rich() {
    for (name, rig) in rigs() {
        let point = at_aim(&rig, &Conditions { misfire: 0.05, ..Conditions::default() });
        let state = point.state().unwrap();
        assert_eq!((state.zone, state.rough_by), (Zone::Rough, Some(RoughBy::Misfire)), "{name}");
    }
}

/// The lean-drop practice: with the air as it is, lean until the speed falls, 50 rpm here.
#[test]
fn a_speed_that_has_fallen_below_its_best_is_rough_by_itself() {
    for (name, rig) in rigs() {
        let fixed = Conditions { idle_air: IdleAir::Fixed, ..Conditions::default() };
        let steady = SteadyEngine::new(&rig, &fixed);
        let speed = |lambda: f64| steady.point_on_mixture(lambda).state().unwrap().speed_rad_s;
        let best = (80..100).map(|i| speed(0.01 * f64::from(i))).fold(0.0, f64::max);
        for i in 90..112 {
            let point = steady.point_on_mixture(0.01 * f64::from(i));
            let state = point.state().unwrap();
            let fallen = Unit::Rpm.from_si(best - state.speed_rad_s);
            if (fallen - 50.0).abs() > 1.0 && state.cov < 0.09 {
                let expected = (fallen > 50.0).then_some(RoughBy::Speed);
                assert_eq!(state.rough_by, expected, "{name}: {fallen} rpm below the best");
            }
        }
    }
}

#[test]
fn a_leak_of_two_fifths_of_the_idles_air_is_not_smooth() {
    for idle_air in [IdleAir::Held, IdleAir::Fixed] {
        let conditions = Conditions { leak_kg_s: 6.0 / 3600.0, idle_air, ..Conditions::default() };
        assert_ne!(at_aim(&six(), &conditions).zone(), Zone::Smooth, "{idle_air:?}");
    }
}

/// COV of a chance that is 0 with probability m: elementary probability. A brake holds the
/// engine, so that lost sparks change nothing else.
#[test]
fn lost_cycles_roughen_as_a_two_valued_chance_does() {
    let cov = |misfire: f64| {
        let conditions = Conditions { misfire, ..driven(1500.0, 0.15) };
        at_aim(&six(), &conditions).state().unwrap().cov
    };
    let sound = cov(0.0);
    for m in [0.01, 0.05, 0.3] {
        let square = (1.0 + sound * sound) / (1.0 - m);
        assert!((cov(m) - (square - 1.0).sqrt()).abs() < 1e-12, "{m}: {}", cov(m));
    }
}

/// A leak and a low pressure at once: each alone moves the voltage its own way; the shares do,
/// too, and sum up to what both do.
#[test]
fn the_shares_of_two_changes_sum_up_and_keep_their_signs() {
    let changes = [("leak_kg_h", 1.0), ("system_pressure_bar", 4.9)];
    let base = Setup { rig: six(), conditions: Conditions::default() };
    let screw = aim(&base.rig);
    let with = |made: u32| {
        let mut setup = base;
        for (i, (name, value)) in changes.iter().enumerate() {
            if made >> i & 1 == 1 {
                Key::find(name).unwrap().set(&mut setup, *value).unwrap();
            }
        }
        let point = SteadyEngine::new(&setup.rig, &setup.conditions).point(screw);
        point.state().map(|state| [state.potentiometer_v, state.lambda])
    };
    let found = shares(2, with).unwrap();
    let [none, all] = [0, 3].map(|made| with(made).unwrap());
    for (n, before) in none.into_iter().enumerate() {
        assert!((found[0][n] + found[1][n] - (all[n] - before)).abs() < 1e-12);
        for (i, share) in found.iter().enumerate() {
            let alone = with(1 << i).unwrap()[n] - before;
            assert!(alone * share[n] > 0.0, "{} of {}", share[n], changes[i].0);
        }
    }
}

/// Oil of SAE 40 when hot has 105 mm2/s at 40 and 14.2 at 100 degC; between and below them goes
/// ASTM D341's law. Friction of whole engines, motored cold, goes with about its power of
/// 0.24 (Shayler and others, from memory).
#[test]
fn cold_oil_rubs_as_its_viscosity_to_the_power_of_a_quarter() {
    let twice_log = |mm2_s: f64| f64::log10(f64::log10(mm2_s + 0.7));
    let (low, high) = ((40.0_f64 + 273.15).log10(), (100.0_f64 + 273.15).log10());
    let slope = (twice_log(105.0) - twice_log(14.2)) / (high - low);
    let mm2_s = |degc: f64| {
        let at = twice_log(105.0) - slope * ((degc + 273.15).log10() - low);
        10f64.powf(10f64.powf(at)) - 0.7
    };
    for degc in [-15.0, 0.0, 20.0, 40.0, 60.0] {
        let expected = (mm2_s(degc) / mm2_s(90.0)).powf(0.24);
        let found = cold_factor(degc + 273.15);
        assert!((found / expected - 1.0).abs() < 0.20, "{degc} degC: {found}, oil says {expected}");
    }
    assert_eq!(cold_factor(373.15), 1.0, "no thinner than the file's above 90 degC");
}

/// Handbooks (from memory): ethanol gives 26.8 MJ a kilogram and petrol some 43, so that E10, a
/// tenth by volume and 10.6 % by mass, gives 4 % less a kilogram.
#[test]
fn ten_per_cent_of_ethanol_take_four_per_cent_of_the_heat() {
    let heat = |share: f64| Fuel::petrol_with_ethanol(share).heating_j_kg;
    assert!((42e6..44e6).contains(&heat(0.0)), "{} J/kg", heat(0.0));
    assert!((heat(1.0) / 26.8e6 - 1.0).abs() < 0.01, "{} J/kg", heat(1.0));
    assert!((heat(0.10) / heat(0.0) - 0.960).abs() < 0.001, "{}", heat(0.10) / heat(0.0));
    assert!((heat(0.85) / heat(0.0) - 0.675).abs() < 0.005, "{}", heat(0.85) / heat(0.0));
}

/// A swing that is damped less than the ear asks for hunts, by as much as the damping falls short;
/// and what stands first of the parts above their limits is told.
#[test]
fn an_idle_hunts_whose_swing_is_damped_less_than_the_ear_asks_for() {
    let ear = Ear { cov: 0.1, misfire: 0.02, speed_drop_rad_s: 5.0, damping: 0.1 };
    let heard = |damping: f64| Heard {
        cov: 0.01,
        misfire: 0.0,
        speed_drop_rad_s: 0.0,
        damping: Some(damping),
    };
    assert_eq!(ear.rough_by(&heard(0.09)), Some(RoughBy::Hunting));
    assert_eq!(ear.rough_by(&heard(0.11)), None);
    for damping in [-0.2, 0.0, 0.04, 0.3] {
        let (by, above) = ear.nearest(&heard(damping));
        assert!(by == RoughBy::Hunting && (above - (0.1 - damping)).abs() < 1e-12, "{above}");
    }
    let both = Heard { misfire: 0.03, ..heard(0.0) };
    assert_eq!(ear.rough_by(&both), Some(RoughBy::Misfire));
}

/// The dash-pot opens in proportion to how far above its start the speed is, half as much when its
/// half-life has passed, and nothing below.
#[test]
fn the_dash_pot_opens_in_proportion_and_lets_go_by_half_lives() {
    let idle = six().parts().idle;
    let half_life_s = idle.dash_s * 2.0_f64.ln();
    let at = |above: f64, halves: f64| idle.dashes(above, halves * half_life_s);
    assert!(at(10.0, 0.0) > 0.0 && at(-10.0, 0.0) == 0.0 && at(0.0, 0.0) == 0.0);
    assert!((at(10.0, 0.0) / idle.dash - 10.0).abs() < 1e-9);
    assert!((at(30.0, 0.0) / at(10.0, 0.0) - 3.0).abs() < 1e-9);
    for halves in [1.0, 2.0, 3.0] {
        let left = at(10.0, halves) / at(10.0, 0.0);
        assert!((left - 0.5_f64.powf(halves)).abs() < 1e-9, "{left} after {halves}");
    }
}
