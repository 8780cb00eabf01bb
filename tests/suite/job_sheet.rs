//! The job sheet: what is expected agrees with other roads, sound cars lie within the tolerance,
//! and no step comes before what it waits for.

use sim_core::bleed::{BleedRequest, bleed};
use sim_core::conditions::{Conditions, Trim};
use sim_core::diagnose::car::{Asked, Car, Law};
use sim_core::diagnose::sheet::Taken;
use sim_core::fuel::supply::CheckValve;
use sim_core::job::expected::{Expected, Plan, SHARE};
use sim_core::job::jobs::{JOBS, too_early};
use sim_core::job::reading::{OWN, Place};
use sim_core::job::repair;
use sim_core::job::steps::{Gate, Step};
use sim_core::noise::Noise;
use sim_core::parts::{PARTS, Repair};
use sim_core::rig::Rig;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

const NAMES: [&str; 3] = ["six", "four", "eight"];
const REPAIRS: [Repair; 3] = [Repair::KeepTheSetting, Repair::SetAnewIfSetWithIt, Repair::SetAnew];

fn rig(name: &str) -> Rig {
    shipped(name).unwrap().rig
}

fn asked() -> Asked {
    Asked { conditions: Conditions::closed_loop(), ..Asked::default() }
}

/// Every list of steps there is, with its name.
fn every_job() -> Vec<(String, Vec<Step>)> {
    let jobs = JOBS.iter().filter(|job| !job.is_of_a_part());
    let mut all: Vec<(String, Vec<Step>)> =
        jobs.map(|job| (job.name.to_string(), job.steps.to_vec())).collect();
    for part in PARTS {
        for verdict in REPAIRS {
            let steps = repair::steps(part.name, verdict);
            let steps = steps.unwrap_or_else(|| panic!("no repair of {}", part.name));
            all.push((format!("repair {} ({})", part.name, verdict.word()), steps));
        }
    }
    all
}

/// Every reading of every job, once.
fn every_place() -> Vec<Place> {
    let mut names: Vec<(&str, Taken)> = Vec::new();
    for (_, steps) in every_job() {
        for read in steps.iter().flat_map(|step| step.reads) {
            if !names.contains(read) {
                names.push(*read);
            }
        }
    }
    let place = |(name, taken): (&'static str, Taken)| {
        Place::of(name, taken).unwrap_or_else(|| panic!("no reading {name}"))
    };
    names.into_iter().map(place).collect()
}

fn expected(rig: &Rig, places: &[Place]) -> (Plan, Vec<Option<Expected>>) {
    let plan = Plan::new(rig, &asked(), places.to_vec()).unwrap();
    let shown = plan.tasks().iter().map(|task| plan.work(task)).collect();
    let found = plan.expected(shown, &[]);
    (plan, found)
}

#[test]
fn no_step_comes_before_what_it_waits_for_and_no_screw_before_ignition_leaks_and_pressure() {
    for (name, steps) in every_job() {
        assert_eq!(too_early(&steps), None, "{name}");
        assert!(steps.len() >= 4, "{name}");
        // Without one of the three the first turn of the screw is refused.
        if let Some(first) = steps.iter().position(|step| step.turns_the_screw) {
            for gate in [Gate::Ignition, Gate::Leaks, Gate::Pressure, Gate::Marked] {
                let without: Vec<Step> =
                    steps.iter().copied().filter(|step| !step.gives.contains(&gate)).collect();
                let found = too_early(&without);
                assert!(found.is_some(), "{name}: the screw does not wait for {gate:?}");
                let title = found.unwrap().0;
                let at = steps.iter().position(|step| step.title == title).unwrap();
                assert!(at <= first.max(at), "{name}");
            }
        }
    }
}

#[test]
fn every_reading_of_a_job_is_on_a_list_and_every_step_says_tool_caution_and_what_then() {
    for (name, steps) in every_job() {
        for step in steps {
            for (what, text, most) in [
                ("title", step.title, 30),
                ("what", step.what, 150),
                ("tool", step.tool, 45),
                ("caution", step.caution, 70),
                ("if not", step.if_not, 85),
            ] {
                assert!(!text.is_empty(), "{name}, {}: no {what}", step.title);
                assert!(text.len() <= most, "{name}, {}: {what} has {}", step.title, text.len());
            }
        }
    }
    assert!(every_place().len() > 25);
}

#[test]
fn sound_cars_lie_within_the_tolerance_at_the_stated_share() {
    let places = every_place();
    let (mut all, mut within) = (0, 0);
    for name in NAMES {
        let rig = rig(name);
        let (plan, found) = expected(&rig, &places);
        for (place, expected) in places.iter().zip(&found) {
            assert!(expected.is_some(), "{name} shows no {}", place.name());
        }
        let mut counts = vec![(0, 0); places.len()];
        for item in 0..150 {
            let Some(car) = Car::drawn(&rig, &asked(), 77, item, Law::Same) else { continue };
            let shown = plan.shown(&car, &[], item < 40);
            let mut noise = Noise::new(78, item);
            for (at, (place, expected)) in places.iter().zip(&found).enumerate() {
                let Some(expected) = expected else { continue };
                // One line of each: those of one car are alike.
                let value = shown[at][0];
                let read = value + place.meter_sigma(value, None) * noise.normal();
                if value.is_finite() {
                    let (least, most) = place.ends();
                    counts[at].0 += 1;
                    counts[at].1 += usize::from(expected.holds(0, read.clamp(least, most)));
                }
            }
        }
        for (at, (cars, inside)) in counts.iter().enumerate() {
            all += cars;
            within += inside;
            let percent = 100.0 * *inside as f64 / *cars as f64;
            println!(
                "{name} {} {percent:.0} % of {cars}: {:?}",
                places[at].name(),
                found[at].as_ref().map(|e| (e.value, e.tolerance, &e.below, &e.above))
            );
            assert!(percent > 85.0, "{name}: {} within in {percent:.0} %", places[at].name());
        }
    }
    let share = within as f64 / all as f64;
    println!("within: {:.2} % of {all}", 100.0 * share);
    assert!((share - SHARE).abs() < 0.02, "{share} of sound cars' readings lie within");
}

#[test]
fn what_is_expected_at_the_idle_is_the_steady_point_at_the_aim() {
    for name in NAMES {
        let rig = rig(name);
        let home = SteadyEngine::new(&rig, &Conditions::default());
        let aim = home.aim_turns().unwrap();
        let closed = Conditions { trim: Trim::On, ..Conditions::default() };
        let steady = SteadyEngine::new(&rig, &closed);
        let state = *steady.point(aim).state().unwrap();
        let places: Vec<Place> =
            ["speed_rpm", "duty_percent", "potentiometer_v", "sensor_v", "co_percent"]
                .iter()
                .map(|name| Place::of(name, Taken::IDLE).unwrap())
                .collect();
        let plan = Plan::new(&rig, &asked(), places).unwrap();
        let own = plan.shown(plan.typical(), &[], true);
        let near = |at: usize, value: f64, by: f64| {
            assert!((own[at][0] - value).abs() < by, "{name}: {} and {value}", own[at][0]);
        };
        near(0, Unit::Rpm.from_si(state.speed_rad_s), 1e-6);
        near(1, 50.0, 0.01);
        // The housing is turned by what the aim's plate is off the reference's.
        near(
            2,
            rig.reference().nominal.potentiometer.voltage_v(rig.reference().idle_height_m, 0.0),
            1e-6,
        );
        near(3, state.sensor_v, 1e-9);
        near(4, 100.0 * state.co, 1e-9);
    }
}

#[test]
fn what_is_expected_of_the_fuel_side_is_what_bleeding_gives() {
    for name in NAMES {
        let rig = rig(name);
        let aim = SteadyEngine::new(&rig, &Conditions::default()).aim_turns().unwrap();
        let setup =
            Setup { rig, conditions: Conditions { screw_turns: aim, ..Conditions::default() } };
        let request = BleedRequest {
            lift_m: 8e-3,
            check_valve: CheckValve::default(),
            accumulator_share: 1.0,
            stand_s: 60.0,
            hot_k: 353.15,
            class_pa: 60e3,
        };
        let bled = bleed(&setup, &request).unwrap();
        let names = ["jumper_bar", "residual_bar", "return_ml_min", "line_flows_s", "line_N_ml"];
        let places: Vec<Place> =
            names.iter().map(|name| Place::of(name, Taken::IDLE).unwrap()).collect();
        let plan = Plan::new(&setup.rig, &asked(), places).unwrap();
        let own = plan.shown(plan.typical(), &[], true);
        let last = bled.flows_after_s.iter().map(|t| t.unwrap()).fold(0.0, f64::max);
        for (at, value) in [
            (0, 1e-5 * bled.running_pa),
            (1, 1e-5 * bled.residual_pa),
            (2, 6e7 * bled.return_m3_s),
            (3, last),
            (4, 6e7 * bled.line_m3_s[0]),
        ] {
            let found = own[at][0];
            assert!((found / value - 1.0).abs() < 1e-3, "{name} {}: {found}, {value}", names[at]);
        }
        assert_eq!(own[4].len(), bled.line_m3_s.len(), "{name}: every line");
    }
}

#[test]
fn a_finer_meter_makes_a_smaller_tolerance() {
    let rig = rig("six");
    let place = Place::of("potentiometer_v", Taken::IDLE).unwrap();
    let plan = Plan::new(&rig, &asked(), vec![place]).unwrap();
    let of = |class: Option<f64>| {
        let shown = plan.tasks().iter().map(|task| plan.work(task)).collect();
        plan.expected(shown, &[class])[0].clone().unwrap().tolerance
    };
    let (needle, fine) = (of(Some(0.0625)), of(None));
    assert!(needle > 1.5 * fine, "{needle} V with the needle, {fine} V");
}

#[test]
fn own_readings_have_names_of_their_own_unit() {
    for own in OWN {
        let unit = own.name.rsplit('_').next().unwrap();
        let known = ["mm", "bar", "s", "ohm", "turns", "starts"].contains(&unit);
        assert!(known, "{}", own.name);
    }
}
