//! Charts: drawn once as SVG, from which PNG is made.

pub mod bleed;
pub mod coldmap;
pub mod coldstart;
pub mod draw;
pub mod meter;
pub mod panels;
#[cfg(feature = "pdf")]
pub mod pdf;
pub mod picture;
pub mod predict;
pub mod relearn;
pub mod run;
pub mod sweep;
pub mod theme;
pub mod valves;
pub mod wear;
