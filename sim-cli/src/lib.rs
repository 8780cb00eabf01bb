//! The command line of quarterturn: arguments in, reports out.
//!
//! A command turns its arguments into a `report::Report` and prints nothing; a face
//! (table, CSV, JSON) writes it; `error` turns every error into a sentence, a place
//! and an exit code.

mod args;
mod cautions;
mod chart;
mod commands;
mod error;
mod failures;
mod files;
mod fonts;
mod lessons;
mod number_binding;
mod output;
mod parallel;
mod progress;
mod report;
mod scenario;
mod session;
mod sheet;
mod text;

pub use session::run;
