//! Sensors that fail, in the steady engine, in runs and in starts.

use crate::running::{left_alone, run, setup};
use crate::table::rows;
use approx::assert_abs_diff_eq;
use sim_core::conditions::{Conditions, Trim};
use sim_core::point::State;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::Options;
use sim_core::run::start::start;
use sim_core::sense::faults::SensorFault;
use sim_core::sense::thermistor::Thermistor;
use sim_core::steady::SteadyEngine;

#[test]
fn the_thermistor_follows_its_published_table_and_back() {
    let part = Thermistor { ohm_25: 10_000.0 };
    for row in rows("thermistor") {
        let kelvin = row.number("degc") + 273.15;
        row.agrees("ohm", part.ohm(kelvin));
        assert!((part.temperature_k(part.ohm(kelvin)) - kelvin).abs() < 1e-9, "{row}");
    }
    // Another size: the same curve, scaled.
    let small = Thermistor { ohm_25: 2060.0 };
    assert_abs_diff_eq!(small.ohm(298.15) / 2060.0, 1.0, epsilon = 1e-3);
    assert_abs_diff_eq!(small.temperature_k(2060.0), 298.15, epsilon = 0.02);
}

/// Slope of the shipped trim (mA/s).
const TRIM_SLOPE_MA_S: f64 = 2.5;

fn failed(rig: &str, trim: Trim, pairs: &[(&str, &str)]) -> Setup {
    let conditions = Conditions { trim, ..Conditions::default() };
    let mut setup = setup(&shipped(rig).unwrap().rig, conditions, &[]);
    for (sensor, mode) in pairs {
        setup.conditions.fail(SensorFault::of(sensor, mode).unwrap());
    }
    setup
}

fn steady(setup: &Setup) -> State {
    *SteadyEngine::new(&setup.rig, &setup.conditions).point(0.0).state().expect("it runs")
}

/// What each failure does to the settled engine with the trim on, in its direction.
#[test]
fn each_failed_sensor_moves_the_settled_engine_its_own_way() {
    let of = |pairs: &[(&str, &str)]| steady(&failed("six", Trim::On, pairs));
    let sound = of(&[]);
    for mode in ["cold", "dead"] {
        let state = of(&[("lambda", mode)]);
        assert!((1e3 * state.actuator_a - 10.0).abs() < 1e-9, "{mode}: base current");
        assert!(state.lambda < 0.96, "{mode}: the static setting is rich: {}", state.lambda);
    }
    let stuck = of(&[("lambda", "stuck")]);
    assert!((stuck.duty - 1.0).abs() < 1e-9 && stuck.lambda < 0.85, "{}", stuck.lambda);
    let lazy = of(&[("lambda", "lazy")]);
    assert_eq!(lazy.lambda, sound.lambda);
    // An open thermistor is taken for the coldest: a warm engine on the coldest's fuel.
    let open = of(&[("coolant", "open")]);
    assert!(open.lambda < 0.75 && open.speed_rad_s > 1.2 * sound.speed_rad_s);
    // A short one for the hottest: nothing to see on a warm engine.
    let short = of(&[("coolant", "short")]);
    assert_abs_diff_eq!(short.lambda, sound.lambda, epsilon = 1e-9);
    // The resistance of the true temperature tells the truth.
    let rig = shipped("six").unwrap().rig;
    let ohm = rig.parts().thermistor.ohm(363.15).to_string();
    let true_ohm = of(&[("coolant", &ohm)]);
    assert_abs_diff_eq!(true_ohm.lambda, sound.lambda, epsilon = 1e-6);
    let housing = of(&[("potentiometer", "0.5")]);
    assert!(housing.potentiometer_v > sound.potentiometer_v + 0.05);
    assert_eq!(housing.lambda, sound.lambda);
}

/// No sensor, no correction; a stuck one corrects for a height that is not there.
#[test]
fn the_altitude_sensor_matters_where_one_is_fitted() {
    let base = |rig: &str, mode: Option<&str>, altitude_m: f64| {
        let pairs: Vec<_> = mode.iter().map(|mode| ("altitude", *mode)).collect();
        let mut setup = failed(rig, Trim::Off, &pairs);
        setup.conditions.altitude_m = altitude_m;
        let record = run(&setup, &left_alone(20.0), 10);
        1e3 * record.last.unwrap().actuator_a
    };
    assert_abs_diff_eq!(base("eight", None, 0.0), 8.0, epsilon = 1e-9);
    assert!(base("eight", None, 1500.0) < 4.5);
    assert_abs_diff_eq!(base("eight", Some("missing"), 1500.0), 8.0, epsilon = 1e-9);
    assert!(base("eight", Some("stuck"), 0.0) < 4.5);
    assert!((base("six", Some("stuck"), 0.0) - 10.0).abs() < 1e-9, "none is fitted");
}

/// A lazy sensor makes the trim swing slower and wider; without the idle contact the valve
/// stays where it was and the overrun is not cut.
#[test]
fn a_lazy_sensor_swings_wider_and_a_dead_idle_contact_lets_the_fuel_run() {
    let swing = |pairs: &[(&str, &str)]| {
        let record = run(&failed("six", Trim::On, pairs), &left_alone(60.0), 1);
        let late: Vec<f64> =
            record.rows[3000..].iter().map(|row| 1e3 * row.state.unwrap().actuator_a).collect();
        let most = late.iter().fold(f64::MIN, |a, b| a.max(*b));
        (record.swing_s.unwrap(), most - late.iter().fold(f64::MAX, |a, b| a.min(*b)))
    };
    let (sound, lazy) = (swing(&[]), swing(&[("lambda", "lazy")]));
    assert!(lazy.0 > 1.7 * sound.0 && lazy.1 > 1.3 * sound.1, "{sound:?} {lazy:?}");
    // Wider by what the trim climbs in half of what the swing takes longer (Kiencke & Nielsen,
    // control of lambda, from memory: two points with a jump), to a tick or two.
    let climbs = 0.5 * (lazy.0 - sound.0) * TRIM_SLOPE_MA_S;
    assert!((lazy.1 - sound.1 - climbs).abs() < 0.06, "{sound:?} {lazy:?} {climbs}");
    let release = sim_core::run::procedure::shipped("throttle-release").unwrap();
    let cut = |pairs: &[(&str, &str)]| {
        let record = run(&failed("six", Trim::Off, pairs), &release, 1);
        let currents = record.rows.iter().filter_map(|row| Some(row.state?.actuator_a));
        currents.fold(f64::MAX, f64::min) < -0.02
    };
    assert!(cut(&[]) && !cut(&[("throttle-switch", "no-idle")]));
}

/// An open thermistor floods a warm start, a shorted one starves a cold one: it cranks long, or
/// for ever.
#[test]
fn a_failed_thermistor_floods_or_starves_the_start() {
    let tried = |ambient: f64, coolant: f64, mode: Option<&str>| {
        let keys = [
            ("ambient_degc", ambient),
            ("fuel_degc", ambient.min(30.0)),
            ("coolant_degc", coolant),
        ];
        let mut setup = setup(&shipped("six").unwrap().rig, Conditions::closed_loop(), &keys);
        if let Some(mode) = mode {
            setup.conditions.fail(SensorFault::of("coolant", mode).unwrap());
        }
        start(&setup, Options::default(), 10.0, 30.0).unwrap()
    };
    assert!(tried(20.0, 80.0, None).reason.is_none());
    let flooded = tried(20.0, 80.0, Some("open"));
    assert!(flooded.reason.is_some() && flooded.rich(), "{:?}", flooded.reason);
    let starved = tried(-15.0, -15.0, Some("short"));
    let sound_s = tried(-15.0, -15.0, None).caught_after_s.unwrap();
    let starved_s = starved.caught_after_s.unwrap_or(f64::INFINITY);
    assert!(starved_s > 1.5 * sound_s && !starved.rich(), "{starved_s} s, sound {sound_s} s");
}
