//! Plate and crank in motion: friction, stiffness, cycles that scatter.

use crate::support::*;
use sim_core::run::{Engine, Options};
use sim_core::units::Unit;
use std::f64::consts::PI;

/// Friction holds back: a plate that came from below stays a little low, one that came from
/// above a little high, and the mixture with it.
#[test]
fn friction_of_the_plunger_holds_the_plate_back_on_both_ways() {
    let setup = aimed(&with("six", &[("plunger_friction_n", 2.0)]));
    let mut engine = engine(&setup);
    let mut rests = |share: f64| {
        drive(&mut engine, share, 2000.0);
        go_on(&mut engine, 10.0);
        let state = now(&engine);
        (1e3 * state.plate_lift_m, state.lambda)
    };
    let from_below = rests(0.10);
    rests(0.20);
    let from_above = rests(0.10);
    assert!(
        from_above.0 > from_below.0 + 0.05,
        "lift {} mm from below, {} mm from above",
        from_below.0,
        from_above.0
    );
    assert!(from_above.1 < from_below.1 - 0.01, "lambda {} and {}", from_below.1, from_above.1);
    // No further than the band that is told, twice over for both ways.
    let told = shown(&running(&setup), "friction_band_percent");
    let apart = 100.0 * (from_below.1 / from_above.1 - 1.0);
    assert!(apart < 2.2 * told, "lambda is {apart} % apart, the band is {told} % either way");
}

/// A plate of 20 g that hardly damps swings at 70 Hz about its balance at idle, where nothing
/// else asks for short steps: the fixed steps must follow it as the general solver does.
#[test]
fn a_light_and_lively_plate_is_followed_as_by_the_general_solver() {
    let keys = [("plate_kg", 0.02), ("plate_damping_ns_m", 5.0), ("plunger_friction_n", 0.0)];
    let setup = aimed(&with("six", &keys));
    let trace = |solver_tolerance: Option<f64>| {
        let options = Options { solver_tolerance, ..Options::default() };
        let mut engine = Engine::new(&setup, options).unwrap();
        set(&mut engine, &[("leak_kg_h", 4.0)]);
        let tick = |engine: &mut Engine| {
            engine.tick().unwrap_or_else(|fault| panic!("{solver_tolerance:?}: {fault:?}"));
            1e3 * now(engine).plate_lift_m
        };
        (0..800).map(|_| tick(&mut engine)).collect::<Vec<f64>>()
    };
    let (steps, solver) = (trace(None), trace(Some(1e-8)));
    let range = solver[0] - solver.iter().fold(f64::MAX, |least, lift| least.min(*lift));
    let off = steps.iter().zip(&solver).fold(0.0_f64, |most, (a, b)| most.max((a - b).abs()));
    assert!(range > 0.02, "the leak moves the plate by {range} mm");
    assert!(off < 0.02 * range, "{off} mm off the general solver's, of {range} mm");
}

/// Each firing scatters by itself. Several in one tick make the mean of theirs, so the speed
/// walks from tick to tick by the torque's scatter over the root of their number.
#[test]
fn several_firings_in_one_tick_scatter_less_than_one() {
    let keys = [("scatter_deg", 6.0), ("speed_rpm", 5500.0)];
    let setup = aimed(&with("six", &keys));
    let setup = and(&setup, &[("limit_rpm", 9000.0)]);
    let mut ratios = Vec::new();
    for seed in 1..4 {
        let options = Options { seed, torque_noise: true, ..Options::default() };
        let mut engine = Engine::new(&setup, options).unwrap();
        hold(&mut engine, 0.5, 5500.0);
        go_on(&mut engine, 6.0);
        let mut speeds = vec![engine.speed_rad_s()];
        let (mut cov, mut brake) = (0.0, 0.0);
        for _ in 0..1000 {
            engine.tick().unwrap();
            speeds.push(engine.speed_rad_s());
            cov += engine.cov() / 1000.0;
            brake += now(&engine).brake_nm / 1000.0;
        }
        let steps: Vec<f64> = speeds.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        let square = steps.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / steps.len() as f64;
        // Rubbing, accessories and pumping take about 3.3 bar at that speed.
        let indicated = brake + 3.3e5 * 2.8e-3 / (4.0 * PI);
        let firings = 5500.0 / 60.0 * 3.0 * 0.010;
        let one = indicated * cov / f64::sqrt(firings) * 0.010 / told(&setup, "inertia_kg_m2");
        ratios.push(square.sqrt() / one);
    }
    let mean = ratios.iter().sum::<f64>() / ratios.len() as f64;
    assert!(
        (0.9..1.25).contains(&mean),
        "the speed walks by {mean} of what 2.75 firings a tick make, each seed {ratios:?}"
    );
}

/// Fuel cut, foot off: what slows the crank is rubbing, accessories and pumping, over its
/// inertia. Motored at wide-open throttle such engines take 1.47 bar at 2000 rpm (Heywood
/// 1988, eq. 13.6, from memory), about a tenth of a bar of it pumping; the rig adds 0.4 bar of
/// accessories.
#[test]
fn without_fuel_the_crank_slows_as_its_drag_and_its_inertia_say() {
    let setup = aimed(&with("six", &[]));
    let mut engine = engine(&setup);
    hold(&mut engine, 0.2, 2600.0);
    go_on(&mut engine, 10.0);
    let_go(&mut engine);
    set(&mut engine, &[("actuator_ma", -50.0)]);
    let rpm = |engine: &Engine| Unit::Rpm.from_si(engine.speed_rad_s());
    let (mut count, mut manifold_pa) = (0, 0.0);
    while rpm(&engine) > 2200.0 {
        engine.tick().unwrap();
    }
    let from = engine.speed_rad_s();
    while rpm(&engine) > 1800.0 {
        engine.tick().unwrap();
        manifold_pa += now(&engine).manifold_pa;
        count += 1;
    }
    let slows = (from - engine.speed_rad_s()) / (0.010 * f64::from(count));
    let pumping_pa = 101_325.0 + 1e3 - manifold_pa / f64::from(count);
    let drag_nm = (1.37e5 + 0.4e5 + pumping_pa) * 2.8e-3 / (4.0 * PI);
    near(slows, drag_nm / told(&setup, "inertia_kg_m2"), 0.05, "rad/s lost in a second");
}
