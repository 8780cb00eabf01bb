//! `cautions`: what can hurt, in full, job by job.

use crate::cautions::{JOBS, Job};
use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::Text;
use crate::report::Report;
use crate::results::cautions::{of_job, overview};
use clap::ArgMatches;
use sim_core::rig::keys::nearest_word;
use sim_core::wording::did_you_mean;

pub const COMMAND: Command = Command {
    name: "cautions",
    group: "look-up",
    about: "What can hurt, in full: for a job, or the list of jobs",
    example: "quarterturn cautions fuel-opened",
    options: &[&JOB],
    run,
    ..PLAIN
};

/// The word that asks for the list.
const LIST: &str = "list";

/// The words offered: the list, and every job.
const OFFERED: [&str; JOBS.len() + 1] = {
    let mut words = [LIST; JOBS.len() + 1];
    let mut i = 0;
    while i < JOBS.len() {
        words[i + 1] = JOBS[i].name;
        i += 1;
    }
    words
};

static JOB: Text = Text {
    bare: true,
    offered: &OFFERED,
    default: Some(LIST),
    ..Text::new("job", "JOB", "a job, or list for all of them")
};

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let word = JOB.read(matches).unwrap_or(LIST);
    if word == LIST {
        return Ok(overview());
    }
    let job = Job::find(word).ok_or_else(|| {
        let nearest = nearest_word(&word.to_lowercase(), OFFERED)
            .or_else(|| JOBS.iter().map(|job| job.name).find(|name| name.contains(word)));
        let nearest = did_you_mean(nearest);
        Error::usage(format!("no job \"{word}\"{nearest}; `quarterturn cautions list` names them"))
    })?;
    Ok(of_job(job))
}
