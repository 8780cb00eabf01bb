//! A rig: the parts of one engine, checked.
//!
//! ```
//! use sim_core::rig::{file, shipped::SHIPPED};
//! let (_, text) = SHIPPED[0];
//! let read = file::parse(text).unwrap();
//! assert!(read.rig.parts().breathing.displacement_m3 > 0.0);
//! let fault = file::parse("name = 7").unwrap_err();
//! assert!(fault.to_string().starts_with("line 1"));
//! ```

pub mod file;
mod file_fault;
pub mod found;
mod found_reader;
pub mod keys;
pub mod seeded;
pub mod shipped;

pub use crate::assembly::{ControllerGains, Dynamics, Parts, Range, Reference, RigFault};

use crate::operation::reference;
use crate::units::Unit;
use crate::wording::tidy;
use keys::key::Place;
use keys::table::KEYS;

/// A checked engine. Every value lies in the range of its key, the funnel rises, and the
/// engine idles at lambda 1; physics need not check again. `Copy` and under 2 kB.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Rig {
    parts: Parts,
    reference: Reference,
}

impl Rig {
    /// Checks every value against its key's range and how the parts go together, and works
    /// out the reference state.
    pub fn new(parts: Parts) -> Result<Rig, RigFault> {
        check_ranges(&parts)?;
        Rig::new_beyond_ranges(parts)
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
        let mut parts = self.parts;
        change(&mut parts);
        check_ranges(&parts)?;
        self.with_parts_beyond_ranges(|changed| *changed = parts)
    }

    /// [`Rig::new`] without the keys' ranges: for relatives of a checked rig that are drawn or
    /// varied within the crate, where a range's edge would cut the draw.
    pub(crate) fn new_beyond_ranges(parts: Parts) -> Result<Rig, RigFault> {
        check_together(&parts)?;
        let reference = reference::of(&parts)?;
        Ok(Rig { parts, reference })
    }

    /// [`Rig::with_parts`] without the keys' ranges: for values that their key has checked
    /// already, and for what is varied within the crate.
    pub(crate) fn with_parts_beyond_ranges(
        &self,
        change: impl FnOnce(&mut Parts),
    ) -> Result<Rig, RigFault> {
        let mut rig = *self;
        change(&mut rig.parts);
        check_together(&rig.parts)?;
        Ok(rig)
    }
}

/// Every value within its key's range. Conversion to SI and back may cost a last digit, so a
/// bound counts with twelve.
fn check_ranges(parts: &Parts) -> Result<(), RigFault> {
    let mut copy = *parts;
    for key in KEYS {
        let check = |si: f64| {
            let value = key.unit.from_si(si);
            if key.allows(value) || key.allows(tidy(value)) {
                return Ok(());
            }
            Err(RigFault::OutOfRange { key: key.name, value: tidy(value), range: key.range() })
        };
        match key.place {
            Place::Part { at, .. } => check(*at(&mut copy))?,
            Place::PartRow { least, most, get, .. } => {
                let row = get(parts);
                if row.len() < least || row.len() > most {
                    let (key, found) = (key.name, row.len());
                    return Err(RigFault::WrongCount { key, found, least, most });
                }
                row.iter().try_for_each(|si| check(*si))?;
            }
            Place::Condition(_) | Place::Optional(_) | Place::Choice { .. } => {}
        }
    }
    Ok(())
}

fn check_together(parts: &Parts) -> Result<(), RigFault> {
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
    let unit = Unit::Millimetre;
    for (key, row) in [("funnel_height_mm", heights), ("funnel_gap_mm", gaps)] {
        if row[0] != 0.0 {
            return Err(RigFault::NotFromZero { key, first: unit.from_si(row[0]), unit });
        }
        if let Some(index) = (1..row.len()).find(|&i| row[i] <= row[i - 1]) {
            return Err(RigFault::NotRising { key, index });
        }
    }
    let (throttle, controller) = (&parts.throttle, &parts.controller);
    let pairs = [
        (
            Unit::Degree,
            ("throttle_open_deg", throttle.open_deg),
            ("throttle_closed_deg", throttle.closed_deg),
        ),
        (
            Unit::Milliampere,
            ("current_high_ma", controller.most_a),
            ("current_low_ma", controller.least_a),
        ),
        (Unit::Rpm, ("idle_rpm", controller.idle_rad_s), ("stall_rpm", controller.stall_rad_s)),
    ];
    for (unit, (key, value), (other, other_value)) in pairs {
        let (value, other_value) = (unit.from_si(value), unit.from_si(other_value));
        if value <= other_value {
            return Err(RigFault::NotAbove { key, value, other, other_value, unit });
        }
    }
    Ok(())
}
