//! The JSON face.

use crate::report::Report;
use serde_json::Value;

/// The report as JSON, keys in the order they were put.
pub fn text(report: &Report) -> String {
    let mut value = report.value.clone();
    let cautions = report.cautions.iter().map(|caution| Value::from(caution.short)).collect();
    value.insert(
        "notes".into(),
        report.notes.iter().map(|note| Value::from(note.as_str())).collect(),
    );
    value.insert("cautions".into(), Value::Array(cautions));
    format!("{:#}\n", Value::Object(value))
}
