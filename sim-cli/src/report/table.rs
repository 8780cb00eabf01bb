//! Tables, and what of them each answer shows.

use crate::text::{fixed, wrapped};
use serde::{Serialize, Serializer};
use sim_core::point::Reading;

/// Rows of cells under columns.
#[derive(Default, Clone, PartialEq)]
pub struct Table {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows.
    pub rows: Vec<Vec<Cell>>,
    /// Of rows that are readings, the name of each.
    pub row_readings: Vec<&'static str>,
    /// Whether columns are readings by their names.
    pub reading_columns: bool,
    /// What of it the short answer shows.
    pub short: Pick,
    /// What of it the full answer shows.
    pub full: Pick,
    /// Which rows go where the screen is too small for all.
    pub fit: Fit,
    /// Rows that stay, by their places.
    pub firm: Vec<usize>,
}

/// Rows and columns of a table by their places, in the order in which they are shown.
#[derive(Default, Clone, PartialEq)]
pub struct Pick {
    /// The rows; all if there is nothing here.
    pub rows: Option<Vec<usize>>,
    /// The columns; all if there is nothing here.
    pub columns: Option<Vec<usize>>,
}

/// Which rows go where the screen is too small for all.
#[derive(Default, Clone, Copy, PartialEq, Eq)]
pub enum Fit {
    /// None.
    #[default]
    Whole,
    /// The last: the most important come first.
    First,
    /// Some of those between the first and the last: the rows follow one another.
    Spread,
}

impl Table {
    /// A row for each item.
    pub fn of<'a, T: 'a>(fields: &[Field<T>], items: impl IntoIterator<Item = &'a T>) -> Table {
        let fields = || fields.iter().filter(|field| field.is_in != Forms::Data);
        let row = |item| fields().map(|field| (field.get)(item)).collect();
        let columns = fields().map(|&Field { name, label, unit, decimals, .. }| {
            Column::new(name, label, unit, decimals)
        });
        Table::new(columns.collect(), items.into_iter().map(row).collect())
    }

    /// Rows under columns, all of them in every answer.
    pub fn new(columns: Vec<Column>, rows: Vec<Vec<Cell>>) -> Table {
        Table { columns, rows, ..Table::default() }
    }

    /// Rows of words.
    pub fn of_words<const N: usize>(
        names: [&str; N],
        rows: impl Iterator<Item = [String; N]>,
    ) -> Table {
        let rows = rows.map(|row| row.map(Cell::Word).to_vec());
        Table::new(Column::named(names), rows.collect())
    }

    /// The same with these columns in the short answer, in this order.
    pub fn short_columns(mut self, names: &[&str]) -> Table {
        self.short.columns = Some(self.places(names));
        self
    }

    /// The same with these columns in the full answer, in this order.
    pub fn full_columns(mut self, names: &[&str]) -> Table {
        self.full.columns = Some(self.places(names));
        self
    }

    /// Where columns stand.
    fn places(&self, names: &[&str]) -> Vec<usize> {
        let place = |name: &&str| self.columns.iter().position(|column| column.name == **name);
        names.iter().filter_map(place).collect()
    }

    /// The same with these rows in the short answer, in this order.
    pub fn short_rows(mut self, rows: Vec<usize>) -> Table {
        self.short.rows = Some(rows);
        self
    }

    /// The same, with rows that go where the screen is too small for all.
    pub fn fitted(self, fit: Fit) -> Table {
        Table { fit, ..self }
    }

    /// Whether the short answer shows less of it than the full one.
    pub fn is_shortened(&self) -> bool {
        let fewer = |short: &Option<Vec<usize>>, full: &Option<Vec<usize>>, all: usize| {
            let count = |pick: &Option<Vec<usize>>| pick.as_ref().map_or(all, Vec::len);
            count(short) < count(full)
        };
        fewer(&self.short.rows, &self.full.rows, self.rows.len())
            || fewer(&self.short.columns, &self.full.columns, self.columns.len())
    }

    /// What a reader sees of it.
    pub fn seen(&self, wanted: &Wanted) -> Table {
        let Pick { mut rows, mut columns } =
            if wanted.all { self.full.clone() } else { self.short.clone() };
        let mut fit = if wanted.all { Fit::Whole } else { self.fit };
        if !wanted.readings.is_empty() && !self.row_readings.is_empty() {
            let place = |name| self.row_readings.iter().position(|reading| reading == name);
            rows = Some(wanted.readings.iter().filter_map(place).collect());
            fit = Fit::Whole;
        } else if !wanted.readings.is_empty() && self.reading_columns {
            let others = columns.unwrap_or_else(|| (0..self.columns.len()).collect());
            let others = others.into_iter().filter(|at| !self.columns[*at].is_reading());
            columns = Some(others.chain(self.places(&wanted.readings)).collect());
        }
        let rows = rows.unwrap_or_else(|| (0..self.rows.len()).collect());
        let columns = columns.unwrap_or_else(|| (0..self.columns.len()).collect());
        let cells = |row: &usize| columns.iter().map(|at| self.rows[*row][*at].clone()).collect();
        Table {
            columns: columns.iter().map(|at| self.columns[*at].clone()).collect(),
            rows: rows.iter().map(cells).collect(),
            row_readings: rows
                .iter()
                .filter_map(|at| self.row_readings.get(*at).copied())
                .collect(),
            firm: (0..rows.len()).filter(|i| self.firm.contains(&rows[*i])).collect(),
            fit,
            ..Table::default()
        }
    }

    /// The same with as many rows as there is room for; those that stay, stay.
    pub fn within(&self, room: usize) -> Table {
        let gives: Vec<usize> = (0..self.rows.len()).filter(|i| !self.firm.contains(i)).collect();
        let (count, room) = (gives.len(), room.saturating_sub(self.firm.len()));
        if room >= count || self.fit == Fit::Whole {
            return self.clone();
        }
        let kept = |i: usize| match self.fit {
            Fit::Spread if room > 1 => (i * (count - 1) + (room - 1) / 2) / (room - 1),
            _ => i,
        };
        let mut kept: Vec<usize> =
            (0..room).map(|i| gives[kept(i)]).chain(self.firm.clone()).collect();
        kept.sort_unstable();
        Table {
            rows: kept.iter().map(|at| self.rows[*at].clone()).collect(),
            row_readings: kept
                .iter()
                .filter_map(|at| self.row_readings.get(*at).copied())
                .collect(),
            firm: (0..kept.len()).filter(|i| self.firm.contains(&kept[*i])).collect(),
            ..self.clone()
        }
    }

    /// The same, in which words of a column go on in further rows after so many letters.
    pub fn with_words_within(&self, column: usize, letters: usize) -> Table {
        let mut rows = Vec::new();
        for row in &self.rows {
            let text = row[column].printed(&self.columns[column]);
            let text = wrapped(&text, letters, "  ");
            for (i, line) in text.lines().enumerate() {
                let mut cells = match i {
                    0 => row.clone(),
                    _ => vec![Cell::Nothing; row.len()],
                };
                cells[column] = line.into();
                rows.push(cells);
            }
        }
        Table { rows, ..self.clone() }
    }

    /// The same without its last column.
    pub fn without_last_column(&self) -> Table {
        let mut table = self.clone();
        table.columns.pop();
        table.rows.iter_mut().for_each(|row| drop(row.pop()));
        table
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
            self.rows
                .iter()
                .all(|row| matches!(row[i], Cell::Number(_) | Cell::Count(_) | Cell::Nothing))
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

    fn is_reading(&self) -> bool {
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

/// What a reader asks for of a report.
#[derive(Clone, Default)]
pub struct Wanted {
    /// Everything, not only what can be acted on.
    pub all: bool,
    /// Readings by their names, in place of those that a table would show.
    pub readings: Vec<&'static str>,
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
