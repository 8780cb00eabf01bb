//! CSV: notes as `#` lines, one header row, decimal points.

use crate::report::{Cell, Report};
use std::io::{self, Write};

/// Writes the report's rows as CSV, one at a time.
pub fn write(report: &Report, to: &mut dyn Write) -> io::Result<()> {
    for note in report.notes().chain(report.cautions.iter().map(|caution| caution.long)) {
        writeln!(to, "# {}", note.replace('\n', " "))?;
    }
    let found = report.found();
    let mut writer = csv::Writer::from_writer(to);
    let header = found.columns();
    writer.write_record(header.iter().map(|column| &column.name)).map_err(as_written)?;
    found.each_row(&mut |row| {
        writer.write_record(row.iter().map(Cell::in_full)).map_err(as_written)
    })?;
    writer.flush()
}

/// The error of the writer below: whether a pipe is closed is told by its kind.
fn as_written(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        kind => io::Error::other(format!("{kind:?}")),
    }
}

/// The same as bytes: the data beside a chart.
pub fn bytes(report: &Report) -> Vec<u8> {
    let mut bytes = Vec::new();
    // Writing to memory cannot fail.
    write(report, &mut bytes).expect("memory");
    bytes
}
