//! A table's cells in lines, and how wide they are.

use crate::drawing::fonts::{lines, width};
use crate::report::Table;

/// Room between the columns of a table, for text of size 1.
pub const BETWEEN: f64 = 0.9;

/// A row: of each cell its lines.
pub type TableLine = Vec<Vec<String>>;

/// How many lines a row has.
pub fn lines_of(row: &TableLine) -> f64 {
    row.iter().map(Vec::len).max().unwrap_or(1) as f64
}

/// The layout of a table for text of size 1.
pub struct TableLayout {
    /// Head, units and rows; long words of a cell go on in further lines.
    pub rows: Vec<TableLine>,
    /// How many of them are head and units.
    pub heads: usize,
    /// Width of each column.
    pub widths: Vec<f64>,
    /// Which columns are set to the right: those of numbers.
    pub right: Vec<bool>,
    /// Width of all of it.
    pub needs: f64,
}

impl TableLayout {
    /// Words of a cell go on in a further line from a width on.
    pub fn new(table: &Table, words: f64) -> TableLayout {
        let right = table.numeric();
        let (printed, heads) = table.printed();
        let cell = |text: &String| lines(text, 1.0, false, words);
        let rows: Vec<TableLine> =
            printed.iter().map(|row| row.iter().map(cell).collect()).collect();
        let widest = |i: usize| {
            let lines = rows.iter().flat_map(|row| &row[i]);
            lines.map(|line| width(line, 1.0, false)).fold(0.0, f64::max)
        };
        let widths: Vec<f64> = (0..table.columns.len()).map(widest).collect();
        let needs = widths.iter().map(|width| width + BETWEEN).sum::<f64>().max(1.0);
        TableLayout { rows, heads, widths, right, needs }
    }
}
