//! Columns of tables, and the cells under them.

use crate::text::fixed;
use serde::Serialize;
use sim_core::point::Reading;

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

    pub(super) fn is_reading(&self) -> bool {
        Reading::find(&self.name).is_some()
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
        "duty_percent" => "duty",
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
    /// Nothing: the row only goes on with words of another column.
    Nothing,
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
            Cell::Number(_) | Cell::Nothing => String::new(),
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
            Cell::Is(is) => if *is { "yes" } else { "no" }.into(),
            cell => cell.in_full(),
        }
    }
}
