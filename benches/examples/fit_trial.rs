//! How good the fit is, quickly: cars and law as arguments.
use sim_core::conditions::Conditions;
use sim_core::diagnose::car::Law;
use sim_core::fit::parameters::Space;
use sim_core::fit::trial::{Scores, question, tried};
use sim_core::rig::keys::Setup;
use std::time::Instant;

fn main() {
    let cars: u64 = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(100);
    let rig = sim_core::rig::shipped::shipped("six").unwrap().rig;
    let setup = Setup { rig, conditions: Conditions::default() };
    let asked = question(&setup);
    let space = Space::of(&setup, false);
    for law in sim_core::fit::trial::laws() {
        let start = Instant::now();
        let cars = if law == Law::Same { cars } else { cars / 4 };
        let found: Vec<_> = (0..cars).filter_map(|i| tried(&asked, (1, i, law))).collect();
        let scores = Scores::of(&found, law);
        println!("{law:?} {} cars, {:.1} ms each, coverage {:.1}, flame {:?}, out {:.1}", scores.cars,
            1e3 * start.elapsed().as_secs_f64() / cars as f64, scores.coverage, scores.flame, scores.out_of_place);
        for s in &scores.parameters {
            println!("  {:24} told {:4} coverage {:5.1} bias {:+.2} spreads {:.2}", space.coordinates()[s.place].name(), s.told, s.coverage, s.bias, s.spreads);
        }
    }
}
