//! The machine drawn: the metering in section, or the fuel side, each on a page of its own.

use super::{fuel_side, metering};
use crate::drawing::picture::Picture;
use crate::results::draw::{DrawnMachine, Sheet};
use sim_core::rig::Rig;

/// The drawing of a machine.
pub fn picture(drawn: &DrawnMachine) -> Picture {
    match drawn.sheet {
        Sheet::Metering => metering::picture(drawn),
        Sheet::Fuel => fuel_side::picture(drawn),
    }
}

/// The metering at rest as an SVG element for a page whose script moves its parts.
pub fn moving(rig: &Rig) -> String {
    metering::moving(rig)
}
