//! JSON.

use crate::report::Report;
use std::io::{self, Write};

/// Writes the report as JSON, keys in the order of its struct.
pub fn write(report: &Report, mut to: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut to, &report.document())?;
    writeln!(to)
}
