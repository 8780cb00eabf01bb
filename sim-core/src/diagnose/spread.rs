//! Over which engines a diagnosis is made: relatives of a rig as they are drawn by chance, or what
//! the fit of one car leaves open.

use crate::rig::keys::Setup;

/// Over which engines a diagnosis is made.
#[derive(Clone, Copy)]
pub enum Spread<'a> {
    /// Relatives drawn by chance, set as a workshop sets them: [`crate::rig::seeded::relative`].
    Seeded,
    /// One car as its fit has it: the engine of a number, drawn from what the fit leaves open.
    /// Screw, housing and all that a fit names are as drawn; what no fit can know (pump, leaks of
    /// the fuel side, injectors, gases, contacts, meters) differs as among relatives. `None` is no
    /// engine, and is left out.
    Own(&'a (dyn Fn(u64) -> Option<Setup> + Sync)),
}
