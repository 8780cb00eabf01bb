//! What a driver feels while the cells are learned, start by start:
//! `cargo run --release -p benches --example relearning [RIG]`.

use sim_core::conditions::Conditions;
use sim_core::drive::{Drive, engine_demand};
use sim_core::relearn::{first_cells, relearn, with_feel};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::Options;
use sim_core::units::Unit;

fn main() {
    let name = std::env::args().nth(1).unwrap_or("six".into());
    let rig = shipped(&name).expect("a rig").rig;
    for screw_turns in [0.0, -1.0 / 32.0, 1.0 / 32.0, -1.0 / 16.0, 1.0 / 16.0] {
        let conditions = Conditions { screw_turns, ..Conditions::closed_loop() };
        let setup = Setup { rig, conditions };
        let asked = engine_demand(&setup, &Drive::urban(780.0));
        let cells = first_cells(&setup, false, &asked);
        for full in [true, false] {
            let options = Options { seed: 1, torque_noise: full, ..Options::default() };
            let found = relearn(&setup, cells, &asked, (26, full), options, |_| {}).unwrap();
            let found = if full {
                found
            } else {
                with_feel(&setup, found, cells, &asked, options).unwrap()
            };
            println!(
                "screw {screw_turns:+.4} full {full}: settled {:?} wanted {:.1?}",
                found.settled_at,
                found.wanted_a.map(|a| 1e3 * a.unwrap_or(f64::NAN))
            );
            for (i, s) in found.starts.iter().enumerate() {
                let rpm = |v: Option<f64>| v.map_or(f64::NAN, |v| Unit::Rpm.from_si(v));
                println!(
                    "  {:2} {:5.1?} cov {:.3} worst {:.3} leanest {:.3} surge {:.1} least {:.0} stalls {} fuel {:.1} g",
                    i + 1,
                    s.cells_a.map(|a| 1e3 * a),
                    s.cov.unwrap_or(f64::NAN),
                    s.worst_cov.unwrap_or(f64::NAN),
                    s.leanest_lambda.unwrap_or(f64::NAN),
                    rpm(s.surge_rad_s),
                    rpm(s.least_rad_s),
                    s.stalls,
                    1e3 * s.fuel_kg
                );
            }
        }
    }
}
