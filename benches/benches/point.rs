//! The steady point: what a whole one costs, and of what it is made.

use criterion::{Criterion, criterion_group, criterion_main};
use sim_core::conditions::{Conditions, IdleAir, Trim};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::steady::SteadyEngine;
use sim_core::sweep::{edges, spread};
use std::hint::black_box;

fn points(c: &mut Criterion) {
    let rig = shipped("six").unwrap().rig;
    let cases = [
        ("held, trim off", Conditions::default()),
        ("held, trim on", Conditions { trim: Trim::On, ..Conditions::default() }),
        ("fixed, trim off", Conditions { idle_air: IdleAir::Fixed, ..Conditions::default() }),
        ("half throttle", Conditions { throttle: 0.5, ..Conditions::default() }),
    ];
    for (name, conditions) in cases {
        let steady = SteadyEngine::new(&rig, &conditions);
        c.bench_function(&format!("point, {name}"), |b| {
            b.iter(|| steady.point(black_box(0.02)));
        });
        c.bench_function(&format!("conditions and point, {name}"), |b| {
            b.iter(|| SteadyEngine::new(&rig, black_box(&conditions)).point(0.02));
        });
    }
    let steady = SteadyEngine::new(&rig, &Conditions::default());
    c.bench_function("edges of the smooth zone", |b| b.iter(|| edges(black_box(&steady))));
    let setup = Setup { rig, conditions: Conditions::default() };
    c.bench_function("spread over nine cases", |b| b.iter(|| spread(&rig, black_box(&setup))));
    c.bench_function("read and check a rig file", |b| b.iter(|| shipped(black_box("six"))));
}

criterion_group! {
    name = all;
    config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(1)).warm_up_time(std::time::Duration::from_millis(300));
    targets = points
}
criterion_main!(all);
