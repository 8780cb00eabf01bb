//! The running engine: what a simulated minute costs.

use criterion::{Criterion, criterion_group, criterion_main};
use sim_core::conditions::{Conditions, Trim};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::{Engine, Options};

fn minute(c: &mut Criterion) {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let setup = Setup { rig, conditions };
    let noise = Options { torque_noise: true, ..Options::default() };
    let works = Options { works: true, ..Options::default() };
    for (name, options) in [
        ("a minute of closed-loop idle", Options::default()),
        ("the same on a scattered torque", noise),
        ("the same on works cycle by cycle", works),
    ] {
        c.bench_function(name, |b| {
            b.iter(|| {
                let mut engine = Engine::new(&setup, options).unwrap();
                for _ in 0..6000 {
                    engine.tick().unwrap();
                }
                engine.speed_rad_s()
            });
        });
    }
}

/// What a look at every meter costs beside: a run that averages takes one every tick.
fn readings(c: &mut Criterion) {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let mut engine = Engine::new(&Setup { rig, conditions }, Options::default()).unwrap();
    for _ in 0..500 {
        engine.tick().unwrap();
    }
    c.bench_function("every reading of a running engine", |b| b.iter(|| engine.readings()));
}

criterion_group! {
    name = all;
    config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(2)).warm_up_time(std::time::Duration::from_millis(300));
    targets = minute, readings
}
criterion_main!(all);
