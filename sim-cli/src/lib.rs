//! The command line of quarterturn: arguments in, reports out.
//!
//! A command turns its arguments into a result (`results`), which serialises and draws and
//! tells itself; a `report::Report` carries it to the forms of `output` (table, CSV, JSON).
//! A command prints nothing. `error` turns every error into a sentence, a place and an exit
//! code.

mod alike;
mod args;
mod bench_page;
mod browser;
mod by_name;
mod cautions;
mod chart;
mod command;
mod commands;
mod course;
mod drawing;
mod error;
mod failures;
mod files;
mod given;
mod job_page;
mod options;
mod output;
mod parallel;
mod procedure_option;
mod program;
mod progress;
mod report;
mod results;
mod rounding;
mod scenario;
mod session;
mod text;
mod theme_option;
mod weighed;

pub use session::run;
