//! The engine a command runs: flags from the list of keys, read, then loaded and checked.

mod assignment;
mod change;
mod conditions;
mod engine_args;
mod loaded;
mod rigs;

pub use change::{CHANGE, Change, ChangesAsked, TURN, VOLTS, plain_words, with};
pub use conditions::{value_of, with_conditions};
pub use engine_args::EngineArgs;
pub use loaded::Scenario;
pub use rigs::{AT_REST, RIG, RIG_DEFAULT, as_it_stands, canonical_rig, load_rig};
