//! Charts of what the commands found, each drawn with [`crate::drawing`].

pub mod bleed;
pub mod coldmap;
pub mod coldstart;
mod fuel_side;
pub mod machine;
pub mod meter;
mod metering;
mod paper;
pub mod predict;
mod readings;
pub mod relearn;
pub mod run;
pub mod sweep;
pub mod valves;
pub mod wear;
