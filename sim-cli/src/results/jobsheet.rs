//! A job on a sheet: its data, its text, its report, and the list of jobs.

mod sheet;
mod written;

pub use sheet::{Finding, JobSheet, Reading, SheetStep};
pub use written::text;

use crate::cautions::{ENGINE, MODEL, PETROL};
use crate::report::{Block, Fit, Found, Report, Table};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::job::jobs::{JOBS, Job};
use std::rc::Rc;

/// The report of a sheet.
pub fn report(found: &Rc<JobSheet>) -> Report {
    let mut report = Report::of("jobsheet", found.clone());
    match &found.file {
        None => report.block(Block::Verbatim(text(found))),
        Some(_) => {
            report.heading(found.title());
            found.verdict.into_iter().for_each(|verdict| report.say(verdict));
            found.judgement().into_iter().for_each(|sentence| report.say(sentence));
            report.table(found.table().fitted(Fit::First));
        }
    }
    report.cautions = vec![PETROL, ENGINE, MODEL];
    report
}

/// The jobs there are.
struct JobList;

impl Serialize for JobList {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let job = |job: &Job| serde_json::json!({"job": job.name, "about": job.about});
        let jobs: Vec<serde_json::Value> = JOBS.iter().map(job).collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("jobs", &jobs)?;
        map.end()
    }
}

impl Found for JobList {
    fn table(&self) -> Table {
        let rows = JOBS.iter().map(|job| [job.name.to_string(), job.about.to_string()]);
        Table::of_words(["job", "when"], rows)
    }
}

/// The report of the jobs.
pub fn list() -> Report {
    let found = Rc::new(JobList);
    let table = found.table();
    let mut report = Report::of("jobsheet list", found);
    report.heading("Jobs: `quarterturn jobsheet JOB -o FILE.pdf` makes the sheet of one");
    report.table(table);
    report.say("Repairs: `quarterturn jobsheet repair PART`, parts as in `quarterturn parts`.");
    report.cautions = vec![PETROL, ENGINE, MODEL];
    report
}
