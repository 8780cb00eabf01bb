//! Fields of results: each is a column of a table and a member of a JSON object.

use super::cell::{Cell, Column};
use serde::{Serialize, Serializer};

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

    pub(super) fn is_in_tables(&self) -> bool {
        self.is_in != Forms::Data
    }

    /// Its column in a table.
    pub(super) fn column(&self) -> Column {
        Column::new(self.name, self.label, self.unit, self.decimals)
    }

    /// Its cell of an item.
    pub(super) fn cell(&self, item: &T) -> Cell {
        (self.get)(item)
    }
}

/// An item as the JSON object that its fields make.
pub struct Object<'a, T: 'static>(pub &'static [Field<T>], pub &'a T);

impl<T> Serialize for Object<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let fields = self.0.iter().filter(|field| field.is_in != Forms::Table);
        serializer.collect_map(fields.map(|field| (field.name, field.cell(self.1))))
    }
}

/// Items as a list of such objects.
pub struct Records<'a, T: 'static>(pub &'static [Field<T>], pub &'a [T]);

impl<T> Serialize for Records<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.1.iter().map(|item| Object(self.0, item)))
    }
}
