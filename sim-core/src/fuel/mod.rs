//! The fuel: what it is, how it is supplied, how the plunger's slits meter it, and what
//! drives it through them.

pub mod kind;
pub mod leak;
pub mod pressure;
pub mod slit;
pub mod supply;
