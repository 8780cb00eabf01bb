//! The open throttle: the settled point and a run are one engine, whatever stands in the way of
//! its air, and full load is what the switch and the seen load make of it.

use crate::support::*;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::SHIPPED;

/// Mean brake torque (N m), air (kg/s) and mixture of the last seconds of a run that opens the
/// throttle of an idling engine.
fn run_to(setup: &Setup, share: f64, rpm: f64) -> (f64, f64, f64) {
    let mut engine = engine(setup);
    hold(&mut engine, share, rpm);
    go_on(&mut engine, 60.0);
    let mut sums = (0.0, 0.0, 0.0);
    for _ in 0..2000 {
        engine.tick().unwrap();
        let flow = engine.flow();
        let torque = now(&engine).brake_nm;
        sums = (sums.0 + torque, sums.1 + flow.plate_kg_s, sums.2 + flow.lambda);
    }
    (sums.0 / 2000.0, sums.1 / 2000.0, sums.2 / 2000.0)
}

/// Throttle by speed by trim by screw: the same air and torque in both models. The two-point
/// trim swings about its mean, so the mixture is compared within its jump.
#[test]
fn an_open_throttle_settles_where_the_steady_point_says() {
    for (rig, _) in SHIPPED {
        for trim in ["off", "on"] {
            for (percent, rpm) in [(5.0, 1500.0), (15.0, 2000.0), (40.0, 2500.0), (100.0, 3000.0)] {
                let idle = word(&with(rig, &[("screw", 1.0 / 32.0)]), "trim", trim);
                let open = and(&idle, &[("throttle_percent", percent), ("speed_rpm", rpm)]);
                let steady = running(&open);
                let (torque, air, lambda) = run_to(&idle, percent / 100.0, rpm);
                let place = format!("{rig}, trim {trim}, {percent} % at {rpm} rpm");
                near(air, steady.metered_kg_s, 0.005, &format!("{place}: air"));
                let off = (torque - steady.brake_nm).abs();
                assert!(off < 0.01 * steady.brake_nm + 0.1, "{place}: {torque} N m in a run");
                // Plunger friction holds a run's mixture by so much either way.
                let band = 0.003 + 2.0 * steady.friction_band;
                near(lambda, steady.lambda, band, &format!("{place}: lambda"));
            }
        }
    }
}

/// Whatever the idle air valve does, it does in both: held, kept as it is, without current, dirty,
/// on a mountain, with an idle contact that never closes.
#[test]
fn the_idle_valve_under_an_open_throttle_is_one_in_points_and_in_runs() {
    let six = with("six", &[]);
    let cars = [
        ("held", six),
        ("fixed", word(&six, "idle_air", "fixed")),
        ("unpowered", word(&six, "idle_air", "unpowered")),
        ("dirty", and(&six, &[("idle_valve_opening_by_duty", 0.6)])),
        ("leaking", and(&six, &[("leak_kg_h", 2.0)])),
        ("mountain", and(&six, &[("altitude_m", 1500.0)])),
        ("no idle contact", failed(&six, "throttle-switch", "no-idle")),
    ];
    let open = |setup: &Setup| and(setup, &[("throttle_percent", 10.0), ("speed_rpm", 2000.0)]);
    for (name, car) in cars {
        let steady = running(&open(&car));
        let mut engine = engine(&car);
        hold(&mut engine, 0.10, 2000.0);
        go_on(&mut engine, 40.0);
        let run = now(&engine);
        assert!((run.idle_valve - steady.idle_valve).abs() < 1e-3, "{name}: {}", run.idle_valve);
        near(run.metered_kg_s, steady.metered_kg_s, 0.005, &format!("{name}: air"));
    }
    // A smaller valve is missed under the pedal, too.
    let dirty = and(&six, &[("idle_valve_opening_by_duty", 0.6)]);
    assert!(running(&open(&dirty)).brake_nm < running(&open(&six)).brake_nm - 5.0);
}

/// Letting go of the pedal lands on the idle as it was learned: the integral has waited.
#[test]
fn a_leaking_engine_comes_back_from_the_pedal_to_the_idle_it_had() {
    let setup = and(&with("six", &[]), &[("leak_kg_h", 3.0)]);
    let mut engine = engine(&setup);
    let before = now(&engine).idle_valve;
    hold(&mut engine, 0.10, 2000.0);
    go_on(&mut engine, 10.0);
    assert!(now(&engine).idle_valve > before + 0.02, "feed-forward, not what the leak left");
    let_go(&mut engine);
    go_on(&mut engine, 20.0);
    assert!((now(&engine).idle_valve - before).abs() < 0.01, "{}", now(&engine).idle_valve);
}

/// Full load is rich enough for the best torque at every speed, trim on or off alike: the switch
/// opens the loop, and the enrichment asks for no lambda sensor. Best torque lies at 0.85 to 0.93,
/// Heywood 1988, sect. 15.2 (from memory).
#[test]
fn full_load_gives_the_best_torque_whether_or_not_the_trim_is_on() {
    for (rig, _) in SHIPPED {
        let setup = aimed(&with(rig, &[]));
        for rpm in [1500.0, 2500.0, 3500.0, 4500.0] {
            let off = and(&setup, &[("throttle_percent", 100.0), ("speed_rpm", rpm)]);
            let on = word(&off, "trim", "on");
            let (off_at, on_at) = (running(&off), running(&on));
            near(on_at.lambda, off_at.lambda, 1e-9, "one mixture, trim on or off");
            assert!((0.85..0.935).contains(&on_at.lambda), "{rig}, {rpm} rpm: {}", on_at.lambda);
            let torque = |ma: i32| running(&and(&off, &[("actuator_ma", f64::from(ma))])).brake_nm;
            let best = (-10..40).map(torque).fold(f64::MIN, f64::max);
            assert!(
                on_at.brake_nm > 0.995 * best,
                "{rig}, {rpm} rpm: {} of {best}",
                on_at.brake_nm
            );
        }
    }
}

/// The load counts that is seen: a pit of the track under the wiper at full load hides it, and
/// full load stays lean by what the enrichment would have given, in points and in runs.
#[test]
fn a_pit_at_full_load_hides_it_from_the_controller() {
    let sound = aimed(&with("six", &[]));
    let full =
        |setup: &Setup| running(&and(setup, &[("throttle_percent", 100.0), ("speed_rpm", 2000.0)]));
    let rig = &sound.rig;
    let height_mm = 1e3 * (full(&sound).plate_lift_m - rig.parts().plate.rest_below_throat_m);
    let at_mm = height_mm - 1e3 * rig.reference().idle_height_m;
    let keys = [("wear_mv", 800.0), ("wear_at_mm", at_mm), ("wear_width_mm", 3.0)];
    let pit = and(&sound, &keys);
    let (rich, lean) = (full(&sound), full(&pit));
    assert!(lean.lambda > rich.lambda + 0.03, "lambda {}, sound {}", lean.lambda, rich.lambda);
    near(run_to(&pit, 1.0, 2000.0).2, lean.lambda, 0.015, "lambda of a run");
}
