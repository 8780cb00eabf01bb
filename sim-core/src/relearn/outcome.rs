//! What a drive does to the stored cells, and what is felt of it.

use crate::control::cells::CELLS;
use crate::run::stall_cause::StallCause;

/// What is felt of a part of a drive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartFelt {
    /// Mean roughness (COV of imep).
    pub cov: f64,
    /// Roughness of its worst second.
    pub worst_cov: f64,
    /// Mixture of its leanest and of its richest second.
    pub leanest_lambda: f64,
    /// See `leanest_lambda`.
    pub richest_lambda: f64,
}

/// What one drive did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DriveOutcome {
    /// Cells after it (A).
    pub cells_a: [f64; CELLS],
    /// Mean roughness of its idling: COV of imep, without the seconds in which the engine dies and
    /// it says nothing. `None` if it did not idle.
    pub cov: Option<f64>,
    /// Fuel (kg).
    pub fuel_kg: f64,
    /// How often the starter was turned until the engine ran.
    pub tries: u32,
    /// How often the engine stalled.
    pub stalls: u32,
    /// Why it stalled last, if it did.
    pub stalled_because: Option<StallCause>,
    /// Standard deviation of the idle speed over the drive's idles (rad/s); `None` if it did not idle.
    pub surge_rad_s: Option<f64>,
    /// Least speed while it ran by itself (rad/s); `None` if it never did.
    pub least_rad_s: Option<f64>,
    /// Largest roughness of a second of idling (COV of imep): mostly that after the start, while
    /// the loop is open and the stored cells stand alone.
    pub worst_cov: Option<f64>,
    /// Leanest mixture of a second under load.
    pub leanest_lambda: Option<f64>,
    /// What is felt at the idle, from three seconds after the catch; `None` if there was none.
    pub idle: Option<PartFelt>,
    /// What is felt at a steady speed.
    pub cruise: Option<PartFelt>,
    /// What is felt while it is driven faster: where a shift comes in.
    pub load: Option<PartFelt>,
    /// Time in which each cell learned (s).
    pub learned_s: [f64; CELLS],
    /// Whether the drive was given up: the engine did not start again, or stalled too often.
    pub given_up: bool,
}
