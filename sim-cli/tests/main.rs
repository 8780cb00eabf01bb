//! Tests of the program from outside, one binary: `cargo test --release -p sim-cli --test suite NAME`
//! runs those whose path holds a name, `lessons` say.

mod common;

mod agreeing;
mod asking;
mod bleeding;
mod cautioning;
mod charting;
mod cli;
mod drawing;
mod files;
mod finding;
mod fitting;
mod hunt;
mod jobsheet;
mod learning;
mod lessons;
mod listening;
mod living;
mod parsers;
mod plain_words;
mod quizzing;
mod readings;
mod refusals;
mod screen;
mod starting;
mod teaching;
mod watching;
