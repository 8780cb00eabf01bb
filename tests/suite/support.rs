//! What the tests of single claims share: a rig with keys set, its steady point, a run.

use sim_core::conditions::Conditions;
use sim_core::control::cells::Cells;
use sim_core::point::{Point, Reading, State};
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::shipped::shipped;
use sim_core::run::procedure::{Procedure, Step};
use sim_core::run::record::{Record, perform};
use sim_core::run::{Engine, Options, Value};
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

pub use sim_core::bleed::BleedRequest as BleedAsked;
pub use sim_core::drive::{EngineDemand as Wants, engine_demand as wants};
pub use sim_core::run::Action;

/// A shipped rig with numbers given to keys, in their units.
pub fn with(rig: &str, keys: &[(&str, f64)]) -> Setup {
    and(&Setup { rig: shipped(rig).unwrap().rig, conditions: Default::default() }, keys)
}

/// A shipped rig with its trim's loop closed.
pub fn car(rig: &str) -> Setup {
    Setup { rig: shipped(rig).unwrap().rig, conditions: Conditions::closed_loop() }
}

/// The same car, its coolant at a temperature (degC); outside it is as cold, or 20 degC.
pub fn at_degc(setup: &Setup, degc: f64) -> Setup {
    let outside = degc.min(20.0);
    and(setup, &[("coolant_degc", degc), ("ambient_degc", outside), ("fuel_degc", outside)])
}

/// A speed in rpm.
pub fn rpm(rad_s: f64) -> f64 {
    Unit::Rpm.from_si(rad_s)
}

/// A setup with more keys set.
pub fn and(setup: &Setup, keys: &[(&str, f64)]) -> Setup {
    let mut setup = *setup;
    for (name, value) in keys {
        let key = Key::find(name).unwrap_or_else(|| panic!("no key {name}"));
        key.set(&mut setup, *value).unwrap_or_else(|fault| panic!("{name} {value}: {fault:?}"));
    }
    setup
}

/// A number of the file or the conditions, in its key's unit.
pub fn told(setup: &Setup, key: &str) -> f64 {
    Key::find(key).unwrap().get(setup).unwrap_or_else(|| panic!("{key} has no number"))
}

/// A setup with a key of words set.
pub fn word(setup: &Setup, name: &str, word: &str) -> Setup {
    let mut setup = *setup;
    Key::find(name).unwrap().choose(&mut setup, word).unwrap();
    setup
}

/// A setup in which a sensor has failed.
pub fn failed(setup: &Setup, sensor: &str, mode: &str) -> Setup {
    let mut setup = *setup;
    setup.conditions.fail(format!("{sensor}={mode}").parse().unwrap());
    setup
}

/// Screw position at which the sensor reads lambda 1 on the base current (turns).
pub fn aim_turns(setup: &Setup) -> f64 {
    SteadyEngine::new(&setup.rig, &setup.conditions).aim_turns().expect("it runs at lambda 1")
}

/// The setup with its screw at the aim.
pub fn aimed(setup: &Setup) -> Setup {
    and(setup, &[("screw", aim_turns(setup))])
}

/// The steady point.
pub fn point(setup: &Setup) -> Point {
    SteadyEngine::new(&setup.rig, &setup.conditions).point(setup.conditions.screw_turns)
}

/// The steady engine, which must run.
pub fn running(setup: &Setup) -> State {
    let point = point(setup);
    *point.state().unwrap_or_else(|| panic!("it does not run: {:?}", point.stall()))
}

/// The setup with the current forced at which it burns a mixture.
pub fn at_lambda(setup: &Setup, lambda: f64) -> Setup {
    let at = |ma: f64| and(setup, &[("actuator_ma", ma)]);
    let leaner = |ma: f64| point(&at(ma)).state().is_none_or(|state| state.lambda > lambda);
    let (mut low, mut high) = (-25.0, 150.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if leaner(middle) { low = middle } else { high = middle }
    }
    let found = at(high);
    let got = running(&found).lambda;
    assert!((got - lambda).abs() < 1e-6, "lambda {lambda} cannot be had, {got} can");
    found
}

/// A reading in the unit it is printed in.
pub fn shown(state: &State, name: &str) -> f64 {
    let reading = Reading::find(name).unwrap_or_else(|| panic!("no reading {name}"));
    reading.value(state).unwrap_or_else(|| panic!("{name} is not there"))
}

/// A running engine on its steady point.
pub fn engine(setup: &Setup) -> Engine {
    Engine::new(setup, Options::default()).unwrap_or_else(|fault| panic!("{fault:?}"))
}

/// A standing engine with the key just turned to start.
pub fn cranked(setup: &Setup) -> Engine {
    let mut engine = Engine::standing(setup, Options::default());
    engine.apply(&Action::KeyOn).unwrap();
    engine.apply(&Action::Starter(true)).unwrap();
    engine
}

/// Lets an engine run on for a time (s).
pub fn go_on(engine: &mut Engine, lasts_s: f64) {
    for _ in 0..(100.0 * lasts_s).round() as u32 {
        engine.tick().unwrap();
    }
}

/// What a running engine shows; it must not have stalled.
pub fn now(engine: &Engine) -> State {
    engine.state().unwrap_or_else(|| panic!("stalled at {:?} s", engine.stalled_at_s()))
}

/// Holds a share of the throttle's travel while a brake holds a speed (rpm).
pub fn hold(engine: &mut Engine, share: f64, rpm: f64) {
    engine.apply(&Action::Throttle(share, Unit::Rpm.to_si(rpm))).unwrap();
}

/// The same with the wheels holding the speed (rpm).
pub fn drive(engine: &mut Engine, share: f64, rpm: f64) {
    engine.apply(&Action::Drive(share, Unit::Rpm.to_si(rpm))).unwrap();
}

/// Opens the throttle until a speed (rpm), then lets go.
pub fn blip(engine: &mut Engine, rpm: f64) {
    engine.apply(&Action::Blip(Unit::Rpm.to_si(rpm))).unwrap();
}

/// Takes the foot off the pedal.
pub fn let_go(engine: &mut Engine) {
    engine.apply(&Action::Throttle(0.0, engine.speed_rad_s())).unwrap();
}

/// Gives keys of a running engine other values.
pub fn set(engine: &mut Engine, keys: &[(&str, f64)]) {
    for (name, value) in keys {
        let key = Key::find(name).unwrap().name;
        engine.apply(&Action::Set(key, Value::Number(*value))).unwrap();
    }
}

/// The engine with empty stored cells, to use and to teach.
pub fn learner(setup: &Setup, engine: Engine) -> Engine {
    let parts = setup.rig.parts();
    engine.with_cells(Cells::cleared(parts.breathing.displacement_m3, parts.controller.authority_a))
}

/// A run of some actions at their times (s), a row every so many ticks.
pub fn recorded(setup: &Setup, lasts_s: f64, every: u64, actions: &[(f64, Action)]) -> Record {
    let step = |(at_s, action): &(f64, Action)| Step { at_s: *at_s, action: action.clone() };
    let procedure = Procedure {
        name: "claim".into(),
        about: "a run of a test".into(),
        lasts_s,
        noise: false,
        pulsation: 0.0,
        steps: actions.iter().map(step).collect(),
    };
    perform(setup, &procedure, Options::default(), every, |_| {}).unwrap()
}

/// Fails, with both numbers, unless they agree to a share of the second.
pub fn near(found: f64, expected: f64, share: f64, what: &str) {
    assert!(
        (found - expected).abs() <= share * expected.abs(),
        "{what}: {found}, but by the other road {expected} (within {} %)",
        100.0 * share
    );
}
