//! From readings back to the cause: what holds of the probabilities, and how often it is right.

use sim_core::bleed::{BleedRequest, bleed, standing};
use sim_core::conditions::Conditions;
use sim_core::diagnose::car::{Asked, Car, Law};
use sim_core::diagnose::causes::{CAUSES, causes_of};
use sim_core::diagnose::checks::{CHECKS, groups};
use sim_core::diagnose::given::Sheet;
use sim_core::diagnose::library::{Library, Plan, Task};
use sim_core::diagnose::posterior::{Evidence, Read, missing_before_the_screw, weigh, worths};
use sim_core::diagnose::sheet::{METERED, Slot, Taken, When};
use sim_core::diagnose::spread::Spread;
use sim_core::diagnose::trial::{Hidden, Role, Scores, bins, item, ranking, tried};
use sim_core::fuel::supply::CheckValve;
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

/// A sheet may hold the glass of one line alone.
#[test]
fn a_line_is_found_from_its_own_glass_alone() {
    let library = library(slots(&["line_3_ml", "line_4_ml"]), 8);
    let mean = &library.cells[0].mean;
    let reads = [Read { slot: 0, value: 0.75 * mean[0] }, Read { slot: 1, value: mean[1] }];
    let found = weigh(&library, &Evidence { reads: &reads, ear: None }, false);
    assert_eq!(library.causes[ranking(&found)[0]].name(), "slit-3");
}

/// What a few engines rule out by far is not asked of all: that must not show.
#[test]
fn what_a_few_engines_rule_out_changes_nothing() {
    let names = ["duty_percent", "potentiometer_v", "co_percent", "system_bar"];
    let plan = Plan::new(&six(), &Asked::default(), slots(&names), 24);
    let sound = |library: &Library, by: &[f64]| -> Vec<Read> {
        let read =
            |(slot, by): (usize, &f64)| Read { slot, value: library.cells[0].mean[slot] + by };
        by.iter().enumerate().map(read).collect()
    };
    let all = Library::made(&plan, plan.tasks.iter().map(|task| plan.work(task)).collect(), &[]);
    let few: Vec<_> = plan.tasks.iter().map(|task| plan.work_on(task, 0..4)).collect();
    let roughly = Library::made(&plan, few.clone(), &[]);
    for by in [[0.0; 4], [35.0, -0.03, 0.0, 0.0], [-20.0, 0.01, 0.0, -0.5], [50.0, 0.05, -0.3, 0.3]]
    {
        let reads = sound(&all, &by);
        let evidence = Evidence { reads: &reads, ear: None };
        let matter = weigh(&roughly, &evidence, true).matter(&roughly);
        let further = |(task, few): (&Task, &sim_core::diagnose::library::Worked)| match matter
            [task.place()]
            && task.of_a_cause()
        {
            true => few.clone().and(plan.work_on(task, 4..24)),
            false => few.clone(),
        };
        let worked = plan.tasks.iter().zip(&few).map(further).collect();
        let staged = weigh(&Library::made(&plan, worked, &[]), &evidence, true);
        let full = weigh(&all, &evidence, true);
        assert!(matter.iter().any(|matters| !matters), "{by:?}: nothing was ruled out");
        for (cause, (a, b)) in staged.shared.iter().zip(&full.shared).enumerate() {
            assert!((a - b).abs() < 2e-3, "{by:?}, cause {cause}: {a} against {b}");
        }
    }
}

/// Petrol is sold with 5 or 10 % ethanol: nothing lies between, and neither is likelier.
#[test]
fn ethanol_comes_as_it_is_sold() {
    let library = library(slots(&["duty_percent"]), 4);
    let ethanol = library.causes.iter().position(|named| named.name() == "ethanol").unwrap();
    let cells: Vec<(f64, f64)> = library
        .cells
        .iter()
        .filter(|cell| cell.cause == Some(ethanol))
        .map(|cell| (cell.strength, cell.weight))
        .collect();
    assert_eq!(cells, [(0.4, 0.5), (1.0, 0.5)]);
}

/// The short way to what gauges and glasses show of a standing engine is that of `bleed`.
#[test]
fn a_standing_engine_shows_what_bleeding_it_shows() {
    for item in 0..12 {
        let Some(car) = Car::drawn(&six(), &Asked::default(), 17, item, Law::Same) else {
            continue;
        };
        let request = BleedRequest {
            lift_m: 8e-3,
            check_valve: if item % 3 == 0 { CheckValve::Leaks } else { CheckValve::default() },
            accumulator_share: 1.0 - 0.07 * item as f64,
            stand_s: 1.0,
            hot_k: 293.15,
            class_pa: 60e3,
        };
        let found = standing(car.setup(), &request, true);
        let long = bleed(car.setup(), &request).unwrap();
        let (running_pa, return_m3_s) = found.running.unwrap();
        assert_eq!(found.line_m3_s, long.line_m3_s);
        assert_eq!((running_pa, return_m3_s), (long.running_pa, long.return_m3_s));
        // What leaks down to nothing has none left either way.
        let off_pa = found.residual_pa.unwrap() - long.residual_pa;
        assert!(off_pa.abs() <= 1e-6 * long.residual_pa, "{item}: {off_pa}");
    }
}

/// A unit is suspected only of what no car shows: every reading of cars with and without faults,
/// as their meters show them, is taken.
#[test]
fn no_reading_of_a_car_is_taken_for_one_in_another_unit() {
    let mut sheet: Vec<Slot> = groups(6).into_iter().flatten().collect();
    for metered in METERED.iter().filter(|metered| !metered.each_line) {
        for taken in [Taken::IDLE, Taken::UNPLUGGED, Taken::FAST] {
            let slot = Slot::of(metered.name, taken).unwrap();
            if !sheet.iter().any(|known| known.is(&slot)) {
                sheet.push(slot);
            }
        }
    }
    let library = library(sheet, 2);
    let roles = [Role::Single, Role::Pair, Role::Sound, Role::Other(0), Role::Other(3)];
    let mut taken = 0;
    for (role, number) in roles.into_iter().flat_map(|role| (0..90).map(move |n| (role, n))) {
        let Some(hidden) = Hidden::drawn(&six(), &library, (91, role, number)) else { continue };
        let mut noise = Noise::new(91, item(role, number));
        for read in hidden.read(&library, &mut noise).0 {
            let slot = &library.slots[read.slot];
            let value = slot.kind.unscaled(read.value);
            let text = format!("{value:.*}", slot.kind.decimals());
            // The speed says by itself how fast it was.
            let state = match slot.when {
                When::Running(state) if !state.plugged => "no",
                _ => "yes",
            };
            let mut given = Sheet::new(&six(), &Conditions::closed_loop());
            let cells = [(&*slot.name(), &*text), ("plugged", state)];
            given.row(&cells).unwrap_or_else(|fault| panic!("{role:?} {number}: {fault}"));
            taken += 1;
        }
    }
    assert!(taken > 15_000, "{taken}");
}

/// Four statements that always go together are one: their error is that of the cars.
#[test]
fn a_calibration_s_error_counts_cars() {
    let cars: Vec<Vec<(f64, bool)>> = (0..100).map(|car| vec![(0.5, car % 2 == 0); 4]).collect();
    let found = bins(cars.iter().map(|car| car.iter()));
    assert_eq!((found.len(), found[0].count, found[0].cars), (1, 400, 100));
    // Of 100 cars the share of half has an error of 5 points.
    assert!((found[0].by_chance - 5.0).abs() < 1e-9 && found[0].off() == 0.0);
    // Each by itself: 400 statements.
    let each =
        bins((0..400).map(|i| [(0.5, i % 2 == 0)]).collect::<Vec<_>>().iter().map(|c| c.iter()));
    assert!((each[0].by_chance - 2.5).abs() < 1e-9);
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

/// A dirty injector opens late, a worn one early, and only its own line's gauge shows it; a sound
/// set opens near the pressure of the rig's file.
#[test]
fn an_injector_s_gauge_shows_its_own_line_s_opening_pressure() {
    let names: Vec<String> = (1..=6).map(|line| format!("injector_{line}_bar")).collect();
    let sheet = slots(&names.iter().map(String::as_str).collect::<Vec<_>>());
    let mut cars = 0;
    for item in 0..6 {
        let Some(car) = Car::drawn(&six(), &Asked::default(), 5, item, Law::Same) else {
            continue;
        };
        let of = |causes: &[_]| car.shows(causes, &sheet, true).0;
        let sound = of(&[]);
        let set_bar = 1e-5 * car.setup().rig.parts().injectors.opening_pa;
        assert!(sound.iter().all(|bar| (bar - set_bar).abs() < 0.5), "{sound:?} of {set_bar}");
        let apart = sound.iter().any(|bar| (bar - sound[0]).abs() > 0.01);
        assert!(apart, "no two are alike: {sound:?}");
        for line in 0..6 {
            let wanted = format!("injector-{}", line + 1);
            let injector = causes_of(&six()).into_iter().find(|c| c.name() == wanted).unwrap();
            for strength in [1.0, -1.0] {
                let moved = of(&[(injector, strength)]);
                for (other, (now, before)) in moved.iter().zip(&sound).enumerate() {
                    let by = strength * (now - before);
                    let own = other == line;
                    assert!(if own { by > 0.2 } else { by == 0.0 }, "{wanted}: {other} by {by}");
                }
            }
        }
        cars += 1;
    }
    assert!(cars > 2, "{cars}");
}

/// A pair is two causes, and no two of them are met twice.
#[test]
fn a_pair_is_of_two_causes_and_is_weighed_once() {
    let library = library(slots(&["duty_percent", "potentiometer_v"]), 4);
    let reads = [(0, 30.0), (1, -0.03)]
        .map(|(slot, by)| Read { slot, value: library.cells[0].mean[slot] + by });
    let found = weigh(&library, &Evidence { reads: &reads, ear: None }, true);
    let mut pairs: Vec<Vec<usize>> = found.hypotheses.iter().map(|h| h.causes.clone()).collect();
    pairs.iter_mut().for_each(|causes| causes.sort_unstable());
    assert!(pairs.iter().filter(|causes| causes.len() == 2).count() > 20);
    assert!(pairs.iter().all(|causes| causes.windows(2).all(|two| two[0] < two[1])));
    let all = pairs.len();
    pairs.sort();
    pairs.dedup();
    assert_eq!(pairs.len(), all);
}

/// What two causes would show adds up; a reading speaks for the cause that shows it, against it
/// where a sound car does, and as much the other way round for the sound car.
#[test]
fn a_reading_speaks_for_the_cause_that_would_show_it() {
    let library = library(slots(&["potentiometer_v", "vacuum_bar"]), 8);
    let cell = |name: &str| {
        let is = |cell: &sim_core::diagnose::library::Cell| {
            cell.cause.is_some_and(|cause| library.causes[cause].name() == name)
        };
        let most = |i: &usize| library.cells[*i].strength;
        let cells = (0..library.cells.len()).filter(|i| is(&library.cells[*i]));
        cells.max_by(|a, b| most(a).total_cmp(&most(b))).unwrap()
    };
    let (leak, shifted) = (cell("leak-after-throttle"), cell("potentiometer-shifted"));
    let mean = |cell: usize, slot: usize| library.cells[cell].mean[slot];
    let value_of = |cells: &[usize], slot: usize| {
        mean(0, slot) + cells.iter().map(|cell| mean(*cell, slot) - mean(0, slot)).sum::<f64>()
    };
    let says = |cells: &[usize], other: &[usize], slot: usize, value: f64| {
        let found = library.signs(cells, other, &[Read { slot, value }]);
        let kind = &library.slots[slot].kind;
        assert_eq!(found[0].sound, kind.unscaled(mean(0, slot)));
        if !cells.is_empty() {
            let off = found[0].expected.0 - kind.unscaled(value_of(cells, slot));
            assert!(off.abs() < 1e-12, "{cells:?}, {slot}: {off}");
        }
        found[0].says
    };
    for cells in [vec![leak], vec![shifted], vec![leak, shifted]] {
        let shown = value_of(&cells, 0);
        assert!(says(&cells, &[], 0, shown) > 1.0 && says(&cells, &[], 0, mean(0, 0)) < -1.0);
        let against = says(&[], &cells, 0, shown) + says(&cells, &[], 0, shown);
        assert!(against.abs() < 1e-9, "{against}");
    }
    // The housing moves no vacuum: that says nothing of it.
    assert!(says(&[shifted], &[], 1, mean(0, 1)).abs() < 0.1);
}
