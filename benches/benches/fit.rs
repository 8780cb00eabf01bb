//! A fit of twelve readings, advice, and what a car of each trial costs.

use criterion::{Criterion, criterion_group, criterion_main};
use sim_core::conditions::Conditions;
use sim_core::diagnose::car::Law;
use sim_core::fit::advise::{Belief, Wanted, advise};
use sim_core::fit::bench_trial::{first_look, played};
use sim_core::fit::parameters::Space;
use sim_core::fit::posterior::fit;
use sim_core::fit::trial::{hidden, question, read, tried};
use sim_core::noise::Noise;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use std::hint::black_box;

fn fits(c: &mut Criterion) {
    let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
    let asked = question(&setup);
    let car = hidden(&Space::of(&setup, false), 1, 0, Law::Same).unwrap();
    let mut twelve = read(&asked, &car.car, &mut Noise::new(1, 0)).unwrap();
    twelve.reads.truncate(12);
    c.bench_function("fit of twelve readings", |b| b.iter(|| fit(black_box(&twelve))));
    let belief = Belief::of(&fit(&twelve).unwrap());
    let read = ["drop_N_rpm", "vacuum_bar", "system_bar"];
    let wanted = Wanted { potentiometer_v: 0.7, read: &read, meter_ohm: f64::INFINITY };
    c.bench_function("advice", |b| b.iter(|| advise(black_box(&belief), &wanted)));
    let mut number = 0;
    c.bench_function("a car of the fit's trial", |b| {
        b.iter(|| {
            number += 1;
            tried(&asked, (1, number, Law::Same))
        });
    });
    let look = first_look(&setup);
    c.bench_function("an engine of the advice's trial", |b| {
        b.iter(|| {
            number += 1;
            played(&look, 0.7, (1, number, Law::Same))
        });
    });
}

criterion_group! {
    name = all;
    config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(2)).warm_up_time(std::time::Duration::from_millis(300));
    targets = fits
}
criterion_main!(all);
