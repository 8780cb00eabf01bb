//! The idle speed control by its margins: gains on a grid, judged at every settled idle of
//! three rigs from lambda 0.70 to 1.25, warm and cold. Run it again after any law has
//! changed: `cargo run --release -p benches --example idle_design [KEY=VALUE...]`.

use sim_core::conditions::Conditions;
use sim_core::point::Mode;
use sim_core::rig::Rig;
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::stability::Linear;
use sim_core::steady::SteadyEngine;

const RPM: f64 = 30.0 / std::f64::consts::PI;
/// Mixtures looked at.
const LAMBDA: (f64, f64) = (0.70, 1.25);

fn worst_of(lines: &[Linear], gains: [f64; 4]) -> (f64, f64, f64, f64) {
    let [kp, ki, lead, lag] = gains;
    let mut worst = (f64::INFINITY, 180.0_f64, 1.0_f64, f64::NEG_INFINITY);
    for line in lines {
        let Some(control) = line.control() else { continue };
        let with = line.with_control(sim_core::run::stability::Control {
            kp: kp * RPM,
            ki: ki * RPM,
            lead: lead * RPM,
            lead_lag_s: lag,
            ..control
        });
        let Some(margins) = with.margins() else { continue };
        let modes: Vec<Mode> = with.modes();
        let growth = modes.iter().find(|m| m.turn_rad_s > 0.5).map_or(-9.0, |m| m.growth_per_s);
        worst.0 = worst.0.min(margins.gain_up_db).min(margins.gain_down_db);
        worst.1 = worst.1.min(margins.phase_deg);
        worst.2 = worst.2.max(margins.sensitivity);
        worst.3 = worst.3.max(growth);
        if worst.3 > 0.0 {
            break;
        }
    }
    worst
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let mut lines = Vec::new();
    for (name, _) in SHIPPED {
        let loaded = shipped(name).expect("shipped").rig;
        let mut parts = *loaded.parts();
        for word in &words {
            let (key, value) = word.split_once('=').expect("KEY=VALUE");
            let value: f64 = value.parse().expect("a number");
            match key {
                "vm" => parts.dynamics.manifold_m3 = value * parts.breathing.displacement_m3,
                "j" => parts.dynamics.inertia_kg_m2 = value * 1e3 * parts.breathing.displacement_m3,
                _ => {
                    let mut setup = Setup {
                        rig: Rig::new(parts).expect("a rig"),
                        conditions: Conditions::default(),
                    };
                    Key::find(key).expect("a key").set(&mut setup, value).expect("in range");
                    parts = *setup.rig.parts();
                }
            }
        }
        let rig = Rig::new(parts).expect("a rig");
        for degc in [90.0, 50.0, 20.0, -15.0] {
            for i in -32..=64 {
                let screw_turns = f64::from(i) / 128.0;
                let mut conditions = Conditions { screw_turns, ..Conditions::default() };
                conditions.coolant_k = degc + 273.15;
                let point = SteadyEngine::new(&rig, &conditions).point(screw_turns);
                let Some(state) = point.state() else { continue };
                if !(LAMBDA.0..LAMBDA.1).contains(&state.lambda) || state.cov > 0.1 {
                    continue;
                }
                if let Ok(Some(line)) = Linear::about(&Setup { rig, conditions }) {
                    lines.push(line);
                }
            }
        }
    }
    println!("{} points", lines.len());
    let shipped_gains = lines.iter().find_map(Linear::control).map(|control| {
        [control.kp / RPM, control.ki / RPM, control.lead / RPM, control.lead_lag_s]
    });
    let mut found: Vec<_> =
        shipped_gains.into_iter().map(|gains| (gains, worst_of(&lines, gains))).collect();
    if let Some([kp, ki, _, lag]) = shipped_gains {
        for lead in [4e-5, 6e-5, 8e-5, 1e-4, 1.1e-4] {
            let gains = [kp, ki, lead, lag];
            found.push((gains, worst_of(&lines, gains)));
        }
    }
    for lag in [0.03] {
        for lead in [4e-5, 6e-5, 8e-5, 1e-4] {
            for kp in [4e-5, 8e-5, 1.2e-4, 2e-4] {
                for ki in [1e-4, 2e-4, 3e-4, 5e-4] {
                    let gains = [kp, ki, lead, lag];
                    found.push((gains, worst_of(&lines, gains)));
                }
            }
        }
    }
    let score = |w: &(f64, f64, f64, f64)| {
        if w.3 > 0.0 { -w.3 } else { (w.0 / 6.0).min(w.1 / 45.0) }
    };
    found.sort_by(|a, b| score(&b.1).total_cmp(&score(&a.1)));
    println!(
        "kp ki lead lag | gain dB, phase deg, sensitivity, growth 1/s; the shipped set is marked"
    );
    for (g, w) in &found {
        println!(
            "{:.1e} {:.1e} {:.1e} {} | {:.1} {:.0} {:.2} {:.2}{}",
            g[0],
            g[1],
            g[2],
            g[3],
            w.0,
            w.1,
            w.2,
            w.3,
            if Some(*g) == shipped_gains { " *" } else { "" }
        );
    }
}
