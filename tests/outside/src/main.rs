//! A stranger's program: a live engine on sim-core alone, its screw turned, a moment kept and
//! gone back to, every meter read, and an hour of rows taken one at a time.

use sim_core::conditions::Conditions;
use sim_core::point::READINGS;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::procedure::Procedure;
use sim_core::run::record::perform_streamed;
use sim_core::run::{Action, Engine, Options};
use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let rig = shipped("six").ok_or("no rig six")?.rig;
    let setup = Setup { rig, conditions: Conditions::closed_loop() };
    let mut engine = Engine::new(&setup, Options::default())?;
    run(&mut engine, 2.0)?;
    let mut fork = engine.clone();
    fork.apply(&Action::Turn(1.0 / 16.0))?;
    run(&mut engine, 20.0)?;
    run(&mut fork, 20.0)?;
    let (left, turned) = (engine.readings(), fork.readings());
    let (left_state, turned_state) =
        (left.state.ok_or("it stands")?, turned.state.ok_or("it stands")?);
    for reading in READINGS {
        let shown = |state| reading.value(state).map_or("-".into(), |value| format!("{value:.4}"));
        println!("{}: {} {}", reading.name, shown(&left_state), shown(&turned_state));
    }
    println!("lambda at the sensor: {:.3} {:.3}", left.lambda_at_sensor, turned.lambda_at_sensor);
    println!("learned trim (mA): {:.2} {:.2}", 1e3 * left.learned_a, 1e3 * turned.learned_a);
    if turned.learned_a >= left.learned_a {
        return Err("the trim does not take away what the screw adds".into());
    }
    if std::env::args().any(|argument| argument == "--hour") {
        hour(&setup)?;
    }
    Ok(())
}

fn run(engine: &mut Engine, seconds: f64) -> Result<(), Box<dyn Error>> {
    for _ in 0..(100.0 * seconds) as u32 {
        engine.tick()?;
    }
    Ok(())
}

/// An hour at 10 ms, row by row.
fn hour(setup: &Setup) -> Result<(), Box<dyn Error>> {
    let idle = Procedure {
        name: "hour".into(),
        about: "idle left alone".into(),
        lasts_s: 3600.0,
        noise: false,
        pulsation: 0.0,
        steps: Vec::new(),
    };
    let mut rows = 0;
    perform_streamed(setup, &idle, Options::default(), 1, |_| {}, |_| {}, |_| rows += 1)?;
    println!("{rows} rows");
    Ok(())
}
