//! Numerical parts against closed forms and against slower, plainer ways.

use sim_core::engine::burn::Burn;
use sim_core::engine::exhaust::{MIXING_SPREAD, gas_of, mixed_gas};
use sim_core::fuel::kind::Fuel;
use sim_core::fuel::slit::{Liquid, Slits};
use sim_core::maths::{BoundedVector, normal_density, signed_root};
use sim_core::solve::{Crossing, MonotoneCurve, Walk, least_between, root_between};

#[test]
fn the_root_law_is_finite_at_zero_and_a_root_elsewhere() {
    assert!((signed_root(9.0, 1e-3) - 3.0).abs() < 1e-7);
    let slope = signed_root(1e-12, 1e-3) / 1e-12;
    assert!((slope - 1e-3_f64.powf(-0.5)).abs() < 1e-3 * slope);
}

#[test]
fn roots_are_found_to_the_last_digit() {
    type Case = (fn(f64) -> f64, f64, f64, f64);
    let cases: [Case; 4] = [
        (|x| x.cos() - x, 0.0, 1.0, 0.739_085_133_215_160_6),
        (|x| x.powi(9), -1.0, 1.3, 0.0),
        (|x| (x - 1.0) * (1.0 + (x - 1.0) * (x - 1.0)), 0.0, 5.0, 1.0),
        (|x| (20.0 * x).tanh() - 0.5, -1.0, 4.0, 0.5_f64.atanh() / 20.0),
    ];
    for (i, (f, a, b, root)) in cases.into_iter().enumerate() {
        let found = root_between(f, a, f(a), b, f(b));
        let tolerance = if root == 0.0 { 1e-30 } else { 4e-15 * root };
        assert!((found - root).abs() <= tolerance, "case {i}: {found} is not {root}");
    }
}

#[test]
fn a_walk_takes_the_first_root_and_names_the_fold() {
    let walk = Walk { start: 1.0, stop: 100.0, ratio: 1.3, widest: 1.3, enough: 0.0 };
    // A narrow hump between two steps, then a second root.
    let hump = |height: f64| move |x: f64| height - (x - 7.0) * (x - 7.0);
    match walk.first_crossing(hump(0.01)) {
        Crossing::Root(x) => assert!((x - 6.9).abs() < 1e-12, "{x}"),
        other => panic!("{other:?}"),
    }
    match walk.first_crossing(hump(-0.01)) {
        Crossing::Below { at, value } => {
            assert!((at - 7.0).abs() < 1e-6 && (value + 0.01).abs() < 1e-12, "{at} {value}")
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(walk.first_crossing(|x| x), Crossing::AboveAtStart);
    let down = Walk { start: 100.0, stop: 1.0, ratio: 0.9, widest: 0.8, enough: 0.0 };
    match down.first_crossing(|x| 10.0 - x) {
        Crossing::Root(x) => assert!((x - 10.0).abs() < 1e-12),
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_least_value_of_a_valley_is_found() {
    let at = least_between(|x| (x - 0.3).powi(2), -2.0, 1.0);
    assert!((at - 0.3).abs() < 1e-7, "{at}");
}

#[test]
fn a_monotone_curve_rises_where_its_points_rise() {
    let curve = MonotoneCurve::new([0.0, 1.0, 1.1, 4.0, 5.0], [0.0, 0.1, 2.0, 2.1, 2.1]);
    let mut before = -1.0;
    for i in 0..=5000 {
        let y = curve.at(f64::from(i) * 1e-3);
        assert!(y >= before, "falls at {i}");
        before = y;
    }
    assert!((curve.at(1.1) - 2.0).abs() < 1e-12);
    assert_eq!(curve.at(9.0), 2.1);
}

fn burn() -> Burn {
    Burn {
        spark_deg: 10.0,
        half_burnt_deg: 46.0,
        volume_work: 1.0,
        scatter_deg: 4.4,
        scatter_exponent: 2.25,
        ignition_limit: 1.55,
        gas_fuel_limit: 28.0,
        ..Burn::default()
    }
}

/// Work of a cycle by angle (deg) from spark to half burnt, by the crank angle: the burn's rate
/// (Wiebe) times the work that heat added at a volume can do, from spark to exhaust valve.
fn work_by_crank_angle(spark_deg: f64, angle_deg: f64) -> f64 {
    let volume = |theta_deg: f64| {
        let (sin, cos) = theta_deg.to_radians().sin_cos();
        let rod = 1.0 / 0.28;
        1.0 + 4.0 * (rod + 1.0 - cos - (rod * rod - sin * sin).sqrt())
    };
    let (n, opens_deg) = (4000, 130.0);
    let h = (opens_deg + spark_deg) / f64::from(n);
    let burnt = |since: f64| 1.0 - (-2.0_f64.ln() * (since / angle_deg).powf(3.5)).exp();
    (0..n)
        .map(|i| {
            let (from, to) = (f64::from(i) * h, f64::from(i + 1) * h);
            let theta = 0.5 * (from + to) - spark_deg;
            let to_walls = 0.20 * ((60.0 - theta) / 60.0).clamp(0.0, 2.0);
            let does = 1.0 - (volume(theta) / volume(opens_deg)).powf(0.30);
            (burnt(to) - burnt(from)) * does * (1.0 - to_walls)
        })
        .sum()
}

#[test]
fn work_by_volume_is_the_integral_over_the_crank_angle() {
    let best = (0..=120).map(|i| work_by_crank_angle(0.5 * f64::from(i), 46.0)).fold(0.0, f64::max);
    for spark_deg in [-7.0, 3.0, 10.0, 22.0, 41.0] {
        let row = burn().work_by_angle(spark_deg);
        for (i, ours) in row.into_iter().enumerate() {
            let angle_deg = 6.0 + 5.0 * i as f64;
            let plain = work_by_crank_angle(spark_deg, angle_deg) / best;
            assert!((ours - plain).abs() < 3e-3, "{spark_deg}, {angle_deg}: {ours}, {plain}");
        }
    }
}

/// Guzzella & Onder's engine (from memory): torque falls by 2.33e-4 of itself for each square
/// degree of spark away from the best.
#[test]
fn a_spark_away_from_the_best_costs_what_was_measured() {
    let work = |spark_deg: f64| work_by_crank_angle(spark_deg, 46.0);
    let best_deg =
        (200..500).map(|i| 0.1 * f64::from(i)).max_by(|a, b| work(*a).total_cmp(&work(*b)));
    let best_deg = best_deg.unwrap();
    let half_burnt = 46.0 - best_deg;
    assert!((7.0..10.0).contains(&half_burnt), "best half-burnt point {half_burnt}");
    let lost = 1.0 - 0.5 * (work(best_deg + 8.0) + work(best_deg - 8.0)) / work(best_deg);
    assert!((1.9e-4..2.9e-4).contains(&(lost / 64.0)), "{} a square degree", lost / 64.0);
}

/// Simpson's rule over ten sigma of the burn's scatter.
#[test]
fn work_and_roughness_of_scattered_cycles_are_their_integrals() {
    let burn = burn();
    let best = (0..=120).map(|i| work_by_crank_angle(0.5 * f64::from(i), 46.0)).fold(0.0, f64::max);
    let cycles = burn.cycles(10.0).averaged();
    for relative in [0.7, 1.0, 1.2, 1.5] {
        let (angle_deg, sigma) = (46.0 * relative, 4.4 * f64::powf(relative, 2.25));
        let n = 100;
        let (mut mean, mut square) = (0.0, 0.0);
        for i in 0..=n {
            let x = -5.0 + 10.0 * f64::from(i) / f64::from(n);
            let weight = if i % n == 0 { 1.0 } else { 2.0 + 2.0 * f64::from(i % 2) };
            let share = weight * 10.0 / f64::from(n) / 3.0 * normal_density(x);
            let y = work_by_crank_angle(10.0, (angle_deg + sigma * x).max(6.0)) / best;
            mean += share * y;
            square += share * y * y;
        }
        let found = cycles.at(relative);
        assert!((found.mean - mean).abs() < 2e-3, "{relative}: {} is not {mean}", found.mean);
        let cov = |mean: f64, square: f64| (square / (mean * mean) - 1.0).sqrt();
        let (ours, plain) = (cov(found.mean, found.square), cov(mean, square));
        assert!((ours / plain - 1.0).abs() < 0.02, "{relative}: COV {ours} is not {plain}");
        let direct = burn.cycles(10.0).at(relative);
        assert!((direct.mean - found.mean).abs() < 1e-3 && direct.fired == found.fired);
    }
}

/// The gas of many cycles against the plain sum over 20 001 of them.
#[test]
fn gas_of_a_spread_of_cycles_is_the_sum_of_their_gases() {
    let fuel = Fuel::petrol_with_ethanol(0.0);
    for lambda in [0.75, 0.9, 0.97, 1.0, 1.03, 1.15] {
        let lambdas = [lambda, 1.02 * lambda, 0.985 * lambda, 1.01 * lambda];
        // Dry moles for each mole of oxygen breathed, from the shares of one mixture.
        let (mut co, mut o2, mut total) = (0.0, 0.0, 0.0);
        for each in lambdas {
            for i in -10_000..=10_000 {
                let z = f64::from(i) * 7e-4;
                let weight = normal_density(z) * 7e-4;
                let phi = (1.0 + MIXING_SPREAD * z) / each;
                let gas = gas_of(&fuel, 1.0 / phi);
                let carbon = phi / fuel.oxygen_demand();
                let dry = carbon / (gas.co + gas.co2);
                co += weight * gas.co * dry;
                o2 += weight * gas.o2 * dry;
                total += weight * dry;
            }
        }
        let gas = mixed_gas(&fuel, &lambdas, 0.0, 0.0);
        assert!(
            (gas.co - co / total).abs() < 2e-6,
            "lambda {lambda}: CO {} {}",
            gas.co,
            co / total
        );
        assert!(
            (gas.o2 - o2 / total).abs() < 2e-6,
            "lambda {lambda}: O2 {} {}",
            gas.o2,
            o2 / total
        );
    }
}

#[test]
fn jet_and_lift_are_the_inverses_of_the_slits_flow() {
    let slits = Slits {
        width_m: BoundedVector::new(&[0.065e-3, 0.066e-3, 0.064e-3, 0.070e-3]).unwrap(),
        height_m: 6e-3,
        discharge: 0.8,
        half_discharge_reynolds: 150.0,
        overlap_m: 0.0,
    };
    let liquid = Liquid { density_kg_m3: 735.0, viscosity_pa_s: 0.5e-3 };
    for lift in [1e-6, 2e-5, 1.7e-4, 3e-3, 6e-3] {
        for jet in [0.5, 4.0, 8.7, 20.0] {
            let total = slits.total_kg_s(lift, jet, &liquid);
            let jet_back = slits.jet_for_total_m_s(total, lift, &liquid).unwrap();
            let lift_back = slits.lift_for_total_m(total, jet, &liquid);
            assert!((jet_back / jet - 1.0).abs() < 1e-12, "{lift} {jet}: {jet_back}");
            assert!((lift_back / lift - 1.0).abs() < 1e-12, "{lift} {jet}: {lift_back}");
        }
    }
    assert_eq!(slits.jet_for_total_m_s(1e-4, 0.0, &liquid), None);
    assert!(slits.lift_for_total_m(1.0, 8.0, &liquid).is_infinite());
}
