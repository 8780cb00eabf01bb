//! What the minutes after a move of the screw are owed to.

use crate::running::setup;
use sim_core::conditions::{Conditions, Trim};
use sim_core::point::READINGS;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::Options;
use sim_core::run::attribution::{Attribution, attribute};
use sim_core::run::procedure::shipped as procedure;

fn waits(rig: &str, name: &str) -> Attribution {
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let setup = setup(&shipped(rig).unwrap().rig, conditions, &[]);
    attribute(&setup, &procedure(name).unwrap(), Options::default(), |_| {}).unwrap().unwrap()
}

/// Place of a reading in a blame; the learned trim is behind them all.
fn at(name: &str) -> usize {
    READINGS.iter().position(|reading| reading.name == name).unwrap()
}

/// The trade waits a couple of minutes. In this model every meter that is read stands still
/// within half a minute, most of it the idle speed control's own pace; only what the
/// controller learns goes on for minutes, in its own time constant, which we chose.
#[test]
fn the_meters_wait_for_the_air_valve_and_the_minutes_are_the_learner_s() {
    let learned = READINGS.len();
    for (rig, _) in SHIPPED {
        for name in ["screw-wait", "screw-wait-sixteenth"] {
            let found = waits(rig, name);
            let settled = |i: usize| found.whole.settled_after_s[i];
            // Lambda swings with the trim for ever, and on `four` its mean over whole swings still
            // moves by its last decimal.
            for reading in ["potentiometer_v", "manifold_bar", "duty_percent"] {
                let after = settled(at(reading)).unwrap_or(f64::INFINITY);
                assert!(after < 40.0, "{rig} {name}: {reading} after {after} s");
            }
            if *rig == "six" && name == "screw-wait" {
                let (by, _) = found.main_factor(at("potentiometer_v")).unwrap();
                assert!(["air-valve", "trim"].contains(&by.name), "{}", by.name);
            }
            let (by, saved) = found.main_factor(learned).unwrap();
            assert_eq!(by.name, "learned-trim", "{rig} {name}");
            let after = settled(learned).unwrap();
            // Within half a hundredth: five and a bit time constants of 40 s.
            assert!((4.0 * 40.0..6.0 * 40.0).contains(&after), "{rig} {name}: {after} s");
            assert!(saved > 100.0, "{rig} {name}: {saved} s");
        }
    }
}

/// A sixteenth asks for more than the trim may give: its way to the limit is what the duty
/// waits for.
#[test]
fn after_a_sixteenth_the_duty_waits_for_the_trim_on_its_way_to_the_limit() {
    let found = waits("six", "screw-wait-sixteenth");
    assert!((found.whole.ends[at("duty_percent")].unwrap() - 100.0).abs() < 1e-6);
    let (by, saved) = found.main_factor(at("duty_percent")).unwrap();
    assert_eq!(by.name, "trim");
    // 13.1 mA at 2.5 mA/s against three times that.
    let way = found.whole.settled_after_s[at("duty_percent")].unwrap();
    assert!((saved / way - 2.0 / 3.0).abs() < 0.25, "{saved} of {way} s");
}
