//! Injectors: what they leave of the system pressure, and lines that are held back by them.

use crate::support::*;
use sim_core::fuel::injector::{Injectors, Lines, Needles};

const BAR: f64 = 1e5;

/// Two chambers in a row: the differential-pressure valve takes what the jet and the injector
/// leave of the system pressure, and cannot give any.
#[test]
fn the_drop_over_the_slits_is_what_the_injector_leaves_of_the_system_pressure() {
    for bar in [3.65, 3.75, 3.85, 4.5, 5.4_f64] {
        let setup = with("six", &[("system_pressure_bar", bar), ("actuator_ma", 10.0)]);
        let setup = and(&setup, &[("injector_spread_bar", 0.0)]);
        // Wherever the screw lets it run.
        let screws = (-20..40).map(|i| 0.02 * f64::from(i));
        let points = screws.map(|turns| point(&and(&setup, &[("screw", turns)])));
        let states: Vec<_> = points.filter_map(|point| point.state().copied()).collect();
        assert!(!states.is_empty(), "it runs nowhere at {bar} bar");
        for state in &states {
            near(
                shown(state, "slit_drop_bar"),
                0.28_f64.min(bar - 3.6),
                1e-9,
                "drop over the slits",
            );
            near(shown(state, "lower_chamber_bar"), bar - 0.48, 1e-9, "lower chamber");
            near(shown(state, "system_bar"), bar, 1e-9, "system pressure");
            near(shown(state, "line_bar"), 3.6, 1e-9, "line");
            assert!(state.lines_spray);
        }
    }
}

/// One injector that opens later than the others loses its cylinder first.
#[test]
fn the_first_injector_that_does_not_open_leaves_one_cylinder_without_fuel() {
    let sound = running(&with("six", &[]));
    let dirty = running(&with("six", &[("first_injector_bar", 2.0)]));
    assert_eq!((dirty.spraying, dirty.lines_spray), (5, false));
    assert!(dirty.cov > sound.cov && dirty.misfire > 0.9, "{} {}", dirty.cov, dirty.misfire);
    // With room to spare the spread of a set changes nothing: the injectors meter nothing.
    let spread = running(&with("six", &[("injector_spread_bar", 0.6)]));
    assert_eq!(spread.lambda, sound.lambda);
}

/// The shared law against a search by halving, with lines that are held back one by one.
#[test]
fn jets_and_lifts_of_lines_held_back_give_the_flow_asked_for() {
    let parts = *with("six", &[]).rig.parts();
    let liquid = sim_core::fuel::slit::Liquid { density_kg_m3: 735.0, viscosity_pa_s: 0.5e-3 };
    let set = Injectors { opening_pa: 3.6 * BAR, spread_pa: 0.4 * BAR, closes_below_pa: 0.0 };
    let lines = Lines::behind(&set, 6, 0.0, 3.75 * BAR, 735.0, |_| false);
    assert_eq!(lines.spraying(), 5);
    let flow = |lift: f64, jet: f64| lines.total_kg_s(&parts.slits, lift, jet, &liquid);
    for (lift, jet) in [(2e-4, 3.0), (2e-4, 6.0), (5e-4, 8.0)] {
        let total = flow(lift, jet);
        let found = lines.jet_for_total_m_s(&parts.slits, total, lift, &liquid).unwrap();
        near(flow(lift, found), total, 1e-9, "flow at the jet found");
        let found = lines.lift_for_total_m(&parts.slits, total, jet, &liquid);
        near(found, lift, 1e-9, "lift");
    }
    let most = flow(2e-4, 1e3);
    assert!(lines.jet_for_total_m_s(&parts.slits, 1.01 * most, 2e-4, &liquid).is_none());
}

/// A needle is found where it was left: open it needs less than to open, and the order of what
/// happened decides.
#[test]
fn an_open_injector_sprays_down_to_its_closing_and_a_shut_one_waits_for_its_opening() {
    let set = Injectors { opening_pa: 3.6 * BAR, spread_pa: 0.0, closes_below_pa: 0.4 * BAR };
    let (count, kept_pa) = (1, 0.28 * BAR);
    let mut needles = Needles::risen_to(&set, count, 0.0, 0.0);
    let mut follow = |bar: f64| {
        let falls_pa = needles.follow(&set, (count, 0.0), bar * BAR, kept_pa)[0];
        (needles.is_open(0), needles.held_pa(0) / BAR, falls_pa / BAR)
    };
    let told = |(open, held, falls): (bool, f64, f64), (o, h, f): (bool, f64, f64), at: &str| {
        assert_eq!(open, o, "{at}");
        assert!((held - h).abs() < 1e-9 && (falls - f).abs() < 1e-9, "{at}: {held}, {falls}");
    };
    told(follow(3.5), (false, 3.6, 0.0), "rising, not yet there");
    told(follow(3.7), (true, 3.6, 0.0), "opened: a tenth of a bar is left for the jet");
    told(follow(5.4), (true, 3.6, 0.0), "at the system pressure");
    told(follow(3.7), (true, 3.42, 0.0), "falling: the needle gives way, the drop stays");
    told(follow(3.5), (true, 3.22, 0.0), "below the opening, open");
    told(follow(3.3), (true, 3.2, 0.0), "at the closing: what is left drives the jet");
    told(follow(3.4), (true, 3.3, 0.0), "rising again");
    told(follow(3.1), (false, 3.6, 0.1), "shut, and the line falls to 3.2 bar");
    told(follow(3.5), (false, 3.6, 0.0), "shut it waits");
    told(follow(3.65), (true, 3.6, 0.0), "and opens");
}

/// How long a warm idle lives on a pump that is all but dead (s), and what pressure was left when
/// it stopped (bar).
fn without_pump(closes_below_bar: f64) -> (f64, f64) {
    let setup = with("six", &[("injector_closes_below_bar", closes_below_bar)]);
    let mut engine = engine(&setup);
    go_on(&mut engine, 2.0);
    set(&mut engine, &[("pump_percent", 0.2)]);
    let from_s = engine.time_s();
    let mut left_bar = 0.0;
    while engine.stalled_at_s().is_none() && engine.time_s() < from_s + 60.0 {
        left_bar = engine.system_pa() / BAR;
        engine.tick().unwrap();
    }
    assert!(engine.fuel_ledger().missing_m3().abs() < 1e-15);
    (engine.stalled_at_s().unwrap_or(f64::NAN) - from_s, left_bar)
}

/// Pump all but gone while it idles: it gets richer first, lean when the feed nears what the
/// injectors hold, and stops. The lower they close the longer it dies; where they close within the
/// accumulator's reserve (below 3.2 bar) it lives on that for a while.
#[test]
fn an_engine_that_loses_its_pump_dies_the_slower_the_lower_its_injectors_close() {
    let found = [0.0, 0.4, 0.8].map(without_pump);
    println!("closes 0, 0.4, 0.8 bar below: dies after (s), at (bar): {found:?}");
    for (bar, below) in found.map(|(_, bar)| bar).iter().zip([0.0, 0.4, 0.8]) {
        assert!((3.5..3.7).contains(&(bar + below)), "{below} bar below: {found:?}");
    }
    assert!(found[1].0 > found[0].0 + 0.4 && found[2].0 > 5.0 * found[1].0, "{found:?}");
}

/// Dry friction remembers: a feed that has fallen by small steps leaves each needle open down to its
/// closing, as what is said of a fallen feed at once.
#[test]
fn behind_a_fallen_feed_the_needles_stand_as_after_a_fall_in_small_steps() {
    let injectors = with("six", &[]).rig.parts().injectors;
    let (set, kept_pa) = ((6, 0.2 * BAR), 0.3 * BAR);
    let mut needles = Needles::risen_to(&injectors, set.0, set.1, 5.4 * BAR);
    let (mut open, mut shut) = (0, 0);
    for milli in (2500..5400).rev() {
        let feed_pa = 1e-3 * BAR * f64::from(milli) + 1.0;
        needles.follow(&injectors, set, feed_pa, kept_pa);
        let at_once = Needles::fallen_to(&injectors, set.0, set.1, feed_pa);
        for line in 0..set.0 {
            assert_eq!(needles.is_open(line), at_once.is_open(line), "line {line}, {feed_pa} Pa");
            let closes_pa = injectors.closing_pa(line, set.0, set.1);
            if feed_pa < closes_pa + kept_pa {
                near(at_once.held_pa(line), needles.held_pa(line), 1e-12, "held at");
                if needles.is_open(line) { open += 1 } else { shut += 1 }
            }
        }
    }
    assert!(open > 1000 && shut > 1000, "{open} open, {shut} shut");
}
