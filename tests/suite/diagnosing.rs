//! From readings back to the cause: what holds of the probabilities, and how often it is right.

use sim_core::conditions::Conditions;
use sim_core::diagnose::car::{Asked, Car, Law};
use sim_core::diagnose::causes::{CAUSES, causes_of};
use sim_core::diagnose::checks::{CHECKS, groups};
use sim_core::diagnose::library::{Library, Plan};
use sim_core::diagnose::posterior::{Evidence, Read, missing_before_the_screw, weigh, worths};
use sim_core::diagnose::sheet::{METERED, Slot, Taken};
use sim_core::diagnose::spread::Spread;
use sim_core::diagnose::trial::{Role, Scores, ranking, tried};
use sim_core::noise::Noise;
use sim_core::rig::Rig;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;

fn six() -> Rig {
    shipped("six").unwrap().rig
}

fn library(slots: Vec<Slot>, members: usize) -> Library {
    let plan = Plan::new(&six(), &Asked::default(), slots, members);
    let worked = plan.tasks.iter().map(|task| plan.work(task)).collect();
    Library::of(plan, worked, &[])
}

fn slots(names: &[&str]) -> Vec<Slot> {
    names.iter().map(|name| Slot::of(name, Taken::IDLE).unwrap()).collect()
}

#[test]
fn probabilities_sum_to_one_alone_and_in_pairs_even_of_readings_no_engine_has() {
    let library = library(slots(&["duty_percent", "potentiometer_v"]), 8);
    for values in [[50.0, 0.70], [100.0, 0.2], [0.0, 5.0], [50.0, -3e3]] {
        let reads = [0, 1].map(|slot| Read { slot, value: values[slot] });
        for pairs in [false, true] {
            let found = weigh(&library, &Evidence { reads: &reads, ear: None }, pairs);
            assert_eq!(found.shared.len(), library.causes.len() + 1, "none is among them");
            let sum: f64 = found.shared.iter().sum();
            assert!((sum - 1.0).abs() < 1e-9, "{values:?}: {sum}");
            assert!(found.shared.iter().all(|p| p.is_finite() && *p >= 0.0));
        }
    }
}

#[test]
fn nothing_read_leaves_the_prior() {
    let library = library(slots(&["duty_percent"]), 8);
    let found = weigh(&library, &Evidence { reads: &[], ear: None }, false);
    let causes = library.causes.len();
    assert!((found.present[causes] - 0.2).abs() < 1e-9);
    for cause in &found.present[..causes] {
        assert!((cause - 0.8 / causes as f64).abs() < 1e-9, "{cause}");
    }
}

/// Each reading of the sheet by a meter that does not err, of the rig itself.
#[test]
fn every_cause_at_its_largest_reference_shows_in_some_reading_of_the_sheet() {
    let sheet: Vec<Slot> = groups(6).into_iter().flatten().collect();
    let car = (0..).find_map(|item| Car::drawn(&six(), &Asked::default(), 5, item, Law::Same));
    let car = car.unwrap();
    let (sound, _) = car.shows(&[], &sheet, true);
    for named in causes_of(&six()) {
        let (faulty, _) = car.shows(&[(named, named.cause.references[2])], &sheet, true);
        let seen = sheet.iter().zip(sound.iter().zip(&faulty)).any(|(slot, (a, b))| {
            a.is_nan() != b.is_nan() || (a - b).abs() > 2.0 * slot.kind.meter_sigma(*a, None)
        });
        // A short of the coolant sensor is told by its ohms alone; that is a reading, too.
        assert!(seen, "{} shows in nothing", named.name());
    }
}

#[test]
fn every_check_reads_what_is_on_the_list_and_every_part_has_its_cause() {
    for check in CHECKS {
        assert!(check.minutes > 0.0 && !check.caution.is_empty(), "{}", check.name);
        for name in check.gives {
            assert!(METERED.iter().any(|metered| metered.name == *name), "{name}");
        }
    }
    let stands_for = [
        ("potentiometer", "potentiometer-shifted"),
        ("plate-height", "rest-height"),
        ("plunger", "plunger"),
        ("fuel-lines", "slit"),
        ("air-leak", "leak-after-throttle"),
        ("actuator", "actuator"),
        ("pressure-regulator", "pressure-regulator"),
        ("coolant", "coolant"),
        ("lambda", "lambda-dead"),
        ("exhaust-temperature", "exhaust-temperature"),
        ("altitude", "altitude"),
        ("throttle-switch", "throttle-switch"),
        ("idle-air-valve", "idle-air-valve"),
    ];
    for part in sim_core::parts::PARTS {
        let (_, cause) = stands_for.iter().find(|(name, _)| *name == part.name).unwrap();
        assert!(CAUSES.iter().any(|known| known.name == *cause), "{}", part.name);
    }
}

#[test]
fn the_screw_is_never_the_next_check_before_ignition_leaks_and_pressure_are_read() {
    assert_eq!(missing_before_the_screw(&["duty_percent"]), Some("ignition"));
    assert_eq!(missing_before_the_screw(&["drop_N_rpm", "vacuum_bar"]), Some("pressure"));
    assert_eq!(missing_before_the_screw(&["drop_N_rpm", "vacuum_bar", "system_bar"]), None);
    let sheet: Vec<Slot> = groups(6).into_iter().flatten().collect();
    let library = library(sheet, 4);
    let evidence = Evidence { reads: &[], ear: None };
    let posterior = weigh(&library, &evidence, false);
    for worth in worths(&library, &posterior, &[]) {
        let waits = worth.waits_for.is_some();
        assert_eq!(waits, worth.check.moves_the_screw, "{}", worth.check.name);
        assert!(worth.information >= -1e-9, "{}: {}", worth.check.name, worth.information);
    }
}

/// An unmetered leak lowers the plate and raises the duty: the trade's sign, put in by hand.
#[test]
fn the_signs_of_the_trade_lead_to_their_causes() {
    let first = |names: &[&str], taken: Taken, shift: &[f64]| {
        let slots: Vec<Slot> = names.iter().map(|name| Slot::of(name, taken).unwrap()).collect();
        let library = library(slots, 16);
        let reads: Vec<Read> = shift
            .iter()
            .enumerate()
            .map(|(slot, by)| Read { slot, value: library.cells[0].mean[slot] + by })
            .collect();
        let found = weigh(&library, &Evidence { reads: &reads, ear: None }, false);
        let best = ranking(&found)[0];
        library.causes.get(best).map_or("none".to_string(), |named| named.cause.name.into())
    };
    let idle = Taken::IDLE;
    // Duty up, plate down, valve nearer shut: air after the throttle.
    let names = ["duty_percent", "potentiometer_v", "idle_valve_percent"];
    assert_eq!(first(&names, idle, &[38.0, -0.035, -6.0]), "leak-after-throttle");
    // The voltage alone is up: the housing.
    assert_eq!(first(&names, idle, &[0.0, 0.08, 0.0]), "potentiometer-shifted");
    // Pressure 0.5 bar low, and the pump gives all it should.
    let fuel = ["system_bar", "return_ml_min", "before_filter_bar"];
    assert_eq!(first(&fuel, idle, &[-0.5, 100.0, -0.5]), "pressure-regulator");
    // Before the filter 2 bar more than behind it.
    assert_eq!(first(&fuel, idle, &[0.0, -1200.0, 2.0]), "filter");
    // One spark off changes nothing: that cylinder did not work before.
    let drops =
        ["drop_1_rpm", "drop_2_rpm", "drop_3_rpm", "drop_4_rpm", "drop_5_rpm", "drop_6_rpm"];
    assert_eq!(first(&drops, idle, &[0.0, 0.0, -80.0, 0.0, 0.0, 0.0]), "spark");
}

/// What is asked of it, on few cars: `quarterturn diagnose --trial` counts more.
#[test]
fn it_is_right_as_often_as_is_asked() {
    let sheet: Vec<Slot> = groups(6).into_iter().flatten().collect();
    let library = library(sheet, 32);
    let causes = library.causes.len() as u64;
    let cars = |role: Role, count: u64| -> Vec<_> {
        (0..count).filter_map(|number| tried(&six(), &library, None, (3, role, number))).collect()
    };
    let all: Vec<_> = [(Role::Single, 3 * causes), (Role::Sound, 40), (Role::Pair, 40)]
        .into_iter()
        .flat_map(|(role, count)| cars(role, count))
        .collect();
    let scores = Scores::of(&all, library.causes.len());
    assert!(scores.first >= 80.0, "first {}", scores.first);
    assert!(scores.first_three >= 94.0, "first three {}", scores.first_three);
    assert!(scores.pairs_first_five >= 75.0, "pairs {}", scores.pairs_first_five);
    assert!(scores.false_alarms <= 10.0, "false alarms {}", scores.false_alarms);
    let (asked, fixed) = scores.median_checks;
    assert!(asked <= 3 && asked < fixed, "{asked} checks, fixed {fixed}");
}

/// What a fit knows makes a diagnosis surer: a pressure that is a little low is told from the
/// spread of engines only where that of the one car is known better.
#[test]
fn a_fitted_rig_has_narrower_readings_than_its_relatives() {
    let own = |item| {
        let mut noise = Noise::new(1, item);
        let mut setup = Setup { rig: six(), conditions: Conditions::closed_loop() };
        setup.conditions.screw_turns = -0.02 + 1e-3 * noise.normal();
        Some(setup)
    };
    let sigma = |spread: Spread<'_>| {
        let names = slots(&["duty_percent", "potentiometer_v", "system_bar"]);
        let plan = Plan::over(spread, &six(), &Asked::default(), names, 8);
        let worked = plan.tasks.iter().map(|task| plan.work(task)).collect();
        let library = Library::of(plan, worked, &[]);
        [0, 1, 2].map(|d| library.cells[0].covariance[4 * d].sqrt())
    };
    let (own, relatives) = (sigma(Spread::Own(&own)), sigma(Spread::Seeded));
    for d in 0..3 {
        assert!(own[d] < relatives[d], "{d}: {own:?} against {relatives:?}");
    }
}
