//! What a technician knows, as tests named after the claim. Signs, orders and bands; never
//! the third digit. Facts of the trade are common practice without a source.

use crate::table::{Row, rows};
use sim_core::claims::{Claims, Rule, claims};
use sim_core::conditions::{Conditions, IdleAir, Trim};
use sim_core::engine::flame::FLAME_LAWS;
use sim_core::flowstart::{FlowStart, flow_start};
use sim_core::point::{State, Zone};
use sim_core::rig::Rig;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::steady::SteadyEngine;
use sim_core::sweep::{Edges, edges};
use sim_core::units::Unit;

pub fn rigs() -> impl Iterator<Item = (&'static str, Rig)> {
    SHIPPED.iter().map(|(name, _)| (*name, shipped(name).unwrap().rig))
}

pub fn trade(quantity: &str) -> Row {
    rows("trade_values").into_iter().find(|row| row.word("quantity") == quantity).unwrap()
}

pub fn run(rig: &Rig, conditions: &Conditions, screw: f64) -> State {
    let point = SteadyEngine::new(rig, conditions).point(screw);
    *point.state().unwrap_or_else(|| panic!("screw {screw}: {:?}", point.stall()))
}

pub fn aim(rig: &Rig) -> f64 {
    SteadyEngine::new(rig, &Conditions::default()).aim_turns().unwrap()
}

fn edges_of(rig: &Rig, conditions: &Conditions) -> Edges {
    edges(&SteadyEngine::new(rig, conditions))
}

fn static_setting(rig: &Rig, rest_mm: f64) -> FlowStart {
    let conditions = Conditions { rest_height_m: 1e-3 * rest_mm, ..Conditions::default() };
    flow_start(&Setup { rig: *rig, conditions }, 0.25).unwrap()
}

fn zone_after(rig: &Rig, rest_mm: f64) -> Zone {
    static_setting(rig, rest_mm).after.zone()
}

#[test]
fn the_shipped_rigs_stand_at_their_static_setting() {
    for (name, rig) in rigs() {
        let found = static_setting(&rig, 0.0);
        assert!(found.setting_turns.abs() < 0.002, "{name}: {}", found.setting_turns);
        assert!(!found.hazard, "{name} leaks at rest");
    }
}

#[test]
fn the_warm_idle_is_an_ordinary_one() {
    for (name, rig) in rigs() {
        let state = run(&rig, &Conditions::default(), aim(&rig));
        println!("{name}: {state:?}");
        trade("warm idle speed").holds(Unit::Rpm.from_si(state.speed_rad_s));
        trade("idle manifold pressure, absolute").holds(state.manifold_pa / 1e5);
        trade("residual gas fraction at idle").holds(state.residual_fraction);
        trade("airflow potentiometer at warm idle").holds(state.potentiometer_v);
        trade("CO before the catalyst, trim off, base setting").holds(100.0 * state.co);
        trade("pressure drop over the slits at 0 mA")
            .holds(rig.parts().pressures.slit_drop_pa(0.0) / 1e5);
        trade("system pressure above atmosphere").holds(rig.parts().pressures.system_pa / 1e5);
        trade("potentiometer supply").holds(rig.parts().potentiometer.supply_v);
        assert!((state.lambda - 1.0).abs() < 1e-9 && (state.duty - 0.5).abs() < 1e-9, "{name}");
        let litres = 1e3 * rig.parts().breathing.displacement_m3;
        let per_litre = 3600.0 * state.fuel_kg_s / litres;
        assert!((0.2..=0.5).contains(&per_litre), "{name}: {per_litre} kg/h of fuel a litre");
        assert!((state.potentiometer_v - 0.70).abs() < 0.01, "{name}: {} V", state.potentiometer_v);
        assert!((0.05..0.07).contains(&state.cov), "{name}: COV {}", state.cov);
    }
}

#[test]
fn at_rest_the_potentiometer_shows_almost_nothing() {
    for (_, rig) in rigs() {
        let parts = rig.parts();
        let volts = parts.potentiometer.voltage_v(-parts.plate.rest_below_throat_m, 0.0);
        trade("airflow potentiometer at rest").holds(volts);
    }
}

#[test]
fn a_quarter_turn_is_one_to_three_millimetres_at_the_plate() {
    for (_, rig) in rigs() {
        let found = static_setting(&rig, 0.0);
        trade("play at the plate after a quarter turn back from flow start")
            .holds(1e3 * found.play_m);
        assert!(found.felt_play_m < found.play_m, "the touch comes before the fuel");
    }
}

#[test]
fn the_smooth_window_is_between_a_seventh_and_two_fifths_of_a_turn_wide() {
    for (name, rig) in rigs() {
        let width = edges_of(&rig, &Conditions::default()).width().unwrap();
        assert!((0.15..=0.40).contains(&width), "{name}: {width}");
    }
}

#[test]
fn backs_off_a_quarter_turn_into_the_smooth_window() {
    for (name, rig) in rigs() {
        for rest_mm in [-0.3, -0.15, 0.0, 0.15, 0.3] {
            assert_eq!(zone_after(&rig, rest_mm), Zone::Smooth, "{name}, rest {rest_mm} mm");
        }
    }
}

#[test]
fn a_plate_that_rests_too_high_or_too_low_takes_the_quarter_turn_out_of_the_window() {
    for (name, rig) in rigs() {
        let high = static_setting(&rig, 0.8);
        let low = static_setting(&rig, -1.2);
        assert_eq!(high.after.zone(), Zone::RoughLean, "{name}");
        assert_eq!(low.after.zone(), Zone::RoughRich, "{name}");
    }
}

#[test]
fn rest_height_moves_the_static_setting_and_not_the_warm_point() {
    for (name, rig) in rigs() {
        let warm = |rest_mm: f64| {
            let conditions = Conditions { rest_height_m: 1e-3 * rest_mm, ..Conditions::default() };
            run(&rig, &conditions, 0.0).lambda
        };
        assert_eq!(warm(0.0), warm(0.5), "{name}");
        let moved =
            static_setting(&rig, 0.5).setting_turns - static_setting(&rig, 0.0).setting_turns;
        let turn_mm = 1e3 * rig.parts().lever.height_per_turn_m();
        assert!((moved + 0.5 / turn_mm).abs() < 1e-9, "{name}: {moved}");
    }
}

#[test]
fn fuel_at_rest_is_a_hazard_and_not_a_setting() {
    for (name, rig) in rigs() {
        let setup = Setup { rig, conditions: Conditions::default() };
        for back_off in [0.0, -0.1] {
            let found = flow_start(&setup, back_off).unwrap();
            assert!(found.hazard, "{name}: {back_off} turn back");
            assert!(found.lines[0].1.iter().any(|flow| *flow > 0.0), "{name}: something flows");
        }
        assert!(!flow_start(&setup, 0.1).unwrap().hazard, "{name}");
    }
}

#[test]
fn a_stream_instead_of_a_drop_would_be_about_a_fifteenth_of_a_turn_richer() {
    let rig = shipped("six").unwrap().rig;
    let stream = static_setting(&rig, 0.0).stream_turns.unwrap();
    assert!((0.05..0.1).contains(&stream), "{stream}");
}

#[test]
fn the_middle_is_rich_of_lambda_one_and_the_rich_edge_the_farther() {
    for (name, rig) in rigs() {
        for flame in FLAME_LAWS {
            for idle_air in [IdleAir::Held, IdleAir::Fixed] {
                for trim in [Trim::Off, Trim::On] {
                    let conditions = Conditions { flame, idle_air, trim, ..Conditions::default() };
                    let edges = edges_of(&rig, &conditions);
                    let (one, middle) = (edges.lambda_one.unwrap(), edges.middle().unwrap());
                    let (lean, rich) = (edges.lean.unwrap(), edges.rich.unwrap());
                    let told = format!("{name} {flame:?} {idle_air:?} trim {trim:?}: {edges:?}");
                    assert!(rich - one > one - lean, "{told}");
                    assert!((0.005..0.20).contains(&(middle - one)), "{told}");
                    let ear = edges.ear_aim().unwrap();
                    assert!(lean < ear && ear < middle, "{told}");
                }
            }
        }
    }
}

/// Of the published residual-gas fit: held at lambda 1 (as the fit was made) the middle is
/// rich; let it follow the mixture and the middle falls near lambda 1. Both are printed.
#[test]
fn the_place_of_the_middle_rests_on_what_the_residual_gas_does() {
    let rig = shipped("six").unwrap().rig;
    let offset = |rig: &Rig| {
        let edges = edges_of(rig, &Conditions::default());
        edges.middle().unwrap() - edges.lambda_one.unwrap()
    };
    let follows = rig.with_parts(|parts| parts.breathing.residual_phi = 1.0).unwrap();
    assert!(offset(&follows).abs() < 0.75 * offset(&rig), "{}", offset(&follows));
    assert!(offset(&rig) > 0.02, "{}", offset(&rig));
}

#[test]
fn with_the_trim_on_the_window_is_wider_and_the_ear_finds_less() {
    for (name, rig) in rigs() {
        let off = edges_of(&rig, &Conditions::default());
        let on = edges_of(&rig, &Conditions { trim: Trim::On, ..Conditions::default() });
        assert!(on.width().unwrap() > off.width().unwrap() * 1.2, "{name}");
    }
}

#[test]
fn a_sixteenth_is_a_different_engine_at_idle_and_nothing_at_full_load() {
    for (name, rig) in rigs() {
        let aim = aim(&rig);
        let change = |conditions: &Conditions| {
            run(&rig, conditions, aim + 1.0 / 16.0).lambda / run(&rig, conditions, aim).lambda - 1.0
        };
        let full = Conditions {
            throttle: 1.0,
            speed_rad_s: Some(Unit::Rpm.to_si(4000.0)),
            ..Conditions::default()
        };
        let (idle, full) = (change(&Conditions::default()), change(&full));
        assert!(full < 0.0 && full > -0.03, "{name}: {full} at full load");
        assert!(idle < -0.10, "{name}: {idle} at idle");
    }
}

#[test]
fn the_funnel_keeps_the_mixture_from_idle_to_part_load_and_enriches_full_load() {
    let rig = shipped("six").unwrap().rig;
    let at = |rpm: f64, throttle: f64| {
        let speed_rad_s = Some(Unit::Rpm.to_si(rpm));
        let conditions = Conditions { throttle, speed_rad_s, ..Conditions::default() };
        run(&rig, &conditions, aim(&rig))
    };
    let mut seen = 0;
    for percent in 3..=100 {
        let state = at(2500.0, f64::from(percent) / 100.0);
        let air = 3600.0 * state.air_kg_s;
        if (25.0..=195.0).contains(&air) {
            seen += 1;
            assert!((0.97..=1.03).contains(&state.lambda), "{air} kg/h: lambda {}", state.lambda);
        }
    }
    assert!(seen > 20, "{seen} settings between 25 and 195 kg/h");
    let full = at(4000.0, 1.0);
    assert!(3600.0 * full.air_kg_s > 300.0);
    assert!((0.86..=0.92).contains(&full.lambda), "full load lambda {}", full.lambda);
    let mut before = f64::INFINITY;
    for percent in (25..=100).step_by(5) {
        let lambda = at(4000.0, f64::from(percent) / 100.0).lambda;
        assert!(lambda <= before + 1e-3, "{percent} %: {lambda} after {before}");
        before = lambda;
    }
}

fn told(claims: &Claims) -> String {
    format!("{claims:#?}")
}
#[test]
fn the_rules_hold_on_most_seeded_rigs() {
    let rig = shipped("six").unwrap().rig;
    let found = claims(&rig, &Conditions::default(), 1, 300, 0.3e-3).unwrap();
    println!("{}", told(&found));
    assert!(found.idle as f64 > 0.98 * found.drawn as f64, "{}", told(&found));
    for (rule, least) in [
        (Rule::Quarter, 0.85),
        (Rule::QuarterChecked, 0.95),
        (Rule::MiddleRich, 0.82),
        (Rule::RichFarther, 0.82),
        (Rule::Fifth, 0.97),
        (Rule::HandFifth, 0.85),
    ] {
        assert!(found.held(rule).share() >= least, "{rule:?}: {}", told(&found));
    }
}

#[test]
fn nobody_checked_the_rest_height_and_the_quarter_turn_fails_more_often() {
    let rig = shipped("six").unwrap().rig;
    let holds = |rest_m: f64| {
        claims(&rig, &Conditions::default(), 2, 200, rest_m).unwrap().held(Rule::Quarter).holds
    };
    let (checked, unchecked) = (holds(0.3e-3), holds(1.0e-3));
    assert!(unchecked + 20 < checked, "{unchecked} against {checked} of 200");
}

/// A fixed sixteenth leaves the window of many engines; a fifth of the width found, of hardly any.
#[test]
fn a_fixed_sixteenth_leaner_leaves_the_window_where_a_fifth_of_the_width_does_not() {
    let rig = shipped("six").unwrap().rig;
    for idle_air in [IdleAir::Held, IdleAir::Fixed] {
        let conditions = Conditions { idle_air, ..Conditions::default() };
        let found = claims(&rig, &conditions, 3, 200, 0.3e-3).unwrap();
        assert!(found.held(Rule::Sixteenth).share() < 0.85, "{}", told(&found));
        assert!(found.held(Rule::Fifth).share() >= 0.97, "{}", told(&found));
    }
}

#[test]
fn unequal_slits_narrow_the_window() {
    let rig = shipped("six").unwrap().rig;
    let width = |times: f64| {
        let rig = rig
            .with_parts(|parts| {
                let widths = &mut parts.slits.width_m;
                let mean = widths.iter().sum::<f64>() / widths.len() as f64;
                widths.iter_mut().for_each(|w| *w = mean + times * (*w - mean));
            })
            .unwrap();
        edges_of(&rig, &Conditions::default()).width().unwrap()
    };
    let (one, two, four) = (width(1.0), width(2.0), width(4.0));
    println!("width {one}, twice the spread {two}, four times {four}");
    assert!(two < one && four < 0.75 * one, "{one} {two} {four}");
}
