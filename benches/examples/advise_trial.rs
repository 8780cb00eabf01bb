//! The advice on hidden cars, quickly.
use sim_core::conditions::Conditions;
use sim_core::fit::bench_trial::{Scores, first_look, played};
use sim_core::fit::trial::laws;
use sim_core::rig::keys::Setup;
use std::time::Instant;

fn main() {
    let cars: u64 = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(100);
    let rig = sim_core::rig::shipped::shipped("six").unwrap().rig;
    let asked = first_look(&Setup { rig, conditions: Conditions::default() });
    for law in laws() {
        let start = Instant::now();
        let found: Vec<_> = (0..cars).filter_map(|i| played(&asked, 0.70, (1, i, law))).collect();
        println!(
            "{:?} {:.1} ms each",
            Scores::of(&found, law),
            1e3 * start.elapsed().as_secs_f64() / cars as f64
        );
        for (i, p) in found.iter().enumerate().filter(|(_, p)| p.advised.moves > 7).take(4) {
            println!("  {i} {:?}", p.advised);
        }
        let not: Vec<_> =
            found.iter().filter(|p| !p.advised.right).take(6).map(|p| p.advised).collect();
        println!("   {not:?}");
    }
}
