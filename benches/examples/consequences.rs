//! What a voltage left where it is and each failed sensor do, as the core tells it:
//! `cargo run --release -p benches --example consequences [RIG]`.

use sim_core::conditions::Conditions;
use sim_core::consequences::{faults, of};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::trial::Trial;
use sim_core::units::Unit;
use sim_core::voltage::left_at;

fn drive(trial: &Trial) -> String {
    let rpm = |rad_s: f64| Unit::Rpm.from_si(rad_s);
    format!(
        "caught {:?} flare {:.0} idle {:?} blip low {:?} push {:.3?} wide {:.3?} fuel {:.1} g {:?}",
        trial.start.caught_after_s,
        rpm(trial.start.flare_rad_s),
        trial.idle.map(|i| format!(
            "{:.0} rpm sd {:.1} lambda {:.3} cov {:.3}",
            rpm(i.speed_rad_s),
            rpm(i.surge_rad_s),
            i.lambda,
            i.cov
        )),
        trial.blip_lowest_rad_s.map(|s| rpm(s).round()),
        trial.push,
        trial.wide_open,
        1e3 * trial.fuel_kg,
        trial.stalled_because.map(|c| c.sentence()),
    )
}

fn main() {
    let name = std::env::args().nth(1).unwrap_or("six".into());
    let setup =
        Setup { rig: shipped(&name).expect("a rig").rig, conditions: Conditions::closed_loop() };
    for volts in [0.55, 0.60, 0.65, 0.70, 0.75, 0.85, 1.0] {
        let left = left_at(&setup, volts, -10.0).unwrap();
        println!(
            "{volts} V: housing {:+.2} mm, seen/true {:.2}",
            1e3 * left.housing_m,
            left.seen_over_true
        );
        println!("  cold: {}", drive(&left.cold));
        println!("  warm: {}", drive(&left.warm));
        println!(
            "  cells {:.2?} mA settled {:?} learned {:?}",
            left.cells_a.map(|a| 1e3 * a),
            left.settled_at,
            left.learned_s
        );
    }
    for fault in faults() {
        let found = of(&setup, fault).unwrap();
        println!("{fault}");
        found.felt().iter().for_each(|line| println!("  {line}"));
        let show = |v: Option<f64>| v.map_or("none".into(), |v| format!("{v:.3}"));
        let meters: Vec<String> = found
            .shown()
            .iter()
            .map(|s| format!("{} {} -> {}", s.reading.name, show(s.sound), show(s.failed)))
            .collect();
        println!("  meters: {}", meters.join(", "));
        println!("  learned: {:?} {:?}", found.learned_wrong(), found.failed.learned.why);
    }
}
