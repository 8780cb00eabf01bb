//! How the idle stands about its settled points: slowest mode with the air held and fixed,
//! and the margins of the idle speed control. Run it again after any law has changed:
//! `cargo run --release -p benches --example idle_margins [KEY=VALUE...]`.

use sim_core::conditions::Conditions;
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::stability::Linear;
use sim_core::steady::SteadyEngine;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    for (name, _) in SHIPPED {
        let rig = shipped(name).expect("shipped").rig;
        let mut setup = Setup { rig, conditions: Conditions::default() };
        for word in &words {
            let (key, value) = word.split_once('=').expect("KEY=VALUE");
            let key = Key::find(key).expect("a key");
            key.set(&mut setup, value.parse().expect("a number")).expect("in range");
        }
        println!("{name}: screw lambda cov | held growth~period | fixed | gain +dB -dB phase Ms");
        for i in -24..=40 {
            let screw_turns = f64::from(i) / 64.0;
            let conditions = Conditions { screw_turns, ..setup.conditions };
            let here = Setup { conditions, ..setup };
            let point = SteadyEngine::new(&here.rig, &conditions).point(screw_turns);
            let Some(state) = point.state() else { continue };
            let Ok(Some(linear)) = Linear::about(&here) else { continue };
            let show = |linear: &Linear| {
                let modes = linear.modes();
                let swings = modes.iter().find(|mode| mode.turn_rad_s > 0.0);
                let first = modes.first().map_or(f64::NAN, |mode| mode.growth_per_s);
                let (g, t) = swings.map_or((f64::NAN, f64::NAN), |mode| {
                    (mode.growth_per_s, mode.period_s().unwrap_or(f64::NAN))
                });
                format!("{first:6.2} ({g:5.2}~{t:4.2})")
            };
            let margins = linear.margins();
            println!(
                "{screw_turns:+.4} {:.3} {:4.1} | {} | {} | {}",
                state.lambda,
                100.0 * state.cov,
                show(&linear),
                show(&linear.with_fixed_air()),
                margins.map_or("no loop".into(), |m| format!(
                    "{:5.1} {:5.1} {:5.0} {:4.2}",
                    m.gain_up_db, m.gain_down_db, m.phase_deg, m.sensitivity
                )),
            );
        }
    }
}
