//! Each cylinder's work cycle by cycle, and the idle as it is heard.

use crate::trade::rigs;
use sim_core::conditions::{Conditions, Trim};
use sim_core::rig::Rig;
use sim_core::rig::keys::Setup;
use sim_core::run::{Action, Engine, Firing, Options, TICK_S};
use sim_core::sound::{Statistics, listen};
use sim_core::steady::SteadyEngine;
use sim_core::sweep::{Edges, edges};
use sim_core::units::Unit;

const WORKS: Options = Options {
    seed: 1,
    torque_noise: false,
    works: true,
    pulsation: 0.0,
    finer: 1,
    decides_at: 0.0,
    solver_tolerance: None,
};

fn at(rig: &Rig, screw_turns: f64) -> Setup {
    Setup { rig: *rig, conditions: Conditions { screw_turns, ..Conditions::default() } }
}

fn edges_of(rig: &Rig) -> Edges {
    edges(&SteadyEngine::new(rig, &Conditions::default()))
}

/// Places on the screw from edge to edge and a little beyond: lean to rich, the middle between.
pub fn places(rig: &Rig) -> [f64; 5] {
    let edges = edges_of(rig);
    let (lean, rich) = (edges.lean.unwrap(), edges.rich.unwrap());
    [lean - 1.0 / 32.0, lean, edges.middle().unwrap(), rich, rich + 1.0 / 32.0]
}

/// How long each place is listened to (s).
const LISTENED_S: f64 = 30.0;

/// What a listener has to go by at a place of the screw.
pub fn heard(rig: &Rig, screw_turns: f64) -> Statistics {
    listen(&at(rig, screw_turns), 1, LISTENED_S).unwrap().statistics()
}

/// What an ear notices, from memory: steps of 1 dB from beat to beat, a pace that comes and goes
/// by a twenty-fifth, a beat missed every five seconds.
pub fn notices(heard: &Statistics) -> bool {
    let missed_every_s = LISTENED_S / heard.lost_cycles as f64;
    heard.step_db > 1.0 || heard.surge_rad_s > 0.04 * heard.mean_rad_s || missed_every_s < 5.0
}

/// Where an ear first notices something, from the middle outwards in steps of 1/128 turn: lean
/// and rich.
pub fn noticed_from(rig: &Rig) -> [f64; 2] {
    let middle = places(rig)[2];
    [-1.0, 1.0].map(|way| {
        let along = (1..64).map(|step| middle + way * f64::from(step) / 128.0);
        along.into_iter().find(|at| notices(&heard(rig, *at))).expect("something is noticed")
    })
}

struct Ran {
    firings: Vec<Firing>,
    speeds_rad_s: Vec<f64>,
    /// Root mean square of the charges' closed form, and mean share of lost cycles.
    cov: f64,
    misfire: f64,
    engine: Engine,
}

fn ran(setup: &Setup, options: Options, seconds: f64) -> Ran {
    let mut engine = Engine::new(setup, options).unwrap();
    let (mut firings, mut speeds_rad_s) = (Vec::new(), Vec::new());
    let (mut square, mut misfire, mut looks) = (0.0, 0.0, 0.0);
    for tick in 0..(seconds / TICK_S) as usize {
        engine.tick().unwrap();
        firings.extend_from_slice(engine.firings());
        speeds_rad_s.push(engine.speed_rad_s());
        if tick % 5 == 0 {
            let state = engine.state().expect("it runs");
            square += state.cov * state.cov;
            misfire += state.mean_misfire;
            looks += 1.0;
        }
    }
    let cov = (square / looks).sqrt();
    Ran { firings, speeds_rad_s, cov, misfire: misfire / looks, engine }
}

fn mean_and_deviation(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    (mean, (values.map(|value| (value - mean).powi(2)).sum::<f64>() / count).sqrt())
}

/// 3 min have 6000 to 8000 cycles, which know a COV to 1 % where works are normal and to 4 %
/// where a few are lost; the closed form itself is off by up to 4 % where cycles are lost.
#[test]
fn cycles_of_a_run_have_the_roughness_and_the_lost_cycles_that_its_closed_form_says() {
    for (name, rig) in rigs() {
        let [_, lean, middle, rich, _] = places(&rig);
        for (place, screw_turns) in [("lean", lean), ("middle", middle), ("rich", rich)] {
            let ran = ran(&at(&rig, screw_turns), WORKS, 180.0);
            let (mean, deviation) = mean_and_deviation(ran.firings.iter().map(|f| f.work));
            let cov = deviation / mean;
            let lost = ran.firings.iter().filter(|f| f.lost).count() as f64;
            let share = lost / ran.firings.len() as f64;
            let told =
                format!("{name}, {place}: {cov} {share}, closed {} {}", ran.cov, ran.misfire);
            assert!((cov / ran.cov - 1.0).abs() < 0.08, "{told}");
            assert!((share - ran.misfire).abs() < 0.0015 + 0.2 * ran.misfire, "{told}");
            assert!((mean - 1.0).abs() < 0.01, "{told}: {mean}");
        }
    }
}

/// One scatter of the whole torque is another way to shake the same crank. Within the smooth
/// window the two surge alike: that one acts late by half a step, this one firing by firing.
#[test]
fn a_run_on_works_surges_like_a_run_on_scattered_torque_and_no_step_changes_it() {
    for (name, rig) in rigs() {
        let [_, _, middle, ..] = places(&rig);
        for screw_turns in [0.0, middle] {
            let surge = |options: Options| {
                let ran = ran(&at(&rig, screw_turns), options, 120.0);
                let (mean, surge) = mean_and_deviation(ran.speeds_rad_s.iter().copied());
                assert!(ran.engine.mass_error() < 1e-9, "{name}");
                (Unit::Rpm.from_si(mean), Unit::Rpm.from_si(surge))
            };
            let noise = surge(Options { torque_noise: true, works: false, ..WORKS });
            let (works, finer) = (surge(WORKS), surge(Options { finer: 4, ..WORKS }));
            let told = format!("{name} {screw_turns}: {noise:?} {works:?} {finer:?}");
            assert!((works.0 - noise.0).abs() < 1.0, "{told}");
            assert!((works.1 / noise.1 - 1.0).abs() < 0.2, "{told}");
            assert!((works.1 / finer.1 - 1.0).abs() < 0.01, "{told}");
        }
    }
}

#[test]
fn firings_come_in_their_order_one_an_interval_of_the_crank() {
    for (name, rig) in rigs() {
        let setup = at(&rig, 0.0);
        let cylinders = rig.parts().slits.width_m.len();
        let mut engine = Engine::new(&setup, WORKS).unwrap();
        let (mut turned_rad, mut last) = (0.0, engine.clone());
        let (mut count, mut time_s) = (0, 0.0);
        for _ in 0..2000 {
            last = engine.clone();
            engine.tick().unwrap();
            turned_rad += 0.5 * (last.speed_rad_s() + engine.speed_rad_s()) * TICK_S;
            for firing in engine.firings() {
                count += 1;
                assert_eq!(firing.cylinder, count % cylinders, "{name}");
                assert!(firing.time_s > time_s && firing.time_s > last.time_s() - 1e-9, "{name}");
                assert!(firing.time_s <= engine.time_s() + 1e-9, "{name}");
                time_s = firing.time_s;
            }
        }
        let intervals = turned_rad * cylinders as f64 / (4.0 * std::f64::consts::PI);
        assert!((intervals - count as f64).abs() < 1.0 + 1e-3 * intervals, "{name}: {intervals}");
        // A kept moment fires the same again.
        last.tick().unwrap();
        assert_eq!(last.firings(), engine.firings());
        let calm = Engine::new(&setup, Options { works: false, ..WORKS }).unwrap();
        assert!(calm.firings().is_empty());
    }
}

/// Four strokes: each cylinder fires once in two turns. A six at 700 rpm fires 35 times a second.
#[test]
fn firings_a_second_are_half_the_cylinders_times_the_turns_a_second() {
    for (name, rig) in rigs() {
        let cylinders = match name {
            "four" => 4.0,
            "six" => 6.0,
            "eight" => 8.0,
            _ => continue,
        };
        let ran = ran(&at(&rig, 0.0), WORKS, 20.0);
        let (mean_rad_s, _) = mean_and_deviation(ran.speeds_rad_s.iter().copied());
        let rpm = 60.0 * mean_rad_s / std::f64::consts::TAU;
        let a_second = ran.firings.len() as f64 / 20.0;
        assert!((600.0..900.0).contains(&rpm), "{name} idles at {rpm} rpm");
        let expected = 35.0 * (cylinders / 6.0) * (rpm / 700.0);
        assert!((a_second / expected - 1.0).abs() < 5e-3, "{name}: {a_second}, not {expected}");
    }
}

#[test]
fn works_begin_where_a_start_fires_and_end_where_the_key_goes_off() {
    for (name, rig) in rigs() {
        let setup = Setup { rig, conditions: Conditions::closed_loop() };
        let mut engine = Engine::standing(&setup, WORKS);
        engine.apply(&Action::KeyOn).unwrap();
        engine.apply(&Action::Starter(true)).unwrap();
        let mut firings: Vec<Firing> = Vec::new();
        for _ in 0..1500 {
            engine.tick().unwrap();
            firings.extend_from_slice(engine.firings());
        }
        assert!(engine.stalled_at_s().is_none(), "{name} starts on works drawn by chance");
        let first = firings.iter().position(|f| !f.lost).unwrap();
        assert!(first > 2 && firings[..first].iter().all(|f| f.imep_pa == 0.0), "{name}: {first}");
        let idles = &firings[firings.len() - 100..];
        assert!(idles.iter().all(|f| !f.lost && f.imep_pa > 5e4), "{name}");
        engine.apply(&Action::KeyOff).unwrap();
        engine.tick().unwrap();
        let mut after: Vec<Firing> = engine.firings().to_vec();
        while engine.stalled_at_s().is_none() {
            engine.tick().unwrap();
            after.extend_from_slice(engine.firings());
        }
        assert!(!after.is_empty() && after.iter().all(|f| f.lost), "{name}");
    }
}

/// From the middle to both edges everything that can be heard grows: beats, shake and surge.
#[test]
fn what_a_listener_goes_by_grows_from_the_middle_to_both_edges() {
    for (name, rig) in rigs() {
        let [beyond_lean, lean, middle, rich, beyond_rich] = places(&rig);
        let calm = heard(&rig, middle);
        assert_eq!(calm.lost_cycles, 0, "{name}");
        assert!(!notices(&calm), "{name}");
        for (edge, beyond) in [(lean, beyond_lean), (rich, beyond_rich)] {
            let (at_edge, beyond) = (heard(&rig, edge), heard(&rig, beyond));
            let ratios = |s: &Statistics| {
                [
                    s.envelope_cov / calm.envelope_cov,
                    s.half_order_envelope / calm.half_order_envelope,
                    s.half_order_rad_s / calm.half_order_rad_s,
                    s.surge_rad_s / calm.surge_rad_s,
                ]
            };
            let told = format!("{name} {edge}: {:?} {:?}", ratios(&at_edge), ratios(&beyond));
            assert!(ratios(&at_edge).iter().all(|ratio| *ratio > 1.4), "{told}");
            assert!(ratios(&beyond).iter().all(|ratio| *ratio > 2.2), "{told}");
            assert!(notices(&beyond), "{told}");
        }
    }
}

/// An ear that goes by what it notices hears nothing inside the window, and comes to both edges
/// within a thirty-second beyond, half of the sixteenth that a hand turns at a time.
#[test]
fn an_ear_finds_both_edges() {
    for (name, rig) in rigs() {
        let [_, lean, _, rich, _] = places(&rig);
        let [lean_heard, rich_heard] = noticed_from(&rig);
        let late = [lean - lean_heard, rich_heard - rich];
        let within = |turns: &f64| (-1.0 / 128.0..1.0 / 32.0).contains(turns);
        assert!(late.iter().all(within), "{name}: noticed {late:?} turn beyond the edges");
    }
}

#[test]
fn a_sound_is_its_setup_and_its_seed_and_a_stall_ends_it() {
    let (_, rig) = rigs().next().unwrap();
    let setup = at(&rig, 0.1);
    let one = listen(&setup, 1, 3.0).unwrap();
    assert_eq!(one, listen(&setup, 1, 3.0).unwrap());
    assert_ne!(one.samples, listen(&setup, 2, 3.0).unwrap().samples);
    // Longer is the same and more, but for the beats that ring over the end.
    assert_eq!(one.firings, listen(&setup, 1, 4.0).unwrap().firings[..one.firings.len()]);
    let stalls = listen(&at(&rig, 0.25), 1, 20.0).unwrap();
    let at_s = stalls.stalled_at_s.expect("it dies so rich");
    let sounds_s = stalls.samples.len() as f64 / 44_100.0;
    assert!(sounds_s > at_s && sounds_s < at_s + 0.5 && sounds_s < 20.0);
    assert!(stalls.stalled_because.is_some());
    let trim_on = Conditions { trim: Trim::On, screw_turns: -1.0, ..Conditions::default() };
    let never = listen(&Setup { rig, conditions: trim_on }, 1, 5.0).unwrap();
    assert!(never.no_start.is_some() && never.stalled_at_s == Some(0.0));
    assert!(never.samples.iter().all(|sample| *sample == 0.0) && !never.samples.is_empty());
    let dead = Conditions { misfire: 0.2, ..Conditions::default() };
    let told = listen(&Setup { rig, conditions: dead }, 1, 30.0).unwrap().statistics();
    let share = told.lost_cycles as f64 / told.cycles as f64;
    assert!((share - 0.2).abs() < 0.04, "four sigma of 1000 cycles: {share}");
}
