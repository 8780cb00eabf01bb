//! The bench: what a minute of it costs at 20 frames a second, beside the engine alone.

use criterion::{Criterion, criterion_group, criterion_main};
use live::{Bench, workshop};
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::{Action, Engine, Options};

const ACTS: [&str; 6] = [
    r#"{"act": "begin", "conditions": {"coolant_degc": 90}}"#,
    r#"{"act": "clip", "meter": "needle_v"}"#,
    r#"{"act": "clip", "meter": "duty_percent"}"#,
    r#"{"act": "clip", "meter": "co_percent"}"#,
    r#"{"act": "key", "to": "start"}"#,
    r#"{"act": "wait", "seconds": 60}"#,
];

fn started() -> Bench {
    let mut bench = Bench::default();
    for act in ACTS {
        assert!(!bench.answer(act).contains("\"error\""), "{act}");
    }
    bench
}

fn minute(c: &mut Criterion) {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { coolant_k: 363.15, ..workshop() };
    let options = Options { works: true, pulsation: 0.1, ..Options::default() };
    let mut running = Engine::standing(&Setup { rig, conditions }, options);
    running.apply(&Action::KeyOn).unwrap();
    running.apply(&Action::Starter(true)).unwrap();
    (0..6000).for_each(|_| running.tick().unwrap());
    c.bench_function("a minute of the engine under the bench", |b| {
        b.iter(|| {
            let mut engine = running.clone();
            (0..6000).for_each(|_| engine.tick().unwrap());
            engine.speed_rad_s()
        });
    });
    let bench = started();
    c.bench_function("a minute of the bench, 1200 frames", |b| {
        b.iter(|| {
            let mut bench = bench.clone();
            (0..1200)
                .map(|_| bench.answer(r#"{"act": "wait", "seconds": 0.05}"#).len())
                .sum::<usize>()
        });
    });
    c.bench_function("a minute of the bench at once", |b| {
        b.iter(|| bench.clone().answer(r#"{"act": "wait", "seconds": 60}"#).len());
    });
    let mut looking = started();
    c.bench_function("a frame without time", |b| {
        b.iter(|| looking.answer(r#"{"act": "look"}"#).len());
    });
}

criterion_group! {
    name = all;
    config = Criterion::default().sample_size(10).measurement_time(std::time::Duration::from_secs(3)).warm_up_time(std::time::Duration::from_millis(300));
    targets = minute
}
criterion_main!(all);
