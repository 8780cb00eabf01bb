//! Cautions in full, and the list of jobs that have some.

use crate::cautions::{Caution, IN_FULL, JOBS, Job};
use crate::report::{Found, Report, Table};
use serde::Serialize;
use std::rc::Rc;

/// One caution in both its forms.
#[derive(Serialize)]
struct Told {
    short: &'static str,
    long: &'static str,
}

/// A job as it is listed.
#[derive(Serialize)]
struct Listed {
    job: &'static str,
    about: &'static str,
}

/// The cautions of a job.
#[derive(Serialize)]
struct OfJob {
    job: &'static str,
    about: &'static str,
    told: Vec<Told>,
}

/// Every job, and the cautions that stand with all of them.
#[derive(Serialize)]
struct Overview {
    jobs: Vec<Listed>,
    told: Vec<Told>,
}

fn told(cautions: impl Iterator<Item = Caution>) -> Vec<Told> {
    cautions.map(|Caution { short, long }| Told { short, long }).collect()
}

fn rows(told: &[Told]) -> Table {
    let rows = told.iter().map(|one| [one.short.to_string(), one.long.to_string()]);
    Table::of_words(["short", "long"], rows)
}

impl Found for OfJob {
    fn table(&self) -> Table {
        rows(&self.told)
    }
}

impl Found for Overview {
    fn table(&self) -> Table {
        let rows = self.jobs.iter().map(|one| [one.job.to_string(), one.about.to_string()]);
        Table::of_words(["job", "what it is"], rows)
    }
}

/// The report of a job's cautions.
pub fn of_job(job: &'static Job) -> Report {
    let found = Rc::new(OfJob { job: job.name, about: job.about, told: told(job.all()) });
    let mut report = Report::of("cautions", found);
    report.heading(format!("Cautions for {}: {}", job.name, job.about));
    report.cautions = job.all().collect();
    report.cautions_in_full = true;
    report
}

/// The report of all jobs, with the cautions that stand in the README.
pub fn overview() -> Report {
    let jobs = JOBS.iter().map(|Job { name, about, .. }| Listed { job: name, about });
    let found = Rc::new(Overview { jobs: jobs.collect(), told: told(IN_FULL.into_iter()) });
    let table = found.table();
    let mut report = Report::of("cautions", found);
    report.heading("Jobs that have cautions: `quarterturn cautions JOB` tells them in full");
    report.table(table);
    report.cautions = IN_FULL.to_vec();
    report.cautions_in_full = true;
    report
}
