//! Spark plugs: gap, coil, battery, and fuel on them.

use crate::support::*;
use sim_core::engine::plug::{WetPlugs, breakdown_v};
use sim_core::run::start::start;
use sim_core::run::{Action, Engine, Options};
use sim_core::units::Unit;

/// Handbook values for air at 1 atm (from memory): 1 mm about 4.5 kV, 1 cm about 31 kV; a law
/// that neither doubles with the gap nor stays behind.
#[test]
fn air_breaks_down_at_the_handbook_s_voltages() {
    let at = |gap_mm: f64| breakdown_v(101_325.0, 293.15, 1e-3 * gap_mm);
    near(at(1.0), 4.6e3, 0.15, "1 mm");
    near(at(10.0), 31e3, 0.16, "10 mm");
    assert!(at(2.0) > 1.6 * at(1.0) && at(2.0) < 2.0 * at(1.0));
    // Hotter is thinner.
    assert!(breakdown_v(101_325.0, 600.0, 1e-3) < 0.65 * at(1.0));
}

/// Common practice, no source: a gap worn wide misses first under load, where the charge is dense,
/// and idles well; sound plugs lose no spark anywhere.
#[test]
fn a_wide_gap_misses_under_load_and_not_at_idle() {
    let load = [("throttle_percent", 100.0), ("speed_rpm", 3000.0)];
    let lost = |keys: &[(&str, f64)], gap: f64| {
        running(&and(&with("six", keys), &[("plug_gap_mm", gap), ("coil_percent", 80.0)]))
            .mean_misfire
    };
    assert!((lost(&load, 0.8) - lost(&load, 0.4)).abs() < 1e-6, "sound: none lost");
    assert!(lost(&[], 1.6) - lost(&[], 0.8) < 1e-3, "idle");
    assert!(lost(&load, 1.6) - lost(&load, 0.8) > 0.03, "{}", lost(&load, 1.6));
    assert!(lost(&load, 1.6) <= 1.0, "a share: {}", lost(&load, 1.6));
    // Wider than the coil can jump: it shakes at idle, too, and then does not run.
    let idle = running(&with("six", &[("plug_gap_mm", 3.0), ("coil_percent", 75.0)]));
    assert!(idle.cov > 0.1 && idle.mean_misfire > 0.01, "{}", idle.mean_misfire);
}

/// A flat battery gives the coil less just when the starter takes the rest: a gap that starts on
/// a sound one does not.
#[test]
fn worn_plugs_start_on_a_sound_battery_and_not_on_a_flat_one() {
    let tried = |keys: &[(&str, f64)]| {
        let cold = [("coolant_degc", 0.0), ("ambient_degc", 0.0), ("fuel_degc", 0.0)];
        let setup = word(&and(&with("six", &cold), keys), "trim", "on");
        start(&setup, Options::default(), 10.0, 20.0).unwrap()
    };
    let (worn, flat) = (("plug_gap_mm", 1.2), ("battery_percent", 60.0));
    assert!(tried(&[worn]).reason.is_none() && tried(&[flat]).reason.is_none());
    assert!(tried(&[worn, flat]).reason.is_some());
    let sound = tried(&[]);
    assert_eq!(sound, tried(&[("plug_gap_mm", 0.7)]), "no spark is lost with either");
}

/// Flooded: the plugs are wet, and stay so when the fuel is right again, until they have dried.
#[test]
fn wet_plugs_give_no_spark_until_they_have_dried() {
    let setup = word(&with("six", &[("coolant_degc", 20.0)]), "trim", "on");
    let mut engine = Engine::standing(&setup, Options::default());
    let apply = |engine: &mut Engine, action: Action| engine.apply(&action).unwrap();
    apply(&mut engine, Action::PumpJumper(true));
    apply(&mut engine, Action::LiftPlate(0.015));
    go_on(&mut engine, 10.0);
    apply(&mut engine, Action::LetPlateGo);
    apply(&mut engine, Action::PumpJumper(false));
    apply(&mut engine, Action::KeyOn);
    apply(&mut engine, Action::Starter(true));
    go_on(&mut engine, 6.0);
    let wet = engine.readings().fuel.wet_plugs;
    assert!(engine.is_cranking() && wet > 0.9, "{wet}");
    // The ports are drawn empty in a few more seconds; the plugs are still wet.
    go_on(&mut engine, 4.0);
    apply(&mut engine, Action::Starter(false));
    apply(&mut engine, Action::KeyOff);
    go_on(&mut engine, 5.0);
    let mut at_once = engine.clone();
    let starts = |engine: &mut Engine| {
        apply(engine, Action::KeyOn);
        apply(engine, Action::Starter(true));
        go_on(engine, 3.0);
        !engine.is_cranking()
    };
    assert!(!starts(&mut at_once), "wet plugs fire");
    apply(&mut engine, Action::Stand(3600.0));
    assert!(engine.readings().fuel.wet_plugs < 0.01);
    assert!(starts(&mut engine), "dry, it starts");
    go_on(&mut engine, 5.0);
    assert!(now(&engine).cov < 0.08, "{}", now(&engine).cov);
}

/// A first-order lag: a second and a half of the starter at 240 rpm on a flooded charge wets to
/// `1 - 1/e`, 20 s on any other dry to `1/e`, and so do ten minutes of standing; a charge that fires
/// wets nothing. In however many pieces.
#[test]
fn plugs_wet_in_a_second_and_a_half_and_dry_in_twenty() {
    let turned = |share: f64, lasts_s: f64, lambda: f64, fires: bool| {
        let mut plugs = WetPlugs { share };
        for _ in 0..51 {
            plugs.turn(Unit::Rpm.to_si(240.0) * lasts_s / 51.0, lambda, fires);
        }
        plugs.share
    };
    let left = (-1.0_f64).exp();
    near(turned(0.0, 1.5, 0.3, false), 1.0 - left, 0.01, "wet after 1.5 s");
    near(turned(0.5, 1.5, 0.3, false), 1.0 - 0.5 * left, 0.01, "wet on top of half wet");
    near(turned(0.8, 20.0, 0.9, false), 0.8 * left, 0.01, "left after 20 s");
    near(turned(0.8, 20.0, 0.3, true), 0.8 * left, 0.01, "left where it fires");
    let mut plugs = WetPlugs { share: 0.8 };
    (0..10).for_each(|_| plugs.stand(60.0));
    near(plugs.share, 0.8 * left, 1e-9, "left after ten minutes");
}
