//! Rules over many rigs, and the map of starts: what one rig, and a sixty-fourth of the map cost,
//! beside the point and the edges that they are made of.

use criterion::{Criterion, criterion_group, criterion_main};
use sim_core::claims::{Bases, Counted};
use sim_core::conditions::Conditions;
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::seeded::relative;
use sim_core::rig::shipped::shipped;
use sim_core::run::Options;
use sim_core::run::stability::mode;
use sim_core::run::start::{fate, start};
use sim_core::steady::SteadyEngine;
use sim_core::sweep::edges;
use std::hint::black_box;

/// Relatives of a count: each is the claims of that many rigs.
const RIGS: u64 = 16;

fn claims(c: &mut Criterion) {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions::default();
    let steady = SteadyEngine::new(&rig, &conditions);
    c.bench_function("one point", |b| b.iter(|| steady.point(black_box(0.02))));
    c.bench_function("one slowest mode", |b| b.iter(|| mode(&steady, black_box(0.02))));
    c.bench_function("the edges of one rig", |b| b.iter(|| edges(black_box(&steady))));
    c.bench_function("one relative drawn and checked", |b| {
        b.iter(|| relative(&rig, 1, black_box(3), 3e-4).is_some());
    });
    let bases = Bases::of(&rig);
    c.bench_function("the rules on 16 rigs", |b| {
        b.iter(|| Counted::of(&bases, black_box(&conditions), 1, 0..RIGS, 3e-4));
    });
}

fn starts(c: &mut Criterion) {
    let rig = shipped("six").unwrap().rig;
    let setup = |degc: f64, screw: f64| {
        let mut setup = Setup { rig, conditions: Conditions::closed_loop() };
        for (key, value) in
            [("ambient_degc", degc), ("coolant_degc", degc), ("fuel_degc", degc), ("screw", screw)]
        {
            Key::find(key).unwrap().set(&mut setup, value).unwrap();
        }
        setup
    };
    let places = (0..25).map(|i: i32| (f64::from(i / 5), f64::from(i % 5)));
    let places = places.map(|(row, column)| setup(-25.0 + 19.0 * row, -0.3 + 0.12 * column));
    let places: Vec<Setup> = places.collect();
    let none = Options::default();
    c.bench_function("25 starts of the map's 1600, each for its fate", |b| {
        b.iter(|| places.iter().filter(|it| fate(it, none, 10.0, 12.0).is_ok()).count());
    });
    c.bench_function("the same, looked at to the end", |b| {
        b.iter(|| places.iter().filter(|it| start(it, none, 10.0, 12.0).is_ok()).count());
    });
}

criterion_group! {
    name = all;
    config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(1)).warm_up_time(std::time::Duration::from_millis(300));
    targets = claims, starts
}
criterion_main!(all);
