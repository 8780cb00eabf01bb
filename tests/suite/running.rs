//! The running engine: its stepper, its balances, its closed forms, and where it ends.

use sim_core::conditions::{Conditions, IdleAir, Trim};
use sim_core::ode::{OdeSystem, midpoint_step, reference, step};
use sim_core::rig::Rig;
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::seeded::relative;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::Options;
use sim_core::run::procedure::{Procedure, SHIPPED as PROCEDURES, parse, shipped as procedure};
use sim_core::run::record::{Record, perform};
use sim_core::run::settling::Series;
use sim_core::steady::SteadyEngine;

/// Growth that breathes, with its exact solution `exp(t + sin(t)/2)`; beside it its root.
struct Breathes;

impl OdeSystem<2> for Breathes {
    fn rate(&self, t: f64, x: &[f64; 2]) -> [f64; 2] {
        let pace = 1.0 + 0.5 * t.cos();
        [x[0] * pace, 0.5 * x[1] * pace]
    }
}

/// Speed limit of the engines that procedures are read for here (rad/s).
pub const LIMIT: f64 = 650.0;

/// Relative error of the exact solution at 20.
fn error_of(x: [f64; 2]) -> f64 {
    let exact = (20.0 + 0.5 * 20.0_f64.sin()).exp();
    (x[0] / exact - 1.0).abs().max((x[1] / exact.sqrt() - 1.0).abs())
}

fn stepped(n: u32) -> [f64; 2] {
    let h = 20.0 / f64::from(n);
    (0..n).fold([1.0, 1.0], |x, i| step(&Breathes, f64::from(i) * h, &x, h))
}

#[test]
fn the_stepper_is_of_fourth_order() {
    for n in [300, 600, 1200, 2400] {
        let order = (error_of(stepped(n)) / error_of(stepped(2 * n))).log2();
        println!("{n} steps: error {:e}, order {order}", error_of(stepped(n)));
        assert!((order - 4.0).abs() < 0.1, "{n} steps: order {order}");
    }
}

#[test]
fn the_step_of_calm_ticks_is_of_second_order() {
    let error = |n: u32| {
        let h = 20.0 / f64::from(n);
        let by = |x: [f64; 2], i| midpoint_step(&Breathes, f64::from(i) * h, &x, h);
        error_of((0..n).fold([1.0, 1.0], by))
    };
    for n in [1200, 2400, 4800] {
        let order = (error(n) / error(2 * n)).log2();
        assert!((order - 2.0).abs() < 0.1, "{n} steps: order {order}");
    }
}

#[test]
fn the_stepper_and_the_general_solver_agree() {
    let by_solver = reference(&Breathes, 0.0, &[1.0, 1.0], 20.0, 1e-13).unwrap();
    assert!(error_of(by_solver) < 1e-9, "{}", error_of(by_solver));
    assert!(error_of(stepped(20_000)) < 1e-11, "{}", error_of(stepped(20_000)));
}

pub fn setup(rig: &Rig, conditions: Conditions, keys: &[(&str, f64)]) -> Setup {
    let mut setup = Setup { rig: *rig, conditions };
    for (name, value) in keys {
        Key::find(name)
            .unwrap()
            .set(&mut setup, *value)
            .unwrap_or_else(|f| panic!("{name}: {f:?}"));
    }
    setup
}

pub fn left_alone(lasts_s: f64) -> Procedure {
    parse(&format!("name = \"left alone\"\nabout = \"nothing\"\nlasts_s = {lasts_s}"), LIMIT)
        .unwrap()
}

pub fn run(setup: &Setup, procedure: &Procedure, every_ticks: u64) -> Record {
    perform(setup, procedure, Options::default(), every_ticks, |_| {}).unwrap()
}

#[test]
fn air_and_fuel_balance_through_every_procedure() {
    for (rig_name, _) in SHIPPED {
        let rig = shipped(rig_name).unwrap().rig;
        let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
        for (name, _) in PROCEDURES {
            let record = run(&setup(&rig, conditions, &[]), &procedure(name).unwrap(), 100);
            assert!(record.mass_error < 1e-9, "{rig_name} {name}: {:e}", record.mass_error);
            assert!(record.stalled_at_s.is_none(), "{rig_name} {name} stalls");
        }
    }
}

/// Trim and friction off: the settled point is where the run stays.
#[test]
fn a_run_left_alone_stays_on_the_steady_point() {
    let bases: Vec<_> = SHIPPED.iter().map(|(name, _)| shipped(name).unwrap().rig).collect();
    let (mut compared, mut hunts) = (0, Vec::new());
    for item in 0..400 {
        let Some(one) = relative(&bases[item % 3], 21, item as u64, 0.3e-3) else { continue };
        let idle_air = if item % 4 == 0 { IdleAir::Fixed } else { IdleAir::Held };
        let conditions = Conditions { idle_air, ..one.conditions() };
        let keys = [("plunger_friction_n", 0.0), ("screw", 0.03 * ((item % 7) as f64 - 3.0))];
        let setup = setup(&one.rig, conditions, &keys);
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        let point = steady.point(setup.conditions.screw_turns);
        // What the steady point calls smooth and steady, from edge to edge.
        let stands = !sim_core::run::stability::hunts(&steady, setup.conditions.screw_turns);
        let Some(steady) =
            point.state().filter(|s| s.cov < 0.08 && s.valve_limit.is_none() && stands)
        else {
            continue;
        };
        let record = run(&setup, &left_alone(60.0), 50);
        let late = record.rows.iter().filter(|row| row.time_s > 40.0);
        let speeds: Vec<f64> = late.filter_map(|row| Some(row.state?.speed_rad_s)).collect();
        let spread =
            speeds.iter().fold(0.0_f64, |most, s| most.max((s / steady.speed_rad_s - 1.0).abs()));
        if record.last.is_none() || spread > 0.01 {
            hunts.push((item, steady.lambda));
            continue;
        }
        let last = record.last.unwrap();
        compared += 1;
        for (what, steady, run) in [
            ("lambda", steady.lambda, last.lambda),
            ("speed", steady.speed_rad_s, last.speed_rad_s),
            ("manifold", steady.manifold_pa, last.manifold_pa),
            ("potentiometer", steady.potentiometer_v, last.potentiometer_v),
            ("fuel", steady.fuel_kg_s, last.fuel_kg_s),
        ] {
            assert!((run / steady - 1.0).abs() < 1e-3, "{item}: {what} {steady} became {run}");
        }
    }
    println!("{compared} stay, {} hunt: {hunts:?}", hunts.len());
    assert!(hunts.is_empty(), "they hunt: {hunts:?}");
    assert!(compared >= 100, "only {compared}");
}

/// Trim and friction on, disturbed by a blip: the means over whole swings come back to the
/// steady point, whose trim knows the mixture it asks for. The friction may leave the plunger
/// anywhere in its band, so the current may lie as far off as that band.
#[test]
fn after_a_blip_the_means_over_a_swing_are_the_steady_point_s() {
    let bases: Vec<_> = SHIPPED.iter().map(|(name, _)| shipped(name).unwrap().rig).collect();
    let text = "name = \"x\"\nabout = \"y\"\nlasts_s = 100\n[[action]]\nat_s = 2\nblip = 2500\n";
    let blip = parse(text, LIMIT).unwrap();
    let (mut compared, mut others, mut worst) = (0, Vec::new(), [0.0_f64; 5]);
    for item in 0..250 {
        let Some(one) = relative(&bases[item % 3], 22, item as u64, 0.3e-3) else { continue };
        let conditions = Conditions { trim: Trim::On, ..one.conditions() };
        let setup = setup(&one.rig, conditions, &[("screw", 0.01 * ((item % 7) as f64 - 3.0))]);
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        let point = steady.point(setup.conditions.screw_turns);
        let within = |duty: f64| (0.1..0.9).contains(&duty);
        let Some(steady) =
            point.state().filter(|s| s.cov < 0.08 && s.valve_limit.is_none() && within(s.duty))
        else {
            continue;
        };
        let record = run(&setup, &blip, 50);
        let Some(last) = record.last else {
            others.push((item, steady.lambda, record.stalled_at_s));
            continue;
        };
        compared += 1;
        for (i, (what, steady, run)) in [
            ("lambda", steady.lambda, last.lambda),
            ("speed", steady.speed_rad_s, last.speed_rad_s),
            ("manifold", steady.manifold_pa, last.manifold_pa),
            ("potentiometer", steady.potentiometer_v, last.potentiometer_v),
            ("fuel", steady.fuel_kg_s, last.fuel_kg_s),
        ]
        .into_iter()
        .enumerate()
        {
            let off = (run / steady - 1.0).abs();
            worst[i] = worst[i].max(off);
            assert!(off < 5e-3, "{item}: {what} {steady} became {run}");
        }
    }
    println!("{compared} come back, {worst:?}; stalled: {others:?}");
    assert!(compared >= 100, "only {compared}");
    assert!(others.is_empty(), "they stall: {others:?}");
}

#[test]
fn after_a_move_of_the_screw_the_trim_centres_in_the_time_of_its_learner() {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let record = run(&setup(&rig, conditions, &[]), &procedure("screw-step").unwrap(), 10);
    assert!(record.stalled_at_s.is_none());
    let last = record.last.unwrap();
    assert!((last.lambda - 1.0).abs() < 0.005, "lambda {}", last.lambda);
    // A thirty-second leaner needs the trim to add fuel.
    let first = record.rows[0].state.unwrap();
    assert!(last.duty > first.duty + 0.1, "{} {}", first.duty, last.duty);
    let mid = |from: f64, to: f64| {
        let rows: Vec<f64> = record
            .rows
            .iter()
            .filter(|row| (from..to).contains(&row.time_s))
            .map(|row| row.state.unwrap().lambda)
            .collect();
        rows.iter().sum::<f64>() / rows.len() as f64
    };
    assert!(mid(10.3, 11.0) > 1.02, "lean at first: {}", mid(10.3, 11.0));
    assert!((mid(40.0, 58.0) - 1.0).abs() < 0.01, "trimmed later: {}", mid(40.0, 58.0));
}

#[test]
fn a_pulled_lambda_sensor_leaves_the_base_current() {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let record = run(&setup(&rig, conditions, &[]), &procedure("sensor-unplug").unwrap(), 10);
    let at = |time: f64| {
        let row = record.rows.iter().find(|row| row.time_s >= time).unwrap();
        row.state.unwrap()
    };
    assert!((1e3 * at(50.0).actuator_a - 10.0).abs() < 1e-9, "{}", at(50.0).actuator_a);
    assert!((at(50.0).duty - 0.5).abs() < 1e-9);
    assert!(at(50.0).lambda < 0.97, "the static setting is rich: {}", at(50.0).lambda);
}

#[test]
fn the_same_seed_gives_the_same_run() {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let setup = setup(&rig, conditions, &[]);
    let with = |seed: u64| {
        let options = Options { seed, torque_noise: true, ..Options::default() };
        perform(&setup, &left_alone(20.0), options, 50, |_| {}).unwrap()
    };
    assert_eq!(with(3), with(3));
    assert_ne!(with(3).rows, with(4).rows);
    assert!(with(3).stalled_at_s.is_none());
}

#[test]
fn a_series_has_settled_when_it_stays() {
    let after = |f: &dyn Fn(f64) -> f64, action_s: f64| {
        let values = (0..=1000).map(|i| f(0.1 * f64::from(i))).collect();
        Series { start_s: 0.0, step_s: 0.1, values }.settled_after(action_s)
    };
    // An exponential from 1 to 0 with tau 5 from t = 10: within 0.5 % after 5 ln 200.
    let decay = |t: f64| if t < 10.0 { 1.0 } else { (-(t - 10.0) / 5.0).exp() };
    let settled = after(&decay, 10.0).unwrap();
    assert!((settled - 5.0 * 200.0_f64.ln()).abs() < 0.2, "{settled}");
    assert_eq!(after(&|_| 3.0, 10.0), Some(0.0));
    assert_eq!(after(&|t| t, 10.0), None);
}

#[test]
fn procedures_are_checked_like_rig_files() {
    use sim_core::rig::file::FaultKind;
    for (name, text) in PROCEDURES {
        assert_eq!(parse(text, LIMIT).unwrap().name, *name);
    }
    let file = |actions: &str| format!("name = \"x\"\nabout = \"y\"\nlasts_s = 60\n{actions}");
    let fault = |actions: &str| parse(&file(actions), LIMIT).expect_err(actions);
    let one = |line: &str| fault(&format!("[[action]]\nat_s = 5\n{line}\n"));
    assert!(matches!(one("turm = 1").kind, FaultKind::UnknownKey { nearest: Some("turn"), .. }));
    assert_eq!(one("turm = 1").spot.unwrap().line, 6);
    assert!(matches!(one("").kind, FaultKind::NoAction));
    assert!(matches!(one("turn = 1\nblip = 2000").kind, FaultKind::TwoActions));
    assert!(matches!(one("blip = 9000").kind, FaultKind::NumberOutOfRange { value: 9000.0, .. }));
    assert!(matches!(one("turn = \"1/0\"").kind, FaultKind::NumberOutOfRange { .. }));
    assert!(matches!(one("turn = nan").kind, FaultKind::NumberOutOfRange { .. }));
    assert!(matches!(one("unplug = \"battery\"").kind, FaultKind::UnknownWord { .. }));
    assert!(matches!(
        one("set = \"ptich_mm=1\"").kind,
        FaultKind::UnknownKey { nearest: Some("pitch_mm"), .. }
    ));
    assert!(matches!(one("set = \"pitch_mm=90\"").kind, FaultKind::OutOfRange { .. }));
    assert!(matches!(one("set = \"trim=maybe\"").kind, FaultKind::UnknownWord { .. }));
    let back = "[[action]]\nat_s = 9\nturn = 0.1\n[[action]]\nat_s = 5\nturn = 0.1\n";
    assert!(matches!(fault(back).kind, FaultKind::TimeGoesBack { .. }));
    let late = "[[action]]\nat_s = 90\nturn = 0.1\n";
    assert!(matches!(fault(late).kind, FaultKind::NumberOutOfRange { .. }));
    assert!(matches!(parse("", LIMIT).unwrap_err().kind, FaultKind::Empty));
    assert!(matches!(
        parse("name = \"x\"\nabout = \"y\"\nlasts_s = 0", LIMIT).unwrap_err().kind,
        FaultKind::NumberOutOfRange { .. }
    ));
    // A stall in mid-procedure is a result.
    let rig = shipped("six").unwrap().rig;
    let text = file("[[action]]\nat_s = 5\nturn = \"-1/2\"\n[[action]]\nat_s = 20\nblip = 2500\n");
    let record = run(&setup(&rig, Conditions::default(), &[]), &parse(&text, LIMIT).unwrap(), 10);
    let at = record.stalled_at_s.expect("half a turn out stalls it");
    assert!((5.0..20.0).contains(&at), "{at}");
    assert!(record.last.is_none() && record.rows.last().unwrap().state.is_none());
}
