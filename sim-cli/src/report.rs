//! What a command found: numbers for files, blocks for reading, a chart, cautions.

use crate::cautions::Caution;
use crate::drawing::picture::Picture;
use crate::scenario::{AT_REST, Scenario};
use crate::text::fixed;
use clap::ArgMatches;
use serde::{Serialize, Serializer};
use serde_json::Value;
use sim_core::point::Reading;
use std::io;
use std::path::PathBuf;
use std::rc::Rc;

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
    notes: &'a [String],
    cautions: &'a [Caution],
}

/// A report. The writers of [`crate::output`] write it; nothing else does.
pub struct Report {
    command: &'static str,
    found: Rc<dyn Found>,
    /// What a person reads, in order.
    pub blocks: Vec<Block>,
    /// Notes under the table and in the CSV's `#` lines.
    pub notes: Vec<String>,
    /// Which cautions belong to it.
    pub cautions: Vec<Caution>,
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
            cautions: Vec::new(),
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
            notes: &self.notes,
            cautions: &self.cautions,
        }
    }

    /// What was found, as a JSON value: for places in it by their path.
    pub fn value(&self) -> Value {
        serde_json::to_value(self.found()).unwrap_or_default()
    }

    /// Adds a heading.
    pub fn heading(&mut self, line: impl Into<String>) {
        self.blocks.push(Block::Heading(line.into()));
    }

    /// Adds a line for the reader.
    pub fn say(&mut self, line: impl Into<String>) {
        self.blocks.push(Block::Line(line.into()));
    }

    /// Adds a warning that must not be overlooked.
    pub fn hazard(&mut self, words: impl Into<String>) {
        self.blocks.push(Block::Hazard(words.into()));
    }

    /// Adds a table.
    pub fn table(&mut self, table: Table) {
        self.blocks.push(Block::Table(table));
    }

    /// Adds a note below all else.
    pub fn note(&mut self, words: impl Into<String>) {
        self.notes.push(words.into());
    }

    /// Notes that the screw asked for does not matter to a command that turns it itself.
    pub fn note_screw(&mut self, scenario: &Scenario) {
        self.notes.extend(scenario.screw_note());
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

/// A piece of what a person reads.
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
    /// The table that it is.
    pub fn table(&self) -> Option<&Table> {
        match self {
            Block::Table(table) => Some(table),
            _ => None,
        }
    }
}

/// Rows of cells under columns.
#[derive(Default, Clone, PartialEq)]
pub struct Table {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A row for each item.
    pub fn of<'a, T: 'a>(fields: &[Field<T>], items: impl IntoIterator<Item = &'a T>) -> Table {
        let fields = || fields.iter().filter(|field| field.is_in != Forms::Data);
        let row = |item| fields().map(|field| (field.get)(item)).collect();
        let columns = fields().map(|&Field { name, label, unit, decimals, .. }| {
            Column::new(name, label, unit, decimals)
        });
        Table { columns: columns.collect(), rows: items.into_iter().map(row).collect() }
    }

    /// Rows of words.
    pub fn of_words<const N: usize>(
        names: [&str; N],
        rows: impl Iterator<Item = [String; N]>,
    ) -> Table {
        let rows = rows.map(|row| row.map(Cell::Word).to_vec());
        Table { columns: Column::named(names), rows: rows.collect() }
    }

    /// Its head, units and rows as they are printed, without what is empty, and how many of
    /// them are head and units.
    pub fn printed(&self) -> (Vec<Vec<String>>, usize) {
        let head = self.columns.iter().map(|column| column.label.clone()).collect();
        let units = self.columns.iter().map(|column| column.unit.to_string()).collect();
        let filled = |row: &Vec<String>| row.iter().any(|cell| !cell.is_empty());
        let mut rows: Vec<Vec<String>> = [head, units].into_iter().filter(filled).collect();
        let heads = rows.len();
        let body = self.rows.iter().map(|row| {
            row.iter().zip(&self.columns).map(|(cell, column)| cell.printed(column)).collect()
        });
        rows.extend(body.filter(filled));
        (rows, heads)
    }

    /// Which columns hold nothing but numbers: those are set to the right.
    pub fn numeric(&self) -> Vec<bool> {
        let numbers = |i: usize| {
            self.rows.iter().all(|row| matches!(row[i], Cell::Number(_) | Cell::Count(_)))
        };
        (0..self.columns.len()).map(numbers).collect()
    }
}

/// A column.
#[derive(Clone, PartialEq)]
pub struct Column {
    /// Name in CSV headers.
    pub name: String,
    /// Words over a printed table.
    pub label: String,
    /// Unit, empty if none.
    pub unit: &'static str,
    /// Decimals in a printed table.
    pub decimals: usize,
}

impl Column {
    /// A column of numbers or words.
    pub fn new(name: &str, label: &str, unit: &'static str, decimals: usize) -> Column {
        Column { name: name.into(), label: label.into(), unit, decimals }
    }

    /// Columns that are called by their names.
    pub fn named<'a>(names: impl IntoIterator<Item = &'a str>) -> Vec<Column> {
        names.into_iter().map(|name| Column::new(name, name, "", 3)).collect()
    }

    /// The column of a reading.
    pub fn of(reading: &Reading) -> Column {
        let symbol = reading.unit.symbol();
        Column::new(reading.name, short_label(reading), symbol, reading.decimals)
    }
}

/// The first words of a reading's label, which stand over narrow columns.
fn short_label(reading: &Reading) -> &'static str {
    match reading.name {
        "cov_percent" => "rough",
        "potentiometer_v" => "pot.",
        "actuator_ma" => "current",
        "wanted_duty_percent" => "wanted",
        "co_percent" => "CO",
        "manifold_bar" => "manifold",
        "sensor_v" => "sensor",
        _ => reading.label,
    }
}

/// A column of a table of `T`, and how its cell is had from one.
pub struct Field<T> {
    name: &'static str,
    label: &'static str,
    unit: &'static str,
    decimals: usize,
    get: fn(&T) -> Cell,
    is_in: Forms,
}

/// The forms that a field is in.
#[derive(Clone, Copy, PartialEq)]
enum Forms {
    All,
    Table,
    Data,
}

impl<T> Field<T> {
    /// A column: its name, label, unit and decimals, and its cell.
    pub const fn new(
        name: &'static str,
        label: &'static str,
        unit: &'static str,
        decimals: usize,
        get: fn(&T) -> Cell,
    ) -> Field<T> {
        Field { name, label, unit, decimals, get, is_in: Forms::All }
    }

    /// Words that only the table has.
    pub const fn word(name: &'static str, label: &'static str, get: fn(&T) -> Cell) -> Field<T> {
        Field { is_in: Forms::Table, ..Field::new(name, label, "", 0, get) }
    }

    /// What only the data have.
    pub const fn data(name: &'static str, get: fn(&T) -> Cell) -> Field<T> {
        Field { is_in: Forms::Data, ..Field::new(name, "", "", 0, get) }
    }
}

/// An item as the JSON object that its fields make.
pub struct Object<'a, T: 'static>(pub &'static [Field<T>], pub &'a T);

impl<T> Serialize for Object<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let fields = self.0.iter().filter(|field| field.is_in != Forms::Table);
        serializer.collect_map(fields.map(|field| (field.name, (field.get)(self.1))))
    }
}

/// Items as a list of such objects.
pub struct Records<'a, T: 'static>(pub &'static [Field<T>], pub &'a [T]);

impl<T> Serialize for Records<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.1.iter().map(|item| Object(self.0, item)))
    }
}

/// A cell.
#[derive(Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Cell {
    /// A number, or nothing to show.
    Number(Option<f64>),
    /// Words.
    Word(String),
    /// How many.
    Count(usize),
    /// Whether it is so.
    Is(bool),
}

impl From<Option<f64>> for Cell {
    fn from(value: Option<f64>) -> Cell {
        Cell::Number(value)
    }
}

impl From<usize> for Cell {
    fn from(count: usize) -> Cell {
        Cell::Count(count)
    }
}

impl From<bool> for Cell {
    fn from(is: bool) -> Cell {
        Cell::Is(is)
    }
}

impl From<f64> for Cell {
    fn from(value: f64) -> Cell {
        Cell::Number(Some(value))
    }
}

impl From<&str> for Cell {
    fn from(word: &str) -> Cell {
        Cell::Word(word.into())
    }
}

impl From<String> for Cell {
    fn from(word: String) -> Cell {
        Cell::Word(word)
    }
}

impl Cell {
    /// What something says, or nothing.
    pub fn said(words: Option<&impl ToString>) -> Cell {
        words.map_or(Cell::Number(None), |words| Cell::Word(words.to_string()))
    }

    /// As it is, with every digit; empty if there is nothing.
    pub fn in_full(&self) -> String {
        match self {
            Cell::Number(Some(value)) if value.is_finite() => value.to_string(),
            Cell::Number(_) => String::new(),
            Cell::Word(word) => word.clone(),
            Cell::Count(count) => count.to_string(),
            Cell::Is(is) => is.to_string(),
        }
    }

    /// As it is printed in its column.
    pub fn printed(&self, column: &Column) -> String {
        match self {
            Cell::Number(Some(value)) if value.is_finite() => fixed(*value, column.decimals),
            Cell::Number(_) => "-".into(),
            cell => cell.in_full(),
        }
    }
}
