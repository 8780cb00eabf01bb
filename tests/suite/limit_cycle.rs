//! The two-point trim in time: its limit cycle against closed forms.

use crate::running::{left_alone, run, setup};
use crate::table::rows;
use sim_core::conditions::{Conditions, Trim};
use sim_core::rig::shipped::shipped;
use sim_core::run::TICK_S;
use sim_core::run::controls::{ControllerInputs, Controls};
use sim_core::run::procedure::{Action, Step};
use sim_core::run::transport_delay::DelayLine;
use sim_core::steady::SteadyEngine;

/// What a swinging current shows.
struct Swing {
    period_s: f64,
    /// Half the distance from least to largest (mA).
    peak_ma: f64,
    mean_ma: f64,
}

/// Reads a swing off a series of currents (mA), one a tick.
fn read(current: &[f64]) -> Swing {
    let level = current.iter().sum::<f64>() / current.len() as f64;
    let ups: Vec<usize> =
        (1..current.len()).filter(|&i| current[i - 1] < level && current[i] >= level).collect();
    let (first, last) = (ups[0], ups[ups.len() - 1]);
    let most = current.iter().fold(f64::MIN, |a, b| a.max(*b));
    let least = current.iter().fold(f64::MAX, |a, b| a.min(*b));
    Swing {
        period_s: (last - first) as f64 * TICK_S / (ups.len() - 1) as f64,
        peak_ma: 0.5 * (most - least),
        mean_ma: current[first..last].iter().sum::<f64>() / (last - first) as f64,
    }
}

/// Slope of the trim in all runs here (mA/s), and jump peak to peak where there is one (mA).
const SLOPE: f64 = 4.0;
const JUMP: f64 = 0.5;

/// Mean ratios of period and peak to what is predicted, over delays that fall differently
/// between the ticks: a single period is a whole number of ticks, up to 2 % off by itself.
fn mean_ratios(ratios: &[(f64, f64)]) -> (f64, f64) {
    let mean =
        |get: fn(&(f64, f64)) -> f64| ratios.iter().map(get).sum::<f64>() / ratios.len() as f64;
    (mean(|r| r.0), mean(|r| r.1))
}

/// The controller alone on a plant that is only a delay, against the table: the tick counts
/// as half a tick of delay. The peak that leaves the controller lacks half a tick's rise.
#[test]
fn the_trim_alone_swings_as_the_table_says() {
    let rig = shipped("six").unwrap().rig;
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    for row in rows("limit_cycle") {
        let (slope, delay) = (row.number("slope_per_s"), row.number("delay_s"));
        let lambda_per_ma = slope / SLOPE;
        let mut parts = *rig.parts();
        parts.gains.trim_slope_a_s = 1e-3 * SLOPE;
        parts.gains.trim_jump_a = 1e-3 * row.number("jump") / lambda_per_ma;
        parts.gains.fast_trim_s = 1e6;
        let mut ratios = Vec::new();
        for shift in 0..10 {
            let behind = delay - (0.05 + 0.1 * f64::from(shift)) * TICK_S;
            let (engine, base_a) = ((&parts, rig.reference()), parts.controller.base_a);
            let mut controls = Controls::new(engine, &conditions, 0.1, (base_a, base_a));
            let mut line = DelayLine::new(0.0, 0.99);
            let mut current = Vec::new();
            for tick in 0..6000 {
                let t = f64::from(tick) * TICK_S;
                let sees = ControllerInputs {
                    speed_rad_s: 75.0,
                    lambda: line.at(t - behind),
                    potentiometer_v: 0.7,
                    idle_switch: false,
                    full_load: false,
                };
                controls.tick(engine, &conditions, &sees);
                let trim = 1e3 * controls.trim_now_a();
                let lambda = 1.0 - lambda_per_ma * (trim - 0.37);
                // Held for a tick: a step at its start.
                line.push(t + 1e-9, lambda, delay);
                line.push(t + TICK_S, lambda, delay);
                if t > 20.0 {
                    current.push(trim);
                }
            }
            let swing = read(&current);
            assert!((swing.mean_ma - 0.37).abs() < 0.02, "{row}: mean {}", swing.mean_ma);
            let total = behind + 0.5 * TICK_S;
            let (period, peak) = (row.number("period_s"), row.number("peak"));
            // What this delay is longer than the table's.
            let longer = total - delay;
            ratios.push((
                swing.period_s / (period + 4.0 * longer),
                (swing.peak_ma + 0.5 * SLOPE * TICK_S) * lambda_per_ma / (peak + slope * longer),
            ));
        }
        let (period, peak) = mean_ratios(&ratios);
        println!("{row}: period {period}, peak {peak}");
        assert!((period - 1.0).abs() < 0.01, "{row}: period {period} of the published");
        assert!((peak - 1.0).abs() < 0.01, "{row}: peak {peak} of the published");
    }
}

/// Throttle at which a brake holds the idle speed, share of its travel.
const THROTTLE: f64 = 0.05;

/// The trim of the whole engine at a held speed, with keys of its own: its swing, how far its
/// mean lies from the steady model's current (mA), and the pure delay (s) it had.
fn swing(keys: &[(&str, f64)]) -> (Swing, f64, f64, (f64, f64)) {
    let rig = shipped("six").unwrap().rig;
    let idle_rad_s = rig.parts().controller.idle_rad_s;
    let conditions = Conditions {
        trim: Trim::On,
        throttle: THROTTLE,
        speed_rad_s: Some(idle_rad_s),
        ..Conditions::default()
    };
    let plain = [("plunger_friction_n", 0.0), ("fast_trim_s", 1000.0), ("trim_slope_ma_s", SLOPE)];
    let mut setup = setup(&rig, conditions, &[&plain[..], keys].concat());
    // A brake and the heaviest crank there is, so that the speed does not swing along.
    setup.rig = setup.rig.with_parts(|parts| parts.dynamics.inertia_kg_m2 = 2.0).unwrap();
    let mut braked = left_alone(80.0);
    braked.steps.push(Step { at_s: 0.0, action: Action::Throttle(THROTTLE, idle_rad_s) });
    let record = run(&setup, &braked, 1);
    let rows: Vec<_> = record.rows.iter().filter(|row| row.time_s > 20.0).collect();
    let state = rows[0].state.unwrap();
    // Charge to port, pipe, and half a tick of deciding.
    let port = 1.5 * 2.0 * std::f64::consts::PI / state.speed_rad_s;
    let exhaust = state.air_kg_s + state.fuel_kg_s;
    let pipe_m3 = setup.rig.parts().dynamics.pipe_m3;
    let pipe = 102_325.0 * pipe_m3 / (287.05287 * 650.0) / exhaust;
    let current: Vec<f64> = rows.iter().map(|row| 1e3 * row.state.unwrap().actuator_a).collect();
    let swing = read(&current);
    let steady = SteadyEngine::new(&setup.rig, &setup.conditions).point(0.0);
    let wanted = 1e3 * steady.state().unwrap().actuator_a;
    let off = swing.mean_ma - wanted;
    // Two revolutions from closing to closing of an intake valve, less what still comes in
    // from the middle of the intake on.
    let (cycle_rad, closes_rad) = (4.0 * std::f64::consts::PI, 2.0);
    let collected = (cycle_rad - closes_rad) / cycle_rad;
    let ports = (collected, (cycle_rad - closes_rad) / state.speed_rad_s);
    (swing, off, port + pipe + 0.5 * TICK_S, ports)
}

/// Half a period (s) of a relay with an integrator of slope `k` and jump `p`, a delay, and
/// what comes through as `share_i` of itself after first-order lags `tau_i`.
///
/// Derived here. Between two changes the current is `-(k H - p)/2 + k t`; each lag's steady
/// answer to it is `-(k H - p)/2 + k (t - tau) + C exp(-t/tau)`, `C = (2 k tau - p)/(1 +
/// exp(-H/tau))`; the sensor changes its mind where the sum of all crosses zero, and the
/// relay a delay later, at `t = H`. Without lags: `2 Td - p/k`. A share of it comes as the
/// mean over a time `W` that ports collect, shorter than from a change to the crossing: of
/// the answer above that is `-(k H - p)/2 + k (t - tau - W/2) + C tau/W (exp(W/tau) - 1)
/// exp(-t/tau)`.
fn half_period(delay: f64, jump: f64, lags: &[(f64, f64)], ports: (f64, f64)) -> f64 {
    let crosses = |h: f64| {
        let t = h - delay;
        let start = -0.5 * (SLOPE * h - jump);
        lags.iter()
            .map(|&(share, tau)| {
                let c = (2.0 * SLOPE * tau - jump) / (1.0 + (-h / tau).exp());
                let at_once = start + SLOPE * (t - tau) + c * (-t / tau).exp();
                let (collected, over_s) = ports;
                if collected == 0.0 {
                    return share * at_once;
                }
                // Where the lag is gone before the mean ends, so is what it leaves.
                let gone = c * tau / over_s * ((over_s - t) / tau).exp();
                let rest = c * tau / over_s * (-t / tau).exp();
                let mean = start + SLOPE * (t - tau - 0.5 * over_s) + gone - rest;
                share * (collected * mean + (1.0 - collected) * at_once)
            })
            .sum::<f64>()
    };
    let from = delay + ports.1;
    sim_core::solve::root_between(crosses, from, crosses(from), 20.0, crosses(20.0))
}

/// Shares of two lags in a row, the first of which lets `1 - wets` pass at once.
fn film_and_lag(wets: f64, film_s: f64, lag_s: f64) -> [(f64, f64); 2] {
    let slow = wets * film_s / (film_s - lag_s);
    [(1.0 - slow, lag_s), (slow, film_s)]
}

#[test]
fn the_predicted_half_period_is_the_table_s_without_lags() {
    for row in rows("limit_cycle") {
        let jump = row.number("jump") * SLOPE / row.number("slope_per_s");
        let period = 2.0 * half_period(row.number("delay_s"), jump, &[(1.0, 1e-7)], (0.0, 0.0));
        row.agrees("period_s", period);
    }
}

/// The whole engine: without lag and film, with a jump, with the sensor's lag, and with both.
#[test]
fn the_two_point_trim_swings_as_its_closed_form_says() {
    let (wets, film_s, lag_s) = (0.25, 0.30, 0.10);
    let off = [("film_share", 0.0), ("sensor_lag_s", 0.0)];
    let lag = [("film_share", 0.0), ("sensor_lag_s", lag_s)];
    let film = [("film_share", wets), ("film_s", film_s), ("sensor_lag_s", lag_s)];
    let both = film_and_lag(wets, film_s, lag_s);
    for (what, keys, jump, lags) in [
        ("integrator alone", &off[..], 0.0, &[(1.0, 1e-7)][..]),
        ("jump", &off[..], JUMP, &[(1.0, 1e-7)][..]),
        ("sensor's lag", &lag[..], 0.0, &[(1.0, lag_s)][..]),
        ("lag and film", &film[..], 0.0, &both[..]),
        ("lag, film and jump", &film[..], JUMP, &both[..]),
    ] {
        let mut ratios = Vec::new();
        for pipe in [0.8, 0.9, 0.95, 1.0, 1.02, 1.05, 1.07, 1.1, 1.2, 1.3] {
            let keys = [keys, &[("trim_jump_ma", jump), ("pipe_l", pipe)][..]].concat();
            let (swing, off_ma, delay, ports) = swing(&keys);
            let half = half_period(delay, jump, lags, ports);
            let peak = 0.5 * (SLOPE * half + jump) - 0.5 * SLOPE * TICK_S;
            ratios.push((swing.period_s / (2.0 * half), swing.peak_ma / peak));
            // Of the authority.
            assert!(off_ma.abs() < 0.02 * 10.0, "{what}: the mean is {off_ma} mA off the steady");
        }
        let (period, peak) = mean_ratios(&ratios);
        println!("{what}: period {period}, peak {peak} of the predicted");
        assert!((period - 1.0).abs() < 0.02, "{what}: period {period} of the predicted");
        assert!((peak - 1.0).abs() < 0.02, "{what}: peak {peak} of the predicted");
    }
}
