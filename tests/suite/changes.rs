//! What a technician knows of a change: which way each reading goes. Signs, orders and bands.
//! Common practice, no source, unless said otherwise.

use crate::trade::{aim, rigs, run, trade};
use sim_core::conditions::{Conditions, IdleAir, Petrol, Trim};
use sim_core::rig::Rig;
use sim_core::rig::shipped::shipped;
use sim_core::sense::faults::{Altitude, SensorFault};
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

#[test]
fn mixture_follows_the_square_root_of_density_up_a_mountain() {
    for (name, rig) in rigs() {
        let at = |altitude_m: f64, altitude: Altitude| {
            let mut conditions = Conditions { altitude_m, ..Conditions::default() };
            conditions.fail(SensorFault::Altitude(altitude));
            run(&rig, &conditions, aim(&rig)).lambda
        };
        let richer = 1.0 - at(1500.0, Altitude::Missing) / at(0.0, Altitude::Missing);
        assert!((0.06..=0.09).contains(&richer), "{name}: {richer}");
        // A sound sensor takes most of it back, where one is fitted.
        if rig.parts().controller.altitude_sensor > 0.5 {
            let left = 1.0 - at(1500.0, Altitude::Sound) / at(0.0, Altitude::Sound);
            assert!(left.abs() < 0.02, "{name}: {left}");
        }
    }
}

#[test]
fn held_idle_air_moves_the_voltage_and_fixed_idle_air_moves_the_speed() {
    for (name, rig) in rigs() {
        let aim = aim(&rig);
        let at =
            |idle_air, screw| run(&rig, &Conditions { idle_air, ..Conditions::default() }, screw);
        let (held, held_lean) = (at(IdleAir::Held, aim), at(IdleAir::Held, aim - 0.05));
        let (fixed, fixed_lean) = (at(IdleAir::Fixed, aim), at(IdleAir::Fixed, aim - 0.05));
        assert_eq!(held.speed_rad_s, held_lean.speed_rad_s, "{name}");
        assert!(held_lean.potentiometer_v > held.potentiometer_v + 0.01, "{name}");
        assert!((fixed.potentiometer_v - fixed_lean.potentiometer_v).abs() < 1e-6, "{name}");
        assert!(Unit::Rpm.from_si(fixed.speed_rad_s - fixed_lean.speed_rad_s) > 20.0, "{name}");
        assert!(
            (held.speed_rad_s - fixed.speed_rad_s).abs() < 1e-6,
            "{name}: one and the same idle"
        );
    }
}

/// Never teach "lowest volts = lambda 1".
#[test]
fn at_held_speed_the_voltage_is_lowest_a_little_rich_of_lambda_one() {
    for (name, rig) in rigs() {
        let steady = SteadyEngine::new(&rig, &Conditions::default());
        let volts = |screw: f64| steady.point(screw).state().unwrap().potentiometer_v;
        let lowest =
            (-50..=100).map(|i| f64::from(i) * 1e-3).min_by(|a, b| volts(*a).total_cmp(&volts(*b)));
        let lowest = lowest.unwrap() - aim(&rig);
        assert!((0.002..0.06).contains(&lowest), "{name}: {lowest} turn from lambda 1");
    }
}

#[test]
fn higher_system_pressure_runs_leaner() {
    for (name, rig) in rigs() {
        let at = |bar: f64| {
            let rig = rig.with_parts(|parts| parts.pressures.system_pa = 1e5 * bar).unwrap();
            run(&rig, &Conditions::default(), aim(&rig)).lambda
        };
        let sound = rig.parts().pressures.system_pa / 1e5;
        let rich = {
            let low = rig.with_parts(|p| p.pressures.system_pa = 1e5 * (sound - 0.6)).unwrap();
            run(&low, &Conditions::default(), aim(&rig)).lambda
        };
        assert!((at(sound) - 1.0).abs() < 1e-6, "{name}");
        assert!(rich < 0.98, "{name}: {rich} at lower pressure");
    }
}

#[test]
fn the_trim_reaches_only_a_few_hundredths_of_a_turn() {
    let rig = shipped("six").unwrap().rig;
    let aim = aim(&rig);
    let on = Conditions { trim: Trim::On, ..Conditions::default() };
    assert!((run(&rig, &on, aim - 0.03).lambda - 1.0).abs() < 1e-9);
    assert!((run(&rig, &on, aim + 0.025).lambda - 1.0).abs() < 1e-9);
    let lean = run(&rig, &on, aim - 0.08);
    let rich = run(&rig, &on, aim + 0.06);
    assert!(lean.duty == 1.0 && lean.lambda > 1.01, "{lean:?}");
    assert!(rich.duty == 0.0 && rich.lambda < 0.99, "{rich:?}");
}

#[test]
fn cold_fuel_runs_leaner_at_idle_although_it_is_denser() {
    for (name, rig) in rigs() {
        let at = |degc: f64| {
            let conditions = Conditions { fuel_k: degc + 273.15, ..Conditions::default() };
            run(&rig, &conditions, aim(&rig)).lambda
        };
        assert!(at(-15.0) > at(30.0) && at(30.0) > at(80.0), "{name}");
        assert!((1.01..1.08).contains(&at(-15.0)), "{name}: {}", at(-15.0));
    }
}

#[test]
fn an_unplugged_actuator_runs_lean_on_six_and_changes_nothing_on_four() {
    let unplugged = Conditions { actuator_a: Some(0.0), ..Conditions::default() };
    for (name, rig) in rigs() {
        let (plugged, unplugged) =
            (run(&rig, &Conditions::default(), aim(&rig)), run(&rig, &unplugged, aim(&rig)));
        match name {
            "four" => assert_eq!(plugged.lambda, unplugged.lambda),
            _ => assert!(unplugged.lambda > 1.1, "{name}: {}", unplugged.lambda),
        }
    }
}

#[test]
fn unmetered_air_raises_the_duty_and_lowers_the_voltage_a_little() {
    for (name, rig) in rigs() {
        let at = |leak_kg_s: f64| {
            let conditions = Conditions { leak_kg_s, trim: Trim::On, ..Conditions::default() };
            run(&rig, &conditions, aim(&rig))
        };
        let (sound, leaking) = (at(0.0), at(0.5 / 3600.0));
        assert!(leaking.duty > sound.duty + 0.02, "{name}: {} {}", sound.duty, leaking.duty);
        let fall = sound.potentiometer_v - leaking.potentiometer_v;
        assert!((0.001..0.05).contains(&fall), "{name}: {fall} V");
        assert!((leaking.lambda - 1.0).abs() < 1e-9, "{name}");
    }
}

#[test]
fn one_percent_of_misfire_reads_lean_so_the_trim_enriches() {
    for (name, rig) in rigs() {
        let on = |misfire: f64| Conditions { misfire, trim: Trim::On, ..Conditions::default() };
        let (sound, missing) = (run(&rig, &on(0.0), aim(&rig)), run(&rig, &on(0.01), aim(&rig)));
        assert!((missing.lambda - 0.99).abs() < 1e-6, "{name}: {}", missing.lambda);
        assert!(missing.duty > sound.duty, "{name}");
        assert!((missing.misfire - 0.01).abs() < 1e-6, "{name}: {}", missing.misfire);
        let leak = Conditions { exhaust_leak: 0.01, trim: Trim::On, ..Conditions::default() };
        assert!((run(&rig, &leak, aim(&rig)).lambda - 0.99).abs() < 1e-6, "{name}");
    }
}

#[test]
fn ethanol_moves_the_duty_without_any_fault() {
    for (name, rig) in rigs() {
        let on = |petrol| Conditions { petrol, trim: Trim::On, ..Conditions::default() };
        let (e0, e10) =
            (run(&rig, &on(Petrol::E0), aim(&rig)), run(&rig, &on(Petrol::E10), aim(&rig)));
        assert!(e10.duty > e0.duty + 0.05, "{name}: {} {}", e0.duty, e10.duty);
        assert!((e10.lambda - 1.0).abs() < 1e-9, "{name}");
    }
}

/// So: set 0.70 V at a stated speed, consumers off.
#[test]
fn speed_and_load_move_the_potentiometer_as_much_as_the_screw_does() {
    for (name, rig) in rigs() {
        let aim = aim(&rig);
        let volts =
            |rig: &Rig, conditions: &Conditions, screw| run(rig, conditions, screw).potentiometer_v;
        let usual = Conditions::default();
        let base = volts(&rig, &usual, aim);
        let idle = rig.parts().controller.idle_rad_s;
        let faster = Conditions { speed_rad_s: Some(idle + Unit::Rpm.to_si(100.0)), ..usual };
        let loaded = rig.with_parts(|parts| parts.accessories_pa += 0.2e5).unwrap();
        let by_screw = volts(&rig, &usual, aim - 1.0 / 32.0) - base;
        let by_speed = volts(&rig, &faster, aim) - base;
        let by_load = volts(&loaded, &usual, aim) - base;
        println!("{name}: screw {by_screw}, speed {by_speed}, load {by_load} V");
        assert!(by_speed > 0.5 * by_screw && by_load > 0.5 * by_screw, "{name}");
        assert!((0.015..0.08).contains(&by_speed), "{name}: 100 rpm are worth {by_speed} V");
    }
}

/// Common practice, no source: two duties within 10 points on a sound engine; a screw error
/// shows at idle only, a pressure error at both.
#[test]
fn two_duties_tell_a_screw_error_from_a_pressure_error() {
    for (name, rig) in rigs() {
        let aim = aim(&rig);
        let wanted = |rig: &Rig, conditions: &Conditions, screw: f64| {
            100.0 * run(rig, conditions, screw).wanted_duty.unwrap()
        };
        let idle = Conditions::default();
        let fast = idle.at_fast_idle();
        let row = trade("duty at idle against duty at 2500 rpm, difference");
        row.holds((wanted(&rig, &idle, aim) - wanted(&rig, &fast, aim)).abs());
        let screw = -1.0 / 64.0;
        let (at_idle, at_fast) = (
            wanted(&rig, &idle, aim + screw) - wanted(&rig, &idle, aim),
            wanted(&rig, &fast, aim + screw) - wanted(&rig, &fast, aim),
        );
        assert!(at_idle > 2.0 * at_fast, "{name}: screw {at_idle} at idle, {at_fast} at 2500 rpm");
        let high = rig.with_parts(|parts| parts.pressures.system_pa += 0.2e5).unwrap();
        let (at_idle, at_fast) = (
            wanted(&high, &idle, aim) - wanted(&rig, &idle, aim),
            wanted(&high, &fast, aim) - wanted(&rig, &fast, aim),
        );
        assert!(
            at_fast > 0.5 * at_idle && at_fast < 2.0 * at_idle,
            "{name}: pressure {at_idle}, {at_fast}"
        );
    }
}
