//! What is told of a gas as read: gases put together by moles, of which all is known.

use crate::support::near;
use sim_core::engine::exhaust::{Gas, gas_of, mixed_gas};
use sim_core::engine::gas_balance::{GasBalance, GasRead, Sign, lambda_of_co, oxygen_beyond};
use sim_core::fuel::kind::Fuel;

/// Oxygen in air by volume (dry air, 20.95 %), and of petrol's hydrogen atoms for each carbon.
const OXYGEN: f64 = 0.2095;
const H: f64 = 1.85;

fn petrol() -> Fuel {
    Fuel::petrol_with_ethanol(0.0)
}

fn read(gas: &Gas) -> GasRead {
    GasRead { co: Some(gas.co), co2: Some(gas.co2), o2: Some(gas.o2), hc: Some(gas.hc) }
}

fn percent(co: f64, co2: f64, o2: f64, hc_ppm: f64) -> GasBalance {
    let of = |share: f64| Some(0.01 * share);
    let read = GasRead { co: of(co), co2: of(co2), o2: of(o2), hc: Some(1e-6 * hc_ppm) };
    read.balanced(&petrol()).unwrap()
}

/// The gas of a mixture with a share of the charges lost and air added (share of the air
/// breathed), by moles: a charge with one mole of oxygen in it has `1/lambda/(1 + h/4 - o/2)` of
/// carbon. A lost charge leaves its air and its fuel, told as hexane, beside the rest.
fn thinned(burnt: &Gas, lambda: f64, lost: f64, air: f64) -> Gas {
    thinned_of((H, 0.0), burnt, lambda, lost, air)
}

/// The same for a fuel with so many hydrogen and oxygen atoms for each carbon.
fn thinned_of((h, o): (f64, f64), burnt: &Gas, lambda: f64, lost: f64, air: f64) -> Gas {
    let carbon = 1.0 / (lambda * (1.0 + h / 4.0 - o / 2.0));
    let dry = carbon / (burnt.co + burnt.co2);
    let all = (1.0 - lost) * dry + (lost + air) / OXYGEN + lost * carbon / 6.0;
    let kept = (1.0 - lost) * dry / all;
    Gas {
        co: burnt.co * kept,
        co2: burnt.co2 * kept,
        o2: burnt.o2 * kept + (lost + air) / all,
        h2: burnt.h2 * kept,
        hc: burnt.hc + lost * carbon / 6.0 / all,
    }
}

#[test]
fn lost_cycles_and_added_air_are_found_as_they_were_put_in() {
    for lambda in [0.75, 0.85, 0.92, 0.97, 1.0, 1.02] {
        for lost in [0.0, 0.02, 0.05, 0.15] {
            for air in [0.0, 0.05, 0.15, 0.5] {
                let own = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
                let found = read(&thinned(&own, lambda, lost, air)).balanced(&petrol()).unwrap();
                let at = format!("lambda {lambda}, {lost} lost, {air} of air: {found:?}");
                let burnt = found.burnt_lambda.unwrap();
                assert!((burnt - lambda).abs() < 2e-3, "{at}");
                assert!((found.lost - lost).abs() < 2e-3 + 0.05 * lost, "{at}");
                assert!((found.added_air - air).abs() < 4e-3 + 0.02 * air, "{at}");
                assert!(found.possible(), "{at}");
                let airs = [Sign::AirAdded, Sign::Uneven, Sign::LeanOrAir];
                let told = airs.iter().filter(|sign| found.signs.contains(sign)).count();
                assert_eq!(told, usize::from(air > 0.0), "{at}");
                // Rich, or much: no cylinders far apart leave so much oxygen beside such CO.
                if air > 0.0 && lambda <= 0.97 || air > 0.1 && lambda <= 1.0 {
                    assert!(found.signs.contains(&Sign::AirAdded), "{at}");
                }
                let misfires = [Sign::Misfire, Sign::LeanMisfire].iter();
                assert_eq!(
                    misfires.filter(|sign| found.signs.contains(sign)).count() == 1,
                    lost > 0.0,
                    "{at}"
                );
                if air == 0.0 {
                    near(
                        found.sum_without_air,
                        found.sum,
                        2e-2,
                        "nothing thins it but what was lost",
                    );
                }
                let low = found.sum < found.sum_without_air - 0.006;
                assert_eq!(found.signs.contains(&Sign::SumLow), low, "{at}");
            }
        }
    }
}

/// Lean and without CO, air that burnt along and air let in afterwards leave the same gas.
#[test]
fn a_lean_gas_and_a_thinned_one_are_not_told_apart() {
    let lean = gas_of(&petrol(), 1.2);
    let thin = thinned(&gas_of(&petrol(), 1.0), 1.0, 0.0, 0.2);
    near(lean.o2, thin.o2, 1e-3, "oxygen");
    near(lean.co2, thin.co2, 1e-3, "CO2");
    for gas in [lean, thin] {
        let found = read(&gas).balanced(&petrol()).unwrap();
        assert_eq!(found.signs, [Sign::LeanOrAir, Sign::SumLow], "{found:?}");
        near(found.added_air, 0.2, 1e-2, "air that was not needed");
    }
}

#[test]
fn lost_cycles_on_a_lean_mixture_are_a_lean_misfire() {
    for lambda in [1.15, 1.25, 1.35] {
        for lost in [0.03, 0.10] {
            let gas = thinned(&mixed_gas(&petrol(), &[lambda], 0.0, 0.0), lambda, lost, 0.0);
            let found = read(&gas).balanced(&petrol()).unwrap();
            assert_eq!(found.signs[0], Sign::LeanMisfire, "{lambda}, {lost}: {found:?}");
            assert!((found.lambda - lambda).abs() < 0.03, "{found:?}");
        }
    }
    // The same on a rich one: the spark, not the mixture.
    let gas = thinned(&mixed_gas(&petrol(), &[0.95], 0.0, 0.0), 0.95, 0.05, 0.0);
    assert_eq!(read(&gas).balanced(&petrol()).unwrap().signs[0], Sign::Misfire);
}

#[test]
fn sound_gases_fit_and_hydrocarbons_alone_are_no_misfire() {
    for lambda in [0.7, 0.8, 0.9, 0.95, 0.98, 1.0, 1.02] {
        let mut gas = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
        assert_eq!(read(&gas).balanced(&petrol()).unwrap().signs, [Sign::Fits], "{lambda}");
        gas.hc = 1500e-6;
        let found = read(&gas).balanced(&petrol()).unwrap();
        assert_eq!(found.signs[0], Sign::UnburntWithoutOxygen, "{lambda}: {found:?}");
    }
    // Cylinders eight percent apart either way leave CO and O2 side by side.
    let apart = mixed_gas(&petrol(), &[0.98 / 1.08, 0.98 / 0.92], 0.0, 0.0);
    let found = read(&apart).balanced(&petrol()).unwrap();
    assert!(!found.signs.contains(&Sign::Misfire) && found.possible(), "{found:?}");
}

/// Behind a catalyst CO, hydrogen and HC have burnt with the oxygen beside them.
#[test]
fn a_gas_burnt_out_near_lambda_one_is_behind_a_catalyst() {
    for lambda in [1.0, 1.005, 1.01] {
        let mut gas = gas_of(&petrol(), lambda);
        gas.hc = 15e-6;
        let found = read(&gas).balanced(&petrol()).unwrap();
        assert_eq!(found.signs, [Sign::Catalyst], "{lambda}: {found:?}");
    }
    let lean = read(&gas_of(&petrol(), 1.15)).balanced(&petrol()).unwrap();
    assert_ne!(lean.signs, [Sign::Catalyst], "a lean gas has as little CO: {lean:?}");
}

#[test]
fn gases_that_cannot_be_are_called_so() {
    assert_eq!(percent(20.0, 20.0, 21.0, 0.0).signs, [Sign::TooMuchOxygen]);
    assert_eq!(percent(20.0, 20.0, 15.0, 0.0).signs, [Sign::TooMuchOxygen]);
    assert_eq!(percent(0.0, 0.2, 21.0, 0.0).signs, [Sign::NearlyAir]);
    assert_eq!(percent(0.5, 14.7, 5.0, 100.0).signs, [Sign::TooMuchOxygen]);
    assert_eq!(percent(0.5, 8.0, 0.5, 100.0).signs, [Sign::TooLittleOxygen]);
    // Half a percent of CO2 beyond what a good tester is off: no verdict, but a doubt.
    let worn = percent(0.1, 10.5, 5.0, 1500.0);
    assert_eq!(worn.signs.last(), Some(&Sign::Doubtful), "{worn:?}");
    assert!(worn.possible() && worn.signs[0] == Sign::LeanMisfire, "{worn:?}");
    for (co, co2, o2) in [(20.0, 20.0, 21.0), (0.0, 0.2, 21.0), (0.5, 8.0, 0.5)] {
        assert!(!percent(co, co2, o2, 0.0).possible());
    }
}

/// Every gas made of air and a fuel balances, burnt well or badly, thinned or not.
#[test]
fn oxygen_found_is_the_oxygen_that_came_with_the_nitrogen() {
    for (h, o) in [(1.85, 0.0), (1.7261, 0.0175), (3.0, 0.5), (8.0 / 7.0, 0.0)] {
        let fuel = Fuel::of_formula(h, o);
        for lambda in [0.7, 0.9, 1.0, 1.3, 2.0] {
            let found = oxygen_beyond(&gas_of(&fuel, lambda), &fuel);
            assert!(found.abs() < 1e-4, "H/C {h}, lambda {lambda}: {found}");
        }
    }
    // What is lost keeps its atoms to itself: no water comes of its hydrogen, no carbon dioxide of
    // its oxygen. What counts is its room in the gas.
    for (h, o) in [(1.85, 0.0), (1.7261, 0.0175), (3.0, 0.5)] {
        let fuel = Fuel::of_formula(h, o);
        for (lambda, lost, air) in [(0.85, 0.2, 0.0), (1.0, 0.2, 0.0), (1.2, 0.2, 0.3)] {
            let gas = thinned_of((h, o), &gas_of(&fuel, lambda), lambda, lost, air);
            let found = oxygen_beyond(&gas, &fuel);
            assert!(found.abs() < 1e-4, "H/C {h}, lambda {lambda}, {lost} lost: {found}");
            // The tester tells its carbon as hexane; its molecules may be larger (octane).
            let room = gas.hc * (1.0 - 6.0 / 8.0);
            let other = Gas { hc: gas.hc / (1.0 - room), co: gas.co / (1.0 - room), ..gas };
            let other = Gas { co2: gas.co2 / (1.0 - room), o2: gas.o2 / (1.0 - room), ..other };
            let other = Gas { h2: gas.h2 / (1.0 - room), ..other };
            let off = oxygen_beyond(&other, &fuel);
            assert!(off.abs() < 5e-4, "larger molecules than hexane: {off}");
        }
    }
    // Two percent of added air: two parts of oxygen come with so much nitrogen.
    let gas = thinned(&gas_of(&petrol(), 0.9), 0.9, 0.0, 0.02);
    assert!(oxygen_beyond(&gas, &petrol()).abs() < 1e-4);
    // A percent of oxygen out of nothing: it is found, and takes the place of nitrogen.
    let mut more = gas_of(&petrol(), 1.0);
    more.o2 += 0.01;
    near(oxygen_beyond(&more, &petrol()), 0.01 * (1.0 + OXYGEN / (1.0 - OXYGEN)), 1e-2, "oxygen");
}

#[test]
fn what_was_not_read_follows_from_the_balance() {
    for lambda in [0.8, 0.95, 1.0] {
        for air in [0.0, 0.1] {
            let gas = thinned(&gas_of(&petrol(), lambda), lambda, 0.0, air);
            let known = GasRead { hc: None, ..read(&gas) };
            let full = known.balanced(&petrol()).unwrap();
            let no_o2 = GasRead { o2: None, ..known }.balanced(&petrol()).unwrap();
            let no_co2 = GasRead { co2: None, ..known }.balanced(&petrol()).unwrap();
            for found in [no_o2, no_co2] {
                assert!((found.gas.o2 - gas.o2).abs() < 1e-4, "{found:?}");
                assert!((found.gas.co2 - gas.co2).abs() < 1e-4, "{found:?}");
                assert!((found.lambda - full.lambda).abs() < 2e-3, "{found:?}");
            }
        }
    }
}

/// CO alone: the mixture that leaves it, and nothing about lean.
#[test]
fn carbon_monoxide_alone_tells_a_rich_mixture_and_nothing_of_a_lean_one() {
    for lambda in [0.7, 0.85, 0.95, 0.99] {
        let co = mixed_gas(&petrol(), &[lambda], 0.0, 0.0).co;
        let found = lambda_of_co(&petrol(), co).unwrap();
        let (low, high) = (found.richest, found.leanest.unwrap());
        near(found.lambda.unwrap(), lambda, 1e-6, "lambda of CO");
        assert!(low < lambda + 1e-9 && high > lambda - 1e-9, "{lambda}: {found:?}");
        // A mixture without any spread leaves it at the low end.
        if lambda > 0.9 {
            near(gas_of(&petrol(), low).co, co, 1e-6, "CO of one mixture");
        }
    }
    for lambda in [1.02, 1.1] {
        let co = mixed_gas(&petrol(), &[lambda], 0.0, 0.0).co;
        assert_eq!(lambda_of_co(&petrol(), co).unwrap().leanest, None, "open to lean: {lambda}");
    }
    let none = lambda_of_co(&petrol(), 0.0).unwrap();
    assert_eq!((none.lambda, none.richest, none.leanest), (None, 1.0, None));
    assert!(lambda_of_co(&petrol(), 0.25).is_none());
}

/// OIML R 99, class I (from memory): a tester may be off by 0.06 % of CO and 0.5 % of CO2. The
/// sum of both is called low from there on, not before.
#[test]
fn a_sum_is_low_from_what_a_good_tester_may_be_off_in_both_gases() {
    let own = mixed_gas(&petrol(), &[0.85], 0.0, 0.0);
    let (mut just_not, mut just) = (0.0_f64, 1.0_f64);
    for i in 0..400 {
        let air = 2.5e-4 * f64::from(i);
        let found = read(&thinned(&own, 0.85, 0.0, air)).balanced(&petrol()).unwrap();
        let short = found.sum_without_air - found.sum;
        match found.signs.contains(&Sign::SumLow) {
            true => just = just.min(short),
            false => just_not = just_not.max(short),
        }
    }
    assert!(just_not < 0.0056 && just > 0.0056 && just - just_not < 1e-4, "{just_not} {just}");
}

/// Cylinders seven percent lean and seven percent rich of their mean leave oxygen beside their
/// CO. As much of it as they leave is called theirs; air is called air from well above it on.
#[test]
fn oxygen_that_unequal_cylinders_leave_is_not_called_added_air() {
    for lambda in [0.97, 0.98, 0.99] {
        let own = mixed_gas(&petrol(), &[0.93 * lambda, 1.07 * lambda], 0.0, 0.0);
        let signs = read(&own).balanced(&petrol()).unwrap().signs;
        assert!(signs.contains(&Sign::Uneven), "lambda {lambda}: {signs:?}");
        let found = read(&thinned(&own, lambda, 0.0, 0.04)).balanced(&petrol()).unwrap();
        assert!(found.signs.contains(&Sign::AirAdded), "lambda {lambda}, air: {:?}", found.signs);
    }
}

/// Every reading off by what a good tester may be (0.06 % of CO, 0.5 % of CO2, 0.1 % of O2, 12 ppm,
/// or 5 % of the reading), in whatever direction: the doubt is the most that this moves the balance.
#[test]
fn the_doubt_is_the_most_that_a_tester_s_errors_move_the_balance() {
    for (co, co2, o2, hc) in [(0.5, 14.0, 0.6, 150.0), (4.0, 12.0, 0.3, 400.0)] {
        let found = percent(co, co2, o2, hc);
        let off = |reading: f64, least: f64| least.max(0.05 * reading);
        let moved = (0..16).map(|signs: u32| {
            let by = |i: u32, off: f64| if signs >> i & 1 == 1 { off } else { -off };
            let moved = percent(
                co + by(0, off(co, 0.06)),
                co2 + by(1, off(co2, 0.5)),
                o2 + by(2, off(o2, 0.1)),
                hc + by(3, off(hc, 12.0)),
            );
            (moved.oxygen_beyond - found.oxygen_beyond).abs()
        });
        near(moved.fold(0.0, f64::max), found.doubt, 0.02, "most that it moves");
    }
}

/// O2 that is more than the mixture's own by less than twice a tester's 0.1 % is no air let in.
#[test]
fn as_little_oxygen_as_a_tester_may_be_off_is_not_called_air() {
    for lambda in [0.8, 0.9, 0.97] {
        let own = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
        let told = |beyond: f64| {
            let found = read(&Gas { o2: own.o2 + beyond, ..own }).balanced(&petrol()).unwrap();
            found.signs.contains(&Sign::AirAdded) || found.signs.contains(&Sign::Uneven)
        };
        assert!(!told(0.0018) && told(0.0022), "lambda {lambda}");
    }
}

/// A rich engine that misses and draws air into its pipe is no lean one, though all that went in is.
#[test]
fn a_rich_engine_that_misses_beside_a_leak_is_no_lean_misfire() {
    for (lambda, air) in [(0.9, 0.4), (0.95, 0.2), (1.0, 0.0)] {
        let own = mixed_gas(&petrol(), &[lambda], 0.0, 0.0);
        let found = read(&thinned(&own, lambda, 0.05, air)).balanced(&petrol()).unwrap();
        assert!(found.lambda > 1.1 || air == 0.0, "{found:?}");
        assert_eq!(found.signs[0], Sign::Misfire, "{lambda}: {found:?}");
    }
}

/// Without CO and CO2 nothing is told of a gas; with O2 and CO it is.
#[test]
fn oxygen_alone_tells_nothing() {
    let o2 = Some(0.02);
    assert!(GasRead { o2, ..GasRead::default() }.balanced(&petrol()).is_none());
    assert!(GasRead { o2, co: Some(0.01), ..GasRead::default() }.balanced(&petrol()).is_some());
}

/// The engine's own hydrocarbons, not burnt behind it, are no catalyst's gas; oxygen within what
/// a tester may be off still is.
#[test]
fn hydrocarbons_tell_a_catalyst_and_a_tester_s_error_in_oxygen_does_not_hide_it() {
    let burnt_out = gas_of(&petrol(), 1.005);
    let own = mixed_gas(&petrol(), &[1.005], 0.0, 0.0).o2;
    for (hc, o2, catalyst) in [
        (15e-6, burnt_out.o2, true),
        (200e-6, burnt_out.o2, false),
        (15e-6, own, true),
        (15e-6, own + 8e-3, false),
    ] {
        let gas = Gas { hc, o2, ..burnt_out };
        let found = read(&gas).balanced(&petrol()).unwrap();
        assert_eq!(found.signs == [Sign::Catalyst], catalyst, "{hc}, {o2}: {found:?}");
    }
}

/// No mixture leaves a hundred times as much CO as CO2: what burnt is not told.
#[test]
fn of_a_gas_that_no_mixture_leaves_it_is_not_told_what_burnt() {
    for (co, co2, told) in [(10.0, 6.0, true), (20.0, 0.2, false)] {
        assert_eq!(percent(co, co2, 0.2, 300.0).burnt_lambda.is_some(), told, "{co}, {co2}");
    }
}

/// A tester that reads much HC is as sure of CO, CO2 and oxygen as one that reads none.
#[test]
fn hydrocarbons_leave_a_tester_as_sure_of_the_other_gases() {
    let [none, much] = [0.0, 3000.0].map(|hc_ppm| percent(0.6, 14.5, 0.8, hc_ppm).doubt);
    near(much, none, 3e-2, "doubt");
}
