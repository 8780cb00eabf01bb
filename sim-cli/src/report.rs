//! What a command found: numbers for files, blocks for reading, a chart, cautions.

use crate::cautions::Caution;
use crate::drawing::picture::Picture;
use crate::scenario::{AT_REST, Scenario};
use crate::text::fixed;
use serde::Serialize;
use serde_json::Value;
use sim_core::point::Reading;
use std::io;
use std::path::PathBuf;
use std::rc::Rc;

/// What a command found, as data. It serialises to the members of the JSON object that stand
/// between `command` and `notes`, and gives the rows of the CSV one at a time.
pub trait Found: erased_serde::Serialize {
    /// Columns of its rows.
    fn columns(&self) -> Vec<Column> {
        Vec::new()
    }

    /// Shows every row.
    fn each_row(&self, _show: &mut dyn FnMut(&[Cell]) -> io::Result<()>) -> io::Result<()> {
        Ok(())
    }
}

erased_serde::serialize_trait_object!(Found);

/// The JSON object of a report.
#[derive(Serialize)]
pub struct Document<'a> {
    schema_version: u8,
    command: &'a str,
    #[serde(flatten)]
    found: &'a dyn Found,
    notes: &'a [String],
    cautions: Vec<&'static str>,
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
            cautions: self.cautions.iter().map(|caution| caution.short).collect(),
        }
    }

    /// What was found, as a JSON value: for places in it by their path.
    pub fn value(&self) -> Value {
        serde_json::to_value(self.found()).unwrap_or_default()
    }

    /// Adds a line for the reader.
    pub fn say(&mut self, line: impl Into<String>) {
        self.blocks.push(Block::Line(line.into()));
    }

    /// Notes that the screw asked for does not matter to a command that turns it itself.
    pub fn note_screw(&mut self, scenario: &Scenario) {
        self.notes.extend(scenario.screw_note());
    }

    /// Warns that fuel runs into the standing engine with the screw where it is, if it does.
    pub fn warn_at_rest(&mut self, scenario: &Scenario) {
        if scenario.fuel_flows_at_rest() {
            self.blocks.push(Block::Hazard(AT_REST.into()));
        }
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
    /// All rows of what was found.
    pub fn of(found: &dyn Found) -> Table {
        let mut rows = Vec::new();
        let kept = found.each_row(&mut |row| {
            rows.push(row.to_vec());
            Ok(())
        });
        // Keeping a row cannot fail.
        kept.expect("memory");
        Table { columns: found.columns(), rows }
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
        let numbers = |i: usize| self.rows.iter().all(|row| matches!(row[i], Cell::Number(_)));
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

/// A cell.
#[derive(Clone, PartialEq)]
pub enum Cell {
    /// A number, or nothing to show.
    Number(Option<f64>),
    /// Words.
    Word(String),
}

impl Cell {
    /// As it is printed in its column.
    pub fn printed(&self, column: &Column) -> String {
        match self {
            Cell::Number(Some(value)) if value.is_finite() => fixed(*value, column.decimals),
            Cell::Number(_) => "-".into(),
            Cell::Word(word) => word.clone(),
        }
    }
}
