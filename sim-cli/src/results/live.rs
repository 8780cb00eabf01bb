//! The bench: a page that was written, or acts that were answered.

use crate::bench_page::MODULE;
use crate::cautions;
use crate::report::{Block, Found, Report};
use crate::scenario::Scenario;
use crate::text::harmless;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use serde_json::Value;
use std::path::PathBuf;
use std::rc::Rc;

/// A page.
pub struct Written {
    command: String,
    scenario: Scenario,
    place: PathBuf,
    opens: bool,
    page: String,
}

impl Written {
    /// A page to be written to a place, and opened there.
    pub fn new(
        command: String,
        scenario: Scenario,
        place: PathBuf,
        opens: bool,
        page: String,
    ) -> Written {
        Written { command, scenario, place, opens, page }
    }
}

impl Serialize for Written {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("canonical_command", &self.command)?;
        map.serialize_entry("conditions", &self.scenario)?;
        map.serialize_entry("file", &self.place.display().to_string())?;
        map.serialize_entry("bytes", &self.page.len())?;
        map.serialize_entry("module_bytes", &MODULE.len())?;
        map.end()
    }
}

impl Found for Written {}

/// The report of a page.
pub fn written(found: Written) -> Report {
    let (place, opens, bytes) = (found.place.clone(), found.opens, found.page.clone().into_bytes());
    let found = Rc::new(found);
    let mut report = Report::of("live", found.clone());
    report.heading(format!(
        "The bench of rig {}, in one file that connects to nothing",
        found.scenario.file.name
    ));
    report.say(harmless(&place.display().to_string()));
    report.note(
        "Open it in a browser, from disk, a stick or a share. It needs no server and no network.",
    );
    report.cautions = cautions::BLEEDING.to_vec();
    report.opens = opens.then(|| place.clone());
    report.files.push((place, bytes));
    report
}

/// Answers, one for each act.
#[derive(Serialize)]
pub struct Answered {
    /// The command.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The answers, each a JSON text in one line.
    #[serde(rename = "frames", serialize_with = "as_values")]
    pub lines: Vec<String>,
}

fn as_values<S: Serializer>(lines: &[String], serializer: S) -> Result<S::Ok, S::Error> {
    serializer
        .collect_seq(lines.iter().map(|line| serde_json::from_str(line).unwrap_or(Value::Null)))
}

impl Found for Answered {}

/// The report of answers: a line each.
pub fn answered(found: Answered) -> Report {
    let lines = found.lines.iter().map(|line| format!("{line}\n")).collect();
    let mut report = Report::of("live", Rc::new(found));
    report.block(Block::Verbatim(lines));
    report
}
