//! What a command found: numbers for files, blocks for reading, a chart, cautions.
//!
//! A report knows which of its blocks, rows, columns and notes belong to the short answer, one
//! screen for whoever acts on it, and which only to the full one.

use crate::cautions::Caution;
use crate::drawing::picture::Picture;
use crate::scenario::{AT_REST, Scenario};
use clap::ArgMatches;
use clap::parser::ValueSource;
use serde::Serialize;
use serde_json::Value;
use std::io;
use std::path::PathBuf;
use std::rc::Rc;

mod cell;
mod field;
mod table;

pub use cell::{Cell, Column};
pub use field::{Field, Object, Records};
pub use table::{Fit, Pick, Table, Wanted};

/// What a command found, as data: it serialises, and has rows for CSV.
pub trait Found: erased_serde::Serialize {
    /// Its rows with their columns.
    fn table(&self) -> Table {
        Table::default()
    }

    /// Columns of its CSV.
    fn columns(&self) -> Vec<Column> {
        self.table().columns
    }

    /// Shows its rows one at a time. What is long does not stand in a table for it.
    fn each_row(&self, show: Show<'_>) -> io::Result<()> {
        self.table().rows.iter().try_for_each(|row| show(row))
    }
}

/// What takes rows one at a time.
pub type Show<'a> = &'a mut dyn FnMut(&[Cell]) -> io::Result<()>;

erased_serde::serialize_trait_object!(Found);

/// The JSON object of a report.
#[derive(Serialize)]
pub struct Document<'a> {
    schema_version: u8,
    command: &'a str,
    #[serde(flatten)]
    found: &'a dyn Found,
    notes: Vec<&'a str>,
    cautions: &'a [Caution],
}

/// A report. The writers of [`crate::output`] write it; nothing else does.
pub struct Report {
    command: &'static str,
    found: Rc<dyn Found>,
    /// What a person reads, in order.
    blocks: Vec<(StandsIn, Block)>,
    /// Notes under the table and in the CSV's `#` lines.
    notes: Vec<(StandsIn, String)>,
    /// Where what is added next stands.
    stands_in: StandsIn,
    /// Which cautions belong to it.
    pub cautions: Vec<Caution>,
    /// Whether even its short answer tells them in full: they are what it is asked for.
    pub cautions_in_full: bool,
    /// Its chart, if it has one.
    pub chart: Option<Picture>,
    /// A folder that is made for its files.
    pub folder: Option<PathBuf>,
    /// Files beside the report itself.
    pub files: Vec<(PathBuf, Vec<u8>)>,
    /// One of them that is opened in the default browser.
    pub opens: Option<PathBuf>,
    /// Exit code: 0, or 1 if a check the user asked for failed.
    pub exit: u8,
}

impl Report {
    /// The report of what a command found.
    pub fn of(command: &'static str, found: Rc<dyn Found>) -> Report {
        Report {
            command,
            found,
            blocks: Vec::new(),
            notes: Vec::new(),
            stands_in: StandsIn::Both,
            cautions: Vec::new(),
            cautions_in_full: false,
            chart: None,
            folder: None,
            files: Vec::new(),
            opens: None,
            exit: 0,
        }
    }

    /// What was found.
    pub fn found(&self) -> &dyn Found {
        &*self.found
    }

    /// The JSON object.
    pub fn document(&self) -> Document<'_> {
        Document {
            schema_version: 1,
            command: self.command,
            found: self.found(),
            notes: self.notes().collect(),
            cautions: &self.cautions,
        }
    }

    /// What was found, as a JSON value: for places in it by their path.
    pub fn value(&self) -> Value {
        serde_json::to_value(self.found()).unwrap_or_default()
    }

    /// Adds what only the full answer tells.
    pub fn in_full(&mut self, add: impl FnOnce(&mut Report)) {
        self.only(StandsIn::Full, add);
    }

    /// Adds what only the short answer tells: the full one says it at more length.
    pub fn in_short(&mut self, add: impl FnOnce(&mut Report)) {
        self.only(StandsIn::Short, add);
    }

    fn only(&mut self, stands_in: StandsIn, add: impl FnOnce(&mut Report)) {
        let outside = std::mem::replace(&mut self.stands_in, stands_in);
        add(self);
        self.stands_in = outside;
    }

    /// Adds a block.
    pub fn block(&mut self, block: Block) {
        self.blocks.push((self.stands_in, block));
    }

    /// Adds a heading.
    pub fn heading(&mut self, line: impl Into<String>) {
        self.block(Block::Heading(line.into()));
    }

    /// Adds a line for the reader.
    pub fn say(&mut self, line: impl Into<String>) {
        self.block(Block::Line(line.into()));
    }

    /// Adds a warning that must not be overlooked. It stands in every answer.
    pub fn hazard(&mut self, words: impl Into<String>) {
        self.blocks.push((StandsIn::Both, Block::Hazard(words.into())));
    }

    /// Adds a table.
    pub fn table(&mut self, table: Table) {
        self.block(Block::Table(table));
    }

    /// Adds a note below all else of the full answer: how far to trust it, what words mean.
    pub fn note(&mut self, words: impl Into<String>) {
        self.notes.push((StandsIn::Full, words.into()));
    }

    /// Adds a note that changes what is done: it stands in every answer.
    pub fn note_always(&mut self, words: impl Into<String>) {
        self.notes.push((StandsIn::Both, words.into()));
    }

    /// All notes.
    pub fn notes(&self) -> impl Iterator<Item = &str> {
        self.notes.iter().map(|(_, words)| words.as_str())
    }

    /// Takes the notes of another report, each where it stood.
    pub fn take_notes(&mut self, from: &mut Report) {
        self.notes.append(&mut from.notes);
    }

    /// What of it a reader sees, and whether that is not all.
    pub fn seen(&self, wanted: &Wanted) -> Seen<'_> {
        let stands = |stands_in: StandsIn| match stands_in {
            StandsIn::Both => true,
            StandsIn::Full => wanted.all,
            StandsIn::Short => !wanted.all,
        };
        // Readings that are named are shown wherever their table stands.
        let named = |block: &Block| {
            let table = block.table().filter(|_| !wanted.readings.is_empty());
            table.is_some_and(|table| !table.row_readings.is_empty())
        };
        let blocks =
            self.blocks.iter().filter(|(stands_in, block)| stands(*stands_in) || named(block));
        let blocks = blocks.map(|(_, block)| block.seen(wanted)).collect();
        let notes = self.notes.iter().filter(|(stands_in, _)| stands(*stands_in));
        let notes = notes.map(|(_, words)| words.as_str()).collect();
        let shortened = !wanted.all
            && (self.notes.iter().any(|(stands_in, _)| *stands_in == StandsIn::Full)
                || self.blocks.iter().any(|(stands_in, block)| {
                    *stands_in == StandsIn::Full
                        || block.table().is_some_and(|table| table.is_shortened())
                }));
        Seen { blocks, notes, shortened }
    }

    /// Notes which of a command's own flags were given and do not matter, and why.
    pub fn note_idle(&mut self, matches: &ArgMatches, flags: &[&str], why: &str) {
        let given = |flag: &&&str| matches.value_source(flag) == Some(ValueSource::CommandLine);
        for flag in flags.iter().filter(given) {
            self.note_always(format!("--{flag} does not matter here: {why}."));
        }
    }

    /// Notes which flags of the conditions were given and do not matter, and why.
    pub fn note_idle_flags(&mut self, scenario: &Scenario) {
        scenario.idle_flags().for_each(|words| self.note_always(words));
    }

    /// Warns that fuel runs into the standing engine with the screw where it is, if it does.
    pub fn warn_at_rest(&mut self, scenario: &Scenario) {
        if scenario.fuel_flows_at_rest() {
            self.hazard(AT_REST);
        }
    }

    /// The same with its chart, if `--chart` asks for one.
    pub fn drawn(mut self, matches: &ArgMatches, draw: impl FnOnce() -> Picture) -> Report {
        self.chart = matches.contains_id("chart").then(draw);
        self
    }
}

/// Which answers something stands in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum StandsIn {
    Both,
    Short,
    Full,
}

/// What of a report a reader sees.
pub struct Seen<'a> {
    /// The blocks, in order.
    pub blocks: Vec<Block>,
    /// The notes.
    pub notes: Vec<&'a str>,
    /// Whether there is more.
    pub shortened: bool,
}

/// A piece of what a person reads.
#[derive(Clone)]
pub enum Block {
    /// A heading.
    Heading(String),
    /// A line or paragraph.
    Line(String),
    /// A warning that must not be overlooked.
    Hazard(String),
    /// A table.
    Table(Table),
    /// Text that stands as it is.
    Verbatim(String),
}

impl Block {
    fn seen(&self, wanted: &Wanted) -> Block {
        match self {
            Block::Table(table) => Block::Table(table.seen(wanted)),
            block => block.clone(),
        }
    }

    /// The table that it is.
    pub fn table(&self) -> Option<&Table> {
        match self {
            Block::Table(table) => Some(table),
            _ => None,
        }
    }
}
