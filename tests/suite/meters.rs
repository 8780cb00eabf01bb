//! What a needle and a digital voltmeter show of the airflow potentiometer.

use crate::running::{LIMIT, setup};
use crate::table::rows;
use approx::assert_abs_diff_eq;
use sim_core::conditions::{Conditions, Trim};
use sim_core::rig::shipped::shipped;
use sim_core::run::procedure::{Procedure, parse, shipped as procedure};
use sim_core::run::voltmeter::{Figures, Metered, STEADY_V, metered, shaken, steady_after_s};
use sim_core::sense::meter::{Digital, Meter, Needle, loaded_v};
use std::f64::consts::PI;

fn needle() -> Needle {
    Needle::new(0.025, 2.5, 20_000.0)
}

#[test]
fn a_meter_loads_the_wiper_as_the_divider_says() {
    for row in rows("meter_loading") {
        let (source, input) = (row.number("source_ohm"), row.number("meter_ohm"));
        row.agrees("error_percent", 100.0 * (loaded_v(0.7, source, input) / 0.7 - 1.0));
    }
}

/// Step from 0 to two thirds of the scale, as the standard's test does (from memory).
#[test]
fn a_needle_answers_a_step_as_its_closed_form_says_and_within_the_standard() {
    let (step, fine) = (2.5 * 2.0 / 3.0, 1e-3);
    for parts in [1, 7] {
        let mut needle = needle();
        let (w, z) = (needle.natural_rad_s, needle.damping);
        let (turns, phase) = (w * (1.0 - z * z).sqrt(), z.acos());
        let (mut most, mut outside_s, mut worst) = (0.0_f64, 0.0, 0.0_f64);
        for i in 1..=8000 {
            (0..parts).for_each(|_| needle.feed(step, fine / f64::from(parts)));
            let t = fine * f64::from(i);
            // 1 - exp(-z w t) sin(turns t + acos z)/sqrt(1 - z^2): any handbook of control.
            let answer = 1.0 - (-z * w * t).exp() * (turns * t + phase).sin() / phase.sin();
            worst = worst.max((needle.pointer_v() / step - answer).abs());
            most = most.max(needle.pointer_v());
            // Of the scale's length, 2.5 V.
            if (needle.pointer_v() - step).abs() > 0.015 * 2.5 {
                outside_s = t;
            }
        }
        assert!(worst < 1e-9, "off the closed form by {worst}");
        let overshoot = most / step - 1.0;
        let expected = (-PI * z / (1.0 - z * z).sqrt()).exp();
        println!("overshoot {overshoot}, response {outside_s} s");
        assert!((overshoot - expected).abs() < 1e-4, "{overshoot}, not {expected}");
        assert!(overshoot < 0.20, "IEC 60051-1 (from memory): overshoot at most 20 %");
        assert!(outside_s < 4.0, "IEC 60051-1 (from memory): within 1.5 % after 4 s");
        // The envelope leaves the band last; the pointer is within it no later.
        let envelope_s = -(0.015 * 1.5 * (1.0 - z * z).sqrt()).ln() / (z * w);
        assert!(outside_s <= envelope_s && outside_s > envelope_s - PI / turns, "{envelope_s}");
    }
}

#[test]
fn a_pointer_stops_at_both_ends_of_its_scale() {
    let mut needle = needle();
    for _ in 0..4000 {
        needle.feed(9.0, 1e-3);
        assert!((0.0..=2.5).contains(&needle.pointer_v()));
    }
    assert_eq!(needle.pointer_v(), 2.5);
    // From the stop it leaves as from rest.
    needle.feed(0.0, 0.05);
    let w = needle.natural_rad_s;
    assert!(needle.pointer_v() > 2.5 * (1.0 - 0.5 * (0.05 * w).powi(2)), "it leaves with speed 0");
    (0..9000).for_each(|_| needle.feed(-1.0, 1e-3));
    assert_eq!(needle.pointer_v(), 0.0);
}

#[test]
fn a_scale_has_a_nice_number_of_divisions_and_is_read_to_half_of_one() {
    for (range, division) in
        [(1.0, 0.02), (2.5, 0.05), (3.0, 0.05), (5.0, 0.1), (10.0, 0.2), (12.0, 0.2), (12.1, 0.5)]
    {
        let needle = Needle::new(0.025, range, 20_000.0);
        assert!((needle.division_v() - division).abs() < 1e-9, "{range}: {}", needle.division_v());
    }
    let meter = Meter::Needle(needle());
    assert_abs_diff_eq!(meter.read_v(0.711), 0.700, epsilon = 1e-12);
    assert_abs_diff_eq!(meter.read_v(0.713), 0.725, epsilon = 1e-12);
    assert!((meter.stated_error_v(0.7) - 0.0625).abs() < 1e-12, "2.5 % of full scale");
}

#[test]
fn digits_change_their_step_at_two_volts() {
    let show = |volts: f64| {
        let mut digital = Digital::default();
        (0..10).for_each(|_| digital.feed(volts, 0.1));
        digital.shown_v()
    };
    for (volts, shown) in
        [(0.7004, 0.700), (0.7006, 0.701), (1.9991, 1.999), (2.004, 2.00), (2.006, 2.01)]
    {
        assert!((show(volts) - shown).abs() < 1e-9, "{volts}: {}", show(volts));
    }
}

/// A sine fed in fine steps: each reading is `A sinc(f T)` of it, at the sine's phase in the
/// middle of the mean; seen from reading to reading it has the frequency `|f - n/P|`.
#[test]
fn a_digital_meter_folds_a_sine_as_its_closed_form_says() {
    for hertz in [0.3, 2.6, 12.4, 35.5] {
        let mut digital = Digital::default();
        let (period, over) = (digital.period_s, digital.integrates_s);
        let (fine, per_reading) = (period / 4000.0, 4000);
        let amplitude = (PI * hertz * over).sin() / (PI * hertz * over);
        let folded = hertz - (hertz * period).round() / period;
        let (mut t, mut worst, mut squares) = (0.0, 0.0_f64, 0.0);
        let readings = 500;
        for i in 1..=readings {
            for _ in 0..per_reading {
                digital.feed((2.0 * PI * hertz * (t + 0.5 * fine)).sin(), fine);
                t += fine;
            }
            let middle = f64::from(i) * period - 0.5 * over;
            // The fold: whole turns of 1/P between readings drop out.
            let whole = 2.0 * PI * (hertz - folded) * (0.5 * over);
            let expected = amplitude * (2.0 * PI * folded * middle - whole).sin();
            worst = worst.max((digital.mean_v() - expected).abs());
            squares += digital.mean_v().powi(2);
        }
        assert!(worst < 2e-5, "{hertz} Hz: off by {worst}");
        let deviation = (squares / f64::from(readings)).sqrt();
        let closed = amplitude.abs() / 2.0_f64.sqrt();
        println!("{hertz} Hz is seen at {folded:.3} Hz, deviation {deviation}, closed {closed}");
        assert!((deviation / closed - 1.0).abs() < 0.02, "{hertz}: {deviation} {closed}");
    }
}

fn idle() -> Procedure {
    let text = "name = \"idle\"\nabout = \"idle left alone\"\nlasts_s = 60\n";
    parse(text, LIMIT).unwrap()
}

fn with(procedure: &Procedure, meter: Meter, noise: bool, seed: u64) -> Metered {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let setup = setup(&rig, conditions, &[]);
    metered(&setup, procedure, shaken(procedure, noise, seed), meter, |_| {}).unwrap()
}

fn figures(procedure: &Procedure, meter: Meter, noise: bool, seed: u64) -> Figures {
    with(procedure, meter, noise, seed).figures.unwrap()
}

/// Both agree with the truth within what is stated, the load, and half a step of reading.
fn agrees(figures: &Figures, meter: Meter, what: &str) {
    let off = figures.reading_v - figures.true_v.0;
    let step = 0.5 * meter.finest_v(figures.shown_v.0);
    // What a second-order movement or a mean lags within the window cancels to a millivolt
    // or two of a voltage that wanders.
    let within = figures.stated_error_v + step + figures.loading_v.abs();
    println!("{what}: {figures:?}");
    assert!(off.abs() < within, "{what}: off by {off}, stated {within}");
    assert!(figures.loading_v < 0.0);
}

#[test]
fn on_a_shaken_voltage_the_needle_is_quieter_and_on_a_steady_one_the_digits_are_nearer() {
    let (needle, digital) = (Meter::Needle(needle()), Meter::Digital(Digital::default()));
    let worn = procedure("worn-track").unwrap();
    let mut pit = worn.clone();
    // Up to where the pit lies under the idling wiper, before the housing is turned.
    pit.steps.pop();
    pit.lasts_s = 80.0;
    for (name, procedure) in [("idle", &idle()), ("worn-track", &worn), ("in the pit", &pit)] {
        let mut bounces = [0.0, 0.0];
        for seed in 1..=5 {
            let (n, d) =
                (figures(procedure, needle, true, seed), figures(procedure, digital, true, seed));
            agrees(&n, needle, name);
            agrees(&d, digital, name);
            assert!(
                n.shown_v.1 < d.shown_v.1,
                "{name}, seed {seed}: {} {}",
                n.shown_v.1,
                d.shown_v.1
            );
            bounces[0] += n.shown_v.1 / 5.0;
            bounces[1] += d.shown_v.1 / 5.0;
        }
        println!("{name}: bounce {bounces:?}");
    }
    let (n, d) = (figures(&idle(), needle, false, 1), figures(&idle(), digital, false, 1));
    agrees(&n, needle, "calm");
    agrees(&d, digital, "calm");
    let off = |f: &Figures| (f.reading_v - f.true_v.0).abs();
    assert!(off(&d) < off(&n), "{} {}", off(&d), off(&n));
    assert!(d.stated_error_v < n.stated_error_v && d.loading_v.abs() < n.loading_v.abs());
}

/// The load follows the resistance that the model of the track gives, in the mean.
#[test]
fn the_loading_error_is_the_divider_s_of_the_mean_resistance() {
    for ohm_per_v in [1_000.0, 20_000.0] {
        let meter = Meter::Needle(Needle::new(0.025, 2.5, ohm_per_v));
        let found = figures(&idle(), meter, false, 1);
        let open = found.true_v.0;
        let expected = loaded_v(open, found.source_ohm, meter.input_ohm()) - open;
        assert!((found.loading_v / expected - 1.0).abs() < 1e-3, "{} {expected}", found.loading_v);
    }
}

#[test]
fn what_is_shown_is_steady_once_it_stays_in_its_band() {
    let decay = |tau: f64| -> Vec<(f64, f64)> {
        (0..3000)
            .map(|i| 0.01 * f64::from(i))
            .map(|t| (t, 0.7 + 0.5 * (-(t - 5.0) / tau).exp()))
            .collect()
    };
    let after = |tau: f64| steady_after_s(&decay(tau)[500..], 0.7, 5.0);
    let expected = 2.0 * (0.5 / STEADY_V).ln();
    assert!((after(2.0).unwrap() - expected).abs() < 0.011, "{:?}", after(2.0));
    assert_eq!(after(30.0), None, "it has not come in by the end");
    assert_eq!(steady_after_s(&[(0.0, 0.7), (9.0, 0.7)], 0.7, 0.0), Some(0.0));
    // Put on at the start, a needle is steady in about its own response time.
    let found = figures(&idle(), Meter::Needle(needle()), false, 1).steady_after_s.unwrap();
    assert!((0.5..4.0).contains(&found), "{found}");
}

#[test]
fn a_stall_under_the_meter_is_a_result() {
    let text = "name = \"x\"\nabout = \"y\"\nlasts_s = 60\n[[action]]\nat_s = 5\nturn = \"-1/2\"\n";
    let found = with(&parse(text, LIMIT).unwrap(), Meter::Needle(needle()), true, 1);
    assert!(found.figures.is_none() && found.record.stalled_at_s.is_some());
}
