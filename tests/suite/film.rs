//! Fuel on the walls: what a step of the fuel does in time, warm and cold.

use crate::support::*;
use sim_core::rig::keys::Setup;
use sim_core::run::Engine;

/// Speed at which the brake holds the engine here (rpm): its warm idle, for which the file
/// tells the time the film takes.
const RPM: f64 = 710.0;

/// An engine whose air stays what it is, settled.
fn held(setup: &Setup) -> Engine {
    let mut engine = engine(setup);
    hold(&mut engine, 0.06, RPM);
    go_on(&mut engine, 25.0);
    engine
}

/// Richness of the charges after a jump of the current: at once, then every tenth of a
/// second.
fn after_a_jump(setup: &Setup) -> (f64, Vec<f64>) {
    let mut engine = held(setup);
    let before = 1.0 / now(&engine).lambda;
    set(&mut engine, &[("actuator_ma", 20.0)]);
    let mut rich = vec![1.0 / now(&engine).lambda];
    for _ in 0..250 {
        go_on(&mut engine, 0.1);
        rich.push(1.0 / now(&engine).lambda);
    }
    (before, rich)
}

/// A wall that keeps half of the fuel: half of a step arrives at once, the rest as the film
/// fills, so much closer every so long.
#[test]
fn the_wall_holds_back_its_share_of_a_step_and_gives_it_back_in_its_time() {
    for (share, film_s) in [(0.5, 2.0), (0.25, 1.0)] {
        let keys = [("film_share", share), ("film_s", film_s), ("actuator_ma", 10.0)];
        let (before, rich) = after_a_jump(&with("six", &keys));
        let end = rich[rich.len() - 1];
        near((rich[0] - before) / (end - before), 1.0 - share, 0.01, "what arrives at once");
        let after = rich[(10.0 * film_s) as usize];
        near((end - after) / (end - rich[0]), (-1.0_f64).exp(), 0.03, "what is left to come");
    }
}

/// Little's law: what lies on the wall is what goes there in the time it stays.
#[test]
fn what_lies_on_the_wall_is_its_share_of_the_flow_for_its_time() {
    let setup = with("six", &[("film_share", 0.5), ("film_s", 2.0), ("actuator_ma", 10.0)]);
    let engine = held(&setup);
    near(engine.film_kg() / now(&engine).fuel_kg_s, 0.5 * 2.0, 0.01, "film over flow (s)");
}

/// Less evaporates from a cold wall (Aquino, SAE 810494: share and time both grow in the
/// cold): more lies there, less arrives at once, the rest comes later.
#[test]
fn a_cold_wall_holds_more_and_gives_it_back_later() {
    let keys = [("film_share", 0.25), ("film_s", 0.5), ("actuator_ma", 10.0)];
    let at = |degc: f64| and(&with("six", &keys), &[("coolant_degc", degc)]);
    let stays = |setup: &Setup| {
        let engine = held(setup);
        engine.film_kg() / now(&engine).fuel_kg_s
    };
    let (warm, cool, cold) = (stays(&at(90.0)), stays(&at(50.0)), stays(&at(20.0)));
    assert!(cold > 4.0 * warm, "{cold} s of fuel on a wall at 20 degC, {warm} s at 90");
    assert!((warm..cold).contains(&cool), "{cool} s of fuel at 50 degC, between the two");
    let arrives = |setup: &Setup| {
        let (before, rich) = after_a_jump(setup);
        let end = rich[rich.len() - 1];
        let at_once = (rich[0] - before) / (end - before);
        let late = rich.iter().position(|r| end - r < 0.37 * (end - rich[0])).unwrap();
        (at_once, 0.1 * late as f64)
    };
    let (warm, cold) = (arrives(&at(90.0)), arrives(&at(20.0)));
    assert!(cold.0 < warm.0 - 0.1, "arrives at once: {} cold, {} warm", cold.0, warm.0);
    assert!(cold.1 > 2.0 * warm.1, "the rest after {} s cold, {} s warm", cold.1, warm.1);
}
