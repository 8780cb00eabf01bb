//! The controller: base current, trim and idle speed, as far as a steady engine shows them.

pub mod trim;
