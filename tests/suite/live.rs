//! A live engine: driven tick by tick from outside, kept, gone back to, stopped, started.

use sim_core::conditions::{Conditions, Trim};
use sim_core::control::cells::Cells;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::procedure::{self, SHIPPED};
use sim_core::run::record::{TraceRow, perform};
use sim_core::run::{Action, ActionError, Engine, Options, TICK_S, Value};
use sim_core::sense::faults::{Lambda, SensorFault};
use sim_core::units::Unit;

fn setup() -> Setup {
    Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() }
}

fn run_on(engine: &mut Engine, seconds: f64) -> Vec<TraceRow> {
    let ticks = (seconds / TICK_S).round() as usize;
    let mut rows = Vec::new();
    for _ in 0..ticks {
        engine.tick().unwrap();
        rows.push(engine.readings());
    }
    rows
}

#[test]
fn the_shipped_procedures_driven_by_hand_give_the_same_bits_as_run() {
    for (name, _) in SHIPPED {
        let procedure = procedure::shipped(name).unwrap();
        let options = Options {
            torque_noise: procedure.noise,
            pulsation: procedure.pulsation,
            ..Options::default()
        };
        let record = perform(&setup(), &procedure, options, 100, |_| {}).unwrap();
        let mut engine = match procedure.begins_standing() {
            true => Engine::standing(&setup(), options),
            false => Engine::new(&setup(), options).unwrap(),
        };
        let mut by_hand = vec![engine.readings()];
        let mut next = 0;
        for tick in 0..(procedure.lasts_s / TICK_S).round() as u64 {
            while let Some(step) = procedure.steps.get(next)
                && step.at_s <= tick as f64 * TICK_S + 1e-9
            {
                engine.apply(&step.action).unwrap();
                next += 1;
            }
            engine.tick().unwrap();
            if (tick + 1) % 100 == 0 {
                by_hand.push(engine.readings());
            }
        }
        assert!(record.rows.iter().eq(&by_hand), "{name}");
    }
}

#[test]
fn a_kept_moment_can_be_gone_back_to() {
    let options = Options { torque_noise: true, pulsation: 0.1, ..Options::default() };
    let mut engine = Engine::new(&setup(), options).unwrap();
    run_on(&mut engine, 3.0);
    let kept = engine.clone();
    let went = run_on(&mut engine, 3.0);
    let mut again = kept.clone();
    assert_eq!(went, run_on(&mut again, 3.0));
    let mut other = kept.clone();
    other.apply(&Action::Turn(0.125)).unwrap();
    let turned = run_on(&mut other, 3.0);
    let (first, last) = (went.last().unwrap(), turned.last().unwrap());
    assert!(last.screw_turns > first.screw_turns);
    assert!(last.learned_a < first.learned_a, "the trim takes away what the screw adds");
}

#[test]
fn a_stopped_engine_starts_again() {
    let mut engine = Engine::new(&setup(), Options::default()).unwrap();
    assert_eq!(engine.apply(&Action::Starter(true)), Err(ActionError::EngineRuns));
    assert_eq!(engine.apply(&Action::BatteryOff), Err(ActionError::KeyIsOn));
    engine.apply(&Action::KeyOff).unwrap();
    assert_eq!(engine.apply(&Action::BatteryOff), Err(ActionError::EngineRuns));
    let runs_down = run_on(&mut engine, 5.0);
    let stood_s = engine.stalled_at_s().expect("without a spark it stops");
    assert!(stood_s > 0.1 && stood_s < 3.0, "after {stood_s} s");
    assert!(runs_down.last().unwrap().state.is_none());
    assert_eq!(engine.apply(&Action::Starter(true)), Err(ActionError::KeyIsOff));
    engine.apply(&Action::KeyOn).unwrap();
    engine.apply(&Action::Starter(true)).unwrap();
    assert!(engine.is_cranking());
    let rows = run_on(&mut engine, 20.0);
    assert!(!engine.is_cranking() && engine.stalled_at_s().is_none());
    let rpm = Unit::Rpm.from_si(rows.last().unwrap().state.unwrap().speed_rad_s);
    assert!((rpm - 710.0).abs() < 40.0, "idles at {rpm} rpm");
    assert!((engine.time_s() - 25.0).abs() < 1e-9, "time goes on through a stop");
}

/// A start by hand of a standing engine is that of [`sim_core::run::start::start`].
#[test]
fn a_start_by_hand_is_a_start() {
    let found = sim_core::run::start::start(&setup(), Options::default(), 10.0, 20.0).unwrap();
    let mut engine = Engine::standing(&setup(), Options::default());
    assert!(engine.readings().state.is_none());
    engine.apply(&Action::KeyOn).unwrap();
    // The key is on for a moment before it turns the starter; a start does not count that time.
    run_on(&mut engine, 0.3);
    engine.apply(&Action::Starter(true)).unwrap();
    let rows = run_on(&mut engine, 20.0);
    let last = found.rows.last().unwrap();
    let by_hand = rows.last().unwrap().state.unwrap().speed_rad_s;
    assert!((by_hand / last[1] - 1.0).abs() < 1e-3, "{by_hand} rad/s, {} of a start", last[1]);
}

#[test]
fn letting_go_of_the_starter_too_early_leaves_it_standing() {
    let mut engine = Engine::standing(&setup(), Options::default());
    engine.apply(&Action::KeyOn).unwrap();
    engine.apply(&Action::Starter(true)).unwrap();
    run_on(&mut engine, 0.2);
    engine.apply(&Action::Starter(false)).unwrap();
    run_on(&mut engine, 1.0);
    assert!(engine.stalled_at_s().is_some() && !engine.is_cranking());
}

/// Cells are kept by the memory's capacitor for 22 s ln(5 V / 2 V) = 20 s without battery.
#[test]
fn a_battery_off_too_long_clears_the_stored_cells() {
    let rig = shipped("six").unwrap().rig;
    let parts = rig.parts();
    let mut cells = Cells::cleared(parts.breathing.displacement_m3, parts.controller.authority_a);
    cells.added_a = [1e-3; 4];
    let after = |off_s: f64| {
        let mut engine = Engine::standing(&setup(), Options::default()).with_cells(cells);
        engine.apply(&Action::BatteryOff).unwrap();
        assert_eq!(engine.apply(&Action::KeyOn), Err(ActionError::BatteryIsOff));
        run_on(&mut engine, off_s);
        engine.apply(&Action::BatteryOn).unwrap();
        engine.readings().cells_a.unwrap()
    };
    assert_eq!(after(15.0), [1e-3; 4]);
    assert_eq!(after(25.0), [0.0; 4]);
}

#[test]
fn an_action_that_is_refused_changes_nothing() {
    let mut engine = Engine::new(&setup(), Options::default()).unwrap();
    run_on(&mut engine, 1.0);
    let mut other = engine.clone();
    let refused = [
        Action::Turn(f64::NAN),
        Action::Throttle(1.5, 200.0),
        Action::Throttle(0.5, f64::NAN),
        Action::Blip(-1.0),
        Action::Set("leak_kg_h", Value::Number(1e6)),
        Action::Set("slit_width_mm", Value::Number(0.1)),
        Action::Set("no_such_key", Value::Number(0.1)),
        Action::Set("trim", Value::Word("maybe".into())),
    ];
    for action in refused {
        let why = other.apply(&action).expect_err("it is refused");
        assert!(!why.to_string().is_empty());
    }
    assert_eq!(run_on(&mut engine, 2.0), run_on(&mut other, 2.0));
}

#[test]
fn a_hand_can_do_what_a_procedure_can() {
    let mut engine = Engine::new(&setup(), Options::default()).unwrap();
    let actions = [
        Action::Throttle(0.2, 250.0),
        Action::Throttle(0.0, 250.0),
        Action::PlugSensor(false),
        Action::PlugActuator(false),
        Action::PlugActuator(true),
        Action::Fail(SensorFault::Lambda(Lambda::Lazy)),
        Action::Set("linkage_play_mm", Value::Number(0.5)),
        Action::Set("trim", Value::Word("off".into())),
        Action::Wait,
    ];
    for action in &actions {
        engine.apply(action).unwrap();
        run_on(&mut engine, 0.5);
    }
    assert!(engine.stalled_at_s().is_none());
    assert_eq!(engine.setup().conditions.trim, Trim::Off);
}

/// What an engine keeps of its past does not grow while it runs: a bench runs for hours.
#[test]
fn an_engine_that_was_started_keeps_no_more_the_longer_it_runs() {
    let mut engine = Engine::standing(&setup(), Options { works: true, ..Options::default() });
    engine.apply(&Action::KeyOn).unwrap();
    engine.apply(&Action::Starter(true)).unwrap();
    run_on(&mut engine, 60.0);
    let held = engine.held();
    run_on(&mut engine, 600.0);
    assert!(engine.held() < held + held / 4, "{held} values, then {}", engine.held());
}
