//! The idle that has to survive: screw by screw, on three rigs, trim off and on, what becomes
//! of an engine that the steady point calls smooth. Run it again after any law has changed:
//! `cargo run --release -p benches --example idle_map [KEY=VALUE...]`; `seed=N` draws other
//! cycles.

use sim_core::conditions::{Conditions, Trim};
use sim_core::point::Zone;
use sim_core::rig::Rig;
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::stability::Linear;
use sim_core::run::{Action, Engine, Options};
use sim_core::steady::SteadyEngine;

const RPM: f64 = 30.0 / std::f64::consts::PI;
const STEP: f64 = 1.0 / 32.0;

/// What became of an engine that was blipped.
struct Blip {
    stalled_at_s: Option<f64>,
    least_rpm: f64,
    falls_s: Option<f64>,
    settles_s: Option<f64>,
    deviation_rpm: f64,
}

fn blip(setup: &Setup, seed: u64) -> Blip {
    let options = Options { torque_noise: true, seed, ..Options::default() };
    let mut found = Blip {
        stalled_at_s: Some(0.0),
        least_rpm: f64::NAN,
        falls_s: None,
        settles_s: None,
        deviation_rpm: f64::NAN,
    };
    let Ok(mut engine) = Engine::new(setup, options) else { return found };
    let target_rpm = RPM * engine.speed_rad_s();
    let (mut let_go, mut outside_s, mut sums) = (None, 0.0, (0.0, 0.0, 0.0));
    for tick in 0..6000 {
        if tick == 1000 {
            engine.apply(&Action::Blip(3000.0 / RPM)).expect("a speed");
        }
        if engine.tick().is_err() {
            return found;
        }
        let (time_s, rpm) = (engine.time_s(), RPM * engine.speed_rad_s());
        if engine.stalled_at_s().is_some() {
            found.stalled_at_s = engine.stalled_at_s();
            return found;
        }
        if tick > 1000 && !engine.pedal_is_down() {
            let since = time_s - *let_go.get_or_insert(time_s);
            found.least_rpm = found.least_rpm.min(rpm);
            if rpm < target_rpm + 50.0 {
                found.falls_s.get_or_insert(since);
            }
            if (rpm - target_rpm).abs() > 30.0 {
                outside_s = since;
            }
        }
        if tick >= 4000 {
            sums = (sums.0 + 1.0, sums.1 + rpm, sums.2 + rpm * rpm);
        }
    }
    found.stalled_at_s = None;
    found.settles_s = Some(outside_s);
    let mean = sums.1 / sums.0;
    found.deviation_rpm = (sums.2 / sums.0 - mean * mean).max(0.0).sqrt();
    found
}

/// The longest the idle takes to get rid of a step of the screw, or the second it dies at.
fn step(setup: &Setup, by: f64, seed: u64) -> Option<f64> {
    let options = Options { torque_noise: true, seed, ..Options::default() };
    let mut engine = Engine::new(setup, options).ok()?;
    for tick in 0..6000 {
        if (1000..1100).contains(&tick) {
            engine.apply(&Action::Turn(by / 100.0)).expect("a number");
        }
        engine.tick().ok()?;
        if engine.stalled_at_s().is_some() {
            return engine.stalled_at_s();
        }
    }
    None
}

/// A shipped rig with keys changed, as if it had been built so.
fn changed(name: &str, trim: Trim, words: &[String]) -> (Rig, Conditions) {
    let conditions = Conditions { trim, ..Conditions::default() };
    let mut setup = Setup { rig: shipped(name).expect("shipped").rig, conditions };
    for word in words {
        let (key, value) = word.split_once('=').expect("KEY=VALUE");
        let mut value: f64 = value.parse().expect("a number");
        let name = if key == "manifold_over_displacement" {
            value *= 1e3 * setup.rig.parts().breathing.displacement_m3;
            "manifold_l"
        } else {
            key
        };
        let key = Key::find(name).expect("a key");
        key.set(&mut setup, value).expect("in range");
    }
    (Rig::new(*setup.rig.parts()).expect("a rig"), setup.conditions)
}

fn main() {
    let mut words: Vec<String> = std::env::args().skip(1).collect();
    let mut seed = Options::default().seed;
    words.retain(|word| {
        let given = word.strip_prefix("seed=");
        seed = given.map_or(seed, |number| number.parse().expect("a whole number"));
        given.is_none()
    });
    // Of all that is smooth, and of those from lambda 0.70 to 1.25.
    let (mut blips, mut steps) = ([(0, 0); 2], [(0, 0); 2]);
    let count = |of: &mut [(usize, usize); 2], lambdas: &[f64], dies: bool| {
        let inside = lambdas.iter().all(|lambda| (0.70..=1.25).contains(lambda));
        for (all, dead) in &mut of[..1 + usize::from(inside)] {
            *all += 1;
            *dead += usize::from(dies);
        }
    };
    let mut least = f64::INFINITY;
    let mut falls = (f64::INFINITY, 0.0_f64);
    for (name, _) in SHIPPED {
        for trim in [Trim::Off, Trim::On] {
            let (rig, conditions) = changed(name, trim, &words);
            let steady = SteadyEngine::new(&rig, &conditions);
            println!(
                "{name} trim {trim:?}: screw lambda cov% damping | least rpm, fall s, settle s, sd rpm"
            );
            for i in -12..=24 {
                let screw_turns = f64::from(i) * STEP;
                let point = steady.point(screw_turns);
                let Some(state) = point.state().filter(|s| s.zone == Zone::Smooth) else {
                    continue;
                };
                let setup = Setup { rig, conditions: Conditions { screw_turns, ..conditions } };
                let blip = blip(&setup, seed);
                let mut dies = String::new();
                for by in [-2.0 * STEP, 2.0 * STEP] {
                    let after = steady.point(screw_turns + by);
                    if let Some(after) = after.state().filter(|s| s.zone == Zone::Smooth) {
                        let died = step(&setup, by, seed);
                        count(&mut steps, &[state.lambda, after.lambda], died.is_some());
                        if let Some(at) = died {
                            dies += &format!(" step {by:+.4} dies at {at:.1} s");
                        }
                    }
                }
                let mode = Linear::about(&setup).ok().flatten().and_then(|line| line.slowest());
                if let Some(fall) = blip.falls_s {
                    falls = (falls.0.min(fall), falls.1.max(fall));
                }
                count(&mut blips, &[state.lambda], blip.stalled_at_s.is_some());
                if (0.70..=1.25).contains(&state.lambda) {
                    least = least.min(blip.least_rpm);
                }
                println!(
                    "{screw_turns:+.4} {:.3} {:4.1} {:5.2} | {} {:.0} {:.2} {:.2} {:.1}{dies}",
                    state.lambda,
                    100.0 * state.cov,
                    mode.map_or(f64::NAN, |mode| mode.damping()),
                    blip.stalled_at_s.map_or("lives".into(), |at| format!("dies {at:.1} s")),
                    blip.least_rpm,
                    blip.falls_s.unwrap_or(f64::NAN),
                    blip.settles_s.unwrap_or(f64::NAN),
                    blip.deviation_rpm,
                );
            }
        }
    }
    for (words, i) in [("smooth", 0), ("smooth, lambda 0.70 to 1.25", 1)] {
        println!(
            "{words}: {} of {} die after a blip, {} of {} after a step of a sixteenth",
            blips[i].1, blips[i].0, steps[i].1, steps[i].0
        );
    }
    println!("lowest speed after a blip there: {least:.0} rpm");
    println!("from 3000 rpm to the idle in {:.2} to {:.2} s", falls.0, falls.1);
}
