//! The controller's switches and sensors, and what comes of a bad one in points, starts, runs and
//! relearning. Common practice, no source, unless said otherwise.

use crate::support::*;
use sim_core::consequences::{faults, of};
use sim_core::drive::{Drive, engine_demand};
use sim_core::parts::{Repair, effects};
use sim_core::relearn::{DriveOutcome, UnsettledReason, first_cells, relearn, with_feel};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::SHIPPED;
use sim_core::run::Options;

/// A throttle switch that never closes: no overrun cut, no idle control, nothing learned at idle.
#[test]
fn an_idle_switch_that_never_closes_is_felt_and_stops_the_learning_of_the_idle() {
    let found = of(&car("six"), "throttle-switch=no-idle".parse().unwrap()).unwrap();
    let felt = found.felt().join("\n");
    assert!(felt.contains("overrun"), "{felt}");
    assert!(found.sound.warm_drive.cut && !found.failed.warm_drive.cut);
    assert!(found.learned_wrong().unwrap().contains("not taught"));
    assert_eq!(found.failed.learned.why, Some(UnsettledReason::NoIdleSwitch));
    // The idle goes with the load: no control holds it.
    let loaded = |setup: &Setup| rpm(running(&and(setup, &[("accessories_bar", 0.5)])).speed_rad_s);
    let failed = failed(&car("six"), "throttle-switch", "no-idle");
    near(loaded(&car("six")), 710.0, 1e-9, "held");
    assert!(loaded(&failed) < 695.0, "{} rpm with a consumer on", loaded(&failed));
}

/// A full-load switch that never closes leaves full load on lambda 1: less torque.
#[test]
fn a_full_load_switch_that_never_closes_leaves_full_load_lean() {
    for (rig, _) in SHIPPED {
        let at = and(&car(rig), &[("throttle_percent", 100.0), ("speed_rpm", 3000.0)]);
        let (sound, lean) = (running(&at), running(&failed(&at, "throttle-switch", "no-full")));
        near(lean.lambda, 1.0, 1e-6, "lambda");
        assert!(sound.lambda < 0.93 && sound.brake_nm > 1.02 * lean.brake_nm, "{rig}");
    }
}

/// Every failed prerequisite says what it does, and the sound car says nothing.
#[test]
fn every_failed_sensor_has_consequences_where_it_is_fitted() {
    for rig in ["six", "eight"] {
        for fault in faults() {
            let found = of(&car(rig), fault).unwrap();
            let tells = !found.felt().is_empty()
                || !found.shown().is_empty()
                || !found.shown_on_a_mountain().is_empty()
                || found.learned_wrong().is_some();
            let fitted =
                rig == "eight" || !["altitude", "exhaust-temperature"].contains(&fault.sensor());
            assert_eq!(tells, fitted, "{rig}: {fault}: {:?}", found.felt());
        }
    }
}

/// An altitude sensor that is gone leaves a mountain rich, in the settled point as in a run.
#[test]
fn the_altitude_correction_is_one_in_points_and_in_runs() {
    let setup = with("eight", &[("altitude_m", 1500.0)]);
    for setup in [setup, failed(&setup, "altitude", "missing"), failed(&setup, "altitude", "stuck")]
    {
        let state = running(&setup);
        let mut engine = engine(&setup);
        go_on(&mut engine, 10.0);
        near(shown(&now(&engine), "actuator_ma"), shown(&state, "actuator_ma"), 1e-6, "current");
    }
}

/// A poisoned lambda sensor holds the mixture beside lambda 1, and it is learned.
#[test]
fn a_shifted_lambda_sensor_shifts_the_mixture_in_points_and_in_runs() {
    let setup = failed(&car("six"), "lambda", "shifted");
    near(running(&setup).lambda, 0.98, 1e-6, "settled");
    let mut engine = engine(&setup);
    let mut sum = 0.0;
    for _ in 0..6000 {
        engine.tick().unwrap();
        sum += engine.flow().lambda;
    }
    near(sum / 6000.0, 0.98, 3e-3, "mean of a minute");
}

/// The averaged model says what is felt as the full one does, and what it cannot know from its
/// own it takes from two full drives: other drives agree.
#[test]
fn what_is_felt_between_two_full_drives_is_what_full_drives_feel() {
    let setup = and(&car("six"), &[("screw", -1.0 / 32.0)]);
    let asked = engine_demand(&setup, &Drive::urban(390.0));
    let cells = first_cells(&setup, false, &asked);
    let options = Options { seed: 3, ..Options::default() };
    let averaged = relearn(&setup, cells, &asked, (10, false), options, |_| {}).unwrap();
    let felt = with_feel(&setup, averaged, cells, &asked, options).unwrap();
    let noisy = Options { torque_noise: true, seed: 9, ..options };
    let full = relearn(&setup, cells, &asked, (10, true), noisy, |_| {}).unwrap();
    for (a, b) in felt.starts.iter().zip(&full.starts) {
        near(a.surge_rad_s.unwrap(), b.surge_rad_s.unwrap(), 0.35, "surge");
        near(a.least_rad_s.unwrap(), b.least_rad_s.unwrap(), 0.05, "least speed");
        near(a.fuel_kg, b.fuel_kg, 0.01, "fuel");
        assert_eq!(a.stalls, b.stalls);
    }
    // Of every part of a drive the leanest moment is leaner than the richest, as it is in full.
    for (a, b) in felt.starts.iter().zip(&full.starts) {
        for (a, b) in [(a.idle, b.idle), (a.cruise, b.cruise), (a.load, b.load)] {
            let (Some(a), Some(b)) = (a, b) else { continue };
            assert!(a.leanest_lambda > a.richest_lambda, "{a:?}");
            near(a.leanest_lambda, b.leanest_lambda, 0.1, "leanest moment");
            near(a.richest_lambda, b.richest_lambda, 0.1, "richest moment");
        }
    }
    // While the loop is open after a start the cells stand alone: that is where they are felt,
    // in the early starts, after those drives that have stepped past what is asked for.
    let worst = |starts: &[DriveOutcome]| {
        starts.iter().filter_map(|start| start.worst_cov).fold(0.0, f64::max)
    };
    let (early, late) = full.starts.split_at(5);
    assert!(worst(early) > 1.1 * worst(late), "{} early, {} late", worst(early), worst(late));
    let leanest = |starts: &[DriveOutcome]| {
        starts.iter().filter_map(|start| start.leanest_lambda).fold(0.0, f64::max)
    };
    assert!(leanest(early) > leanest(late) + 0.02, "{} {}", leanest(early), leanest(late));
}

/// An air leak is sealed, and the old setting comes back: no new one. Had the engine been set
/// with the leak in, it is to be set anew.
#[test]
fn a_sealed_leak_brings_the_old_setting_back_unless_it_was_set_with_the_leak() {
    for (rig, _) in SHIPPED {
        let found = effects(&car(rig)).unwrap();
        let of = |name: &str| found.iter().find(|e| e.part.name == name).unwrap();
        let leak = of("air-leak");
        assert!(!leak.new_setting_needed, "{rig}");
        let (duty, _, turns) = leak.set_with_it.unwrap();
        assert!(
            duty < -0.05 && turns > 0.5 / 64.0,
            "{rig}: left {duty} of duty, {turns} turns rich"
        );
        assert_eq!(leak.repair(), Repair::SetAnewIfSetWithIt);
        assert_eq!(of("exhaust-temperature").repair(), Repair::KeepTheSetting);
        assert_eq!(of("throttle-switch").repair(), Repair::KeepTheSetting, "{rig}");
        assert_eq!(of("pressure-regulator").repair(), Repair::SetAnewIfSetWithIt, "{rig}");
        assert_eq!(of("potentiometer").repair(), Repair::SetAnew);
    }
}

/// A start that dies is tried again, and chance is another one: a tenth of a turn lean dies
/// now and then after the start, and is driven all the same.
#[test]
fn a_start_that_dies_is_not_the_same_start_for_ever() {
    let setup = and(&car("six"), &[("screw", -13.0 / 128.0)]);
    let asked = engine_demand(&setup, &Drive::urban(780.0));
    let cells = first_cells(&setup, false, &asked);
    let options = Options { torque_noise: true, ..Options::default() };
    let found = relearn(&setup, cells, &asked, (8, true), options, |_| {}).unwrap();
    let stalls: Vec<u32> = found.starts.iter().map(|start| start.stalls).collect();
    assert_eq!(stalls.len(), 8, "given up: {stalls:?}");
    assert!(stalls.iter().all(|stalls| *stalls <= 3), "{stalls:?}");
    assert!(stalls.iter().sum::<u32>() > 0, "lean as it is, it never dies");
}

/// An idle contact that never closes: the valve stays at what the sound idle needs, in the settled
/// point, in a run and after a start alike; the idle's cell learns nothing in either model of
/// the drive; no fuel is cut in the overrun.
#[test]
fn without_an_idle_contact_points_runs_starts_and_relearning_agree() {
    let setup =
        failed(&and(&car("six"), &[("accessories_bar", 0.4)]), "throttle-switch", "no-idle");
    let steady = running(&setup);
    let ahead = setup.rig.reference().nominal.idle_duty(setup.conditions.coolant_k);
    near(steady.idle_valve, ahead, 1e-9, "valve of the settled point");
    let mut engine = engine(&setup);
    go_on(&mut engine, 20.0);
    near(now(&engine).idle_valve, ahead, 1e-3, "valve of a run");
    assert!((rpm(now(&engine).speed_rad_s) - rpm(steady.speed_rad_s)).abs() < 10.0);
    let mut started = cranked(&setup);
    go_on(&mut started, 30.0);
    near(now(&started).idle_valve, ahead, 0.02, "valve after a start");
    blip(&mut engine, 3000.0);
    for _ in 0..500 {
        engine.tick().unwrap();
        assert!(!engine.fuel_is_cut());
    }
    let asked = engine_demand(&setup, &Drive::urban(390.0));
    let cells = first_cells(&setup, false, &asked);
    for full in [false, true] {
        let found = relearn(&setup, cells, &asked, (1, full), Options::default(), |_| {}).unwrap();
        assert_eq!(found.starts[0].learned_s[0], 0.0, "full: {full}");
        assert_eq!(found.why, Some(UnsettledReason::NoIdleSwitch), "full: {full}");
    }
}

/// A sound cold car does not go lean when it is pushed: the controller takes the enrichment back
/// with the air, as the walls need less of it.
#[test]
fn a_sound_cold_engine_keeps_its_mixture_under_load() {
    for (rig, _) in SHIPPED {
        for degc in [0.0, 20.0] {
            let cold = and(&aimed(&car(rig)), &[("coolant_degc", degc), ("speed_rpm", 1500.0)]);
            for percent in [8.0, 25.0, 60.0] {
                let loaded = and(&cold, &[("throttle_percent", percent)]);
                let lambda = running(&word(&loaded, "trim", "off")).lambda;
                assert!(
                    (0.82..1.06).contains(&lambda),
                    "{rig}, {degc} degC, {percent} %: {lambda}"
                );
            }
        }
    }
}

/// A sensor that reads leaner than it is shows less voltage on the same mixture, one that reads
/// richer more, as if the mixture were so much leaner or richer.
#[test]
fn a_shifted_lambda_sensor_shows_the_voltage_of_another_mixture() {
    let open_loop = with("six", &[]);
    for (lambda, offset) in [(0.995, 0.02), (1.005, -0.02), (0.9, 0.01), (0.9, -0.01)] {
        let shifted = and(&at_lambda(&open_loop, lambda), &[("lambda_sensor_offset", offset)]);
        let sound = running(&at_lambda(&open_loop, lambda + offset));
        near(running(&shifted).sensor_v, sound.sensor_v, 2e-2, "voltage");
    }
}
