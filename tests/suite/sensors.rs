//! Potentiometer, meter and worn track by circuit laws and by counting.

use crate::support::*;
use sim_core::ageing::Fleet;
use sim_core::diagnose::car::{Asked, Car};
use sim_core::diagnose::sheet::{Slot, Taken};
use sim_core::sense::meter::loaded_v;
use sim_core::sense::wear::Dither;
use std::f64::consts::PI;

/// What a source gives into a short circuit, and what it shows open: their quotient is its
/// resistance. The upper part of the track alone feeds a short.
#[test]
fn the_resistance_behind_the_wiper_is_open_voltage_over_short_circuit_current() {
    let potentiometer = with("six", &[]).rig.parts().potentiometer;
    for open_v in [0.05, 0.7, 2.5, 4.0, 4.9] {
        let upper_ohm = 4000.0 * (5.0 - open_v) / 5.0;
        let short_a = 5.0 / upper_ohm;
        near(potentiometer.source_ohm(open_v, 0.0), open_v / short_a, 1e-9, "ohm behind the wiper");
    }
    // In the middle of the track, where both parts are alike, a quarter of it.
    near(potentiometer.source_ohm(2.5, 0.0), 1000.0, 1e-9, "ohm in the middle of 4000");
}

/// Kirchhoff with three resistors: the meter beside the lower part of the track, fed through
/// the contact.
#[test]
fn a_meter_on_the_wiper_loads_it_as_three_resistors_do() {
    let potentiometer = with("six", &[]).rig.parts().potentiometer;
    for (open_v, contact_ohm, meter_ohm) in
        [(0.7, 0.0, 50e3), (0.7, 800.0, 20e3), (2.5, 0.0, 10e3), (4.0, 2000.0, 50e3)]
    {
        let lower = 4000.0 * open_v / 5.0;
        let upper = 4000.0 - lower;
        let branch = contact_ohm + meter_ohm;
        let beside = lower * branch / (lower + branch);
        let shown = 5.0 * beside / (upper + beside) * meter_ohm / branch;
        let source_ohm = potentiometer.source_ohm(open_v, contact_ohm);
        near(loaded_v(open_v, source_ohm, meter_ohm), shown, 1e-9, "V at the meter");
    }
}

/// The same law where a workshop's sheet tells what its meter shows of the idle, the wiper in its
/// worn place: three resistors of the track and the contact.
#[test]
fn a_sheet_s_voltage_is_that_of_a_meter_fed_through_the_worn_contact() {
    let rig = with("six", &[]).rig;
    let slots = [Slot::of("potentiometer_v", Taken::IDLE).unwrap()];
    let volts_at = |at_mm: f64, contact_ohm: f64, meter_ohm: f64| {
        let worn = [("wear_at_mm", at_mm), ("wear_ohm", contact_ohm), ("wear_width_mm", 2.0)];
        let asked = Asked { conditions: with("six", &worn).conditions, meter_ohm };
        let car = Car::typical(&rig, &asked).unwrap();
        slots[0].kind.unscaled(car.shows(&[], &slots, false).0[0])
    };
    let volts = |contact_ohm: f64, meter_ohm: f64| volts_at(0.0, contact_ohm, meter_ohm);
    let open_v = volts(0.0, f64::INFINITY);
    let (lower, meter_ohm) = (4000.0 * open_v / 5.0, 20e3);
    for contact_ohm in [0.0, 2000.0, 5000.0] {
        let branch = contact_ohm + meter_ohm;
        let beside = lower * branch / (lower + branch);
        let shown = 5.0 * beside / (4000.0 - lower + beside) * meter_ohm / branch;
        near(volts(contact_ohm, meter_ohm), shown, 1e-3, "V on the sheet");
    }
    let beside_v = volts_at(10.0, 5000.0, meter_ohm);
    near(beside_v, volts(0.0, meter_ohm), 1e-6, "V on the sheet, worn elsewhere");
}

/// Contact resistance stands in the wiper's way and nowhere else.
#[test]
fn in_a_run_a_worn_contact_adds_its_ohms_where_the_wiper_is_and_not_beside() {
    let ohm = |at_mm: f64, contact_ohm: f64| {
        let keys = [("wear_width_mm", 0.5), ("wear_at_mm", at_mm), ("wear_ohm", contact_ohm)];
        let setup = aimed(&with("six", &keys));
        let mut engine = engine(&setup);
        go_on(&mut engine, 1.0);
        (engine.wiper_ohm(), engine.wiper_v())
    };
    let (bare, worn, beside) = (ohm(0.0, 0.0), ohm(0.0, 1500.0), ohm(5.0, 1500.0));
    assert!((worn.0 - bare.0 - 1500.0).abs() < 30.0, "{} ohm, worn {}", bare.0, worn.0);
    assert!((beside.0 - bare.0).abs() < 1.0, "5 mm beside the worn place: {} ohm", beside.0);
    assert_eq!(bare.1, worn.1, "an unloaded wiper shows no contact");
    near(bare.0, 4000.0 * bare.1 / 5.0 * (1.0 - bare.1 / 5.0), 1e-6, "ohm behind a sound track");
}

/// The pit has the spread of the dither that rubbed it: its second moment, summed over the
/// pit, is the dither's.
#[test]
fn the_pit_is_as_wide_as_the_dither_that_rubbed_it() {
    let heights: Vec<f64> =
        (0..100_000).map(|i| 5e-3 + 3e-5 * (2.0 * PI * 0.0137 * f64::from(i)).sin()).collect();
    let dither = Dither::of(&heights, 1e-3).unwrap();
    // Rubbed evenly from end to end: a box of that length has its half over the root of 3.
    near(dither.spread_m, 3e-5 / 3.0_f64.sqrt(), 0.01, "spread of the rubbing");
    let wear = dither.wear(0.2, 5e-3);
    let (mut all, mut square) = (0.0, 0.0);
    for i in -4000..=4000 {
        let x = 1e-7 * f64::from(i);
        let deep = wear.depth(5e-3 + x, 5e-3);
        (all, square) = (all + deep, square + deep * x * x);
    }
    near((square / all).sqrt(), dither.spread_m, 0.01, "second moment of the pit");
}

/// Those still sound at the end are those spared year by year: the risks of all years,
/// each told among the cars still sound, multiply to it.
#[test]
fn the_risk_of_a_year_is_told_among_the_cars_still_sound() {
    let fleet = Fleet { parts: 400, hours_a_year: 200.0, median_h: 1500.0, spread: 0.5, seed: 3 };
    for change in [None, Some(3.0)] {
        let years = fleet.age(15, change);
        let mut spared = 1.0;
        for year in &years {
            spared *= 1.0 - year.risk;
            near(1.0 - year.share + 1.0, spared + 1.0, 1e-9, "share still sound, plus one");
        }
        assert!(years[15].share > 0.1, "cars fail at all: {}", years[15].share);
    }
    // All alike: every car still sound fails in the year of the median.
    let alike = Fleet { spread: 0.0, ..fleet }.age(10, None);
    assert_eq!((alike[7].risk, alike[8].risk), (0.0, 1.0), "1500 h at 200 h a year");
}
