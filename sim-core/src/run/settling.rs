//! When a reading has settled, and the mean of what swings.

use super::options::TICK_S;
use crate::point::{Averaging, READINGS, State};

/// About how long a swinging reading is averaged (s): the whole number of swings nearest.
const MEAN_S: f64 = 2.0;
/// Share of its range within which a reading has settled.
const SETTLED_SHARE: f64 = 0.005;
/// How long a reading must have stayed to count as settled (s).
const STAYS_S: f64 = 2.0;
/// Ticks whose readings are averaged before a swing is.
const TICKS: u32 = 10;

/// A reading over time, its values evenly apart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    /// Time of the first value (s).
    pub start_s: f64,
    /// Time from value to value (s).
    pub step_s: f64,
    /// The values.
    pub values: Vec<f64>,
}

impl Series {
    /// Time of a value (s).
    fn time_s(&self, i: usize) -> f64 {
        self.start_s + i as f64 * self.step_s
    }

    /// How long after an action the series stays within a share of its range of its final
    /// value: 0 if it never left, `None` if it never settles.
    pub fn settled_after(&self, action_s: f64) -> Option<f64> {
        self.settled_within(action_s, 0.0)
    }

    /// The same within no less than `least`, in the unit of the values: what a meter does not
    /// show has settled.
    pub fn settled_within(&self, action_s: f64, least: f64) -> Option<f64> {
        let last = *self.values.last()?;
        let low = self.values.iter().fold(f64::INFINITY, |a, b| a.min(*b));
        let most = self.values.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b));
        let band = least.max(SETTLED_SHARE * (most - low)) + 1e-12 * last.abs();
        let outside = (0..self.values.len())
            .rfind(|&i| self.time_s(i) >= action_s - 1e-9 && (self.values[i] - last).abs() > band);
        match outside {
            None => Some(0.0),
            Some(i) => {
                let (time, end) = (self.time_s(i + 1), self.time_s(self.values.len() - 1));
                // What has only just come in has not shown that it stays.
                (time < end - STAYS_S).then_some((time - action_s).max(0.0))
            }
        }
    }

    /// Means over the time (s) up to each value; of the values there are, at the start.
    fn averaged(&self, over_s: f64) -> Series {
        let mut sums = vec![0.0];
        for value in &self.values {
            sums.push(sums[sums.len() - 1] + value);
        }
        let sum_to = |at: f64| {
            let (whole, part) = (at as usize, at.fract());
            sums[whole] + part * self.values.get(whole).unwrap_or(&0.0)
        };
        let over = over_s / self.step_s;
        let mean = |i: usize| {
            let end = i as f64;
            let start = (end - over).max(0.0);
            (sums[i] - sum_to(start)) / (end - start)
        };
        Series { values: (1..=self.values.len()).map(mean).collect(), ..self.clone() }
    }
}

/// What a meter that averages would show: every reading, ten ticks at a time, and the
/// current of the last ticks, for the length of a swing.
#[derive(Clone, Debug, Default)]
pub(super) struct Averages {
    sums: Vec<f64>,
    count: u32,
    means: Vec<Vec<f64>>,
}

impl Averages {
    /// Takes in the readings of a tick, and the learned trim (A).
    pub fn push(&mut self, state: &State, learned_a: f64) {
        self.sums.resize(READINGS.len() + 1, 0.0);
        self.means.resize(READINGS.len() + 1, Vec::new());
        for (sum, reading) in self.sums.iter_mut().zip(READINGS) {
            *sum += (reading.get)(state).unwrap_or(0.0);
        }
        self.sums[READINGS.len()] += learned_a;
        self.count += 1;
        if self.count == TICKS {
            for (mean, sum) in self.means.iter_mut().zip(&mut self.sums) {
                mean.push(*sum / f64::from(TICKS));
                *sum = 0.0;
            }
            self.count = 0;
        }
    }

    /// How long after an action each reading settled, and after them the learned trim: as
    /// means over whole swings of `swing_s`.
    pub fn settled_after(&self, action_s: f64, swing_s: Option<f64>) -> Vec<Option<f64>> {
        let over_s = swing_s.map_or(MEAN_S, |swing| swing * (MEAN_S / swing).round().max(1.0));
        let step_s = f64::from(TICKS) * TICK_S;
        self.means
            .iter()
            .enumerate()
            .map(|(i, values)| {
                let series = Series { start_s: step_s, step_s, values: values.clone() };
                series.averaged(over_s).settled_within(action_s, last_decimal(i))
            })
            .collect()
    }
}

/// Half the last decimal that is shown of a reading of the list, SI; 0 of what is behind it.
pub(super) fn last_decimal(i: usize) -> f64 {
    READINGS.get(i).map_or(0.0, |reading| {
        let shown = 0.5 * 10_f64.powi(-(reading.decimals as i32));
        reading.unit.to_si(shown) - reading.unit.to_si(0.0)
    })
}

/// What a reading did between two actions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dispersion {
    /// Its mean.
    pub mean: f64,
    /// Its least value.
    pub least: f64,
    /// Its largest value.
    pub most: f64,
    /// Its standard deviation.
    pub deviation: f64,
}

/// Gathers what the readings did, tick by tick.
#[derive(Clone, Debug, Default)]
pub(super) struct Gatherer {
    count: f64,
    /// For each reading: first value, and of what is above it sum and sum of squares, least
    /// and most.
    sums: Vec<(f64, f64, f64, f64, f64)>,
}

impl Gatherer {
    /// Takes in the readings of a tick.
    pub fn push(&mut self, state: &State) {
        for (i, reading) in READINGS.iter().enumerate() {
            let value = reading.value(state).unwrap_or(f64::NAN);
            if self.sums.len() <= i {
                self.sums.push((value, 0.0, 0.0, value, value));
            }
            let (first, sum, squares, least, most) = &mut self.sums[i];
            let above = value - *first;
            *sum += above;
            *squares += above * above;
            *least = least.min(value);
            *most = most.max(value);
        }
        self.count += 1.0;
    }

    /// What each of [`READINGS`] did, in its own unit; `None` for one that is not there.
    pub fn spreads(&self) -> Vec<Option<Dispersion>> {
        self.sums
            .iter()
            .map(|&(first, sum, squares, least, most)| {
                let mean = sum / self.count;
                let deviation = (squares / self.count - mean * mean).max(0.0).sqrt();
                let spread = Dispersion { mean: first + mean, least, most, deviation };
                spread.mean.is_finite().then_some(spread)
            })
            .collect()
    }
}

/// The mean over the whole swings of the current in a series of ticks, and the length of a
/// swing (s); `last` if it does not swing.
pub(super) fn mean_of_swings(ticks: &[State], last: State) -> (State, Option<f64>) {
    let count = ticks.len() as f64;
    let level = ticks.iter().map(|state| state.actuator_a).sum::<f64>() / count;
    let rises = |i: &usize| ticks[i - 1].actuator_a < level && ticks[*i].actuator_a >= level;
    let ups: Vec<usize> = (1..ticks.len()).filter(rises).collect();
    let (window, swing_s) = match (ups.first(), ups.last()) {
        (Some(&first), Some(&last)) if last > first => {
            let swing_s = (last - first) as f64 * TICK_S / (ups.len() - 1) as f64;
            (&ticks[first..last], Some(swing_s))
        }
        _ if ticks.is_empty() => return (last, None),
        _ => (ticks, None),
    };
    let mut state = last;
    for reading in READINGS {
        let values = || window.iter().filter_map(reading.get);
        let count = values().count();
        if count > 0 {
            let value = match reading.averaging {
                Averaging::Mean => values().sum::<f64>() / count as f64,
                Averaging::Largest => values().fold(f64::NEG_INFINITY, f64::max),
            };
            (reading.set)(&mut state, value);
        }
    }
    (state, swing_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conditions::Conditions;
    use crate::rig::shipped::shipped;
    use crate::steady::SteadyEngine;

    /// A swing between two levels: every reading of the list is averaged over it.
    #[test]
    fn every_reading_is_averaged_over_whole_swings() {
        let rig = shipped("six").unwrap().rig;
        let conditions = Conditions::default();
        let point = SteadyEngine::new(&rig, &conditions).point(0.0);
        let mut ticks = Vec::new();
        for tick in 0..400 {
            let mut state = *point.state().unwrap();
            for reading in READINGS {
                (reading.set)(&mut state, if tick % 40 < 20 { 0.25 } else { 0.75 });
            }
            ticks.push(state);
        }
        let last = *point.state().unwrap();
        let (mean, swing_s) = mean_of_swings(&ticks, last);
        assert!((swing_s.unwrap() - 40.0 * TICK_S).abs() < 1e-12);
        for reading in READINGS {
            // A pressure below another follows from the two: what it stands at is not 0.25.
            let levels = [0, 20].map(|tick| (reading.get)(&ticks[tick]).unwrap());
            let wanted = match reading.averaging {
                Averaging::Mean => 0.5 * (levels[0] + levels[1]),
                Averaging::Largest => levels[1],
            };
            assert_eq!((reading.get)(&mean), Some(wanted), "{}", reading.name);
        }
    }
}
