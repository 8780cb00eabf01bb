//! The controller in a run: limits, loops and what it learns, as a driver would find them.

use crate::support::*;
use sim_core::control::cells::{Cells, Moment, Taught};
use sim_core::point::Stall;
use sim_core::rig::keys::Setup;
use sim_core::run::{Engine, Options};
use sim_core::units::Unit;

fn closed(setup: &Setup) -> Setup {
    word(setup, "trim", "on")
}

fn rpm(engine: &Engine) -> f64 {
    Unit::Rpm.from_si(engine.speed_rad_s())
}

fn ma(engine: &Engine) -> f64 {
    shown(&now(engine), "actuator_ma")
}

/// A throttle held open against a brake that bites only above the limit.
#[test]
fn above_its_speed_limit_the_engine_gets_no_fuel_until_it_is_well_below() {
    let mut engine = engine(&aimed(&with("six", &[("limit_rpm", 3000.0)])));
    hold(&mut engine, 0.3, 4500.0);
    let (mut cuts, mut returns, mut most) = (Vec::new(), Vec::new(), 0.0_f64);
    let mut before = false;
    for _ in 0..2000 {
        engine.tick().unwrap();
        let (cut, speed) = (engine.fuel_is_cut(), rpm(&engine));
        most = most.max(speed);
        if cut && !before {
            cuts.push(speed);
        } else if before && !cut {
            returns.push(speed);
        }
        if cut {
            assert_eq!(now(&engine).fuel_kg_s, 0.0, "fuel flows at {speed} rpm while it is cut");
        }
        before = cut;
    }
    assert!(cuts.len() > 2, "the fuel was cut {} times in 20 s, most speed {most}", cuts.len());
    assert!(most < 3300.0, "it ran to {most} rpm with a limit of 3000");
    // The driver of the speed within a tick: a few rpm.
    assert!(cuts.iter().all(|speed| (2990.0..3100.0).contains(speed)), "cut at {cuts:?}");
    let band = |speed: &f64| (2700.0..2900.0).contains(speed);
    assert!(returns.iter().all(band), "fuel came back at {returns:?}");
}

/// The same limit in the settled engine: what the run would cut there is no running point.
#[test]
fn no_settled_engine_stands_above_the_limit_that_cuts_its_fuel() {
    let keys = |rpm: f64| [("limit_rpm", 3000.0), ("throttle_percent", 30.0), ("speed_rpm", rpm)];
    let at = |rpm: f64| point(&with("six", &keys(rpm)));
    assert!(at(2990.0).state().is_some(), "it runs below its limit: {:?}", at(2990.0).stall());
    let above = at(3010.0);
    assert!(matches!(above.stall(), Some(Stall::FuelCut { .. })), "{:?}", above.stall());
}

/// A gear changed is no overrun, a slow engine would die of the cut, and a cold one needs the
/// fuel on its walls: common practice, no source.
#[test]
fn the_overrun_is_cut_on_a_warm_engine_above_a_speed_and_after_a_moment() {
    let cuts = |keys: &[(&str, f64)], to_rpm: f64| {
        let mut engine = engine(&with("six", keys));
        go_on(&mut engine, 1.0);
        blip(&mut engine, to_rpm);
        (0..600).any(|_| {
            engine.tick().unwrap();
            engine.fuel_is_cut()
        })
    };
    let warm = ("coolant_degc", 80.0);
    assert!(cuts(&[warm], 4000.0), "warm, from 4000 rpm");
    assert!(!cuts(&[("coolant_degc", 40.0)], 4000.0), "cold, from 4000 rpm");
    let slow = 0.8 * told(&with("six", &[]), "cut_above_rpm");
    assert!(!cuts(&[warm], slow), "warm, from {slow} rpm");
    assert!(!cuts(&[warm, ("cut_after_s", 9.0)], 4000.0), "no overrun lasts nine seconds");
}

/// Heywood 1988, sect. 9.4 (from memory): most torque lies at lambda 0.88 to 0.95. The switch
/// of the wide-open throttle takes the mixture there and opens the loop.
#[test]
fn at_full_load_the_mixture_is_enriched_to_that_of_most_torque() {
    let setup = closed(&aimed(&with("six", &[])));
    let settled = |setup: &Setup, share: f64| {
        let mut engine = engine(setup);
        hold(&mut engine, share, 1900.0);
        go_on(&mut engine, 20.0);
        engine
    };
    let without = now(&settled(&failed(&setup, "throttle-switch", "no-full"), 1.0));
    let full = settled(&setup, 1.0);
    let with = now(&full);
    assert!(with.lambda < 0.98 * without.lambda, "{} and {}", with.lambda, without.lambda);
    assert!(
        with.brake_nm > 1.003 * without.brake_nm,
        "{} N m, {}",
        with.brake_nm,
        without.brake_nm
    );
    // The loop is open: the current stands still, and is more than the base.
    let mut full = full;
    let currents: Vec<f64> = (0..300)
        .map(|_| {
            go_on(&mut full, 0.01);
            ma(&full)
        })
        .collect();
    assert!(
        currents.iter().all(|now| (now - currents[0]).abs() < 1e-9),
        "the trim is still at work"
    );
    // What it adds over the base, at the setting whose base is lambda 1 at full load.
    let lever = |mixture: f64| {
        let setup = and(&setup, &[("throttle_percent", 100.0), ("speed_rpm", 1900.0)]);
        aim_turns(&setup) + mixture
    };
    let there = with_screw(&setup, lever(0.0));
    let enriched = now(&settled(&there, 1.0));
    assert!((0.88..0.96).contains(&enriched.lambda), "lambda {} at full load", enriched.lambda);
    let torque = |ma: f64| {
        let keys = [("throttle_percent", 100.0), ("speed_rpm", 1900.0), ("actuator_ma", ma)];
        running(&and(&there, &keys)).brake_nm
    };
    let best = (0..40).map(|i| torque(f64::from(i))).fold(f64::MIN, f64::max);
    let got = torque(shown(&enriched, "actuator_ma"));
    assert!(got > 0.995 * best, "{got} N m at its current, {best} at the best");
    assert!(torque(10.0) < got, "the base current gives no less");
}

fn with_screw(setup: &Setup, turns: f64) -> Setup {
    and(setup, &[("screw", turns)])
}

/// When the loop of a started engine closes: the moment at which it parts from the same
/// engine with the trim off (s).
fn closes_after_s(setup: &Setup, most_s: f64) -> Option<f64> {
    let mut on = cranked(&closed(setup));
    let mut off = cranked(setup);
    for _ in 0..(100.0 * most_s) as u32 {
        on.tick().unwrap();
        off.tick().unwrap();
        if (ma(&on) - ma(&off)).abs() > 1e-3 {
            return Some(on.time_s());
        }
    }
    None
}

/// Without the sensor that tells a hot exhaust the controller waits to be sure.
#[test]
fn a_missing_exhaust_temperature_sensor_keeps_the_loop_open_longer() {
    let warm = with("eight", &[("coolant_degc", 80.0)]);
    let sound = closes_after_s(&warm, 60.0).expect("a warm engine closes its loop");
    let missing = closes_after_s(&failed(&warm, "exhaust-temperature", "missing"), 120.0);
    let missing = missing.expect("it closes it at last");
    assert!(missing > 2.0 * sound, "sound {sound} s, missing {missing} s after the key");
    // Where none is fitted its failure is none.
    let none = with("six", &[("coolant_degc", 80.0)]);
    let other = failed(&none, "exhaust-temperature", "missing");
    assert_eq!(closes_after_s(&none, 60.0), closes_after_s(&other, 60.0));
}

/// What the sensor is for: it shows when the tip is hot, so that nobody has to wait to be sure.
#[test]
fn an_exhaust_temperature_sensor_closes_the_loop_sooner_than_it_closes_without_one() {
    let fitted = |fitted: f64| {
        let keys = [("coolant_degc", 80.0), ("exhaust_temperature_sensor", fitted)];
        closes_after_s(&with("eight", &keys), 60.0).expect("a warm engine closes its loop")
    };
    let (with_it, without) = (fitted(1.0), fitted(0.0));
    assert!(with_it < without - 1.0, "with it after {with_it} s, without after {without} s");
}

/// The fast trim is the idle's: with the foot on the pedal it stands, at idle it moves.
#[test]
fn the_fast_idle_trim_learns_at_idle_only() {
    let aim = aim_turns(&with("six", &[]));
    let setup = closed(&with("six", &[("screw", aim)]));
    let speed = Unit::Rpm.to_si(2000.0);
    let actions = [
        (2.0, Action::Throttle(0.12, speed)),
        (5.0, Action::Turn(-0.04)),
        (40.0, Action::Throttle(0.0, speed)),
    ];
    let record = recorded(&setup, 80.0, 50, &actions);
    let learned = |from: f64, to: f64| {
        let rows = record.rows.iter().filter(|row| (from..to).contains(&row.time_s));
        let values: Vec<f64> = rows.map(|row| 1e3 * row.learned_a).collect();
        values.iter().fold(f64::MIN, |a, b| a.max(*b))
            - values.iter().fold(f64::MAX, |a, b| a.min(*b))
    };
    assert_eq!(learned(4.0, 39.0), 0.0, "mA learned with the foot on the pedal");
    assert!(learned(45.0, 80.0) > 0.5, "{} mA learned at idle", learned(45.0, 80.0));
}

fn taught(engine: &Engine) -> f64 {
    let Taught { time_s, .. } = engine.taught();
    time_s.iter().sum()
}

/// A cold engine's mixture is not the engine's: wet walls, warm-up current.
#[test]
fn stored_cells_learn_nothing_from_a_cold_engine() {
    let at = |degc: f64| {
        let keys = [("closed_loop_degc", 20.0), ("coolant_degc", degc)];
        let setup = closed(&with("six", &keys));
        let mut engine = learner(&setup, engine(&setup));
        go_on(&mut engine, 40.0);
        assert!((ma(&engine) - 10.0).abs() > 0.1, "{degc} degC: the loop is closed");
        taught(&engine)
    };
    assert_eq!(at(45.0), 0.0, "seconds of learning at 45 degC");
    assert!(at(85.0) > 20.0, "{} s of learning at 85 degC", at(85.0));
}

/// After a start fuel is added for half a minute and more; what the trim takes back of that
/// is no fault of the base.
#[test]
fn stored_cells_learn_nothing_while_a_start_still_enriches() {
    let setup = closed(&with("six", &[("coolant_degc", 80.0)]));
    let mut engine = learner(&setup, cranked(&setup));
    let closes = closes_after_s(&with("six", &[("coolant_degc", 80.0)]), 60.0).unwrap();
    assert!(closes < 25.0, "the loop closes after {closes} s");
    go_on(&mut engine, 35.0);
    assert_eq!(taught(&engine), 0.0, "seconds of learning 35 s after the key");
    go_on(&mut engine, 85.0);
    assert!(taught(&engine) > 20.0, "{} s of learning after two minutes", taught(&engine));
}

/// What the trim adds while the pedal moves is no fault of the base: films and pipes lag.
#[test]
fn stored_cells_learn_nothing_while_the_pedal_moves() {
    let setup = closed(&aimed(&with("six", &[])));
    let taught_at = |each_tenth: f64| {
        let mut engine = learner(&setup, engine(&setup));
        hold(&mut engine, 0.08, 1800.0);
        go_on(&mut engine, 1.0);
        let before = taught(&engine);
        for step in 0..200 {
            // To and fro, too slow for the enrichment of a push.
            let away = f64::from((step % 40_i32 - 20).abs());
            hold(&mut engine, 0.08 + each_tenth * (20.0 - away), 1800.0);
            go_on(&mut engine, 0.1);
        }
        taught(&engine) - before
    };
    assert_eq!(taught_at(0.006), 0.0, "seconds of learning while the pedal moves");
    assert!(taught_at(0.0) > 10.0, "{} s of learning while it stands", taught_at(0.0));
}

/// The first cell is the idle's: a closed idle switch teaches it, an open one at the same air
/// (a coasting car's, a pedal just touched) does not.
#[test]
fn the_idle_s_cell_learns_with_the_idle_switch_closed_only() {
    let cells = Cells::cleared(2.8e-3, 0.010);
    let learned_s = |idles: bool, air_kg_s: f64| {
        let mut taught = Taught::default();
        cells.teach(&mut taught, Moment { air_kg_s, idles }, 0.002, 30.0);
        taught.time_s
    };
    let idle_kg_s = cells.centre_kg_s[0];
    assert_eq!(learned_s(true, idle_kg_s), [30.0, 0.0, 0.0, 0.0]);
    assert_eq!(learned_s(false, idle_kg_s), [0.0; 4], "pedal touched, the idle's air");
    assert_eq!(learned_s(false, cells.centre_kg_s[1]), [0.0, 30.0, 0.0, 0.0], "next cell");
}

/// A pedal pushed quickly asks for more fuel for a moment, one pushed slowly for none (common
/// practice, no source). The trim is off: nothing else moves the current of a warm engine.
#[test]
fn a_quick_push_enriches_for_a_moment_and_a_slow_one_does_not() {
    let most_added = |lasts_s: f64| {
        let mut engine = engine(&with("six", &[]));
        drive(&mut engine, 0.03, 2000.0);
        go_on(&mut engine, 4.0);
        let (base, mut most) = (ma(&engine), 0.0_f64);
        let steps = (20.0 * lasts_s) as u32 + 1;
        for step in 1..=steps {
            drive(&mut engine, 0.03 + 0.2 * f64::from(step) / f64::from(steps), 2000.0);
            go_on(&mut engine, 0.05);
            most = most.max(ma(&engine) - base);
        }
        for _ in 0..60 {
            go_on(&mut engine, 0.05);
            most = most.max(ma(&engine) - base);
        }
        (most, ma(&engine) - base)
    };
    let (quick, slow) = (most_added(0.0), most_added(8.0));
    assert!(quick.0 > 1.0, "{} mA added by a quick push", quick.0);
    assert!(quick.1 < 0.1 * quick.0, "{} mA of it left after 3 s", quick.1);
    assert!(slow.0 < 0.05, "{} mA added by a slow push", slow.0);
}

/// After an overrun the pipe is full of air: the trim waits until that has passed.
#[test]
fn after_an_overrun_cut_the_trim_waits_for_gas_in_the_pipe() {
    let mut engine = engine(&closed(&aimed(&with("six", &[]))));
    go_on(&mut engine, 3.0);
    blip(&mut engine, 4000.0);
    let mut cut = false;
    for _ in 0..1500 {
        engine.tick().unwrap();
        if cut && !engine.fuel_is_cut() {
            break;
        }
        cut |= engine.fuel_is_cut();
    }
    assert!(cut && !engine.fuel_is_cut(), "the overrun was cut and came to its end");
    let mut currents = Vec::new();
    for _ in 0..500 {
        engine.tick().unwrap();
        currents.push(ma(&engine));
    }
    let moves = |from: usize, to: usize| {
        let part = &currents[from..to];
        part.iter().fold(f64::MIN, |a, b| a.max(*b)) - part.iter().fold(f64::MAX, |a, b| a.min(*b))
    };
    assert!(moves(5, 180) < 0.3, "{} mA within 1.8 s after the cut", moves(5, 180));
    assert!(moves(220, 500) > 0.8, "{} mA from the third second on", moves(220, 500));
}

/// A screw far off asks for more than the trim may give: it goes to its authority and stays.
#[test]
fn in_a_run_the_trim_adds_and_takes_no_more_than_its_authority() {
    let aim = aim_turns(&with("six", &[]));
    for off in [-0.05, 0.08] {
        let setup = closed(&with("six", &[("screw", aim + off), ("authority_ma", 4.0)]));
        let mut engine = engine(&setup);
        let mut most = 0.0_f64;
        for _ in 0..120 {
            go_on(&mut engine, 0.5);
            most = most.max((ma(&engine) - 10.0).abs());
        }
        let ends = ma(&engine) - 10.0;
        assert!(most < 4.0 + 1e-6, "screw {off} off: {most} mA from the base, authority 4");
        assert!(
            ends * off < 0.0 && ends.abs() > 3.9,
            "screw {off} off: it ends {ends} mA from the base"
        );
        let duty = shown(&now(&engine), "duty_percent");
        assert!(if off < 0.0 { duty > 99.0 } else { duty < 1.0 }, "screw {off} off: duty {duty}");
    }
}

/// A mixture off for good, drive after drive: the cells go to their limit and no further.
#[test]
fn stored_cells_stop_at_the_authority() {
    for sign in [1.0, -1.0] {
        let mut cells = Cells::cleared(2.8e-3, 0.010);
        for _ in 0..60 {
            let mut drive = Taught::default();
            let at = Moment { air_kg_s: cells.centre_kg_s[1], idles: false };
            cells.teach(&mut drive, at, sign * 0.004, 100.0);
            cells.store(&drive);
            let most = cells.added_a.iter().fold(0.0_f64, |most, a| most.max(a.abs()));
            assert!(most <= 0.010 + 1e-12, "a cell holds {most} A, its limit is 0.010 A");
        }
        near(cells.added_a[1], sign * 0.010, 1e-9, "the cell that was taught");
        assert_eq!((cells.added_a[0], cells.added_a[3]), (0.0, 0.0), "cells never visited");
    }
}

/// The same over whole drives: a screw far off, two minutes of idle each, as the averaged
/// model learns it.
#[test]
fn stored_cells_of_a_screw_far_off_add_up_to_the_authority_at_most() {
    use sim_core::relearn::{first_cells, relearn};
    let aim = aim_turns(&with("six", &[]));
    let setup = closed(&with("six", &[("screw", aim - 0.10)]));
    let idles = vec![Wants::Idle; 120];
    let cells = first_cells(&setup, false, &idles);
    let found = relearn(&setup, cells, &idles, (80, false), Options::default(), |_| {}).unwrap();
    let last = found.starts.last().unwrap().cells_a;
    let most = last.iter().fold(0.0_f64, |most, a| most.max(a.abs()));
    near(most, 0.010, 1e-6, "the cell of the idle, 10 mA of authority");
}
