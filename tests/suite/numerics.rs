//! How well the running engine is worked out: errors by Richardson, the general solver
//! beside the fixed step, an integration made elsewhere, and what must not matter.

use crate::running::setup;
use crate::table::rows;
use sim_core::conditions::{Conditions, Trim};
use sim_core::ode::{Method, OdeSystem, advance};
use sim_core::point::{READINGS, Reading};
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::open_loop::{Excitation, OpenLoopRun};
use sim_core::run::procedure::{SHIPPED as PROCEDURES, parse_turns, shipped as procedure};
use sim_core::run::record::{Record, TraceRow, perform};
use sim_core::run::{Action, Engine, Options, RunFault};
use sim_core::units::Unit;

fn record(rig: &str, name: &str, trim: Trim, options: Options) -> Record {
    let rig = shipped(rig).unwrap().rig;
    let setup = setup(&rig, Conditions { trim, ..Conditions::default() }, &[]);
    perform(&setup, &procedure(name).unwrap(), options, 10, |_| {}).unwrap()
}

/// A reading in each row of two runs, side by side.
fn pairs<'a>(
    reading: &'a Reading,
    one: &'a Record,
    other: &'a Record,
) -> impl Iterator<Item = (&'a TraceRow, f64, f64)> {
    one.rows.iter().zip(&other.rows).filter_map(move |(a, b)| {
        Some((a, reading.value(a.state.as_ref()?)?, reading.value(b.state.as_ref()?)?))
    })
}

/// Largest less least of the second of two runs.
fn range(reading: &Reading, one: &Record, other: &Record) -> f64 {
    let values = || pairs(reading, one, other).map(|(_, _, b)| b);
    values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)
}

fn sensed(row: &TraceRow) -> f64 {
    row.lambda_at_sensor
}

fn film(row: &TraceRow) -> f64 {
    row.film_kg
}

/// Gas and sensor are advanced in second order, so a run worked out twice as finely is
/// three quarters of the error away. The voltage of the lambda sensor is compared off its
/// flank, where a hundred-thousandth of lambda is a millivolt.
#[test]
fn every_printed_reading_is_worked_out_to_a_thousandth_of_its_range_and_a_millivolt() {
    let mut worst = (0.0, String::new());
    for (rig, _) in SHIPPED {
        for (name, _) in PROCEDURES.iter().filter(|(name, _)| *name != "sensor-unplug") {
            let of = |finer| record(rig, name, Trim::Off, Options { finer, ..Options::default() });
            let (usual, fine) = (of(1), of(2));
            for reading in READINGS.iter().filter(|reading| reading.name != "residual") {
                let range = range(reading, &usual, &fine);
                if range < 0.01 * 0.1_f64.powi(reading.decimals as i32) {
                    // What is printed does not move.
                    continue;
                }
                for (row, a, b) in pairs(reading, &usual, &fine) {
                    let error = 4.0 / 3.0 * (a - b).abs();
                    let flank = (row.lambda_at_sensor - 1.0).abs() < 0.02;
                    if reading.name == "sensor_v" && flank {
                        continue;
                    }
                    let what = format!(
                        "{rig} {name} {} at {} s: {error:e} of {range}",
                        reading.name, row.time_s
                    );
                    // A start goes through the whole of its readings within a second.
                    let share = if *name == "key-start" { 1e-2 } else { 1e-3 };
                    assert!(error <= share * range, "{what}");
                    assert!(reading.unit.symbol() != "V" || error < 1e-3, "{what}");
                    if range > 0.0 && error / range > worst.0 {
                        worst = (error / range, what);
                    }
                }
            }
            // A front of gas may pass the sensor half a millisecond early or late: with its
            // lag of 0.1 s that is half a hundredth of the front.
            let traces = [(5e-3, sensed as fn(&TraceRow) -> f64), (1e-3, film)];
            for (share, get) in traces {
                let most = fine.rows.iter().map(get).fold(f64::MIN, f64::max);
                let least = fine.rows.iter().map(get).fold(f64::MAX, f64::min);
                for (a, b) in usual.rows.iter().zip(&fine.rows) {
                    let error = 4.0 / 3.0 * (get(a) - get(b)).abs();
                    assert!(error <= share * (most - least), "{rig} {name} at {} s", a.time_s);
                }
            }
            for (a, b) in [
                (usual.speed_range_rad_s.0, fine.speed_range_rad_s.0),
                (usual.speed_range_rad_s.1, fine.speed_range_rad_s.1),
            ] {
                assert!((a - b).abs() < 1e-3 * a, "{rig} {name}: {a} {b} rad/s");
            }
            for ((reading, a), b) in
                READINGS.iter().zip(&usual.settled_after_s).zip(&fine.settled_after_s)
            {
                let same = match (a, b) {
                    _ if reading.name == "residual" => true,
                    (Some(a), Some(b)) => (a - b).abs() <= 0.1001,
                    _ => a == b,
                };
                assert!(same, "{rig} {name}: {} settles after {a:?}, {b:?}", reading.name);
            }
        }
    }
    println!("largest: {:.5} of the range, {}", worst.0, worst.1);
}

/// With the trim on single rows depend on which tick its sensor changes its mind; what is
/// printed of it, the mean over a swing, does not.
#[test]
fn with_the_trim_on_the_means_do_not_depend_on_the_step_nor_on_the_phase_of_the_ticks() {
    for (rig, _) in SHIPPED {
        let of = |options| record(rig, "screw-step", Trim::On, options);
        let base = of(Options { finer: 10, ..Options::default() });
        let mut others = vec![("usual step".to_string(), of(Options::default()))];
        for decides_at in [0.25, 0.55, 0.85] {
            let phase = Options { finer: 10, decides_at, ..Options::default() };
            others.push((format!("decides at {decides_at} of the tick"), of(phase)));
        }
        for (what, other) in &others {
            let (a, b) = (base.last.unwrap(), other.last.unwrap());
            for (name, share) in [
                ("lambda", 2e-3),
                ("speed_rpm", 2e-3),
                ("manifold_bar", 2e-3),
                ("fuel_kg_h", 2e-3),
                ("potentiometer_v", 2e-3),
                ("duty_percent", 2e-2),
            ] {
                let reading = Reading::find(name).unwrap();
                let (a, b) = (reading.value(&a).unwrap(), reading.value(&b).unwrap());
                assert!((a / b - 1.0).abs() < share, "{rig}, {what}: {name} {a} became {b}");
            }
        }
    }
}

/// The same ticks by the general solver: the fixed step is not what is left of error.
#[test]
fn the_fixed_step_and_the_general_solver_give_the_same_run() {
    for (rig, name) in [("six", "throttle-release"), ("eight", "full-throttle")] {
        let fixed = record(rig, name, Trim::Off, Options::default());
        let solver = Options { solver_tolerance: Some(1e-11), ..Options::default() };
        let solved = record(rig, name, Trim::Off, solver);
        for reading in READINGS.iter().filter(|reading| reading.name != "residual") {
            let range = range(reading, &fixed, &solved);
            for (row, a, b) in pairs(reading, &fixed, &solved) {
                let flank = (row.lambda_at_sensor - 1.0).abs() < 0.02;
                if reading.name == "sensor_v" && flank {
                    continue;
                }
                assert!(
                    (a - b).abs() <= 2e-4 * range,
                    "{rig} {name} {} at {} s: {a} {b} of {range}",
                    reading.name,
                    row.time_s
                );
            }
        }
    }
}

#[test]
fn a_million_ticks_hold_no_more_than_a_thousand() {
    let rig = shipped("six").unwrap().rig;
    let setup = setup(&rig, Conditions { trim: Trim::On, ..Conditions::default() }, &[]);
    let mut engine = Engine::new(&setup, Options::default()).unwrap();
    let mut most = [0, 0];
    for tick in 0..1_000_000 {
        if tick % 3000 == 500 {
            engine.apply(&Action::Blip(Unit::Rpm.to_si(2500.0))).unwrap();
        }
        engine.tick().unwrap();
        let when = usize::from(tick >= 10_000);
        most[when] = most[when].max(engine.held());
    }
    assert!(engine.stalled_at_s().is_none());
    println!("held at most: {most:?}");
    assert!(most[1] <= most[0] + 5, "{most:?}");
}

/// A light plate or a small manifold asks for more steps or says so; nothing hangs.
#[test]
fn quick_parts_take_more_steps_and_too_quick_ones_are_named() {
    let rig = shipped("six").unwrap().rig;
    let trim = Conditions { trim: Trim::On, ..Conditions::default() };
    let light = [("plate_kg", 0.02), ("plate_damping_ns_m", 60.0)];
    let usual = [("plunger_friction_n", 0.0)];
    let blip = procedure("throttle-release").unwrap();
    let of = |keys: &[(&str, f64)]| {
        perform(&setup(&rig, trim, keys), &blip, Options::default(), 10, |_| {})
    };
    let (plain, quick) = (of(&usual).unwrap(), of(&[&usual[..], &light[..]].concat()).unwrap());
    let lambda = |r: &Record| r.last.unwrap().lambda;
    assert!((lambda(&plain) - lambda(&quick)).abs() < 2e-3);
    let tiny = [("manifold_l", 0.5), ("throttle_bore_mm", 120.0)];
    match of(&tiny) {
        Ok(record) => assert!(record.mass_error < 1e-9),
        Err(RunFault::TooManySteps { steps, .. }) => assert!(steps > 1000),
        Err(other) => panic!("{other:?}"),
    }
}

/// A guard that has fallen before the start ends an advance at once; one that falls on the
/// way ends it there, by either method.
#[test]
fn an_advance_ends_where_its_guard_falls() {
    struct Falls;
    impl OdeSystem<2> for Falls {
        fn rate(&self, _: f64, x: &[f64; 2]) -> [f64; 2] {
            [x[1], -9.81]
        }
    }
    for method in [Method::Steps(3), Method::Solver(1e-12)] {
        // From 2 m at rest: on the ground after sqrt(2 h/g).
        let reached = advance(&Falls, (0.0, &[2.0, 0.0]), 1.0, method, |_, x| x[0]).unwrap();
        assert!(
            reached.by_guard && (reached.t - (4.0_f64 / 9.81).sqrt()).abs() < 1e-9,
            "{reached:?}"
        );
        let at_once = advance(&Falls, (0.0, &[-1.0, 0.0]), 1.0, method, |_, x| x[0]).unwrap();
        assert!(at_once.by_guard && at_once.t == 0.0);
        // Thrown up from the ground: the guard starts at zero, rises, and falls.
        let thrown = advance(&Falls, (0.0, &[0.0, 2.0]), 1.0, method, |_, x| x[0]).unwrap();
        assert!(thrown.by_guard && (thrown.t - 4.0 / 9.81).abs() < 1e-9, "{thrown:?}");
        let never = advance(&Falls, (0.0, &[2.0, 0.0]), 0.1, method, |_, x| x[0]).unwrap();
        assert!(!never.by_guard && never.t == 0.1);
    }
}

/// Settings of any kind end in a record or in a named fault.
#[test]
fn no_setting_makes_a_run_hang_or_panic() {
    use sim_core::noise::Noise;
    let mut ends = [0, 0];
    for item in 0..150 {
        let mut noise = Noise::new(99, item);
        let rig = shipped(SHIPPED[item as usize % 3].0).unwrap().rig;
        let mut setup =
            Setup { rig, conditions: Conditions { trim: Trim::On, ..Conditions::default() } };
        for _ in 0..6 {
            let at = (noise.uniform() * sim_core::rig::keys::KEYS.len() as f64) as usize;
            let key = &sim_core::rig::keys::KEYS[at];
            let ends = noise.uniform();
            let value = if ends < 0.3 {
                key.low
            } else if ends < 0.6 {
                key.high
            } else {
                noise.between(key.low, key.high)
            };
            let _ = key.set(&mut setup, value);
        }
        let options = Options {
            torque_noise: item % 2 == 0,
            pulsation: 0.4 * noise.uniform(),
            seed: item,
            ..Options::default()
        };
        let name = PROCEDURES[(item / 3) as usize % PROCEDURES.len()].0;
        match perform(&setup, &procedure(name).unwrap(), options, 100, |_| {}) {
            Ok(record) => {
                ends[0] += 1;
                assert!(record.mass_error < 1e-8, "{item} {name}: {:e}", record.mass_error);
                for state in record.rows.iter().filter_map(|row| row.state) {
                    assert!(
                        state.speed_rad_s.is_finite() && state.manifold_pa.is_finite(),
                        "{item} {name}"
                    );
                    assert!(
                        (0.0..=1.0).contains(&state.duty)
                            && (0.0..=1.0).contains(&state.idle_valve)
                    );
                }
            }
            Err(fault) => {
                ends[1] += 1;
                println!("{item} {name}: {fault:?}");
            }
        }
    }
    println!("{} records, {} faults", ends[0], ends[1]);
    assert!(ends[0] > 100, "{ends:?}");
}

/// The same right-hand side, integrated by scipy from equations written anew
/// (tests/data/free_run.py): through the opened throttle and out of the choked region, and
/// high up, cold, with a leak and alcohol.
#[test]
fn an_integration_made_elsewhere_agrees_to_a_millionth() {
    let (drive, trace) = (rows("free_run_drive"), rows("free_run"));
    let mut compared = 0;
    for name in ["idle-to-full", "high-and-cold"] {
        let segments: Vec<_> = drive.iter().filter(|row| row.word("run") == name).collect();
        let points: Vec<_> = trace.iter().filter(|row| row.word("run") == name).collect();
        let mut setup =
            setup(&shipped(segments[0].word("rig")).unwrap().rig, Conditions::default(), &[]);
        for pair in segments[0].word("conditions").split_whitespace() {
            let (key, value) = pair.split_once('=').unwrap();
            let key = Key::find(key).unwrap();
            match parse_turns(value) {
                Some(number) => key.set(&mut setup, number).unwrap(),
                None => key.choose(&mut setup, value).unwrap(),
            }
        }
        let columns = [
            "manifold_bar",
            "speed_rad_s",
            "plate_mm",
            "plate_m_s",
            "film_mg",
            "air_in_g",
            "air_out_g",
            "fuel_in_g",
            "fuel_out_g",
        ];
        let scale = [1.0, 100.0, 1.0, 0.1, 100.0, 1.0, 1.0, 1.0, 1.0];
        let state = |row: &crate::table::Row| -> [f64; 9] {
            std::array::from_fn(|i| row.number(columns[i]) / scale[i])
        };
        let at =
            |t: f64| points.iter().find(|row| (row.number("time_s") - t).abs() < 1e-9).unwrap();
        let film_at = points[0].number("speed_rad_s");
        // Relative to the largest each state reaches.
        let largest: [f64; 9] = std::array::from_fn(|i| {
            points.iter().map(|row| state(row)[i].abs()).fold(0.0, f64::max)
        });
        let (mut start_s, mut x) = (0.0, state(points[0]));
        for segment in segments {
            let until = segment.number("until_s");
            let pair =
                |a: &str, b: &str, unit: f64| (segment.number(a) * unit, segment.number(b) * unit);
            let drive = Excitation {
                lasts_s: until - start_s,
                inlet_m2: pair("inlet_start_mm2", "inlet_end_mm2", 1e-6),
                imep_pa: pair("imep_start_bar", "imep_end_bar", 1e5),
                current_a: 1e-3 * segment.number("current_ma"),
                brake_nm: segment.number("brake_nm"),
            };
            let motion = OpenLoopRun::new(&setup, &drive, film_at);
            let free = |_: f64, _: &[f64; 9]| 1.0;
            let mut t = 0.0;
            for step in 1.. {
                let next = (0.05 * f64::from(step)).min(drive.lasts_s);
                let fixed = advance(&motion, (t, &x), next, Method::Steps(400), free).unwrap().x;
                let solved =
                    advance(&motion, (t, &x), next, Method::Solver(1e-12), free).unwrap().x;
                let published = state(at(start_s + next));
                for i in 0..9 {
                    for (by, mine) in [("fixed step", fixed[i]), ("general solver", solved[i])] {
                        let error = (mine - published[i]).abs() / largest[i];
                        assert!(
                            error < 1e-6,
                            "{name} at {:.2} s, {}, {by}: {mine}, elsewhere {} ({error:e})",
                            start_s + next,
                            columns[i],
                            published[i]
                        );
                    }
                }
                compared += 1;
                (t, x) = (next, fixed);
                if next >= drive.lasts_s - 1e-12 {
                    break;
                }
            }
            start_s = until;
        }
        let choked = |row: &&crate::table::Row| row.number("manifold_bar") < 0.5;
        assert!(points.iter().any(|row| !choked(row)) && points.iter().any(choked));
    }
    assert!(compared > 90, "{compared}");
}
