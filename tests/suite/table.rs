//! Tables of published values: one source and one tolerance a row.

use std::collections::HashMap;
use std::path::PathBuf;

/// The repository's folder.
pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// One row of a table.
pub struct Row {
    table: String,
    line: usize,
    cells: HashMap<String, String>,
}

/// The rows of `tests/data/NAME.csv`.
pub fn rows(name: &str) -> Vec<Row> {
    let path = root().join("tests/data").join(format!("{name}.csv"));
    let mut reader = csv::Reader::from_path(&path).unwrap_or_else(|e| panic!("{path:?}: {e}"));
    let rows: Vec<Row> = reader
        .deserialize()
        .enumerate()
        .map(|(i, cells)| Row { table: name.into(), line: i + 2, cells: cells.unwrap() })
        .collect();
    assert!(!rows.is_empty(), "{name} has no rows");
    rows
}

impl Row {
    /// A cell as a number.
    pub fn number(&self, column: &str) -> f64 {
        let text = self.word(column);
        text.parse().unwrap_or_else(|_| panic!("{self}: {column} = {text}"))
    }

    /// A cell as it stands.
    pub fn word(&self, column: &str) -> &str {
        self.cells.get(column).unwrap_or_else(|| panic!("{self}: no column {column}"))
    }

    /// Fails, naming source and row, unless `value` agrees with `column` within the row's
    /// own tolerance.
    pub fn agrees(&self, column: &str, value: f64) {
        let published = self.number(column);
        let (tolerance, kind) = match self.cells.get("rel_tol") {
            Some(rel) => (rel.parse::<f64>().unwrap() * published.abs(), "relative"),
            None if self.cells.contains_key("abs_tol_mv") => (self.number("abs_tol_mv"), "mV"),
            None => (self.number("abs_tol"), "absolute"),
        };
        assert!(
            (value - published).abs() <= tolerance,
            "{self}: {column} is published as {published}, the model gives {value} ({kind} tolerance {tolerance:e})"
        );
    }

    /// Fails, naming the row, unless `value` lies between `low` and `high`.
    pub fn holds(&self, value: f64) {
        let (low, high) = (self.number("low"), self.number("high"));
        assert!(
            (low..=high).contains(&value),
            "{self}: {} is {low} to {high}, the model gives {value}",
            self.word("quantity")
        );
    }
}

impl std::fmt::Display for Row {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let source = self.cells.get("source").map_or("", String::as_str);
        write!(f, "{}.csv line {} [{source}]", self.table, self.line)
    }
}
