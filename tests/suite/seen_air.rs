//! The air that the controller takes from the potentiometer: track, pit and turned housing, and
//! what comes of them cold, in starts, under the pedal and in the memory. Common practice, no
//! source, unless said otherwise.

use crate::support::*;
use sim_core::drive::{Drive, engine_demand};
use sim_core::relearn::averaged::wanted_a;
use sim_core::relearn::{first_cells, relearn};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::SHIPPED;
use sim_core::run::Options;
use sim_core::run::start::start;
use sim_core::voltage::{LeftAt, left_at};

fn left(volts: f64) -> LeftAt {
    left_at(&car("six"), volts, -10.0).unwrap()
}

/// What if I leave it at 0.60 or 0.85 V: warm and settled nothing moves; cold the enrichment is
/// wrong, the cells learn elsewhere.
#[test]
fn a_housing_left_at_another_voltage_does_what_it_does_in_the_cold_and_in_the_memory() {
    let (low, right, high) = (left(0.60), left(0.70), left(0.85));
    assert!(low.seen_over_true < 0.75 && high.seen_over_true > 1.4);
    near(right.seen_over_true, 1.0, 0.02, "air flow seen over true, at 0.70 V");
    let idle = |left: &LeftAt| left.cold.idle.unwrap();
    // Cold: taken for more air, it gets less on top, and is rougher.
    assert!(idle(&low).lambda < idle(&right).lambda - 0.01);
    assert!(idle(&high).lambda > idle(&right).lambda + 0.01);
    assert!(idle(&high).cov > idle(&right).cov + 0.005);
    assert!(
        low.cold.fuel_kg > 1.004 * right.cold.fuel_kg && right.cold.fuel_kg > high.cold.fuel_kg
    );
    let push = |left: &LeftAt| left.cold.push.unwrap().0;
    assert!(push(&high) > push(&right) && push(&right) > push(&low), "leanest after a push");
    // Warm, the loop makes all of it good.
    let warm = |left: &LeftAt| left.warm.idle.unwrap().lambda;
    assert!((warm(&low) - warm(&high)).abs() < 0.003);
    // At 0.85 V the idle falls into the second cell: the first learns nothing.
    assert!(right.learned_s[0] > 100.0 && high.learned_s[0] == 0.0 && high.learned_s[1] > 100.0);
}

/// A pit where the wiper idles hides air: cold, the engine gets too much on top, in the settled
/// point and in a run.
#[test]
fn a_pit_hides_air_from_the_controller_and_makes_a_cold_idle_rich() {
    let cold = with("six", &[("coolant_degc", 0.0)]);
    let sound = running(&cold);
    // Where the cold engine idles, as height above that of the warm one.
    let rig = &cold.rig;
    let height_mm = 1e3 * (sound.plate_lift_m - rig.parts().plate.rest_below_throat_m);
    let at_mm = height_mm - 1e3 * rig.reference().idle_height_m;
    let keys = [("wear_mv", 150.0), ("wear_at_mm", at_mm), ("wear_width_mm", 1.0)];
    let pit = and(&cold, &keys);
    let worn = running(&pit);
    assert!(worn.potentiometer_v < sound.potentiometer_v - 0.1);
    assert!(worn.actuator_a > sound.actuator_a + 5e-4, "{} A", worn.actuator_a);
    assert!(worn.lambda < sound.lambda - 0.005, "lambda {}, sound {}", worn.lambda, sound.lambda);
    let mut engine = engine(&pit);
    go_on(&mut engine, 20.0);
    near(shown(&now(&engine), "actuator_ma"), shown(&worn, "actuator_ma"), 2e-3, "current");
    // On a warm engine it reads 0.60 V and moves nothing the loop does not make good.
    let warm = and(&car("six"), &[("wear_mv", 100.0), ("wear_width_mm", 1.0)]);
    assert!((running(&warm).potentiometer_v - 0.60).abs() < 0.01);
    near(running(&warm).lambda, 1.0, 1e-6, "warm lambda");
}

/// The controller's own curve is the inverse of the sound track and funnel.
#[test]
fn the_controller_reads_the_air_flow_that_the_sound_engine_breathes() {
    for (rig, _) in SHIPPED {
        let setup = with(rig, &[("ambient_degc", 20.0)]);
        for percent in [2.0, 10.0, 30.0] {
            let at = and(&setup, &[("throttle_percent", percent), ("speed_rpm", 2000.0)]);
            let state = running(&at);
            let seen = setup.rig.reference().nominal.air_kg_s(state.potentiometer_v);
            near(seen, state.metered_kg_s, 2e-3, "air by the voltage");
        }
    }
    // A supply that clips hides the flow beyond: what the controller sees stops rising.
    let clipped = |throttle: f64| {
        let keys = [("supply_v", 4.35), ("throttle_percent", throttle), ("speed_rpm", 4500.0)];
        let setup = with("six", &keys);
        let state = running(&setup);
        let seen = setup.rig.reference().nominal.air_kg_s(state.potentiometer_v);
        (seen, state.metered_kg_s)
    };
    let (half, wide) = (clipped(50.0), clipped(100.0));
    assert!(wide.1 > half.1 && wide.0 < 0.97 * wide.1, "{half:?} and {wide:?}");
}

/// A settled cold engine is the same in the steady point and in a run, housing turned or not.
#[test]
fn the_cold_base_current_is_one_in_points_and_in_runs() {
    for housing in [-0.5, 0.0, 0.8] {
        let setup = and(&with("six", &[("coolant_degc", 0.0)]), &[("housing_mm", housing)]);
        let state = running(&setup);
        let mut engine = engine(&setup);
        go_on(&mut engine, 30.0);
        let run = now(&engine);
        near(shown(&run, "actuator_ma"), shown(&state, "actuator_ma"), 2e-3, "current");
    }
}

/// The cold idle moves by hundredths only, and that is all of it: the sound car on the current
/// that the share of the seen air leaves has the same mixture. The current goes through a root.
#[test]
fn a_turned_housing_moves_a_cold_idle_by_its_share_of_the_current_and_by_nothing_else() {
    let cold = and(&car("six"), &[("coolant_degc", 0.0)]);
    let parts = cold.rig.parts();
    let (sound, base_ma) = (running(&cold), 1e3 * parts.controller.base_a);
    for housing in [-0.5, 0.8] {
        let turned = running(&and(&cold, &[("housing_mm", housing)]));
        let nominal = cold.rig.reference().nominal;
        let seen = |state: &sim_core::point::State| nominal.air_kg_s(state.potentiometer_v);
        // The power of the seen air, by hand.
        let share = (seen(&turned) / seen(&sound)).powf(-0.3);
        let added_ma = shown(&sound, "actuator_ma") - base_ma;
        let forced = running(&and(&cold, &[("actuator_ma", base_ma + share * added_ma)]));
        near(turned.lambda, forced.lambda, 1e-3, "lambda on the current of the share");
        // A root halves what a part of the current does, and the base takes some more of it away.
        let moved = (turned.lambda / sound.lambda - 1.0).abs();
        assert!(moved < 0.5 * (share - 1.0).abs(), "{moved} of lambda, {share} of the current");
    }
}

/// The start does not see the voltage: until the engine has caught it is the same to the last bit.
#[test]
fn a_start_is_the_same_at_every_voltage_until_it_has_caught() {
    let cold = at_degc(&car("six"), -10.0);
    let rows = |housing: f64| {
        let setup = and(&cold, &[("housing_mm", housing)]);
        let found = start(&setup, Options::default(), 10.0, 15.0).unwrap();
        let caught_s = found.caught_after_s.unwrap();
        let until: Vec<_> = found.rows.iter().filter(|row| row[0] <= caught_s).copied().collect();
        (caught_s, until, found.rows)
    };
    let (low, high) = (rows(-0.5), rows(0.8));
    assert_eq!((low.0, &low.1), (high.0, &high.1));
    // From the catch on it counts.
    assert!(low.2.last() != high.2.last());
}

/// Most current added for a push on the pedal, over the current just before (A).
fn push_a(setup: &Setup) -> f64 {
    let mut engine = engine(setup);
    drive(&mut engine, 0.08, 1500.0);
    go_on(&mut engine, 5.0);
    let before = now(&engine).actuator_a;
    drive(&mut engine, 0.25, 1500.0);
    let mut most = 0.0_f64;
    for _ in 0..100 {
        engine.tick().unwrap();
        most = most.max(now(&engine).actuator_a - before);
    }
    most
}

/// A push on the pedal is seen as a voltage that rises: out of a pit it rises by more, into one
/// by less.
#[test]
fn a_pit_makes_a_push_look_larger_or_smaller_than_it_is() {
    let setup = word(&car("six"), "trim", "off");
    let height_mm = |percent: f64| {
        let keys = [("throttle_percent", percent), ("speed_rpm", 1500.0)];
        let state = running(&and(&setup, &keys));
        let rest = setup.rig.parts().plate.rest_below_throat_m;
        1e3 * (state.plate_lift_m - rest - setup.rig.reference().idle_height_m)
    };
    let pit = |at_mm: f64| {
        and(&setup, &[("wear_mv", 250.0), ("wear_at_mm", at_mm), ("wear_width_mm", 0.6)])
    };
    let (sound, out, into) =
        (push_a(&setup), push_a(&pit(height_mm(8.0))), push_a(&pit(height_mm(25.0))));
    assert!(out > sound + 5e-4, "{out} A out of the pit, sound {sound}");
    assert!(into < sound + 1e-9 && into < out, "{into} A into the pit, sound {sound}");
}

/// What is learned is stored under the air that is seen: a pit where the engine idles hides air,
/// which the first cell takes all the same; a housing turned far down takes the cruise to a lower
/// cell.
#[test]
fn cells_are_taught_by_the_air_that_is_seen() {
    let taught = |setup: &Setup| {
        let asked = engine_demand(setup, &Drive::urban(780.0));
        let cells = first_cells(setup, false, &asked);
        let found = relearn(setup, cells, &asked, (1, false), Options::default(), |_| {}).unwrap();
        found.starts[0].learned_s
    };
    let sound = taught(&car("six"));
    let pit = taught(&and(&car("six"), &[("wear_mv", 100.0), ("wear_width_mm", 1.0)]));
    assert_eq!((sound[0], sound[1]), (pit[0], pit[1]));
    let low = taught(&and(&car("six"), &[("housing_mm", -0.54)]));
    assert!(low[3] < 0.5 * sound[3] && low[2] > 1.5 * sound[2], "{low:?}, sound {sound:?}");
}

/// A housing turned for a higher voltage shows a cell's air at less of it. There the lean screw
/// asks for more: a lift is a larger share of a smaller one.
#[test]
fn a_housing_turned_for_a_higher_voltage_makes_every_cell_ask_for_more() {
    let lean = and(&car("six"), &[("screw", aim_turns(&car("six")) - 1.0 / 32.0)]);
    let at = |housing_mm: f64| {
        let setup = and(&lean, &[("housing_mm", housing_mm)]);
        (running(&setup).potentiometer_v, wanted_a(&setup).map(Option::unwrap))
    };
    let mut turned = [-0.2, 0.0, 0.2].map(at);
    turned.sort_by(|a, b| a.0.total_cmp(&b.0));
    for pair in turned.windows(2) {
        for cell in 0..pair[0].1.len() {
            assert!(pair[1].1[cell] > pair[0].1[cell], "cell {cell}: {turned:?}");
        }
    }
}
