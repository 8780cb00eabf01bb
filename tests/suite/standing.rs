//! A standing engine on the bench: pump on its jumper, plate lifted by hand, lines in glasses.

use crate::support::*;
use sim_core::bleed::{BleedRequest, bleed};
use sim_core::run::start::PAUSE_S;
use sim_core::run::{Action, ActionError, Engine, Options};

/// A car whose lines were open and which has stood until no pressure is left.
fn dry(rig: &str) -> Engine {
    let setup = word(&word(&with(rig, &[("stood_h", 9000.0)]), "lines", "empty"), "trim", "on");
    Engine::standing(&setup, Options::default())
}

fn all(engine: &mut Engine, actions: &[Action]) {
    for action in actions {
        engine.apply(action).unwrap();
    }
}

/// Pump jumpered, plate up, lines in glasses: pressure, seconds to flow and flow of each line are
/// those of bleeding.
#[test]
fn glasses_fill_as_bleeding_says() {
    for rig in ["four", "six", "eight"] {
        for lift_m in [0.005, 0.015] {
            let asked = BleedRequest {
                lift_m,
                check_valve: Default::default(),
                accumulator_share: 1.0,
                stand_s: 0.0,
                hot_k: 363.15,
                class_pa: 60e3,
            };
            let found = bleed(&with(rig, &[]), &asked).unwrap();
            let mut engine = dry(rig);
            let lift = Action::LiftPlate(lift_m);
            all(&mut engine, &[Action::OpenLines(true), lift, Action::PumpJumper(true)]);
            let lines = found.line_m3_s.len();
            let mut flows_s = vec![None; lines];
            while engine.time_s() < 60.0 {
                engine.tick().unwrap();
                let glasses = engine.readings().fuel.glasses_m3;
                for (line, flows) in flows_s.iter_mut().enumerate() {
                    if flows.is_none() && glasses[line] > 0.0 {
                        *flows = Some(engine.time_s());
                    }
                }
            }
            let before = engine.readings().fuel;
            go_on(&mut engine, 20.0);
            let after = engine.readings().fuel;
            for (line, flows) in flows_s.iter().enumerate() {
                let (flows, bleeds) = (flows.unwrap(), found.flows_after_s[line].unwrap());
                let off = (flows - bleeds).abs();
                assert!(off < 0.03 + 5e-3 * bleeds, "{rig} {line}: {flows} s, {bleeds} s");
                let flow = (after.glasses_m3[line] - before.glasses_m3[line]) / 20.0;
                near(flow, found.line_m3_s[line], 2e-3, "flow of a line");
            }
            assert!(after.pump_runs && after.lines_short == 0 && after.line_pa == 0.0);
            near(after.system_pa, found.running_pa, 3e-3, "system pressure");
            assert!((0.2e5..0.6e5).contains(&(after.system_pa - after.lower_chamber_pa)));
            let ledger = engine.fuel_ledger();
            let through = ledger.pumped_m3;
            assert!(ledger.missing_m3().abs() < 1e-9 * through, "{ledger:?}");
            near(ledger.glasses_m3, after.glasses_m3.iter().sum(), 1e-9, "glasses");
            // Without the pump the pressure runs out into the glasses until none is left.
            all(&mut engine, &[Action::PumpJumper(false)]);
            go_on(&mut engine, 60.0);
            assert!(engine.system_pa() < 2000.0, "{rig}: {} Pa", engine.system_pa());
            // Bled, it starts at once: the lines are full.
            all(&mut engine, &[Action::LetPlateGo, Action::OpenLines(false), Action::KeyOn]);
            go_on(&mut engine, 1.0);
            engine.apply(&Action::Starter(true)).unwrap();
            go_on(&mut engine, 20.0);
            assert_eq!((engine.stalled_at_s(), engine.lines_short()), (None, 0), "{rig}");
            assert!(engine.mass_error() < 1e-9, "{rig}: {:e}", engine.mass_error());
        }
    }
}

/// What a trainer does not let a trainee do, and what cannot be done.
#[test]
fn what_would_spray_petrol_is_refused_and_leaves_the_engine_as_it_was() {
    let mut running = engine(&with("six", &[]));
    for (action, refused) in [
        (Action::OpenLines(true), ActionError::LinesWouldSpray),
        (Action::LiftPlate(0.01), ActionError::EngineRuns),
        (Action::PumpJumper(true), ActionError::EngineRuns),
    ] {
        assert_eq!(running.apply(&action), Err(refused));
    }
    let mut standing = dry("six");
    assert!(matches!(standing.apply(&Action::LiftPlate(1.0)), Err(ActionError::OutOfRange { .. })));
    all(&mut standing, &[Action::OpenLines(true), Action::KeyOn]);
    go_on(&mut standing, 2.0);
    assert_eq!(standing.apply(&Action::Starter(true)), Err(ActionError::LinesAreOpen));
    all(&mut standing, &[Action::PumpJumper(true)]);
    assert_eq!(standing.apply(&Action::OpenLines(false)), Err(ActionError::PumpRuns));
    all(&mut standing, &[Action::KeyOff]);
    assert!(standing.readings().fuel.pump_runs);
    all(&mut standing, &[Action::BatteryOff]);
    assert!(!standing.readings().fuel.pump_runs);
    assert_eq!(standing.apply(&Action::PumpJumper(true)), Err(ActionError::BatteryIsOff));
}

/// A plate lifted with the lines on their injectors floods the ports: the hazard, and the engine
/// does not start on it.
#[test]
fn a_plate_lifted_with_the_lines_on_floods_the_ports() {
    let setup = word(&with("six", &[("coolant_degc", 20.0)]), "trim", "on");
    let mut engine = Engine::standing(&setup, Options::default());
    all(&mut engine, &[Action::PumpJumper(true)]);
    go_on(&mut engine, 2.0);
    assert_eq!(engine.readings().fuel.ports_kg, 0.0, "tight with the plate at rest");
    all(&mut engine, &[Action::LiftPlate(0.015)]);
    go_on(&mut engine, 10.0);
    let fuel = engine.readings().fuel;
    assert!(fuel.ports_kg > 0.01, "{fuel:?}");
    near(fuel.ports_kg, 740.0 * engine.fuel_ledger().into_ports_m3, 0.02, "fuel in the ports");
    all(&mut engine, &[Action::LetPlateGo, Action::PumpJumper(false), Action::KeyOn]);
    go_on(&mut engine, 1.0);
    engine.apply(&Action::Starter(true)).unwrap();
    go_on(&mut engine, 5.0);
    assert!(engine.is_cranking(), "it starts on flooded ports");
    let ledger = engine.fuel_ledger();
    assert!(ledger.missing_m3().abs() < 1e-9 * ledger.pumped_m3 && engine.mass_error() < 1e-9);
    // Hours dry the ports, and it starts.
    all(&mut engine, &[Action::Starter(false), Action::KeyOff]);
    go_on(&mut engine, PAUSE_S);
    all(&mut engine, &[Action::Stand(4.0 * 3600.0), Action::KeyOn]);
    go_on(&mut engine, 1.0);
    engine.apply(&Action::Starter(true)).unwrap();
    go_on(&mut engine, 10.0);
    assert!(engine.stalled_at_s().is_none() && !engine.is_cranking());
}

/// The pump runs in after the key, with every turning engine, and on its jumper as long as there
/// is a battery; with the key off and no jumper never.
#[test]
fn the_pump_runs_with_key_engine_or_jumper_and_not_without_a_battery() {
    let runs = |engine: &Engine| engine.fuel_readings().pump_runs;
    let apply = |engine: &mut Engine, action: Action| engine.apply(&action).unwrap();
    let mut engine = Engine::standing(&car("six"), Options::default());
    assert!(!runs(&engine), "key off");
    apply(&mut engine, Action::KeyOn);
    assert!(runs(&engine), "it runs in");
    go_on(&mut engine, 0.3);
    assert!(runs(&engine), "it still runs in");
    go_on(&mut engine, 5.0);
    assert!(!runs(&engine), "the engine stands");
    apply(&mut engine, Action::Starter(true));
    go_on(&mut engine, 8.0);
    assert!(engine.stalled_at_s().is_none() && runs(&engine), "the engine turns");
    apply(&mut engine, Action::KeyOff);
    assert!(!runs(&engine), "key off, whether it still turns or not");
    go_on(&mut engine, 20.0);
    assert!(engine.stalled_at_s().is_some() && !runs(&engine));
    apply(&mut engine, Action::PumpJumper(true));
    go_on(&mut engine, 5.0);
    assert!(runs(&engine), "on its jumper, key off");
    apply(&mut engine, Action::BatteryOff);
    assert!(!runs(&engine), "no battery");
}
