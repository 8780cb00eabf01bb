//! `jobsheet`: a whole job for this car on a sheet or two: steps, cautions, expected readings.

use crate::command::{Command, Context, PLAIN};
use crate::course::paper_size::PaperSize;
use crate::error::Error;
use crate::given::{GivenArgs, READING};
use crate::job_page;
use crate::options::{Choice, Text};
use crate::parallel;
use crate::report::Report;
use crate::results::jobsheet::{Finding, JobSheet, Reading, SheetStep, list, report};
use crate::scenario::EngineArgs;
use crate::weighed::Weighed;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::diagnose::car::Asked;
use sim_core::diagnose::given::Sheet;
use sim_core::diagnose::sheet::Taken;
use sim_core::job::expected::{Expected, Plan};
use sim_core::job::jobs::{Job, REPAIR};
use sim_core::job::reading::Place;
use sim_core::job::repair;
use sim_core::job::steps::Step;
use sim_core::parts::{PARTS, effects};
use sim_core::rig::keys::nearest_word;
use sim_core::units::Unit;
use sim_core::wording::did_you_mean;
use std::path::Path;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "jobsheet",
    group: "find",
    about: "A whole job on a sheet: steps, cautions, expected readings",
    example: "quarterturn jobsheet rough-idle -o rough-idle.pdf",
    more_help: "Without JOB it lists the jobs. `quarterturn jobsheet repair PART` says what must be redone after a part was renewed. What is expected is worked out for the rig; the tolerance holds 95 % of sound cars, read with meters that err. The vehicle maker's value rules: write it in.",
    options: &[&JOB, &PART, &PART_FLAG, &READINGS_FILE, &READING, &KIND, &PAPER, &FILE],
    conditions: Some(Conditions::closed_loop),
    report_to_file: false,
    run,
    ..PLAIN
};

/// The word that asks for the list.
const LIST: &str = "list";

/// The words offered.
const OFFERED: &[&str] = &[
    LIST,
    "out-of-storage",
    "fuel-side-opened",
    "repair",
    "rough-idle",
    "hard-start-cold",
    "hard-start-hot",
    "yearly-check",
];

static JOB: Text = Text {
    bare: true,
    offered: OFFERED,
    default: Some(LIST),
    ..Text::new("job", "JOB", "a job, or list for all of them")
};
static PART: Text =
    Text { bare: true, ..Text::new("renewed", "PART", "with repair: the part, as in `parts`") };
static PART_FLAG: Text = Text::new("part", "PART", "the same as a flag");
static READINGS_FILE: Text = Text::new(
    "readings",
    "FILE",
    "what was found: a CSV file of readings, - for stdin (`quarterturn readings template`)",
);
static KIND: Choice = Choice {
    flag: "kind",
    value: "KIND",
    words: &["digital", "needle"],
    default: Some("digital"),
    meaning: "the voltmeter: digital, or needle of class 2.5, 2.5 V, 20 000 ohm per volt",
};
static PAPER: Choice = Choice {
    flag: "paper",
    value: "SIZE",
    words: &["a4", "letter"],
    default: Some("a4"),
    meaning: "a4 or letter",
};
static FILE: Text = Text {
    short: Some('o'),
    ..Text::new("output", "FILE", "the sheet's place: .pdf, .svg, .png or .txt")
};

/// A needle's class (%), full scale (V) and resistance (ohm).
const NEEDLE: (f64, f64, f64) = (2.5, 2.5, 50_000.0);
/// Causes that are told.
const TOLD: usize = 3;

/// A job that is asked for, and its part.
struct AskedFor {
    job: &'static Job,
    part: Option<&'static str>,
}

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let asked_for = asked_for(matches)?;
    let (kind, paper) = (KIND.read(matches)?, PAPER.read(matches)?);
    let file = FILE.read(matches).filter(|file| *file != "-");
    let form = file.map(job_page::Form::of_path).transpose()?;
    let args = EngineArgs::read(matches)?.running().turning_the_screw();
    let readings = READINGS_FILE.read(matches);
    let given = GivenArgs::read(matches)?;
    let Some(AskedFor { job, part }) = asked_for else {
        if file.is_some() || !given.is_empty() {
            return Err(Error::needs("jobsheet", "JOB; `quarterturn jobsheet list` names them"));
        }
        return Ok(list());
    };
    if let (Some(file), Some(readings)) = (file, readings)
        && crate::files::same_place(Path::new(file), Path::new(readings))
    {
        return Err(Error::usage(format!(
            "{file} is both read and written; write to another place"
        )));
    }
    let (scenario, sheet) = match given.is_empty() {
        true => (args.load(Conditions::closed_loop())?, None),
        false => given.load(args).map(|(scenario, filled)| (scenario, Some(filled.sheet)))?,
    };
    let setup = scenario.setup;
    let needle = kind == Some("needle");
    let asked = match &sheet {
        Some(sheet) => *sheet.asked(),
        None => Asked { conditions: setup.conditions, ..Asked::default() },
    };
    let asked = match needle && sheet.is_none() {
        true => Asked { meter_ohm: NEEDLE.2, ..asked },
        false => asked,
    };
    context.begin()?;
    let (steps, verdict) = steps(job, part, &scenario.setup)?;
    let places: Vec<Place> = places(&steps);
    let plan = Plan::new(&setup.rig, &asked, places).ok_or_else(|| {
        Error::outside("the engine does not idle at lambda 1 with any place of the screw: no reading can be expected of it; `quarterturn sweep` tells why")
    })?;
    let tasks = plan.tasks();
    let count = tasks.len() as f64;
    let shown = parallel::map(
        &tasks,
        |task| plan.work(task),
        |done| context.progress.show(done as f64 / count),
    );
    let classes: Vec<Option<f64>> =
        plan.places().iter().map(|place| class(place, sheet.as_ref(), needle)).collect();
    let expected = plan.expected(shown, &classes);
    let weigh =
        |sheet: &Sheet| Weighed::of((&scenario.file, &setup.rig), sheet, true).map(|w| found(&w));
    let finding = sheet.as_ref().filter(|_| job.finds_the_cause).map(weigh).transpose()?;
    let mut words = format!("quarterturn jobsheet {}", job.name);
    if let Some(part) = part {
        words += &format!(" {part}");
    }
    words += &given.canonical().replacen(" READINGS", " --readings READINGS", 1);
    words += &KIND.canonical(kind);
    words += &PAPER.canonical(paper);
    words += &scenario.flags;
    let found = Rc::new(JobSheet {
        command: words,
        job,
        part,
        verdict,
        ear: sheet.as_ref().and_then(Sheet::ear),
        steps: sheet_steps(&steps, plan.places(), &expected, sheet.as_ref()),
        finding,
        has_readings: sheet.is_some(),
        file: file.map(str::to_string),
        ambient_degc: Unit::Celsius.from_si(asked.conditions.ambient_k),
        altitude_m: asked.conditions.altitude_m,
        scenario,
    });
    let mut report = report(&found);
    report.note_idle_flags(&found.scenario);
    if let (Some(file), Some(form)) = (file, form) {
        let paper_size = if paper == Some("letter") { PaperSize::Letter } else { PaperSize::A4 };
        let bytes = job_page::bytes(&found, form, paper_size).map_err(Error::writing(file))?;
        report.files.push((file.into(), bytes));
    }
    Ok(report)
}

/// The job that is asked for; `None` asks for the list.
fn asked_for(matches: &ArgMatches) -> Result<Option<AskedFor>, Error> {
    let word = JOB.read(matches).unwrap_or(LIST);
    let (bare, flag) = (PART.read(matches), PART_FLAG.read(matches));
    if let (Some(bare), Some(flag)) = (bare, flag)
        && bare != flag
    {
        return Err(Error::usage(format!("the part is given twice: {bare} and {flag}")));
    }
    let wanted = bare.or(flag);
    if word == LIST && wanted.is_none() {
        return Ok(None);
    }
    let hyphens = word.trim().to_lowercase().replace(['_', ' '], "-");
    // "repair-pump" and "repair pump" are the same.
    let (word, wanted) = match hyphens.strip_prefix("repair-") {
        Some(part) if wanted.is_none() => (REPAIR, Some(part.to_string())),
        _ if word == LIST => (REPAIR, wanted.map(str::to_string)),
        _ => (hyphens.as_str(), wanted.map(str::to_string)),
    };
    let job = Job::find(word).ok_or_else(|| {
        let nearest = nearest_word(word, OFFERED.iter().copied())
            .or_else(|| OFFERED.iter().copied().find(|name| name.contains(word)));
        let nearest = did_you_mean(nearest);
        Error::usage(format!("no job \"{word}\"{nearest}; `quarterturn jobsheet list` names them"))
    })?;
    let names = || PARTS.iter().map(|part| part.name);
    let listed = || names().collect::<Vec<_>>().join(", ");
    match (job.is_of_a_part(), wanted) {
        (false, None) => Ok(Some(AskedFor { job, part: None })),
        (false, Some(_)) => Err(Error::takes_no(job.name, "PART: only repair has one")),
        (true, None) => Err(Error::needs("jobsheet repair", &format!("PART: {}", listed()))),
        (true, Some(wanted)) => {
            let hyphens = wanted.trim().to_lowercase().replace(['_', ' '], "-");
            let part = names().find(|name| *name == hyphens).ok_or_else(|| {
                let nearest = did_you_mean(nearest_word(&hyphens, names()));
                Error::usage(format!("no part \"{wanted}\"{nearest}; there are {}", listed()))
            })?;
            Ok(Some(AskedFor { job, part: Some(part) }))
        }
    }
}

/// The steps of a job, and what a repair calls for.
fn steps(
    job: &Job,
    part: Option<&str>,
    setup: &sim_core::rig::keys::Setup,
) -> Result<(Vec<Step>, Option<&'static str>), Error> {
    let Some(part) = part else { return Ok((job.steps.to_vec(), None)) };
    let effects = effects(setup).unwrap_or_default();
    let effect = effects.iter().find(|effect| effect.part.name == part);
    let repair = effect.map(sim_core::parts::Effect::repair).ok_or_else(|| {
        Error::outside(
            "the engine does not run as it stands: what a repair calls for cannot be told",
        )
    })?;
    let steps = repair::steps(part, repair).unwrap_or_default();
    Ok((steps, Some(repair::verdict(repair))))
}

fn places(steps: &[Step]) -> Vec<Place> {
    let mut known: Vec<(&str, Taken)> = Vec::new();
    for read in steps.iter().flat_map(|step| step.reads) {
        if !known.contains(read) {
            known.push(*read);
        }
    }
    known.into_iter().filter_map(|(name, taken)| Place::of(name, taken)).collect()
}

/// What the meter of a reading may be off: as its file of readings tells, or as its kind does.
fn class(place: &Place, sheet: Option<&Sheet>, needle: bool) -> Option<f64> {
    let slot = place.slot(0)?;
    let told = sheet.and_then(|sheet| {
        let readings = sheet.readings().iter();
        readings.filter(|given| given.slot.is(&slot)).find_map(|given| given.class)
    });
    let needle = needle && slot.kind.unit() == Unit::Volt;
    told.or(needle.then_some(0.01 * NEEDLE.0 * NEEDLE.1))
}

fn sheet_steps(
    steps: &[Step],
    places: &[Place],
    expected: &[Option<Expected>],
    sheet: Option<&Sheet>,
) -> Vec<SheetStep> {
    // What was found stands where the reading comes first: further on it is read anew.
    let mut seen: Vec<(&str, Taken)> = Vec::new();
    let mut reading = |read: &(&'static str, Taken)| -> Option<Reading> {
        let wanted = Place::of(read.0, read.1)?;
        let same = |place: &Place| match (place.slot(0), wanted.slot(0)) {
            (Some(a), Some(b)) => a.is(&b),
            (None, None) => place.name() == wanted.name(),
            _ => false,
        };
        let at = places.iter().position(same)?;
        let again = seen.contains(read);
        seen.push(*read);
        let sheet = sheet.filter(|_| !again);
        let found = sheet.map(|sheet| given(&places[at], sheet)).unwrap_or_default();
        Some(Reading::new(places[at], read.1, expected[at].clone(), found))
    };
    steps
        .iter()
        .map(|step| SheetStep {
            step: *step,
            readings: step.reads.iter().filter_map(&mut reading).collect(),
        })
        .collect()
}

/// What was found of a reading: its line from 0, and the value.
fn given(place: &Place, sheet: &Sheet) -> Vec<(usize, f64)> {
    let all = sheet.readings().iter();
    match place.slot(0) {
        Some(slot) => all
            .filter(|given| {
                given.slot.kind.name() == slot.kind.name() && given.slot.when == slot.when
            })
            .map(|given| (given.slot.line.unwrap_or(0), given.value))
            .collect(),
        // A job's own reading that has the name of one on the sheet.
        None => all
            .filter(|given| given.slot.kind.name() == place.name())
            .map(|given| (0, given.value))
            .collect(),
    }
}

/// What readings say of the cause.
fn found(weighed: &Weighed) -> Finding {
    let Weighed { library, posterior, worths, .. } = weighed;
    let strength = |cause: usize| {
        let alone = posterior.hypotheses.iter().find(|h| h.causes == [cause]);
        alone.and_then(|h| h.strengths.first().copied()).unwrap_or(1.0)
    };
    let causes = sim_core::diagnose::trial::ranking(posterior).into_iter().take(TOLD);
    Finding {
        causes: causes
            .map(|cause| match library.causes.get(cause) {
                Some(named) => {
                    (named.name(), posterior.shared[cause], named.words(strength(cause)))
                }
                None => (
                    sim_core::diagnose::causes::NONE.to_string(),
                    posterior.shared[cause],
                    "nothing is wrong that these readings show".to_string(),
                ),
            })
            .collect(),
        next_check: worths.iter().find(|worth| worth.waits_for.is_none()).map(|worth| worth.check),
    }
}

#[cfg(test)]
mod tests {
    use super::OFFERED;
    use sim_core::job::jobs::JOBS;

    #[test]
    fn every_job_is_offered() {
        let names: Vec<&str> = JOBS.iter().map(|job| job.name).collect();
        assert_eq!(OFFERED[1..], names[..]);
    }
}
