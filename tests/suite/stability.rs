//! Whether an idle stands by itself: the linear engine against the kicked running one, and
//! against a count of its modes.

use crate::running::setup;
use sim_core::conditions::{Conditions, IdleAir};
use sim_core::point::Mode;
use sim_core::rig::keys::Setup;
use sim_core::rig::seeded::relative;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::stability::{Control, Linear};
use sim_core::run::{Action, Engine, Options};
use sim_core::steady::SteadyEngine;
use std::f64::consts::PI;

/// A complex number, as far as a polynomial's roots need one.
type Pair = (f64, f64);

fn times(a: Pair, b: Pair) -> Pair {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

fn over(a: Pair, b: Pair) -> Pair {
    let size = b.0 * b.0 + b.1 * b.1;
    let up = times(a, (b.0, -b.1));
    (up.0 / size, up.1 / size)
}

/// Roots of `z^n - c1 z^(n-1) - ... - cn`. Source: Durand-Kerner iteration.
fn roots(c: &[f64]) -> Vec<Pair> {
    let value = |z: Pair| {
        c.iter().fold((1.0, 0.0), |sum, c| {
            let up = times(sum, z);
            (up.0 - c, up.1)
        })
    };
    let mut found: Vec<Pair> = (0..c.len())
        .map(|i| ((1.0 + 2.0 * i as f64).cos(), (1.0 + 2.0 * i as f64).sin()))
        .collect();
    for _ in 0..500 {
        for i in 0..found.len() {
            let below = (0..found.len()).filter(|j| *j != i).fold((1.0, 0.0), |product, j| {
                times(product, (found[i].0 - found[j].0, found[i].1 - found[j].1))
            });
            let step = over(value(found[i]), below);
            found[i] = (found[i].0 - step.0, found[i].1 - step.1);
        }
    }
    found
}

/// The poles that predict a series from its own past, by least squares. Source: Prony 1795.
fn poles(series: &[f64], order: usize) -> Vec<Pair> {
    let mut rows = vec![vec![0.0; order + 1]; order];
    for past in series.windows(order + 1) {
        let weight = 1.0 / past.iter().map(|x| x * x).sum::<f64>();
        for i in 0..order {
            for j in 0..=order {
                let by = if j < order { past[order - 1 - j] } else { past[order] };
                rows[i][j] += weight * past[order - 1 - i] * by;
            }
        }
    }
    for i in 0..order {
        let most = (i..order).max_by(|a, b| rows[*a][i].abs().total_cmp(&rows[*b][i].abs()));
        rows.swap(i, most.unwrap());
        let pivot = rows[i].clone();
        for (_, row) in rows.iter_mut().enumerate().filter(|(other, _)| *other != i) {
            let share = row[i] / pivot[i];
            for (cell, at_pivot) in row.iter_mut().zip(&pivot).skip(i) {
                *cell -= share * at_pivot;
            }
        }
    }
    roots(&(0..order).map(|i| rows[i][order] / rows[i][i]).collect::<Vec<f64>>())
}

/// Growth (1/s) and turn (rad/s) of what a small kick leaves in the running engine.
fn kicked(setup: &Setup, mode: &Mode) -> (f64, f64) {
    let rest = |kick: f64| {
        // Worked out finely: a tick's own error is of the size of what is looked for.
        let options = Options { finer: 8, ..Options::default() };
        let mut engine = Engine::new(setup, options).unwrap();
        engine.apply(&Action::Kick(kick)).unwrap();
        let mut speeds = Vec::new();
        for _ in 0..500 {
            engine.tick().unwrap();
            speeds.push(engine.speed_rad_s());
        }
        speeds
    };
    // What grows must still be small where it is last looked at, or it is no longer linear.
    let kick = 0.02 * (-3.0 * mode.growth_per_s.max(0.0)).exp();
    let left: Vec<f64> = rest(kick).iter().zip(rest(0.0)).map(|(a, b)| a - b).collect();
    // From where the quickest modes have gone to where the slow one is lost: the mode, a
    // slow creep of the control and one quicker mode.
    let every = ((2.0 * PI / mode.turn_rad_s) * 100.0 / 16.0).round().max(2.0) as usize;
    let from = 60;
    let to = from + ((450.0 / mode.growth_per_s.abs()).min(440.0) as usize);
    let seen: Vec<f64> = left[from..to].iter().copied().step_by(every).collect();
    let every_s = 0.01 * every as f64;
    poles(&seen, 4)
        .into_iter()
        .map(|(re, im)| (re.hypot(im).ln() / every_s, im.atan2(re) / every_s))
        .min_by(|a, b| {
            let off = |p: &Pair| (p.0 - mode.growth_per_s).hypot(p.1 - mode.turn_rad_s);
            off(a).total_cmp(&off(b))
        })
        .unwrap()
}

#[test]
fn a_kicked_engine_swings_as_the_linear_one_says() {
    let mut worst = 0.0_f64;
    let mut compared = 0;
    for (name, _) in SHIPPED {
        let rig = shipped(name).unwrap().rig;
        for idle_air in [IdleAir::Held, IdleAir::Fixed] {
            for i in -2..=9 {
                let screw_turns = f64::from(i) / 64.0;
                let conditions = Conditions { idle_air, ..Conditions::default() };
                let keys = [("plunger_friction_n", 0.0), ("screw", screw_turns)];
                let setup = setup(&rig, conditions, &keys);
                let Ok(Some(linear)) = Linear::about(&setup) else { continue };
                let Some(mode) = linear.slowest().filter(|mode| mode.turn_rad_s > 0.0) else {
                    continue;
                };
                // Quicker ones are lost among the rest before they can be read.
                if mode.growth_per_s < -1.6 || mode.damping() > 0.45 {
                    continue;
                }
                let (growth, turn) = kicked(&setup, &mode);
                let off = ((growth - mode.growth_per_s).hypot(turn - mode.turn_rad_s))
                    / mode.growth_per_s.hypot(mode.turn_rad_s);
                println!(
                    "{name} {idle_air:?} {screw_turns:+.3}: {growth:.3}~{turn:.3}, {:.3}~{:.3}, off {off:.4}",
                    mode.growth_per_s, mode.turn_rad_s
                );
                worst = worst.max(off);
                compared += 1;
            }
        }
    }
    println!("{compared} compared, worst {worst:.4}");
    // None is taken for the creep of the control: a creep does not turn, and is not compared.
    assert!(compared >= 45, "{compared}");
    assert!(worst < 0.01, "{worst}");
}

/// How often a complex function turns about zero along the edge of a box: as many zeros as
/// lie in it. Source: argument principle.
fn zeros_in(linear: &Linear, (low, high): (f64, f64), most_turn: f64) -> f64 {
    // Along the real axis the box would cut modes that do not oscillate: it is symmetric.
    let corners = [(low, -most_turn), (high, -most_turn), (high, most_turn), (low, most_turn)];
    let value = |re: f64, im: f64| linear.characteristic(sim_core::run::stability::at(re, im));
    let mut turned = 0.0;
    for i in 0..4 {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let steps = 4000;
        let mut before = value(a.0, a.1);
        for step in 1..=steps {
            let t = f64::from(step) / f64::from(steps);
            let now = value(a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
            turned += (now / before).arg();
            before = now;
        }
    }
    turned / (2.0 * PI)
}

#[test]
fn no_mode_to_the_right_of_minus_three_is_missed() {
    for (name, _) in SHIPPED {
        let rig = shipped(name).unwrap().rig;
        for coolant_degc in [90.0, 20.0, -15.0] {
            for i in -6..=12 {
                let screw_turns = f64::from(i) / 48.0;
                let keys = [("coolant_degc", coolant_degc), ("screw", screw_turns)];
                let setup = setup(&rig, Conditions::default(), &keys);
                if SteadyEngine::new(&rig, &setup.conditions).point(screw_turns).state().is_none() {
                    continue;
                }
                let Ok(Some(linear)) = Linear::about(&setup) else { continue };
                for linear in [linear.clone(), linear.with_fixed_air()] {
                    let modes = linear.modes();
                    // A box whose edge keeps clear of every mode found.
                    let low = [-3.0, -2.9, -2.8, -2.7]
                        .into_iter()
                        .find(|low| modes.iter().all(|m| (m.growth_per_s - low).abs() > 0.02));
                    let Some(low) = low else { continue };
                    let found: f64 = modes
                        .iter()
                        .filter(|m| m.growth_per_s > low && m.turn_rad_s < 25.0)
                        .map(|m| if m.turn_rad_s > 0.0 { 2.0 } else { 1.0 })
                        .sum();
                    let counted = zeros_in(&linear, (low, 20.0), 25.0);
                    assert!(
                        (counted - found).abs() < 1e-3,
                        "{name} {coolant_degc} {screw_turns}: {counted} modes, {modes:?}"
                    );
                }
            }
        }
    }
}

/// No badly damped mode is found where none was counted before: more may be counted, as the
/// delays make modes too quick to be looked for.
#[test]
fn no_fewer_badly_damped_modes_are_counted_than_are_found() {
    let base = shipped("six").unwrap().rig;
    let (mut with_some, mut agree, mut all) = (0, 0, 0);
    for item in 0..60 {
        let Some(relative) = relative(&base, 5, item, 3e-4) else { continue };
        let steady = SteadyEngine::new(&relative.rig, &relative.conditions());
        for i in -6..=12 {
            let Ok(Some(linear)) = Linear::of(&steady, f64::from(i) / 32.0) else { continue };
            for ratio in [0.0, 0.1, 0.3] {
                let found = linear.modes().into_iter().filter(|mode| mode.damping() < ratio);
                let found: u32 = found.map(|m| if m.turn_rad_s > 0.0 { 2 } else { 1 }).sum();
                let counted = linear.damped_less(ratio);
                assert!(counted >= found, "item {item}, {i}/32, {ratio}: {counted}, {found} found");
                with_some += u32::from(found > 0);
                if ratio < 0.2 {
                    (agree, all) = (agree + u32::from(counted == found), all + 1);
                }
            }
        }
    }
    assert!(with_some > 100 && 10 * agree > 9 * all, "{with_some}, {agree} of {all} agree");
}

/// What a damping ratio means: of a swing damped by `z` there is `exp(-2 pi z / sqrt(1 - z^2))` left
/// after each turn; without a turn it is 1, or -1 where it grows.
#[test]
fn a_damping_ratio_is_what_a_swing_loses_in_a_turn() {
    use sim_core::point::Mode;
    let mode = |growth_per_s: f64, turn_rad_s: f64| Mode { growth_per_s, turn_rad_s };
    for mode in [mode(-0.3, 4.0), mode(-2.0, 1.5), mode(0.5, 3.0)] {
        let (ratio, period_s) = (mode.damping(), mode.period_s().unwrap());
        let left = (-2.0 * std::f64::consts::PI * ratio / (1.0 - ratio * ratio).sqrt()).exp();
        assert!((left / (mode.growth_per_s * period_s).exp() - 1.0).abs() < 1e-9, "{ratio}");
    }
    assert_eq!((mode(-2.0, 0.0).damping(), mode(2.0, 0.0).damping()), (1.0, -1.0));
    assert_eq!((mode(0.0, 0.0).damping(), mode(-2.0, 0.0).period_s()), (0.0, None));
}

/// What a margin says happens: with the control's gain raised by less than its margin a slow
/// swing dies away, by more it grows; so for its fall, where it has one.
#[test]
fn past_its_gain_margin_the_control_hunts() {
    let mut met = 0;
    for (name, _) in SHIPPED {
        for lag in [1.0, 4.0] {
            let base = shipped(name).unwrap().rig;
            let about = Linear::about(&setup(&base, Conditions::default(), &[])).unwrap().unwrap();
            let control = about.control().unwrap();
            let control = Control { valve_lag_s: lag * control.valve_lag_s, ..control };
            let margins = about.with_control(control).margins().unwrap();
            let fastest = |db: f64| {
                let by = 10.0_f64.powf(db / 20.0);
                let (kp, ki, lead) = (by * control.kp, by * control.ki, by * control.lead);
                let modes = about.with_control(Control { kp, ki, lead, ..control }).modes();
                modes.iter().map(|mode| mode.growth_per_s).fold(f64::NEG_INFINITY, f64::max)
            };
            let at = format!("{name}, lag times {lag}: {margins:?}");
            assert!(fastest(0.0) < 0.0 && margins.gain_up_db.is_finite(), "{at}");
            assert!(fastest(margins.gain_up_db - 0.1) < 0.0, "{at}");
            assert!(fastest(margins.gain_up_db + 0.1) > 0.0, "{at}");
            met += 1;
        }
    }
    assert_eq!(met, 6);
}

/// The phase margin is the lag that brings the open loop onto -1: with it the loop passes there,
/// with some less it keeps off.
#[test]
fn a_lag_of_its_phase_margin_brings_the_loop_onto_minus_one() {
    for (name, _) in SHIPPED {
        let base = shipped(name).unwrap().rig;
        let about = Linear::about(&setup(&base, Conditions::default(), &[])).unwrap().unwrap();
        let control = about.control().unwrap();
        for by in [1.0, 3.0] {
            let (kp, ki, lead) = (by * control.kp, by * control.ki, by * control.lead);
            let linear = about.with_control(Control { kp, ki, lead, ..control });
            let margins = linear.margins().unwrap();
            let nearest = |lag_deg: f64| {
                let lagged = |turn: f64| {
                    let gain = linear.loop_gain(turn).unwrap();
                    let (size, angle) = (gain.norm(), gain.arg() - lag_deg.to_radians());
                    (1.0 + size * angle.cos()).hypot(size * angle.sin())
                };
                let turns = (0..20_000).map(|i| 0.05 * 1200.0_f64.powf(f64::from(i) / 20_000.0));
                turns.map(lagged).fold(f64::INFINITY, f64::min)
            };
            let at = format!("{name}, gain times {by}: {margins:?}");
            assert!(margins.phase_deg > 5.0 && margins.phase_deg < 180.0, "{at}");
            assert!(nearest(margins.phase_deg) < 0.02, "{at}: {}", nearest(margins.phase_deg));
            for less_deg in [4.0, 8.0] {
                assert!(nearest(margins.phase_deg - less_deg) > 0.03, "{at}, {less_deg} deg less");
            }
            assert!((margins.sensitivity * nearest(0.0) - 1.0).abs() < 0.02, "{at}");
        }
    }
}

/// Hunting is put down to the mixture where that is lean or rich, and to neither about lambda 1:
/// with an ear that calls every swing hunting.
#[test]
fn a_swing_is_called_lean_or_rich_by_the_mixture_and_neither_between() {
    use sim_core::engine::roughness::RoughBy;
    use sim_core::point::Zone;
    use sim_core::run::stability::point_with_mode;
    let mut conditions = Conditions::default();
    (conditions.ear.damping, conditions.ear.cov, conditions.ear.misfire) = (2.0, 1.0, 1.0);
    let heard = |lambda: f64| {
        let base = shipped("six").unwrap().rig;
        let setup = setup(&base, conditions, &[]);
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        let screw = |turns: f64| steady.point(turns).state().map_or(9.0, |state| state.lambda);
        // Further in is richer.
        let (mut lean, mut rich) = (-0.5, 0.5);
        for _ in 0..50 {
            let middle = 0.5 * (lean + rich);
            if screw(middle) > lambda { lean = middle } else { rich = middle }
        }
        let state = *point_with_mode(&steady, rich).state().unwrap();
        assert!((state.lambda - lambda).abs() < 1e-3, "{} for {lambda}", state.lambda);
        (state.zone, state.rough_by)
    };
    for (lambda, zone) in
        [(0.8, Zone::RoughRich), (0.95, Zone::Rough), (1.03, Zone::Rough), (1.08, Zone::RoughLean)]
    {
        assert_eq!(heard(lambda), (zone, Some(RoughBy::Hunting)), "lambda {lambda}");
    }
}

/// A run ends with the mode of the point that it stands at: with the lambda sensor unplugged that
/// is where the screw leaves the mixture, not where the loop would have it.
#[test]
fn the_mode_at_the_end_of_a_run_is_that_of_the_mixture_it_runs_on() {
    use crate::support::{and, car, recorded, word};
    use sim_core::run::stability::point_with_mode;
    let closed = and(&car("six"), &[("screw", 0.06)]);
    let open = word(&closed, "trim", "off");
    let settled = |setup: &Setup| {
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        point_with_mode(&steady, setup.conditions.screw_turns).state().unwrap().mode.unwrap()
    };
    let ended = |actions: &[(f64, Action)]| {
        recorded(&closed, 120.0, 100, actions).last.unwrap().mode.unwrap()
    };
    let off =
        |a: Mode, b: Mode| (a.growth_per_s - b.growth_per_s).hypot(a.turn_rad_s - b.turn_rad_s);
    let (with_loop, without) = (settled(&closed), settled(&open));
    let apart = off(with_loop, without);
    assert!(apart > 0.05, "{with_loop:?}, {without:?}");
    assert!(off(ended(&[(1.0, Action::PlugSensor(false))]), without) < 0.02 * apart);
    assert!(off(ended(&[(1.0, Action::PlugSensor(true))]), with_loop) < 0.02 * apart);
}
