//! The forms a report is written in.

pub mod csv;
pub mod json;
pub mod table;
