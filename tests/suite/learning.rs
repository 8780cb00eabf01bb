use crate::running::setup;
use sim_core::drive::{Drive, asked};
use sim_core::relearn::{conditions, first_cells, relearn};
use sim_core::rig::shipped::shipped;
use sim_core::run::Options;
#[test]
fn scan() {
    let rig = shipped("six").unwrap().rig;
    for screw in [-0.031, 0.0] {
        let s = setup(&rig, conditions(), &[("screw", screw)]);
        let moments = asked(&s, &Drive::urban(1200.0));
        let cells = first_cells(&s, false, &moments);
        let t = std::time::Instant::now();
        let a = relearn(&s, cells, &moments, (40, false), Options::default(), |_| {}).unwrap();
        let ta = t.elapsed();
        let t = std::time::Instant::now();
        let f = relearn(&s, cells, &moments, (40, true), Options::default(), |_| {}).unwrap();
        let tf = t.elapsed();
        println!("RL {screw}: wanted {:?}", a.wanted_a.map(|x| x.map(|x| (x * 1e5).round() / 1e2)));
        for (n, r, t) in [("avg", &a, ta), ("full", &f, tf)] {
            println!(
                "RL {screw} {n} {t:?}: settled {:?} {:?} last {:?} learned {:?}",
                r.settled_at,
                r.why,
                r.starts.last().map(|s| s.cells_a.map(|x| (x * 1e5).round() / 1e2)),
                r.starts.last().map(|s| s.learned_s.map(|x| x.round()))
            );
        }
        for k in [0, 1, 2, 5, 10, 20, 39] {
            if let Some(s) = f.starts.get(k) {
                println!(
                    "   {k} {:?} cov {:?} fuel {:.3} stalls {}",
                    s.cells_a.map(|x| (x * 1e5).round() / 1e2),
                    s.cov,
                    s.fuel_kg,
                    s.stalls
                );
            }
        }
    }
}
