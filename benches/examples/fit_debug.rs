use sim_core::conditions::Conditions;
use sim_core::diagnose::car::Law;
use sim_core::fit::parameters::Space;
use sim_core::fit::trial::*;
use sim_core::fit::posterior::fit;
use sim_core::noise::Noise;
use sim_core::rig::keys::Setup;
fn main() {
    let rig = sim_core::rig::shipped::shipped("six").unwrap().rig;
    let setup = Setup { rig, conditions: Conditions::default() };
    let asked = question(&setup);
    let space = Space::of(&setup, false);
    for i in 0..30 {
        let Some(h) = hidden(&space, 1, i, Law::Same) else { println!("{i} none"); continue };
        let Some(q) = read(&asked, &h.car, &mut Noise::new(1 ^ 0x5ead, i)) else { println!("{i} no read"); continue };
        let Some(f) = fit(&q) else { println!("{i} nofit {}", q.reads.len()); continue };
        let states = q.states();
        let truth = sim_core::fit::model::shows(&q, &states, &h.car).unwrap();
        println!("{i} reads {} out {} evals {}", q.reads.len(), f.out_of_place.len(), f.evaluations);
        for o in &f.out_of_place { let r=&q.reads[o.read]; println!("   {} read {:.4} sigma {:.4} true {:.4} expected {:.4} +- {:.4}", r.slot.words(), r.value, r.sigma, truth.values[o.read], o.expected.0, o.expected.1); }
        let s = f.told("screw_turns").unwrap();
        println!("   screw true {:+.4} found {:+.4} se {:.4}; law true {:?} found {:?} {:?}", h.at[0]*0.06, s.value, s.standard_error, h.flame, f.flame, f.laws);
    }
}
