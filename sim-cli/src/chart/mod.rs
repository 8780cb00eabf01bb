//! Charts of what the commands found, each drawn with [`crate::drawing`].

pub mod bleed;
pub mod coldmap;
pub mod coldstart;
pub mod meter;
pub mod predict;
mod readings;
pub mod relearn;
pub mod run;
pub mod sweep;
pub mod valves;
pub mod wear;
