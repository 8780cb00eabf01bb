//! What an engine does under given conditions: the state that follows from a manifold
//! pressure, a speed and a mixture, the balance that settles it, its roughness, and the
//! reference state that a rig is known by, and what the controller makes of its sensors. Over parts that need not be checked.

pub(crate) mod balance;
pub(crate) mod cycle;
mod flame;
pub(crate) mod operating_state;
pub(crate) mod reference;
pub(crate) mod roughness;
pub(crate) mod seen;
mod supplied;
