//! Options of commands, each written once: flag, unit, range, default, meaning. Help, reading,
//! errors of range and the canonical command all come from it.
//!
//! Reading and checking are two steps: what cannot be a value at all is wrong usage and is
//! found first; a value outside its range is found after bad files.

mod number;
mod word;

pub use number::{Asked, Given, Number, Numbers, seed};
pub use word::{Choice, Switch, Text, on_or_off};

use clap::Arg;

/// An option of a command.
pub trait CommandOption: Sync {
    /// Its definition for the reader of arguments and for help.
    fn arg(&self) -> Arg;
}
