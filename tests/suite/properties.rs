//! What must hold for every rig and setting: 10 000 random ones.

use crate::conservation::random_conditions;
use sim_core::conditions::{Conditions, IdleAir, Trim};
use sim_core::noise::Noise;
use sim_core::point::{Point, READINGS, Stall};
use sim_core::rig::seeded::{Relative, relative};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::steady::SteadyEngine;
use sim_core::sweep::edges;

const CASES: u64 = 10_000;

/// Random relatives of the shipped rigs with random conditions.
fn cases(seed: u64, count: u64) -> impl Iterator<Item = (u64, Relative, Conditions, Noise)> {
    let bases: Vec<_> = SHIPPED.iter().map(|(name, _)| shipped(name).unwrap().rig).collect();
    (0..count).filter_map(move |item| {
        let mut noise = Noise::new(seed + 1, item);
        let one = relative(&bases[item as usize % bases.len()], seed, item, 0.5e-3)?;
        let conditions = Conditions { flame: one.flame, ..random_conditions(&mut noise) };
        Some((item, one, conditions, noise))
    })
}

#[test]
fn readings_are_numbers_within_their_bounds() {
    for (item, one, conditions, mut noise) in cases(100, CASES) {
        let screw = noise.between(-0.5, 1.0);
        let point = SteadyEngine::new(&one.rig, &conditions).point(screw);
        let told = format!("case {item}, screw {screw}, {conditions:?}");
        let Some(state) = point.state() else {
            if let Some(Stall::Fold { lambda, .. } | Stall::TooSlow { lambda, .. }) = point.stall()
            {
                assert!(lambda.is_finite(), "{told}: a fold at no mixture");
            }
            continue;
        };
        for reading in READINGS {
            let value = reading.value(state);
            assert!(value.is_none_or(f64::is_finite), "{told}: {} = {value:?}", reading.name);
        }
        let parts = one.rig.parts();
        assert!((0.0..=1.0).contains(&state.duty), "{told}: duty {}", state.duty);
        assert!(state.wanted_duty.is_none_or(|d| (0.0..=1.0).contains(&d)), "{told}");
        assert!(
            (0.0..=parts.potentiometer.supply_v).contains(&state.potentiometer_v),
            "{told}: {} V",
            state.potentiometer_v
        );
        assert!((0.0..=1.0).contains(&state.misfire), "{told}: misfire {}", state.misfire);
        assert!(state.misfire >= state.mean_misfire, "{told}: the worst is better than the mean");
        assert!((0.0..=1.0).contains(&state.idle_valve), "{told}: valve {}", state.idle_valve);
        assert!(state.lambda > 0.0 && state.cov >= 0.0 && state.fuel_kg_s > 0.0, "{told}");
        assert!((0.0..=parts.sensor.rich_cap_v).contains(&state.sensor_v), "{told}");
    }
}

#[test]
fn turning_the_screw_in_never_leans() {
    for (item, one, conditions, mut noise) in cases(200, CASES) {
        let steady = SteadyEngine::new(&one.rig, &conditions);
        let (a, b) = (noise.between(-0.25, 0.5), noise.between(-0.25, 0.5));
        let (out, into) = (steady.point(a.min(b)), steady.point(a.max(b)));
        let (Some(out_state), Some(in_state)) = (out.state(), into.state()) else { continue };
        // A valve that comes to its limit in between is another engine.
        if out_state.valve_limit != in_state.valve_limit {
            continue;
        }
        assert!(
            in_state.lambda <= out_state.lambda * (1.0 + 1e-8),
            "case {item}: screw {} has lambda {}, screw {} has {} under {conditions:?}",
            out.screw_turns,
            out_state.lambda,
            into.screw_turns,
            in_state.lambda
        );
    }
}

/// The solver starts its walk near where it expects the engine; a fine walk from almost no
/// air at all must not find a running point on less.
#[test]
fn no_engine_runs_on_less_air_than_the_point_says() {
    let mut compared = 0;
    for (item, one, conditions, mut noise) in cases(250, 2000) {
        let held = Conditions {
            trim: Trim::Off,
            idle_air: IdleAir::Held,
            throttle: 0.0,
            actuator_a: None,
            ..conditions
        };
        let screw = noise.between(-0.3, 0.5);
        let steady = SteadyEngine::new(&one.rig, &held);
        let point = steady.point(screw);
        let Some(state) = point.state().filter(|state| state.valve_limit.is_none()) else {
            continue;
        };
        compared += 1;
        let mut p = 2000.0;
        while p < state.manifold_pa * (1.0 - 1e-6) {
            let surplus = steady.surplus_pa(screw, p);
            assert!(
                surplus < 0.0,
                "case {item}: runs at {p} Pa already, not {} Pa",
                state.manifold_pa
            );
            p *= 1.01;
        }
        assert!(steady.surplus_pa(screw, state.manifold_pa).abs() < 1e-3);
    }
    assert!(compared > 1000, "only {compared} idle");
}

#[test]
fn at_lambda_one_unmetered_air_never_raises_the_potentiometer() {
    for (item, one, conditions, mut noise) in cases(300, CASES / 2) {
        let held = Conditions {
            trim: Trim::On,
            idle_air: IdleAir::Held,
            throttle: 0.0,
            actuator_a: None,
            coolant_k: 363.15,
            ..conditions
        };
        let screw = noise.between(-0.1, 0.1);
        let with_leak = |kg_h: f64| {
            let conditions = Conditions { leak_kg_s: kg_h / 3600.0, ..held };
            SteadyEngine::new(&one.rig, &conditions).point(screw)
        };
        let (less, more) = (noise.between(0.0, 3.0), noise.between(3.0, 6.0));
        let (less, more) = (with_leak(less), with_leak(more));
        let free = |point: &Point| {
            point
                .state()
                .copied()
                .filter(|s| s.valve_limit.is_none() && s.duty < 1.0 - 1e-9 && s.duty > 1e-9)
        };
        let (Some(less), Some(more)) = (free(&less), free(&more)) else { continue };
        assert!(
            more.potentiometer_v <= less.potentiometer_v + 1e-9,
            "case {item}: {} V became {} V under {held:?}",
            less.potentiometer_v,
            more.potentiometer_v
        );
    }
}

#[test]
fn between_the_two_edges_lies_one_smoothest_setting() {
    let mut with_edges = 0;
    for (item, one, _, _) in cases(400, 600) {
        let conditions = one.conditions();
        let steady = SteadyEngine::new(&one.rig, &conditions);
        let edges = edges(&steady);
        let (Some(lean), Some(rich)) = (edges.lean, edges.rich) else { continue };
        with_edges += 1;
        let covs: Vec<f64> = (0..=60)
            .map(|i| lean + (rich - lean) * f64::from(i) / 60.0)
            .map(|screw| steady.point(screw).cov().unwrap_or(1.0))
            .collect();
        // The bottom is flat, and the flat-rich law has a kink there: the cylinders' shake
        // vanishes on one side of it. A tenth of a point of COV is no second minimum.
        let ripple = 1e-3;
        let least = (0..covs.len()).min_by(|a, b| covs[*a].total_cmp(&covs[*b])).unwrap();
        assert!(covs[..=least].windows(2).all(|w| w[1] <= w[0] + ripple), "case {item}: {covs:?}");
        assert!(covs[least..].windows(2).all(|w| w[1] >= w[0] - ripple), "case {item}: {covs:?}");
        assert!(covs.iter().all(|cov| *cov <= conditions.ear.cov + 1e-6), "case {item}: {covs:?}");
    }
    assert!(with_edges > 400, "only {with_edges} have both edges");
}

#[test]
fn the_engine_past_the_fold_says_so() {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { idle_air: IdleAir::Held, ..Conditions::default() };
    let steady = SteadyEngine::new(&rig, &conditions);
    let point = steady.point(-0.45);
    let stall = point.stall().expect("lambda 2 does not run");
    assert!(
        matches!(stall, Stall::Fold { .. } | Stall::TooSlow { .. } | Stall::NoFuel { .. }),
        "{stall:?}"
    );
}

#[test]
fn a_rig_stays_small_and_copies() {
    fn copies<T: Copy>() {}
    copies::<sim_core::rig::Rig>();
    let bytes = std::mem::size_of::<sim_core::rig::Rig>();
    assert!(bytes < 2048, "a rig takes {bytes} bytes");
}

/// An engine that stands says what it is short of: leaner and leaner of torque, by a pressure above 0,
/// held or at a fixed opening; with the slits shut of fuel.
#[test]
fn an_engine_that_stands_says_what_it_is_short_of() {
    use crate::support::{point, with, word};
    for idle_air in ["held", "fixed"] {
        let at = |screw: f64| point(&word(&with("six", &[("screw", screw)]), "idle_air", idle_air));
        let stands =
            (1..200).map(|i| at(-0.01 * f64::from(i))).find(|point| point.state().is_none());
        match stands.unwrap().stall() {
            Some(Stall::Fold { short_pa, .. } | Stall::TooSlow { short_pa, .. }) => {
                assert!(*short_pa > 0.0, "{idle_air}: short of {short_pa} Pa");
            }
            other => panic!("{idle_air}: {other:?}"),
        }
        assert!(matches!(at(-2.0).stall(), Some(Stall::NoFuel { .. })), "{:?}", at(-2.0).stall());
    }
}
