//! The controller: base current, trim and idle speed as a steady engine shows them, and what
//! a start asks for.

pub mod cells;
pub mod idle;
pub mod memory;
pub mod starting;
pub mod trim;
