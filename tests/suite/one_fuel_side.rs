//! One fuel side: what bleeding, starting, standing, running and relearning each say of it must
//! be the same.

use crate::support::*;
use sim_core::bleed::{Bleed, BleedRequest, bleed};
use sim_core::drive::{Drive, engine_demand};
use sim_core::fuel::supply::CheckValve;
use sim_core::parts::effects;
use sim_core::relearn::{first_cells, relearn};
use sim_core::rig::keys::Setup;
use sim_core::run::restart::{Restart, restart};
use sim_core::run::start::{flows_at_rest, start, tries};
use sim_core::run::valves::release;
use sim_core::run::{Action, Engine, Options};

const BAR: f64 = 1e5;
const CHECKS: [(CheckValve, &str); 3] =
    [(CheckValve::Ok, "ok"), (CheckValve::Leaks, "leaks"), (CheckValve::StuckOpen, "stuck-open")];

/// A hot engine that has stood, as keys.
fn soaked(rig: &str, check: &str, stand_s: f64, class_pa: f64) -> Setup {
    let keys = [
        ("coolant_degc", 90.0),
        ("bonnet_degc", 90.0),
        ("stood_h", stand_s / 3600.0),
        ("vapour_class_kpa", class_pa / 1e3),
    ];
    word(&word(&with(rig, &keys), "check_valve", check), "trim", "on")
}

fn bled(setup: &Setup, check_valve: CheckValve, stand_s: f64, class_pa: f64) -> Bleed {
    let asked = BleedRequest {
        lift_m: 0.02,
        check_valve,
        accumulator_share: 1.0,
        stand_s,
        hot_k: 363.15,
        class_pa,
    };
    bleed(setup, &asked).unwrap()
}

fn again(setup: &Setup) -> Restart {
    restart(setup, 120.0).unwrap()
}

/// The same stand, by the bench and by the engine: the same pressure, the same vapour's start.
/// The restart is the start's own, as far as one try goes.
#[test]
fn a_hot_stand_and_the_start_after_it_are_one_by_bench_and_engine() {
    for rig in ["four", "six", "eight"] {
        for (check_valve, check) in CHECKS {
            for stand_s in [600.0, 1200.0, 1800.0, 3600.0] {
                for class_pa in [60e3, 90e3] {
                    let setup = soaked(rig, check, stand_s, class_pa);
                    let place = format!("{rig}, {check}, {stand_s} s, {class_pa} Pa");
                    let bench = bled(&setup, check_valve, stand_s, class_pa).hot;
                    let engine = Engine::standing(&setup, Options::default());
                    let off = (engine.system_pa() - bench.residual_pa).abs();
                    assert!(off < 1e-3 * BAR, "{place}: {off} Pa apart");
                    let hot = again(&setup);
                    let tried = start(&setup, Options::default(), 10.0, 60.0).unwrap();
                    if hot.tries == 1 {
                        assert_eq!(hot.caught_after_s, tried.caught_after_s, "{place}");
                        assert_eq!(tried.reason, None, "{place}");
                    } else {
                        assert!(tried.reason.is_some(), "{place}");
                    }
                    // The road by whole tries needs as many of them.
                    let by_tries = tries(&setup, Options::default(), hot.tries as usize, 60.0);
                    let by_tries = by_tries.unwrap();
                    let runs_on = by_tries.last().unwrap().reason.is_none();
                    assert_eq!(by_tries.len(), hot.tries as usize, "{place}");
                    assert_eq!(runs_on, hot.caught_after_s.is_some(), "{place}");
                    println!(
                        "{place}: caught {:?} s, try {}, rough {:?} s; never firing, lines full after {:?} s",
                        hot.caught_after_s, hot.tries, hot.rough_s, bench.cranking_s
                    );
                }
            }
        }
    }
}

/// Common practice, no source: hot, tight 1 to 2 s of cranking, leaking 4 to 15 s, then a rough
/// quarter of a minute. Half an hour brings it; after 20 min the starter is let go a little sooner.
#[test]
fn the_hot_restart_takes_the_trade_s_time() {
    for rig in ["four", "six", "eight"] {
        for (stand_s, least_s) in [(1200.0, 3.4), (1800.0, 3.9), (2400.0, 4.5)] {
            let tight = again(&soaked(rig, "ok", stand_s, 60e3));
            assert!(tight.let_go_after_s.unwrap() < 2.0, "{rig}: {tight:?}");
            let leaks = again(&soaked(rig, "leaks", stand_s, 60e3));
            println!("{rig}, {stand_s} s: {leaks:?}");
            assert!((least_s..15.0).contains(&leaks.let_go_after_s.unwrap()), "{rig}: {leaks:?}");
            assert!((5.0..23.0).contains(&leaks.rough_s.unwrap()), "{rig}: {leaks:?}");
        }
    }
}

/// A night, weeks, a year: longer, never sooner, and at last as empty as opened lines.
#[test]
fn the_longer_a_car_has_stood_the_later_it_starts() {
    for rig in ["four", "six", "eight"] {
        let at = |stood_h: f64| {
            let keys = [("coolant_degc", 20.0), ("fuel_degc", 20.0), ("stood_h", stood_h)];
            word(&with(rig, &keys), "trim", "on")
        };
        let caught: Vec<Restart> =
            [12.0, 100.0, 400.0, 1500.0, 10_000.0].map(|h| again(&at(h))).to_vec();
        let empty = again(&word(&at(12.0), "lines", "empty"));
        println!("{rig}: {caught:?}; empty {empty:?}");
        assert!(caught.windows(2).all(|two| two[1].caught_after_s >= two[0].caught_after_s));
        assert!(caught[0].caught_after_s.unwrap() < 2.0, "{rig}: {:?}", caught[0]);
        let later_s =
            |i: usize| caught[i].caught_after_s.unwrap() - caught[0].caught_after_s.unwrap();
        assert!(later_s(2) > 0.1 && later_s(3) > 1.0, "{rig}: {caught:?}");
        assert_eq!(caught[4], empty, "{rig}: stood for more than a year");
    }
}

/// An open regulator's pressure or a stuck one's, above the injectors' opening after the stop:
/// they drip until it has fallen there, and no further.
#[test]
fn a_pressure_above_the_opening_after_the_stop_drips_away_through_the_injectors() {
    for rig in ["four", "six", "eight"] {
        let after = |closes_bar: f64| {
            let setup = with(rig, &[("regulator_closes_bar", closes_bar), ("bonnet_degc", 60.0)]);
            let mut engine = engine(&word(&setup, "trim", "on"));
            engine.apply(&Action::KeyOff).unwrap();
            go_on(&mut engine, 6.0);
            let before = engine.fuel_ledger().into_ports_m3;
            engine.apply(&Action::Stand(1800.0)).unwrap();
            let ledger = engine.fuel_ledger();
            assert!(ledger.missing_m3().abs() < 1e-14, "{rig}: {ledger:?}");
            (engine.system_pa() / BAR, 1e6 * (ledger.into_ports_m3 - before))
        };
        let first_bar = {
            let parts = *with(rig, &[]).rig.parts();
            parts.injectors.first_opens_pa(parts.slits.width_m.len(), 0.0) / BAR
        };
        let (sound_bar, sound_ml) = after(2.7);
        let (high_bar, high_ml) = after(5.0);
        println!(
            "{rig}: {sound_bar} bar, {sound_ml} ml; closes at 5: {high_bar} bar, {high_ml} ml"
        );
        assert_eq!(sound_ml, 0.0, "{rig}: dry");
        assert!(high_ml > 0.03, "{rig}: {high_ml} ml into the ports");
        assert!(high_bar < first_bar && high_bar > sound_bar, "{rig}: {high_bar} bar");
        // The bench says the same.
        let keys = [("regulator_closes_bar", 5.0), ("bonnet_degc", 60.0), ("fuel_degc", 60.0)];
        let setup = with(rig, &keys);
        let bench = bled(&setup, CheckValve::Ok, 1800.0, 60e3);
        near(bench.residual_pa / BAR, high_bar, 5e-3, "by the bench");
        assert!(bench.missing_m3.abs() < 1e-9 * bench.balance.pumped_m3);
    }
}

/// Where bench, start, idle and parts touch the fuel side they say the same: fuel runs at rest on
/// the same screws, the pump holds the same pressure, and a sound part's idle is that idle.
#[test]
fn bench_start_idle_and_parts_agree_where_they_touch() {
    for rig in ["four", "six", "eight"] {
        for screw in [0.0, 0.2, 0.3, 0.5] {
            let setup = word(&with(rig, &[("screw", screw)]), "trim", "on");
            let runs = flows_at_rest(&setup);
            let asked = BleedRequest {
                lift_m: 0.02,
                check_valve: CheckValve::Ok,
                accumulator_share: 1.0,
                stand_s: 1800.0,
                hot_k: 363.15,
                class_pa: 60e3,
            };
            assert_eq!(bleed(&setup, &asked).is_err(), runs, "{rig} at {screw}: the bench");
            if let Some(state) = point(&setup).state() {
                assert_eq!(state.flows_at_rest, runs, "{rig} at {screw}: the idle");
            }
        }
        let setup = word(&with(rig, &[]), "trim", "on");
        let held_pa = bled(&setup, CheckValve::Ok, 1800.0, 60e3).running_pa;
        let (idle, started) = (running(&setup), engine(&setup));
        assert!((held_pa - idle.system_pa).abs() < 0.02 * BAR, "{rig}: {held_pa}");
        assert!((started.system_pa() - idle.system_pa).abs() < 0.02 * BAR, "{rig}");
        // `parts` looks at the same fuel side.
        let effects = effects(&setup).unwrap();
        let off = effects.iter().find(|effect| effect.part.name == "fuel-lines").unwrap();
        let first_narrow = off.off.state().unwrap();
        assert_eq!(first_narrow.flows_at_rest, idle.flows_at_rest, "{rig}");
        assert!((first_narrow.system_pa - idle.system_pa).abs() < 0.02 * BAR, "{rig}");
    }
}

/// Lines that are empty take the driver of `relearn` as many tries as `coldstart`.
#[test]
fn relearning_and_starting_need_the_same_tries_on_empty_lines() {
    for rig in ["four", "six", "eight"] {
        let keys = [("coolant_degc", 20.0), ("fuel_degc", 20.0)];
        let setup = word(&word(&with(rig, &keys), "lines", "empty"), "trim", "on");
        let most = tries(&setup, Options::default(), 8, 60.0).unwrap().len();
        let asked = engine_demand(&setup, &Drive::urban(120.0));
        let cells = first_cells(&setup, false, &asked);
        let found = relearn(&setup, cells, &asked, (1, true), Options::default(), |_| {}).unwrap();
        assert_eq!(found.starts[0].tries as usize, most, "{rig}");
    }
}

/// Where nothing sprays no road runs: not the idle, not the run, not the release of the pedal, not
/// the list of parts; where fuel sprays all do.
#[test]
fn a_pressure_that_opens_no_injector_stops_every_road() {
    for rig in ["four", "six", "eight"] {
        for (bar, runs) in [(2.5, false), (5.4, true)] {
            let setup = with(rig, &[("system_pressure_bar", bar)]);
            let place = format!("{rig} at {bar} bar");
            assert_eq!(point(&setup).state().is_some(), runs, "{place}: the idle");
            assert_eq!(Engine::new(&setup, Options::default()).is_ok(), runs, "{place}: the run");
            let gap_m = setup.rig.parts().idle_valve.gap_m;
            let caught = release(&setup, gap_m, 300.0, (0.0, 0.0)).is_ok_and(|found| found.caught);
            assert_eq!(caught, runs, "{place}: the pedal let go");
            assert_eq!(effects(&setup).is_some(), runs, "{place}: the parts");
        }
    }
}

/// Warm, with a coolant sensor that says arctic cold, the engine fires and drowns, again and
/// again: nobody turns the key more than sixty times. Counted by cranking
/// alone it was hundreds of tries, half a day of them.
#[test]
fn an_engine_that_catches_and_dies_again_and_again_is_given_up() {
    let setup = failed(&soaked("six", "ok", 1800.0, 90e3), "coolant", "open");
    let found = restart(&setup, 600.0).unwrap();
    assert_eq!((found.caught_after_s, found.tries), (None, 60));
}
