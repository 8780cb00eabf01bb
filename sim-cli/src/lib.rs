//! The command line of quarterturn: arguments in, reports out.
//!
//! A command turns its arguments into a `report::Report` and prints nothing; a face
//! (table, CSV, JSON) writes it; `trouble` turns every error into a sentence, a place
//! and an exit code.

mod args;
mod bound;
mod cautions;
mod chart;
mod commands;
mod engine;
mod faces;
mod failures;
mod files;
mod fonts;
mod lessons;
mod parallel;
mod progress;
mod report;
mod session;
mod sheet;
mod trouble;
mod words;

pub use session::run;
