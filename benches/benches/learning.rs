//! Starts, releases and drives: what a cold start, a release and a drive of relearning cost.

use criterion::{Criterion, criterion_group, criterion_main};
use sim_core::conditions::Conditions;
use sim_core::drive::{Drive, engine_demand};
use sim_core::relearn::{first_cells, relearn};
use sim_core::rig::keys::{Key, Setup};
use sim_core::rig::shipped::shipped;
use sim_core::run::Options;
use sim_core::run::start::start;
use sim_core::run::valves::{PHASES, release};
use sim_core::units::Unit;

fn setup(keys: &[(&str, f64)]) -> Setup {
    let mut setup =
        Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
    for (name, value) in keys {
        Key::find(name).unwrap().set(&mut setup, *value).unwrap();
    }
    setup
}

fn all(c: &mut Criterion) {
    let cold = setup(&[("ambient_degc", -5.0), ("coolant_degc", -5.0), ("fuel_degc", -5.0)]);
    c.bench_function("a cold start, watched for a minute", |b| {
        b.iter(|| start(&cold, Options::default(), 10.0, 60.0).unwrap().running_after_s);
    });
    let warm = setup(&[]);
    c.bench_function("a release of the pedal", |b| {
        b.iter(|| release(&warm, 2e-3, Unit::Rpm.to_si(3000.0), PHASES[0]).unwrap().caught);
    });
    let off = setup(&[("screw", -1.0 / 32.0)]);
    let moments = engine_demand(&off, &Drive::urban(1200.0));
    let cells = first_cells(&off, false, &moments);
    let noise = Options { torque_noise: true, ..Options::default() };
    c.bench_function("one drive of twenty minutes in full (40 of them: 10 s at most)", |b| {
        b.iter(|| relearn(&off, cells, &moments, (1, true), noise, |_| {}).unwrap().settled_at);
    });
    c.bench_function("forty drives averaged (50 ms at most)", |b| {
        b.iter(|| {
            let plain = Options::default();
            relearn(&off, cells, &moments, (40, false), plain, |_| {}).unwrap().settled_at
        });
    });
}

criterion_group! {
    name = group;
    config = Criterion::default().sample_size(10).measurement_time(std::time::Duration::from_secs(3)).warm_up_time(std::time::Duration::from_millis(300));
    targets = all
}
criterion_main!(group);
