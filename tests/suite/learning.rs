//! Battery off, drives, stored cells, and which part calls for a new setting.

use crate::running::setup;
use approx::assert_abs_diff_eq;
use sim_core::conditions::{Conditions, Trim};
use sim_core::control::cells::{Cells, Taught};
use sim_core::control::memory::Memory;
use sim_core::drive::{Drive, DriveFault, engine_demand};
use sim_core::parts::{PARTS, effects};
use sim_core::relearn::averaged::wanted_a;
use sim_core::relearn::{Relearn, UnsettledReason, first_cells, relearn, with_first_drive};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::Options;
use sim_core::sense::faults::{Lambda, SensorFault};
use sim_core::steady::SteadyEngine;

fn set(rig: &str, keys: &[(&str, f64)]) -> Setup {
    setup(&shipped(rig).unwrap().rig, Conditions::closed_loop(), keys)
}

/// Drives after a reset, in full or averaged.
fn learned(setup: &Setup, starts: usize, full: bool, seed: u64) -> Relearn {
    let moments = engine_demand(setup, &Drive::urban(1200.0));
    let cells = first_cells(setup, false, &moments);
    let options = Options { seed, torque_noise: full, ..Options::default() };
    relearn(setup, cells, &moments, (starts, full), options, |_| {}).unwrap()
}

fn ends(found: &Relearn) -> [f64; 4] {
    found.starts.last().unwrap().cells_a.map(|a| 1e3 * a)
}

/// Whether an engine can be driven only the engine in time knows: the quick model asks it.
#[test]
fn the_averaged_model_and_full_drives_say_alike_whether_an_engine_can_be_driven() {
    let asked = engine_demand(&set("six", &[]), &Drive::urban(1200.0));
    let mut said = Vec::new();
    for screw in [-0.25, -0.15, -1.0 / 16.0, 0.0, 0.1, 0.2] {
        let setup = set("six", &[("screw", screw)]);
        let cells = first_cells(&setup, false, &asked);
        let full = learned(&setup, 2, true, 1);
        let averaged = learned(&setup, 40, false, 1);
        let options = Options { seed: 1, ..Options::default() };
        let averaged = with_first_drive(&setup, averaged, cells, &asked, options).unwrap();
        let [full, averaged] =
            [full, averaged].map(|found| found.why == Some(UnsettledReason::CannotBeDriven));
        assert_eq!(full, averaged, "screw at {screw}");
        said.push(averaged);
    }
    assert_eq!(said, [true, true, false, false, false, true]);
}

/// Where the mean work goes to nothing its scatter over the mean says nothing: a second in which
/// the engine dies is a stall, not a roughness.
#[test]
fn a_dying_engine_tells_no_roughness_of_a_thousand_percent() {
    let found = learned(&set("six", &[("screw", -0.15)]), 2, true, 1);
    assert!(found.starts.iter().any(|start| start.stalls > 0));
    for start in &found.starts {
        let parts =
            [start.idle, start.cruise, start.load].map(|part| part.map(|felt| felt.worst_cov));
        for cov in parts.into_iter().chain([start.cov, start.worst_cov]).flatten() {
            assert!(cov < 1.0, "{cov}");
        }
    }
}

/// UN ECE R83, elementary urban cycle: 195 s, 1.013 km, 18.7 to 19 km/h.
#[test]
fn the_urban_cycle_is_as_long_and_as_fast_as_the_regulation_s() {
    let cycle = Drive::urban(195.0);
    assert_eq!(cycle.lasts_s(), 195.0);
    assert!((cycle.length_km() / 1.013 - 1.0).abs() < 0.003, "{} km", cycle.length_km());
    let mean = cycle.length_km() / 195.0 * 3600.0;
    assert!((18.6..19.1).contains(&mean), "{mean} km/h");
    assert_eq!(cycle.kmh(150.0), 50.0);
}

/// A capacitor's discharge: kept for RC ln(V0/Vmin); 10 s keep the cells, 30 s and more do
/// not, in nearly all parts, hence the trade's 30 to 60 s.
#[test]
fn ten_seconds_without_battery_keep_the_cells_and_thirty_clear_them() {
    let memory = Memory { supply_v: 5.0, holds_s: 22.0, forgets_v: 2.0 };
    assert_abs_diff_eq!(memory.keeps_for_s(), 22.0 * 2.5_f64.ln(), epsilon = 1e-12);
    assert_abs_diff_eq!(memory.voltage_v(memory.keeps_for_s()), 2.0, epsilon = 1e-12);
    assert_abs_diff_eq!(memory.share_that_keeps(memory.keeps_for_s()), 0.5, epsilon = 1e-12);
    for (rig, _) in SHIPPED {
        let memory = shipped(rig).unwrap().rig.parts().memory;
        assert!(memory.keeps(10.0) && !memory.keeps(30.0), "{rig}");
        assert!(memory.share_that_keeps(10.0) > 0.99 && memory.share_that_keeps(30.0) < 0.1);
        assert!(memory.share_that_keeps(60.0) < 1e-4, "{rig}");
    }
}

/// After a reset the cells go between their limits at first and settle within forty starts;
/// at the aim they end near zero, off it where lift and current say, or at their limit.
#[test]
fn the_cells_settle_where_the_arithmetic_of_lift_and_current_says() {
    let six = set("six", &[]);
    let aim = sim_core::steady::SteadyEngine::new(&six.rig, &six.conditions).aim_turns().unwrap();
    for screw in [aim, -1.0 / 64.0, -1.0 / 32.0, -1.0 / 16.0, 1.0 / 32.0] {
        let found = learned(&set("six", &[("screw", screw)]), 40, false, 1);
        let at = found.settled_at.unwrap_or_else(|| panic!("{screw}: {:?}", found.why));
        assert!(screw == aim || (10..=40).contains(&at), "{screw} turn: settled at {at}");
        let first = found.starts[0].cells_a[0].abs();
        assert!(screw == aim || first > 9.9e-3, "{screw}: the first step is {first} A");
        for (i, (cell, wanted)) in ends(&found).into_iter().zip(found.wanted_a).enumerate() {
            if found.starts[0].learned_s[i] < 10.0 {
                assert_eq!(cell, 0.0, "a cell not visited");
                continue;
            }
            let wanted = (1e3 * wanted.unwrap()).clamp(-10.0, 10.0);
            assert!((cell - wanted).abs() < 1.0, "{screw}, cell {i}: {cell}, asked {wanted}");
            if screw == aim {
                assert!(cell.abs() < 1.0, "cell {i} at the aim: {cell} mA");
            }
        }
    }
}

/// A screw error is a lift: the current that makes it good fades with the air flow.
#[test]
fn a_screw_that_is_off_asks_each_cell_for_another_current_that_fades_with_load() {
    for (rig, _) in SHIPPED {
        let asked = |screw: f64| learned(&set(rig, &[("screw", screw)]), 1, false, 1).wanted_a;
        let (aim, off) = (asked(0.0), asked(-1.0 / 32.0));
        let moves: Vec<f64> =
            aim.iter().zip(off).map(|(a, b)| 1e3 * (b.unwrap() - a.unwrap())).collect();
        assert!(moves.windows(2).all(|pair| pair[1] < pair[0] && pair[1] > 0.0), "{rig} {moves:?}");
    }
}

/// The full run and the averaged model end within 5 % of the authority of each other, for ten
/// seeds. Ten starts with steps that have shrunk are enough to compare where they hunt.
#[test]
fn the_averaged_model_ends_where_the_full_run_does() {
    let setup = set("six", &[("screw", -1.0 / 32.0)]);
    let moments = engine_demand(&setup, &Drive::urban(780.0));
    let mut begun = first_cells(&setup, false, &moments);
    begun.drives = 24;
    begun.added_a = [4.0e-3, 0.0, 1.2e-3, 0.6e-3];
    let ends_of = |full: bool, seed: u64| {
        let options = Options { seed, torque_noise: full, ..Options::default() };
        let found = relearn(&setup, begun, &moments, (4, full), options, |_| {}).unwrap();
        (ends(&found), found.starts[0].learned_s)
    };
    let (averaged, visited) = ends_of(false, 1);
    for seed in 1..=10 {
        let (full, _) = ends_of(true, seed);
        for i in 0..4 {
            if visited[i] > 20.0 {
                let off = (full[i] - averaged[i]).abs();
                assert!(off < 0.05 * 10.0 + 0.41, "seed {seed}, cell {i}: {full:?} {averaged:?}");
            }
        }
    }
}

/// What a cell asks for is what the steady engine wants at the cell's air flow: with air that
/// passes no plate, with dead sparks and with a leaky exhaust, too.
#[test]
fn a_cell_asks_for_the_current_that_the_steady_engine_wants_at_its_air() {
    let none: [f64; 4] = wanted_a(&set("six", &[])).map(|asks| asks.unwrap());
    for (key, value) in [("leak_kg_h", 0.0), ("leak_kg_h", 1.0), ("misfire_percent", 1.0)]
        .into_iter()
        .chain([("exhaust_leak_percent", 1.0)])
    {
        let setup = set("six", &[(key, value)]);
        let parts = setup.rig.parts();
        let cells = Cells::cleared(parts.breathing.displacement_m3, parts.controller.authority_a);
        let asked = wanted_a(&setup);
        // The third cell: at that flow nothing is rough and the manifold still chokes a leak.
        let (centre, asks) = (cells.centre_kg_s[2], asked[2].unwrap());
        let steady = |percent: f64| {
            let held = [(key, value), ("throttle_percent", percent), ("speed_rpm", 2500.0)];
            let untrimmed = Setup {
                conditions: Conditions { trim: Trim::Off, ..set("six", &held).conditions },
                ..setup
            };
            *SteadyEngine::new(&untrimmed.rig, &untrimmed.conditions).point(0.0).state().unwrap()
        };
        let (mut low, mut high) = (1.0, 60.0);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if steady(middle).metered_kg_s < centre { low = middle } else { high = middle }
        }
        let state = steady(low);
        let wants = state.wanted_a.unwrap() - state.actuator_a;
        assert!((asks - wants).abs() < 2e-5, "{key} {value}: asks {asks} A, steady {wants} A");
        assert_eq!(value > 0.0, (asks - none[2]).abs() > 1e-4, "{key} {value} moves it");
    }
}

/// A prerequisite that fails stops the learning, and the report knows which.
#[test]
fn without_a_prerequisite_nothing_is_learned_and_the_reason_is_named() {
    let failed = |sensor: &str, mode: &str| {
        let mut setup = set("six", &[]);
        setup.conditions.fail(SensorFault::of(sensor, mode).unwrap());
        learned(&setup, 5, false, 1)
    };
    for (sensor, mode) in [("lambda", "dead"), ("lambda", "cold"), ("coolant", "open")] {
        let found = failed(sensor, mode);
        assert!(found.settled_at.is_none() && found.why.is_some(), "{sensor}={mode}");
        assert_eq!(ends(&found), [0.0; 4], "{sensor}={mode}");
    }
    assert!(matches!(failed("lambda", "dead").why, Some(UnsettledReason::NoSensor(_))));
    assert!(matches!(failed("coolant", "open").why, Some(UnsettledReason::TakenForCold(_))));
    // A stuck one misleads it: every visited cell runs to its limit.
    let mut stuck = set("six", &[]);
    stuck.conditions.fail(SensorFault::Lambda(Lambda::Stuck));
    let found = learned(&stuck, 30, false, 1);
    assert!((ends(&found)[0] - 10.0).abs() < 0.1, "{:?}", ends(&found));
    // A setting that cannot be driven says so.
    let found = learned(&set("six", &[("screw", -0.25)]), 2, true, 1);
    assert_eq!(found.why, Some(UnsettledReason::CannotBeDriven), "{:?}", found.starts);
    // One that idles nowhere says so without a start, too.
    let found = learned(&set("six", &[("screw", -0.5)]), 2, false, 1);
    assert_eq!(found.why, Some(UnsettledReason::CannotBeDriven), "{:?}", found.starts);
    assert_eq!(ends(&found), [0.0; 4], "nothing is learned of a drive that cannot be");
}

#[test]
fn a_file_of_speeds_is_read_or_its_line_is_named() {
    let head = "time_s,speed_kmh\n";
    let ok = Drive::parse(&format!("{head}0,0\n10,30\n20,30\n25,0\n")).unwrap();
    assert_eq!((ok.lasts_s(), ok.kmh(5.0)), (25.0, 15.0));
    let fault = |text: &str| Drive::parse(text).unwrap_err();
    assert_eq!(fault(""), DriveFault::Empty);
    assert_eq!(fault(head), DriveFault::Empty);
    assert!(matches!(fault("time,speed_mph\n0,0\n"), DriveFault::Header { miles: true, .. }));
    assert!(matches!(fault("a,b\n0,0\n"), DriveFault::Header { miles: false, .. }));
    let rows = |rows: &str| fault(&format!("{head}{rows}"));
    assert!(matches!(rows("0,0\n5,x\n"), DriveFault::NotNumbers { line: 3, .. }));
    assert!(matches!(rows("0,0\n5,1,2\n"), DriveFault::NotNumbers { line: 3, .. }));
    assert!(matches!(rows("0,0\n5,nan\n"), DriveFault::NotNumbers { line: 3, .. }));
    assert!(matches!(rows("0,0\n5,10\n5,10\n"), DriveFault::TimeGoesBack { line: 4, .. }));
    assert!(matches!(rows("0,0\n50,10\n"), DriveFault::Gap { line: 3, .. }));
    assert!(matches!(rows("0,0\n1,90\n"), DriveFault::Acceleration { line: 3, .. }));
    assert!(matches!(rows("0,0\n9,-3\n"), DriveFault::Speed { line: 3, .. }));
    let miles = "0,0\n10,25\n20,25\n30,35\n40,35\n55,55\n65,55\n90,0\n";
    assert!(matches!(rows(miles), DriveFault::Miles { .. }));
    // What is held for three seconds or less, walked, or passed through is no sign.
    let read = |rows: &str| Drive::parse(&format!("{head}{rows}")).is_ok();
    assert!(read("0,0\n10,25\n13,25\n20,35\n23,35\n40,55\n43,55\n70,0\n"));
    assert!(read("0,5\n10,5\n20,25\n30,25\n40,35\n50,35\n70,0\n"));
    assert!(read("0,0\n10,25\n20,35\n35,55\n60,0\n"));
    // One speed of tens tells kilometres.
    assert!(read("0,0\n10,25\n20,25\n30,35\n40,35\n55,50\n65,50\n80,55\n90,55\n120,0\n"));
    // A sign is held, though others are passed through on the way.
    let passed = "0,0\n8,20\n10,25\n20,25\n30,35\n40,35\n50,50\n55,55\n65,55\n90,0\n";
    assert!(matches!(rows(passed), DriveFault::Miles { .. }));
}

/// Common practice, no source: potentiometer, plate height, plunger and fuel lines call for a new
/// setting; coolant, lambda and exhaust-temperature sensor do not, nor does a leak once sealed.
#[test]
fn the_parts_that_call_for_a_new_setting_are_the_trade_s() {
    for (rig, _) in SHIPPED {
        let found = effects(&set(rig, &[])).unwrap();
        assert_eq!(found.len(), PARTS.len());
        for effect in &found {
            let name = effect.part.name;
            let calls = ["potentiometer", "plate-height", "plunger", "fuel-lines"];
            let stays = ["coolant", "lambda", "exhaust-temperature", "air-leak"];
            if calls.contains(&name) {
                assert!(effect.new_setting_needed, "{rig}: {name} {:?}", effect.renewed);
            } else if stays.contains(&name) {
                assert!(!effect.new_setting_needed, "{rig}: {name} {:?}", effect.renewed);
            }
        }
        // Rest height moves the static setting and leaves the warm engine as it is.
        let plate = found.iter().find(|effect| effect.part.name == "plate-height").unwrap();
        assert!(plate.renewed.0.abs() < 1e-9 && plate.renewed.2.abs() > 1.0 / 64.0);
        assert_eq!(found[0].part.name, "coolant", "{rig}: the worst first");
    }
}

/// The cells of 2.8 l stand at 15, 25, 42 and 70 kg/h; at its flow a cell adds what it holds, beyond
/// the ends the end's, half-way between two the mean of both: a straight line.
#[test]
fn between_its_cells_the_controller_adds_on_straight_lines() {
    let mut cells = Cells::cleared(2.8e-3, 10e-3);
    for (centre, kg_h) in cells.centre_kg_s.into_iter().zip([15.0, 25.0, 42.0, 70.0]) {
        assert!((3600.0 * centre / kg_h - 1.0).abs() < 2e-3, "{} kg/h", 3600.0 * centre);
    }
    let twice = Cells::cleared(5.6e-3, 10e-3).centre_kg_s;
    assert!(twice.iter().zip(cells.centre_kg_s).all(|(b, a)| (b / a - 2.0).abs() < 1e-12));
    cells.added_a = [4e-3, -2e-3, 6e-3, -10e-3];
    let adds = |kg_s: f64| -> f64 {
        cells.shares(kg_s).iter().zip(cells.added_a).map(|(share, added)| share * added).sum()
    };
    let at = cells.centre_kg_s;
    for (centre, added) in at.into_iter().zip(cells.added_a) {
        assert_abs_diff_eq!(adds(centre), added, epsilon = 1e-15);
    }
    for i in 1..4 {
        for share in [0.25, 0.5, 0.75] {
            let expected = (1.0 - share) * cells.added_a[i - 1] + share * cells.added_a[i];
            let kg_s = at[i - 1] + share * (at[i] - at[i - 1]);
            assert_abs_diff_eq!(adds(kg_s), expected, epsilon = 1e-15);
        }
    }
    assert_eq!((adds(0.0), adds(1.0)), (4e-3, -10e-3));
}

/// A visited cell steps by 20 mA, less by a seventh each drive and 0.4 mA at last, towards the sign
/// of its mean trim; one that was hardly visited or hardly off stays, and none passes its limit.
#[test]
fn a_cell_steps_by_the_sign_of_its_mean_trim_in_steps_that_shrink() {
    let after = |drives: u32, time_s: f64, mean_a: f64| {
        let mut cells = Cells { drives, ..Cells::cleared(2.8e-3, 50e-3) };
        let taught = Taught { time_s: [time_s; 4], trim_a_s: [mean_a * time_s; 4] };
        cells.store(&taught);
        assert_eq!(cells.drives, drives + 1);
        assert!(cells.added_a.iter().all(|added| *added == cells.added_a[0]));
        1e3 * cells.added_a[0]
    };
    assert_abs_diff_eq!(after(0, 100.0, 3e-3), 20.0, epsilon = 1e-9);
    assert_abs_diff_eq!(after(0, 100.0, -3e-3), -20.0, epsilon = 1e-9);
    let ratio = after(4, 100.0, 3e-3) / after(3, 100.0, 3e-3);
    assert!((ratio - 6.0 / 7.0).abs() < 5e-3, "shrinks to {ratio}");
    assert_abs_diff_eq!(after(500, 100.0, 3e-3), 0.4, epsilon = 1e-9);
    assert_eq!((after(0, 9.0, 3e-3), after(0, 100.0, 0.2e-3)), (0.0, 0.0));
    assert!(after(0, 11.0, 3e-3) > 0.0 && after(0, 11.0, 0.3e-3) > 0.0);
    let mut cells = Cells::cleared(2.8e-3, 10e-3);
    assert!(!cells.at_limit());
    cells.store(&Taught { time_s: [0.0, 60.0, 0.0, 0.0], trim_a_s: [0.0, -1.0, 0.0, 0.0] });
    assert_eq!(cells.added_a, [0.0, -10e-3, 0.0, 0.0]);
    assert!(cells.at_limit());
}
