//! What is drawn.

use sim_core::rig::Parts;
use sim_core::section::{Machine, Section};

/// Lift from which the plate is shown at rest, too (m).
pub const GHOST_M: f64 = 0.2e-3;

/// The machine as it is drawn.
pub struct Subject<'a> {
    /// Its parts.
    pub parts: &'a Parts,
    /// Where they stand.
    pub machine: Machine,
    /// The rest.
    pub section: &'a Section,
    /// Whether numbers and whatever moves are left out, to be drawn in.
    pub blank: bool,
    /// Whether its parts are moved on a page: only what stays true of them is drawn.
    pub moves: bool,
}

impl Subject<'_> {
    /// A length (mm), or a line to write it on.
    pub fn mm(&self, metres: f64, decimals: usize) -> String {
        match self.blank {
            true => "____ mm".into(),
            false => format!("{} mm", crate::text::fixed(1e3 * metres, decimals)),
        }
    }
}
