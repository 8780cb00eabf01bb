//! What travels: values by distance, and the exhaust's way to the lambda sensor. Closed forms.

use crate::support::near;
use sim_core::run::transport_delay::{DelayLine, ExhaustPath, GasPath, GasSample};

/// What is sent in as a straight line comes out as that line, however unevenly it was sent; its
/// mean between two distances is the value half-way.
#[test]
fn a_line_gives_back_the_straight_line_that_was_sent_in() {
    let sent = |x: f64| 2.0 - 0.3 * x;
    let mut line = DelayLine::new(0.0, sent(0.0));
    let mut x = 0.0;
    for i in 0..300 {
        x += 0.1 + 0.07 * f64::from(i % 5);
        line.push(x, sent(x), 4.0);
        if x > 6.0 {
            for (from, to) in [(x - 3.9, x - 0.05), (x - 2.0, x - 1.99), (x - 3.0, x)] {
                let passes = line.between(from, to);
                assert!((passes.start - sent(from)).abs() < 1e-12, "{x}: {passes:?}");
                assert!((passes.end - sent(to)).abs() < 1e-12, "{x}: {passes:?}");
                assert!((passes.mean - sent(0.5 * (from + to))).abs() < 1e-12, "{x}: {passes:?}");
                assert!((line.at(from) - sent(from)).abs() < 1e-12);
            }
        }
        // 4 of distance, 0.1 at least from value to value.
        assert!(line.held() <= 42, "{} held", line.held());
    }
    assert!(line.held() > 10, "{} held", line.held());
    // The last value stands after all, the first before all; between one place and itself is it.
    assert_eq!(line.at(x + 5.0), sent(x));
    near(line.between(x - 1.0, x + 1.0).mean, sent(x) + 0.3 * 0.25, 1e-12, "mean past the end");
    let place = line.between(x - 1.0, x - 1.0);
    assert!(place.start == place.end && place.mean == place.end);
    let mut short = DelayLine::new(1.0, 5.0);
    short.push(2.0, 7.0, 10.0);
    assert_eq!((short.at(-3.0), short.at(1.5), short.at(3.0)), (5.0, 6.0, 7.0));
    // The same place again takes the place of what was sent there.
    short.push(2.0, 9.0, 10.0);
    assert_eq!((short.at(1.5), short.at(2.0), short.held()), (7.0, 9.0, 2));
}

/// A jump counts for as long as each side of it is passed.
#[test]
fn a_jump_weighs_by_what_passes_on_either_side_of_it() {
    let mut line = DelayLine::new(0.0, 1.0);
    line.push(2.0, 1.0, 100.0);
    line.jump(3.0, 4.0);
    line.push(6.0, 4.0, 100.0);
    assert_eq!((line.at(2.999), line.at(3.001)), (1.0, 4.0));
    for (from, to) in [(2.0, 4.0), (2.5, 3.5), (1.0, 5.0), (2.9, 6.0)] {
        let mean = ((3.0 - from) * 1.0 + (to - 3.0) * 4.0) / (to - from);
        near(line.between(from, to).mean, mean, 1e-8, "mean over a jump");
    }
}

/// A path at a crank speed and an exhaust flow, its steps and what a charge drawn in at a time is
/// taken for; the sensor at the end of each step.
fn path(
    (port_rad, pipe_kg, lag_s): (f64, f64, f64),
    (speed_rad_s, step_s): (f64, f64),
    passed_kg: impl Fn(f64) -> f64,
    seen: impl Fn(f64) -> f64,
) -> Vec<(f64, f64)> {
    let way = ExhaustPath { port_rad, pipe_kg, lag_s };
    let mut gas = GasPath::new(seen(0.0));
    (0..(4.0 / step_s).round() as u32)
        .map(|i| {
            let (from_s, to_s) = (f64::from(i) * step_s, f64::from(i + 1) * step_s);
            let sample = GasSample {
                seen: Some(seen(0.5 * (from_s + to_s))),
                passes_kg: passed_kg(to_s) - passed_kg(from_s),
                angles_rad: (speed_rad_s * from_s, speed_rad_s * to_s),
                lasts_s: step_s,
            };
            gas.advance(&sample, &way);
            (to_s, gas.sensor)
        })
        .collect()
}

/// A mixture that grows steadily leaner is read as it was drawn in when the gas set out: later by
/// the crank's way to the port, the pipe's filling and the lag of the sensor, to the last digit,
/// whatever the steps.
#[test]
fn a_ramp_is_read_late_by_port_pipe_and_lag_together() {
    let (speed_rad_s, kg_s) = (90.0, 0.005);
    let (port_rad, pipe_kg) = (20.0, 0.002);
    for step_s in [0.01, 0.0025] {
        for lag_s in [0.0, 0.08] {
            let late_s = port_rad / speed_rad_s + pipe_kg / kg_s + lag_s;
            let ramp = |at_s: f64| 0.9 + 0.05 * at_s;
            for (at_s, sensor) in
                path((port_rad, pipe_kg, lag_s), (speed_rad_s, step_s), |at_s| kg_s * at_s, ramp)
            {
                // All that was there before the ramp has died away.
                if at_s > late_s + 30.0 * lag_s + 0.1 {
                    let off = sensor - ramp(at_s - late_s);
                    assert!(off.abs() < 1e-10, "{at_s} s, step {step_s}, lag {lag_s}: {off}");
                }
            }
        }
    }
}

/// After a step of the mixture the sensor stays until the gas is there, then closes in on it by
/// the law of a first-order lag.
#[test]
fn a_step_is_read_after_the_way_and_then_by_the_lag_s_exponential() {
    let (speed_rad_s, kg_s, step_s, lag_s) = (90.0, 0.005, 0.001, 0.1);
    let (port_rad, pipe_kg) = (20.0, 0.002);
    let arrives_s = 1.0 + port_rad / speed_rad_s + pipe_kg / kg_s;
    let read = path(
        (port_rad, pipe_kg, lag_s),
        (speed_rad_s, step_s),
        |at_s| kg_s * at_s,
        |at_s| if at_s < 1.0 { 0.9 } else { 1.1 },
    );
    for (at_s, sensor) in read {
        if at_s < arrives_s - 2.0 * step_s {
            assert!((sensor - 0.9).abs() < 1e-12, "{at_s} s: {sensor}");
        } else if at_s > arrives_s + 2.0 * step_s {
            let left = (-(at_s - arrives_s) / lag_s).exp();
            let off = sensor - (1.1 - 0.2 * left);
            assert!(off.abs() < 2e-3, "{at_s} s: {off} off");
        }
    }
}

/// The pipe is passed by mass: however the flow changes, what is at the tip came into the pipe
/// when as much exhaust was still to pass as the pipe holds.
#[test]
fn the_pipe_is_passed_by_mass_and_not_by_time() {
    let (speed_rad_s, step_s, port_rad, pipe_kg) = (90.0, 0.0025, 20.0, 0.004);
    // A flow that grows steadily from one to nine times.
    let passed_kg = |at_s: f64| 0.002 * (at_s + at_s * at_s);
    // When so much had passed.
    let when_s = |kg: f64| -0.5 + (0.25 + kg / 0.002).sqrt();
    let seen = |at_s: f64| 1.0 + 0.1 * (1.5 * at_s).sin();
    let mut compared = 0;
    for (at_s, sensor) in path((port_rad, pipe_kg, 0.0), (speed_rad_s, step_s), passed_kg, seen) {
        if passed_kg(at_s) > 1.6 * pipe_kg {
            let drawn_s = when_s(passed_kg(at_s) - pipe_kg) - port_rad / speed_rad_s;
            let off = sensor - seen(drawn_s);
            assert!(off.abs() < 1e-5, "{at_s} s: {off} off");
            compared += 1;
        }
    }
    assert!(compared > 500, "{compared}");
}
