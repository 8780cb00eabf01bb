//! What a bleeding found: when each line flows, what stands after it, and the hot restart.

mod found;
mod render;

pub use found::{Bled, Bleeding, Line, Outcome, Settings};
pub use render::report;
