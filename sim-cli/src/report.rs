//! What a command found: numbers for files, blocks for reading, a chart, cautions.

use crate::cautions::Caution;
use crate::chart::picture::Picture;
use crate::text::fixed;
use serde_json::{Map, Value, json};
use sim_core::point::{Outcome, Point, READINGS, Reading};
use sim_core::run::record::TraceRow;
use sim_core::units::Unit;
use std::path::PathBuf;

/// A report. Faces write it; nothing else does.
pub struct Report {
    /// The JSON object, without `schema_version`.
    pub value: Map<String, Value>,
    /// What a person reads, in order.
    pub blocks: Vec<Block>,
    /// Rows of the CSV face.
    pub rows: Table,
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
    /// A report that holds nothing yet.
    pub fn new(command: &str) -> Report {
        let mut value = Map::new();
        value.insert("schema_version".into(), json!(1));
        value.insert("command".into(), json!(command));
        Report {
            value,
            blocks: Vec::new(),
            rows: Table::default(),
            notes: Vec::new(),
            cautions: Vec::new(),
            chart: None,
            folder: None,
            files: Vec::new(),
            exit: 0,
        }
    }

    /// Adds a member of the JSON object.
    pub fn put(&mut self, key: &str, value: Value) {
        self.value.insert(key.into(), value);
    }

    /// Its rows as the CSV face writes them: the data beside a chart.
    pub fn csv(&self) -> String {
        crate::output::csv::text(self)
    }

    /// Adds a line for the reader.
    pub fn say(&mut self, line: impl Into<String>) {
        self.blocks.push(Block::Line(line.into()));
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

/// A number as JSON: `null` if it is not finite.
pub fn number(value: Option<f64>) -> Value {
    match value {
        Some(value) if value.is_finite() => json!(value),
        _ => Value::Null,
    }
}

/// A point as the JSON object it is everywhere.
pub fn point_value(point: &Point) -> Value {
    let mut object = Map::new();
    object.insert("screw_turns".into(), json!(point.screw_turns));
    object.insert("zone".into(), json!(point.zone().word()));
    let state = point.state();
    object.insert(
        "valve_at_limit".into(),
        state.map_or(Value::Null, |state| json!(state.valve_limit.is_some())),
    );
    for reading in READINGS {
        object.insert(reading.name.into(), number(state.and_then(|state| reading.value(state))));
    }
    if let Some(state) = state {
        object.insert("valve_limit".into(), json!(state.valve_limit.map(|limit| limit.word())));
        object.insert("fuel_flows_at_rest".into(), json!(state.flows_at_rest));
    }
    if let Outcome::Stalled(stall) = &point.outcome {
        object.insert("reason".into(), json!(crate::text::stall(stall)));
    }
    Value::Object(object)
}

/// Columns and row of a point for CSV: everything.
pub fn point_columns() -> Vec<Column> {
    let mut columns = vec![
        Column::new("screw_turns", "screw", Unit::Turns.symbol(), 4),
        Column::new("zone", "zone", "", 0),
        Column::new("valve_at_limit", "valve", "", 0),
    ];
    columns.extend(READINGS.iter().map(Column::of));
    columns.push(Column::new("reason", "reason", "", 0));
    columns
}

/// The row that belongs to [`point_columns`].
pub fn point_row(point: &Point) -> Vec<Cell> {
    let state = point.state();
    let limit = state.map(|state| state.valve_limit.is_some().to_string()).unwrap_or_default();
    let mut row = vec![
        Cell::Number(Some(point.screw_turns)),
        Cell::Word(point.zone().word().into()),
        Cell::Word(limit),
    ];
    row.extend(
        READINGS.iter().map(|reading| Cell::Number(state.and_then(|state| reading.value(state)))),
    );
    row.push(Cell::Word(point.stall().map(crate::text::stall).unwrap_or_default()));
    row
}

/// The names that a row of a trace has beside the readings.
const TRACE: [&str; 4] = ["time_s", "film_mg", "lambda_at_sensor", "learned_trim_ma"];

/// A row of a trace as JSON.
pub fn trace_value(row: &TraceRow) -> Value {
    let mut object = Map::new();
    object.insert("time_s".into(), json!(row.time_s));
    object.insert("screw_turns".into(), json!(row.screw_turns));
    let zone = row.state.map_or("stalled", |state| state.zone.word());
    object.insert("zone".into(), json!(zone));
    for reading in READINGS {
        let value = row.state.as_ref().and_then(|state| reading.value(state));
        object.insert(reading.name.into(), number(value));
    }
    object.insert("film_mg".into(), json!(1e6 * row.film_kg));
    object.insert("lambda_at_sensor".into(), json!(row.lambda_at_sensor));
    object.insert("learned_trim_ma".into(), json!(1e3 * row.learned_a));
    Value::Object(object)
}

/// Columns of a trace.
pub fn trace_columns() -> Vec<Column> {
    let plain = |name: &str| Column::new(name, name, "", 3);
    let mut columns = vec![plain(TRACE[0]), plain("screw_turns"), plain("zone")];
    columns.extend(READINGS.iter().map(Column::of));
    columns.extend(TRACE[1..].iter().copied().map(plain));
    columns
}

/// The row that belongs to [`trace_columns`].
pub fn trace_row(row: &TraceRow) -> Vec<Cell> {
    let mut cells = vec![
        Cell::Number(Some(row.time_s)),
        Cell::Number(Some(row.screw_turns)),
        Cell::Word(row.state.map_or("stalled", |state| state.zone.word()).into()),
    ];
    cells.extend(
        READINGS
            .iter()
            .map(|reading| Cell::Number(row.state.as_ref().and_then(|state| reading.value(state)))),
    );
    cells.push(Cell::Number(Some(1e6 * row.film_kg)));
    cells.push(Cell::Number(Some(row.lambda_at_sensor)));
    cells.push(Cell::Number(Some(1e3 * row.learned_a)));
    cells
}
