//! The trace of a run: a row at a time in and out. A long one waits in a temporary file, so
//! that an hour of it takes no more memory than a minute.

use crate::report::{Cell, Column, Show};
use serde::ser::{Error, SerializeMap, SerializeSeq};
use serde::{Serialize, Serializer};
use sim_core::point::{READINGS, State, Zone, told_lambda};
use sim_core::run::record::TraceRow;
use std::cell::RefCell;
use std::io::{self, BufReader, BufWriter, Read, Seek, Write};
use tempfile::{SpooledTempFile, spooled_tempfile};

/// The names that a row of a trace has beside the readings.
const BESIDE: [&str; 4] = ["time_s", "film_mg", "lambda_at_sensor", "learned_trim_ma"];
/// How much of a trace is kept in memory before it goes to a file (bytes).
const KEPT_BYTES: usize = 16 << 20;
/// The zones by their place in a written row.
const ZONES: [Zone; 5] =
    [Zone::RoughLean, Zone::Smooth, Zone::RoughRich, Zone::Rough, Zone::Stalled];
/// The place of an engine that stands among them.
const STANDS: usize = ZONES.len() - 1;

/// The rows of a run.
pub struct Trace {
    rows: RefCell<SpooledTempFile>,
    /// How many there are.
    pub count: usize,
    /// The engine in the first.
    pub first: Option<State>,
    /// Where the screw stands in the last (turns).
    pub last_screw_turns: f64,
}

/// Writes a trace down.
pub struct TraceWriter {
    rows: BufWriter<SpooledTempFile>,
    trace: (usize, Option<State>, f64),
    wrong: Option<io::Error>,
}

impl TraceWriter {
    /// A trace without rows.
    pub fn new() -> TraceWriter {
        let rows = BufWriter::new(spooled_tempfile(KEPT_BYTES));
        TraceWriter { rows, trace: (0, None, 0.0), wrong: None }
    }

    /// Adds a row.
    pub fn push(&mut self, row: &TraceRow) {
        let (count, first, screw_turns) = &mut self.trace;
        if *count == 0 {
            *first = row.state;
        }
        (*count, *screw_turns) = (*count + 1, row.screw_turns);
        if self.wrong.is_none() {
            self.wrong = TraceRecord::of(row).write(&mut self.rows).err();
        }
    }

    /// The trace, if all of it could be written.
    pub fn finish(self) -> io::Result<Trace> {
        if let Some(wrong) = self.wrong {
            return Err(wrong);
        }
        let (count, first, last_screw_turns) = self.trace;
        let rows = self.rows.into_inner().map_err(|error| error.into_error())?;
        Ok(Trace { rows: RefCell::new(rows), count, first, last_screw_turns })
    }
}

impl Trace {
    /// Its rows, one at a time.
    pub fn each(&self, mut show: impl FnMut(&TraceRecord) -> io::Result<()>) -> io::Result<()> {
        let mut rows = self.rows.borrow_mut();
        rows.rewind()?;
        let mut rows = BufReader::new(&mut *rows);
        (0..self.count).try_for_each(|_| show(&TraceRecord::read(&mut rows)?))
    }

    /// Shows its rows under [`trace_columns`].
    pub fn each_row(&self, show: Show<'_>) -> io::Result<()> {
        self.each(|row| show(&row.cells()))
    }
}

impl Serialize for Trace {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut rows = self.rows.borrow_mut();
        rows.rewind().map_err(S::Error::custom)?;
        let mut rows = BufReader::new(&mut *rows);
        let mut list = serializer.serialize_seq(Some(self.count))?;
        for _ in 0..self.count {
            list.serialize_element(&TraceRecord::read(&mut rows).map_err(S::Error::custom)?)?;
        }
        list.end()
    }
}

/// A row of a trace as the JSON object it is: what is not there is no number.
pub struct TraceRecord {
    /// Time since the start (s).
    pub time_s: f64,
    screw_turns: f64,
    zone: Zone,
    readings: Vec<f64>,
    /// What stands behind the readings.
    behind: [f64; 3],
}

impl TraceRecord {
    fn of(row: &TraceRow) -> TraceRecord {
        let value = |reading: &sim_core::point::Reading| {
            row.state.as_ref().and_then(|state| reading.value(state)).unwrap_or(f64::NAN)
        };
        TraceRecord {
            time_s: row.time_s,
            screw_turns: row.screw_turns,
            zone: row.state.map_or(Zone::Stalled, |state| state.zone),
            readings: READINGS.iter().map(value).collect(),
            behind: [
                1e6 * row.film_kg,
                told_lambda(row.lambda_at_sensor).unwrap_or(f64::NAN),
                1e3 * row.learned_a,
            ],
        }
    }

    /// A reading by its place in [`READINGS`].
    pub fn reading(&self, at: usize) -> Option<f64> {
        self.readings.get(at).copied().filter(|value| value.is_finite())
    }

    fn write(&self, to: &mut impl Write) -> io::Result<()> {
        let zone = ZONES.iter().position(|zone| *zone == self.zone).unwrap_or(STANDS) as u8;
        to.write_all(&[zone])?;
        let numbers = [self.time_s, self.screw_turns].into_iter().chain(self.behind);
        for number in numbers.chain(self.readings.iter().copied()) {
            to.write_all(&number.to_le_bytes())?;
        }
        Ok(())
    }

    fn read(from: &mut impl Read) -> io::Result<TraceRecord> {
        let mut zone = [0];
        from.read_exact(&mut zone)?;
        let mut number = || {
            let mut bytes = [0; 8];
            from.read_exact(&mut bytes).map(|()| f64::from_le_bytes(bytes))
        };
        Ok(TraceRecord {
            time_s: number()?,
            screw_turns: number()?,
            zone: ZONES[usize::from(zone[0]).min(STANDS)],
            behind: [number()?, number()?, number()?],
            readings: READINGS.iter().map(|_| number()).collect::<io::Result<_>>()?,
        })
    }

    fn cells(&self) -> Vec<Cell> {
        let number = |value: f64| Cell::Number(Some(value));
        let mut cells = vec![number(self.time_s), number(self.screw_turns)];
        cells.push(Cell::Word(self.zone.word().into()));
        cells.extend(self.readings.iter().chain(&self.behind).copied().map(number));
        cells
    }
}

impl Serialize for TraceRecord {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry(BESIDE[0], &self.time_s)?;
        map.serialize_entry("screw_turns", &self.screw_turns)?;
        map.serialize_entry("zone", self.zone.word())?;
        for (reading, value) in READINGS.iter().zip(&self.readings) {
            map.serialize_entry(reading.name, value)?;
        }
        for (name, value) in BESIDE[1..].iter().zip(self.behind) {
            map.serialize_entry(name, &value)?;
        }
        map.end()
    }
}

/// Columns of a trace.
pub fn trace_columns() -> Vec<Column> {
    let mut columns = Column::named([BESIDE[0], "screw_turns", "zone"]);
    columns.extend(READINGS.iter().map(Column::of));
    columns.extend(Column::named(BESIDE[1..].iter().copied()));
    columns
}
