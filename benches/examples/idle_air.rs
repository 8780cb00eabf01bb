//! The idle air valve by gap: a table to see under which assumptions a small one flares and then
//! dies. `cargo run --release -p benches --example idle_air`.

use sim_core::conditions::{Conditions, IdleAir};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::valves::{PHASES, release};
use sim_core::run::{Action, Engine, Options, start::start};
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

fn rpm(rad_s: f64) -> f64 {
    Unit::Rpm.from_si(rad_s)
}

/// Started with a share of the pedal until some seconds after it has caught, then let go.
fn with_pedal(setup: &Setup, share: f64, hold_s: f64) -> String {
    let mut engine = Engine::standing(setup, Options::default());
    engine.apply(&Action::KeyOn).unwrap();
    engine.apply(&Action::Starter(true)).unwrap();
    // A brake that bites above any speed here: a pedal in neutral.
    engine.apply(&Action::Throttle(share, Unit::Rpm.to_si(6000.0))).unwrap();
    let mut caught_s = None;
    let (mut most, mut lowest) = (0.0_f64, f64::INFINITY);
    let mut let_go = false;
    for _ in 0..3000 {
        engine.tick().unwrap();
        if !engine.is_cranking() && caught_s.is_none() {
            caught_s = Some(engine.time_s());
        }
        let Some(at) = caught_s else { continue };
        if !let_go {
            most = most.max(engine.speed_rad_s());
        } else {
            lowest = lowest.min(engine.speed_rad_s());
        }
        if engine.time_s() > at + hold_s && !let_go {
            let_go = true;
            engine.apply(&Action::Throttle(0.0, 70.0)).unwrap();
        }
        if engine.stalled_at_s().is_some() {
            break;
        }
    }
    match (caught_s, engine.stalled_at_s()) {
        (None, _) => "never".into(),
        (Some(_), Some(_)) => format!("{:.0}, dies", rpm(most)),
        (Some(_), None) => format!("{:.0}, low {:.0}", rpm(most), rpm(lowest)),
    }
}

fn main() {
    for (name, _) in SHIPPED {
        let rig = shipped(name).expect("shipped").rig;
        let unpowered = Conditions { idle_air: IdleAir::Unpowered, ..Conditions::closed_loop() };
        let point = SteadyEngine::new(&rig, &unpowered).point(0.0);
        let speed = point.state().map_or(f64::NAN, |s| rpm(s.speed_rad_s));
        println!(
            "{name}: unpowered {speed:.0} rpm; duty by coolant {:.2?}",
            rig.reference().nominal.idle_duty
        );
        println!(
            "share | degC: start (feet off) | pedal 2, 3.5, 5 % for 3 s, let go | release from 1300, 3000"
        );
        for (what, by_gap) in [("window", true), ("duty", false)] {
            for share in [1.0, 0.7, 0.5, 0.4, 0.3] {
                let rig = rig
                    .with_parts(|p| {
                        if by_gap {
                            p.idle_valve.gap_m *= share;
                        } else {
                            p.idle_valve.opening_by_duty *= share;
                        }
                    })
                    .unwrap();
                let mut line = format!("{what} {share:.2}");
                for degc in [-10.0_f64, 20.0, 80.0] {
                    let kelvin = degc + 273.15;
                    let ambient_k = kelvin.min(293.15);
                    let conditions = Conditions {
                        coolant_k: kelvin,
                        ambient_k,
                        fuel_k: ambient_k,
                        ..Conditions::closed_loop()
                    };
                    let setup = Setup { rig, conditions };
                    let found = start(&setup, Options::default(), 10.0, 25.0).unwrap();
                    let died = match found.reason {
                        None => "runs".to_string(),
                        Some(why) => format!("{why:.40}").chars().take(24).collect(),
                    };
                    line += &format!(
                        " | {degc}: {:.0} {died}; {}",
                        rpm(found.flare_rad_s),
                        [0.02, 0.035, 0.05].map(|share| with_pedal(&setup, share, 3.0)).join(" / ")
                    );
                }
                let warm = Setup { rig, conditions: Conditions::closed_loop() };
                for from in [1300.0, 3000.0] {
                    let gap_m = rig.parts().idle_valve.gap_m;
                    let found = release(&warm, gap_m, Unit::Rpm.to_si(from), PHASES[0]).unwrap();
                    line += &format!(
                        " | {}{:.0}",
                        if found.caught { "" } else { "dies " },
                        rpm(found.lowest_rad_s)
                    );
                }
                println!("{line}");
            }
        }
    }
}
