//! The faces of a report.

pub mod csv;
pub mod json;
pub mod table;
