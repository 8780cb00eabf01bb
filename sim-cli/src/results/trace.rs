//! The trace of a run as data, row by row.

use crate::report::{Cell, Column};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::point::READINGS;
use sim_core::run::record::{Record, TraceRow};
use std::io;

/// The names that a row of a trace has beside the readings.
const BESIDE: [&str; 4] = ["time_s", "film_mg", "lambda_at_sensor", "learned_trim_ma"];

/// The trace of a record.
pub struct Trace<'a>(pub &'a Record);

impl Trace<'_> {
    /// Its rows.
    pub fn rows(&self) -> impl Iterator<Item = TraceRecord<'_>> {
        self.0.rows.iter().map(TraceRecord)
    }

    /// Shows its rows under [`trace_columns`].
    pub fn each_row(&self, show: &mut dyn FnMut(&[Cell]) -> io::Result<()>) -> io::Result<()> {
        self.rows().try_for_each(|row| show(&row.cells()))
    }
}

impl Serialize for Trace<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.rows())
    }
}

/// A row of a trace as the JSON object it is.
pub struct TraceRecord<'a>(pub &'a TraceRow);

impl TraceRecord<'_> {
    fn zone(&self) -> &'static str {
        self.0.state.map_or("stalled", |state| state.zone.word())
    }

    fn readings(&self) -> impl Iterator<Item = Option<f64>> {
        let state = self.0.state.as_ref();
        READINGS.iter().map(move |reading| state.and_then(|state| reading.value(state)))
    }

    /// What stands behind the readings.
    fn behind(&self) -> [f64; 3] {
        [1e6 * self.0.film_kg, self.0.lambda_at_sensor, 1e3 * self.0.learned_a]
    }

    fn cells(&self) -> Vec<Cell> {
        let number = |value: f64| Cell::Number(Some(value));
        let mut cells =
            vec![number(self.0.time_s), number(self.0.screw_turns), Cell::Word(self.zone().into())];
        cells.extend(self.readings().map(Cell::Number));
        cells.extend(self.behind().map(number));
        cells
    }
}

impl Serialize for TraceRecord<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry(BESIDE[0], &self.0.time_s)?;
        map.serialize_entry("screw_turns", &self.0.screw_turns)?;
        map.serialize_entry("zone", self.zone())?;
        for (reading, value) in READINGS.iter().zip(self.readings()) {
            map.serialize_entry(reading.name, &value)?;
        }
        for (name, value) in BESIDE[1..].iter().zip(self.behind()) {
            map.serialize_entry(name, &value)?;
        }
        map.end()
    }
}

/// Columns of a trace.
pub fn trace_columns() -> Vec<Column> {
    let plain = |name: &str| Column::new(name, name, "", 3);
    let mut columns = vec![plain(BESIDE[0]), plain("screw_turns"), plain("zone")];
    columns.extend(READINGS.iter().map(Column::of));
    columns.extend(BESIDE[1..].iter().copied().map(plain));
    columns
}
