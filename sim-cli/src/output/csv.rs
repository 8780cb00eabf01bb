//! The CSV face: notes as `#` lines, one header row, decimal points.

use crate::report::{Cell, Report};

/// The report's rows as CSV.
pub fn text(report: &Report) -> String {
    let mut text = String::new();
    let cautions = report.cautions.iter().map(|caution| caution.short);
    for note in report.notes.iter().map(String::as_str).chain(cautions) {
        text += &format!("# {}\n", note.replace('\n', " "));
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    let table = &report.rows;
    let header = table.columns.iter().map(|column| column.name.as_str());
    // Writing to memory cannot fail.
    writer.write_record(header).expect("memory");
    for row in &table.rows {
        let record = row.iter().map(|cell| match cell {
            Cell::Number(Some(value)) if value.is_finite() => value.to_string(),
            Cell::Number(_) => String::new(),
            Cell::Word(word) => word.clone(),
        });
        writer.write_record(record).expect("memory");
    }
    text + &String::from_utf8_lossy(&writer.into_inner().expect("memory"))
}
