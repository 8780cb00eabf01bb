//! What each reading says for and against a cause.

use super::Read;
use crate::diagnose::library::Library;

/// A reading that speaks for or against a cause.
#[derive(Clone, Debug)]
pub struct Speaks {
    /// Its slot.
    pub slot: usize,
    /// Its value, in its unit.
    pub value: f64,
    /// What the cause would show, and its standard deviation.
    pub expected: (f64, f64),
    /// What a sound car would show.
    pub sound: f64,
    /// Logarithm of how many times as probable it makes the cause, against a sound car.
    pub says: f64,
}

impl Library {
    /// Mean and standard deviation of a reading for cells, those after the first as what they
    /// add to a sound car.
    fn predicts(&self, cells: &[usize], slot: usize) -> (f64, f64) {
        let n = self.slots.len();
        let sound = &self.cells[0];
        let mut mean = sound.mean[slot];
        let mut variance = sound.covariance[slot * n + slot];
        for i in cells {
            mean += self.cells[*i].mean[slot] - sound.mean[slot];
            variance = variance.max(self.cells[*i].covariance[slot * n + slot]);
        }
        let (low, high) = self.slots[slot].kind.ends();
        (mean.clamp(low, high), variance.sqrt())
    }

    /// What each reading says for cells against the sound car; for the sound car, against the
    /// cells of `other`. The one that says most first.
    pub fn signs(&self, cells: &[usize], other: &[usize], reads: &[Read]) -> Vec<Speaks> {
        let log = |(mean, sigma): (f64, f64), value: f64| {
            -0.5 * ((value - mean) / sigma).powi(2).min(50.0) - sigma.ln()
        };
        let against: &[usize] = if cells.is_empty() { other } else { &[] };
        let mut signs: Vec<Speaks> = reads
            .iter()
            .map(|read| {
                let kind = &self.slots[read.slot].kind;
                let own = self.predicts(cells, read.slot);
                let compared = self.predicts(against, read.slot);
                let mean = kind.unscaled(own.0);
                let sigma = (kind.unscaled(own.0 + own.1) - mean).abs();
                Speaks {
                    slot: read.slot,
                    value: kind.unscaled(read.value),
                    expected: (mean, sigma),
                    sound: kind.unscaled(self.cells[0].mean[read.slot]),
                    says: log(own, read.value) - log(compared, read.value),
                }
            })
            .collect();
        signs.sort_by(|a, b| b.says.abs().total_cmp(&a.says.abs()));
        signs
    }
}
