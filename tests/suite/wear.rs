//! Wear of the potentiometer's track: the law, the dither that does it, and what becomes of
//! many parts.

use crate::running::setup;
use approx::assert_abs_diff_eq;
use sim_core::ageing::Fleet;
use sim_core::conditions::{Conditions, Trim};
use sim_core::rig::shipped::shipped;
use sim_core::run::idle_wear::{Disturbance, Idle, dither, idle_on, search};
use sim_core::run::voltmeter::PULSATION;
use sim_core::sense::wear::{Dither, TRACK};
use std::f64::consts::PI;

#[test]
fn twice_the_hours_or_the_load_wear_twice_the_depth() {
    let (pace_m_s, width_m) = (0.011, 6e-5);
    let depth = |hours: f64| TRACK.depth_m(3600.0 * hours * pace_m_s, width_m);
    for hours in [1.0, 130.0, 2000.0] {
        assert_abs_diff_eq!(depth(2.0 * hours) / depth(hours), 2.0, epsilon = 1e-12);
    }
    let heavy = sim_core::sense::wear::Rubbing { load_n: 2.0 * TRACK.load_n, ..TRACK };
    assert_abs_diff_eq!(
        heavy.depth_m(1.0, width_m) / TRACK.depth_m(1.0, width_m),
        2.0,
        epsilon = 1e-12
    );
    assert_abs_diff_eq!(
        heavy.lost_v(1.0, width_m) / TRACK.lost_v(1.0, width_m),
        2.0,
        epsilon = 1e-12
    );
    // The pit holds what was worn away: its integral along the track, summed here.
    let (h, steps) = (depth(100.0), 20_000);
    let dx = 12.0 * width_m / f64::from(steps);
    let area: f64 = (0..steps)
        .map(|i| (f64::from(i) + 0.5) * dx - 6.0 * width_m)
        .map(|x| h * (-(x / width_m).powi(2)).exp() * dx)
        .sum();
    let volume = TRACK.volume_m3(3600.0 * 100.0 * pace_m_s);
    assert_abs_diff_eq!(area * TRACK.across_m / volume, 1.0, epsilon = 1e-9);
}

/// A sine rubs `4 A f` a second, evenly over its travel: spread `A/sqrt(3)`.
#[test]
fn the_dither_of_a_sine_is_its_closed_form() {
    let (amplitude, hertz, step_s) = (8e-5, 35.5, 1e-4);
    let heights: Vec<f64> = (0..100_000)
        .map(|i| 1.5e-3 + amplitude * (2.0 * PI * hertz * step_s * f64::from(i)).sin())
        .collect();
    let found = Dither::of(&heights, step_s).unwrap();
    assert!((found.middle_m - 1.5e-3).abs() < 1e-8, "{found:?}");
    assert!((found.pace_m_s / (4.0 * amplitude * hertz) - 1.0).abs() < 1e-3, "{found:?}");
    assert!((found.spread_m * 3f64.sqrt() / amplitude - 1.0).abs() < 1e-3, "{found:?}");
    assert!((found.passes_per_s / hertz - 1.0).abs() < 1e-2, "{found:?}");
    assert!(Dither::of(&[1.0, 1.0, 1.0], 0.1).is_none());
}

#[test]
fn the_idle_dithers_at_the_pace_of_its_strokes() {
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    for (name, per_revolution) in [("six", 3.0), ("four", 2.0), ("eight", 4.0)] {
        let rig = shipped(name).unwrap().rig;
        let setup = setup(&rig, conditions, &[]);
        let found = dither(&setup, 1).unwrap();
        let strokes = per_revolution * rig.parts().controller.idle_rad_s / (2.0 * PI);
        println!("{name}: {found:?}, {strokes} strokes a second");
        assert!((found.passes_per_s / strokes - 1.0).abs() < 0.02, "{name}: {found:?}");
        // A sine between the heights that a flow shaken so much would float at: at most the
        // still answer, since the plate is damped.
        let still = PULSATION * rig.reference().idle_height_m.abs();
        assert!(found.spread_m > 0.0 && found.pace_m_s < 8.0 * still * strokes, "{name}: {still}");
    }
}

fn fleet() -> Fleet {
    Fleet { parts: 4000, hours_a_year: 100.0, median_h: 900.0, spread: 0.5, seed: 1 }
}

#[test]
fn the_share_rises_with_the_years_and_changing_lowers_it() {
    let never = fleet().age(20, None);
    let by = |every: f64| fleet().age(20, Some(every));
    for rows in [&never, &by(3.0), &by(5.0)] {
        assert!(rows.windows(2).all(|pair| pair[1].share >= pair[0].share));
        assert!(
            rows.iter().all(|row| row.share_now <= row.share && (0.0..=1.0).contains(&row.risk))
        );
    }
    for ((a, b), c) in by(3.0).iter().zip(&by(5.0)).zip(&never) {
        assert!(a.share <= b.share && b.share <= c.share, "{a:?} {b:?} {c:?}");
    }
    assert!(by(3.0)[15].share < 0.5 * never[15].share);
    assert!(never.iter().all(|row| row.share == row.share_now));
}

#[test]
fn the_drawn_share_is_the_lognormal_s_within_its_chance() {
    for spread in [0.2, 0.5, 1.0] {
        for change in [None, Some(3.0), Some(5.0), Some(2.5)] {
            let fleet = Fleet { spread, ..fleet() };
            for row in fleet.age(20, change) {
                let p = row.expected_share;
                // Four standard deviations of a drawn share.
                let chance = 4.0 * (p * (1.0 - p) / fleet.parts as f64).sqrt();
                assert!((row.share - p).abs() <= chance + 1e-12, "{spread} {change:?}: {row:?}");
            }
        }
    }
    let sharp = Fleet { spread: 0.0, ..fleet() };
    assert_eq!(sharp.share_without_change(8.99), 0.0);
    assert_eq!(sharp.share_without_change(9.0), 1.0);
    assert!((fleet().share_without_change(9.0) - 0.5).abs() < 1e-12, "half at the median");
}

#[test]
fn the_same_seed_ages_the_same_fleet() {
    assert_eq!(fleet().age(15, Some(3.0)), fleet().age(15, Some(3.0)));
    assert_ne!(fleet().age(15, None), Fleet { seed: 2, ..fleet() }.age(15, None));
    // A car keeps its parts whatever the size of the fleet.
    let one = Fleet { parts: 1, ..fleet() };
    assert_eq!(one.age(15, None), Fleet { parts: 1, ..fleet() }.age(15, None));
}

/// The search on a made-up idle that goes bad at 0.31 V.
#[test]
fn the_search_finds_where_an_idle_goes_bad() {
    let idle = |volts: f64| Idle {
        lambda: (1.0, 0.03 * if volts > 0.31 { 2.1 } else { 1.0 }),
        speed_rpm: (710.0, 8.0),
        cov_percent: (5.0, 6.0),
        duty_percent: 50.0,
        potentiometer_v: 0.70,
    };
    let found = search(|volts| Ok::<_, ()>(vec![Some(idle(volts)); 3])).unwrap();
    let bad = found.bad_from_v.unwrap();
    assert!((0.31..0.31 + 0.1 / 16.0 + 1e-9).contains(&bad), "{bad}");
    let never = search(|_| Ok::<_, ()>(vec![Some(idle(0.0)); 3])).unwrap();
    assert_eq!(never.bad_from_v, None);
    let stalls = search(|v| Ok::<_, ()>(vec![(v < 0.12).then(|| idle(0.0)); 3])).unwrap();
    assert_abs_diff_eq!(stalls.bad_from_v.unwrap(), 0.12, epsilon = 0.01);
    let sound = [Some(idle(0.0))];
    let one = Disturbance::of(0.4, &[Some(idle(0.4))], &sound).unwrap();
    assert!((one.lambda_ratio - 2.1).abs() < 1e-12 && one.is_bad());
    // A pit that takes the mean voltage out of its band is not good, however quiet the idle.
    let reads = |volts: f64| Idle { potentiometer_v: volts, ..idle(0.0) };
    let of = |volts: f64| Disturbance::of(0.25, &[Some(reads(volts))], &sound).unwrap().is_bad();
    assert!(of(0.60) && !of(0.69));
}

/// The real idle: as deep as nothing it is the sound one, deep enough it is bad, and by the
/// mixture, not by roughness.
#[test]
fn a_deep_pit_where_the_wiper_idles_makes_a_bad_idle() {
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let setup = setup(&shipped("six").unwrap().rig, conditions, &[]);
    let rubs = dither(&setup, 1).unwrap();
    println!("{rubs:?}, half width {}", rubs.half_width_m());
    let found =
        search(|volts| (1..=3).map(|seed| idle_on(&setup, &rubs, volts, seed)).collect()).unwrap();
    for one in &found.tried {
        println!("{one:?}");
    }
    let bad = found.bad_from_v.expect("the pit disturbs in the end");
    assert!(!found.tried[0].is_bad() && found.tried[0].lambda_ratio == 1.0);
    println!("bad from {bad} V");
    assert!(found.tried.iter().all(|one| one.is_bad() == (one.lost_v >= bad - 1e-9)));
}
