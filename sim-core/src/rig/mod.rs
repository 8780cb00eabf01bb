//! A rig: the parts of one engine, checked.

pub mod file;
pub mod keys;
pub mod seeded;
pub mod shipped;

pub use crate::assembly::{ControllerGains, Dynamics, Parts, Reference, RigFault};

use crate::operation::reference;

/// A checked engine. Every value lies in the range of its key, the funnel rises, and the
/// engine idles at lambda 1; physics need not check again. `Copy` and under 2 kB.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rig {
    parts: Parts,
    reference: Reference,
}

impl Rig {
    /// Checks how the parts go together and works out the reference state. Single values
    /// must have been checked against their keys' ranges.
    pub fn new(parts: Parts) -> Result<Rig, RigFault> {
        check(&parts)?;
        let reference = reference::of(&parts)?;
        Ok(Rig { parts, reference })
    }

    /// The parts.
    pub fn parts(&self) -> &Parts {
        &self.parts
    }

    /// The reference state.
    pub fn reference(&self) -> &Reference {
        &self.reference
    }

    /// The same engine with parts changed after it left the workshop: the reference state
    /// (flame speed, idle opening) stays that of the sound engine.
    pub fn with_parts(&self, change: impl FnOnce(&mut Parts)) -> Result<Rig, RigFault> {
        let mut rig = *self;
        change(&mut rig.parts);
        check(&rig.parts)?;
        Ok(rig)
    }
}

fn check(parts: &Parts) -> Result<(), RigFault> {
    use crate::units::Unit::Millimetre;
    let plate = &parts.plate;
    let (heights, gaps) = (&*plate.profile_height_m, &*plate.profile_gap_m);
    if heights.len() != gaps.len() {
        return Err(RigFault::Unequal {
            key: "funnel_gap_mm",
            count: gaps.len(),
            other: "funnel_height_mm",
            other_count: heights.len(),
        });
    }
    for (key, row) in [("funnel_height_mm", heights), ("funnel_gap_mm", gaps)] {
        if row[0] != 0.0 {
            return Err(RigFault::NotFromZero { key, first: Millimetre.from_si(row[0]) });
        }
        if let Some(index) = (1..row.len()).find(|&i| row[i] <= row[i - 1]) {
            return Err(RigFault::NotRising { key, index });
        }
    }
    let throttle = &parts.throttle;
    above(("throttle_open_deg", throttle.open_deg), ("throttle_closed_deg", throttle.closed_deg))?;
    let controller = &parts.controller;
    above(
        ("current_high_ma", controller.most_a * 1e3),
        ("current_low_ma", controller.least_a * 1e3),
    )?;
    above(
        ("idle_rpm", crate::units::Unit::Rpm.from_si(controller.idle_rad_s)),
        ("stall_rpm", crate::units::Unit::Rpm.from_si(controller.stall_rad_s)),
    )
}

fn above(key: (&'static str, f64), other: (&'static str, f64)) -> Result<(), RigFault> {
    if key.1 > other.1 {
        return Ok(());
    }
    Err(RigFault::NotAbove { key: key.0, value: key.1, other: other.0, other_value: other.1 })
}
