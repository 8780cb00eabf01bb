//! The stored cells in a running engine, and when a moment may teach them.

use super::options::TICK_S;
use crate::control::cells::{Cells, STEADY, Taught};

/// More current than this that is no trim spoils what is to be learned (A).
pub(super) const SPOILS_A: f64 = 0.0002;

/// The stored cells of a controller that learns, and what this drive has taught it.
#[derive(Clone, Copy, Debug)]
pub(super) struct LearnedTrim {
    pub cells: Cells,
    pub taught: Taught,
    /// Air flow, smoothed (kg/s): a flow near it is a steady one.
    smooth_kg_s: f64,
    /// For how long it has been steady (s).
    steady_s: f64,
}

impl LearnedTrim {
    /// Cells before a drive.
    pub fn new(cells: Cells) -> LearnedTrim {
        LearnedTrim { cells, taught: Taught::default(), smooth_kg_s: 0.0, steady_s: 0.0 }
    }

    /// Follows the air flow for a tick; whether it is a steady one.
    pub fn is_steady(&mut self, air_kg_s: f64) -> bool {
        self.smooth_kg_s += (air_kg_s - self.smooth_kg_s) * TICK_S / STEADY.1;
        let near = (air_kg_s - self.smooth_kg_s).abs() < STEADY.0 * air_kg_s;
        self.steady_s = if near { self.steady_s + TICK_S } else { 0.0 };
        self.steady_s > STEADY.2
    }
}
