//! Tables, and what of them each answer shows.

use super::cell::{Cell, Column};
use super::field::Field;
use crate::text::wrapped;

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
        let fields = || fields.iter().filter(|field| field.is_in_tables());
        let row = |item| fields().map(|field| field.cell(item)).collect();
        Table::new(fields().map(Field::column).collect(), items.into_iter().map(row).collect())
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

/// What a reader asks for of a report.
#[derive(Clone, Default)]
pub struct Wanted {
    /// Everything, not only what can be acted on.
    pub all: bool,
    /// Readings by their names, in place of those that a table would show.
    pub readings: Vec<&'static str>,
}
