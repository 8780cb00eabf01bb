//! What a listener has to go by: how beats and speed differ.

use super::listened::{Listened, RATE_HZ};
use std::f64::consts::PI;

/// How the beats and the speed of an idle differ. A number that means nothing is NaN.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Statistics {
    /// Cycles heard, of all cylinders.
    pub cycles: usize,
    /// Those lost.
    pub lost_cycles: usize,
    /// Standard deviation of the cycles' indicated pressure over its mean.
    pub work_cov: f64,
    /// The same of the sound's rms from beat to beat.
    pub envelope_cov: f64,
    /// Median step of that rms from a beat to the next (dB).
    pub step_db: f64,
    /// Root mean square of the half order of the sound's rms over its mean.
    pub half_order_envelope: f64,
    /// Mean speed (rad/s).
    pub mean_rad_s: f64,
    /// Standard deviation of the speed (rad/s).
    pub surge_rad_s: f64,
    /// Least speed (rad/s).
    pub least_rad_s: f64,
    /// Root mean square of the half order of the speed (rad/s).
    pub half_order_rad_s: f64,
}

impl Listened {
    /// What a listener has to go by.
    pub fn statistics(&self) -> Statistics {
        Statistics::of(self)
    }
}

impl Statistics {
    /// Those of a sound.
    fn of(heard: &Listened) -> Statistics {
        let works: Vec<f64> = heard.firings.iter().map(|firing| firing.imep_pa).collect();
        let beats = beats(heard);
        let d = 4.0 * PI / heard.cylinders as f64;
        let from_to = |pair: &[crate::run::Firing]| d / (pair[1].time_s - pair[0].time_s);
        let speeds: Vec<f64> = heard.firings.windows(2).map(from_to).collect();
        let (mean_rad_s, surge_rad_s) = mean_and_deviation(&heard.speeds_rad_s);
        let least = heard.speeds_rad_s.iter().copied().fold(f64::INFINITY, f64::min);
        let cov = |values: &[f64]| {
            let (mean, deviation) = mean_and_deviation(values);
            deviation / mean
        };
        Statistics {
            cycles: works.len(),
            lost_cycles: heard.firings.iter().filter(|firing| firing.lost).count(),
            work_cov: cov(&works),
            envelope_cov: cov(&beats),
            step_db: step_db(&beats),
            half_order_envelope: half_order(&beats, heard.cylinders) / mean_and_deviation(&beats).0,
            mean_rad_s,
            surge_rad_s,
            least_rad_s: if least.is_finite() { least } else { f64::NAN },
            half_order_rad_s: half_order(&speeds, heard.cylinders),
        }
    }
}

/// Rms of the sound from each firing to the next.
fn beats(heard: &Listened) -> Vec<f64> {
    let at = |time_s: f64| ((time_s * f64::from(RATE_HZ)) as usize).min(heard.samples.len());
    let rms = |pair: &[crate::run::Firing]| {
        let part = &heard.samples[at(pair[0].time_s)..at(pair[1].time_s)];
        let square: f64 = part.iter().map(|sample| f64::from(*sample).powi(2)).sum();
        (square / part.len().max(1) as f64).sqrt()
    };
    heard.firings.windows(2).map(rms).collect()
}

fn step_db(beats: &[f64]) -> f64 {
    let step = |pair: &[f64]| (20.0 * (pair[1] / pair[0]).log10()).abs();
    let mut steps: Vec<f64> = beats.windows(2).map(step).filter(|step| step.is_finite()).collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(f64::NAN)
}

fn mean_and_deviation(values: &[f64]) -> (f64, f64) {
    if values.is_empty() {
        return (f64::NAN, f64::NAN);
    }
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let square = values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>() / count;
    (mean, square.sqrt())
}

/// Root mean square, over the cycles, of the part of values that comes back once in a cycle of
/// so many firings: half the order of the crank. NaN for less than three cycles.
///
/// Equation: `a = |2/n sum_j (v_j - mean_j) exp(-2 pi i j/n)|`, rms `a/sqrt 2`. Symbols: `v`
/// values, one a firing; `mean_j` their mean over the cycle about firing `j`, so that a slow
/// drift is not taken for a shake; `n` firings of a cycle. Source: discrete Fourier transform.
///
/// ```
/// use sim_core::sound::half_order;
/// let shakes = |j: usize| 5.0 + 0.2 * (j as f64 * std::f64::consts::TAU / 6.0).sin();
/// let drifts = |j: usize| 5.0 + 0.01 * j as f64;
/// let of = |value: &dyn Fn(usize) -> f64| half_order(&(0..60).map(value).collect::<Vec<_>>(), 6);
/// assert!((of(&shakes) - 0.2 / 2.0_f64.sqrt()).abs() < 1e-12);
/// assert!(of(&drifts) < 1e-12);
/// ```
pub fn half_order(values: &[f64], cylinders: usize) -> f64 {
    let n = cylinders;
    let half = n / 2;
    if values.len() < 3 * n {
        return f64::NAN;
    }
    // A cycle's mean about each value; with an even count the two ends count half.
    let about = |j: usize| {
        let inner: f64 = values[j + 1 - half..j + half].iter().sum();
        let ends = values[j - half] + values[j + half];
        (inner + if n.is_multiple_of(2) { 0.5 * ends } else { ends }) / n as f64
    };
    let last = values.len() - half;
    let square = |from: usize| {
        let (mut re, mut im) = (0.0, 0.0);
        for (j, value) in values.iter().enumerate().skip(from).take(n) {
            let (sin, cos) = (2.0 * PI * j as f64 / n as f64).sin_cos();
            let value = value - about(j);
            (re, im) = (re + value * cos, im - value * sin);
        }
        4.0 * (re * re + im * im) / (n * n) as f64
    };
    let starts = (half..).step_by(n).take_while(|from| from + n <= last);
    let squares: Vec<f64> = starts.map(square).collect();
    (0.5 * squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}
