//! `quiz`: questions worked out from the model, and what became of the answers.

mod answers;
mod marking;
mod metering;
mod question;
mod repairs;
mod running;

use super::Command;
use super::asked::{SEED_MOST, WHOLE, number_of, optional_arg, whole_within};
use crate::args::with_output;
use crate::error::Error;
use crate::parallel;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::scenario::load_rig;
use crate::text::plain;
use answers::Answers;
use clap::ArgMatches;
use question::{CorrectAnswer, Draft, QuestionSource};
use serde_json::{Value, json};
use sim_core::conditions::Conditions;
use sim_core::noise::Noise;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;

pub const COMMAND: Command = Command {
    name: "quiz",
    group: "teach",
    about: "Questions worked out from the model; then what is right, and why",
    example: "quarterturn quiz --lesson 5 --seed 3",
    args,
    report,
};

/// How often numbers are drawn until they make a fair question.
const DRAWS: usize = 24;

/// A kind of question: its name, and how one is made.
struct QuestionKind {
    id: &'static str,
    make: fn(&mut QuestionSource) -> Option<Draft>,
}

const fn kind(id: &'static str, make: fn(&mut QuestionSource) -> Option<Draft>) -> QuestionKind {
    QuestionKind { id, make }
}

/// Every kind of question, in the order of the lessons, whose number starts the name.
static KINDS: &[QuestionKind] = &[
    kind("01-leak", metering::leak),
    kind("01-spark", metering::dead_spark),
    kind("01-pressure", metering::pressure_mixture),
    kind("02-climb", metering::climb),
    kind("02-thin-air", metering::thin_air),
    kind("02-weight", metering::pressure_volts),
    kind("03-current", metering::current),
    kind("03-drop", metering::slit_drop),
    kind("04-rest-height", metering::rest_height),
    kind("04-way-back", metering::way_back),
    kind("05-by-ear", metering::by_ear),
    kind("05-middle", metering::middle_side),
    kind("05-roughness", metering::roughness),
    kind("06-duty", metering::duty),
    kind("06-monoxide", metering::monoxide),
    kind("07-housing", metering::housing),
    kind("07-speed", metering::speed_volts),
    kind("07-leak", metering::leak_volts),
    kind("08-climb", running::climb_time),
    kind("08-swing", running::swing),
    kind("08-first", running::first_to_settle),
    kind("09-gap", running::gap),
    kind("09-linkage", running::held_open),
    kind("10-duty", running::climb_duty),
    kind("10-limit", running::climb_limit),
    kind("11-start", running::cold_start),
    kind("11-sensor", running::thermistor),
    kind("12-cell", running::wanted_cell),
    kind("12-drives", running::relearning),
    kind("13-load", running::loaded),
    kind("13-class", running::stated_error),
    kind("14-pit", running::pit),
    kind("14-changed", running::changed_parts),
    kind("15-which", repairs::which_fault),
    kind("15-screw", repairs::after_repair),
];

impl QuestionKind {
    fn lesson(&self) -> u32 {
        self.id[..2].parse().unwrap_or(0)
    }
}

/// A question.
struct Question {
    id: &'static str,
    lesson: u32,
    draft: Draft,
}

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(optional_arg("lesson", "NUMBER", "questions of one lesson only, 1 to 15"))
        .arg(optional_arg("seed", "NUMBER", "another seed, other numbers").default_value("1"))
        .arg(optional_arg(
            "answers",
            "FILE",
            "your answers, a line each: 01-leak 1.05; or JSON, {\"01-leak\": 1.05}; - reads them from stdin",
        ))
        .arg(
            optional_arg("rig", "NAME|FILE", "the engine asked about: a shipped rig or a rig file")
                .default_value("six"),
        );
    with_output(command)
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let seed = number_of(matches, "seed")?;
    let lesson = match matches.contains_id("lesson") {
        true => Some(number_of(matches, "lesson")?),
        false => None,
    };
    let text = |name: &str| matches.get_one::<String>(name).map(String::as_str);
    let rig = text("rig").unwrap_or("six");
    let file = load_rig(rig)?;
    let kinds: Vec<&QuestionKind> = KINDS
        .iter()
        .filter(|kind| lesson.is_none_or(|lesson| f64::from(kind.lesson()) == lesson))
        .collect();
    let ids: Vec<&'static str> = kinds.iter().map(|kind| kind.id).collect();
    let answers = text("answers").map(Answers::read).transpose()?;
    let seed = whole_within("--seed", seed, (0.0, SEED_MOST), WHOLE)? as u64;
    if let Some(number) = lesson
        && kinds.is_empty()
    {
        return Err(Error::NoLesson { number, there: "questions on lessons 1 to 15".into() });
    }
    let setup = Setup { rig: file.rig, conditions: Conditions::default() };
    let questions = drawn(&kinds, &setup, seed, progress);
    let mut report = Report::new("quiz");
    let mut command = String::from("quarterturn quiz");
    if let Some(lesson) = lesson {
        command += &format!(" --lesson {lesson}");
    }
    if seed != 1 {
        command += &format!(" --seed {seed}");
    }
    match shipped(rig) {
        Some(_) if rig == "six" => {}
        Some(_) => command += &format!(" --rig {rig}"),
        None => command += &format!(" --rig <{}, from a file>", file.name),
    }
    report.put("canonical_command", json!(command));
    report.put("rig", json!(file.name));
    report.put("seed", json!(seed));
    report.put("questions", questions.iter().map(Question::value).collect());
    match answers {
        None => asked(&mut report, &questions, &file.name),
        Some(answers) => {
            answers.check(&ids)?;
            let marks = marking::marks(&questions, &answers)?;
            marking::render(&mut report, &questions, &marks);
        }
    }
    report.cautions = crate::cautions::RUNNING.to_vec();
    Ok(report)
}

/// Questions of some kinds. Each kind has a chance of its own, so one lesson's questions are
/// the same whether or not the others are asked.
fn drawn(
    kinds: &[&QuestionKind],
    setup: &Setup,
    seed: u64,
    progress: &mut Progress<'_>,
) -> Vec<Question> {
    let count = kinds.len().max(1) as f64;
    let one = |kind: &&QuestionKind| {
        let item = kind.id.bytes().fold(0u64, |sum, byte| sum.wrapping_mul(131) + u64::from(byte));
        let mut source = QuestionSource { setup: *setup, noise: Noise::new(seed, item) };
        let draft = (0..DRAWS).find_map(|_| (kind.make)(&mut source))?;
        Some(Question { id: kind.id, lesson: kind.lesson(), draft })
    };
    let drafts = parallel::map(kinds, one, |done| progress.show(done as f64 / count));
    drafts.into_iter().flatten().collect()
}

impl Question {
    /// The question without its answer.
    fn value(&self) -> Value {
        let choices = match &self.draft.right {
            CorrectAnswer::Choice { choices, .. } => json!(choices),
            CorrectAnswer::Number { .. } => Value::Null,
        };
        json!({
            "id": self.id,
            "lesson": self.lesson,
            "text": self.draft.text,
            "unit": self.draft.unit,
            "choices": choices,
        })
    }

    /// What kind of answer it takes, in words.
    fn takes(&self) -> String {
        match &self.draft.right {
            CorrectAnswer::Choice { choices, .. } => format!("({})", choices.join(" / ")),
            CorrectAnswer::Number { .. } => {
                format!("______ {}", self.draft.unit).trim_end().to_string()
            }
        }
    }
}

/// The questions for a reader.
fn asked(report: &mut Report, questions: &[Question], rig: &str) {
    let Some(first) = questions.first() else {
        report.say(format!(
            "No fair question comes of the rig {rig} here: does it idle? `quarterturn sweep` tells."
        ));
        return;
    };
    report.say(format!(
        "{} question{} about the rig {rig}, invented. Write what you predict into a file, a line each ({} and your answer), then ask again with --answers FILE.",
        questions.len(),
        if questions.len() == 1 { "" } else { "s" },
        first.id
    ));
    for question in questions {
        report.blocks.push(Block::Heading(format!("{} (lesson {})", question.id, question.lesson)));
        report.say(question.draft.text.clone());
        report.say(format!("  {}", question.takes()));
    }
    let columns = ["id", "lesson", "text", "unit", "choices"];
    let rows = questions.iter().map(|question| {
        let choices = match &question.draft.right {
            CorrectAnswer::Choice { choices, .. } => choices.join(" / "),
            CorrectAnswer::Number { .. } => String::new(),
        };
        vec![
            Cell::Word(question.id.into()),
            Cell::Word(plain(f64::from(question.lesson))),
            Cell::Word(question.draft.text.clone()),
            Cell::Word(question.draft.unit.into()),
            Cell::Word(choices),
        ]
    });
    report.rows = Table {
        columns: columns.map(|name| Column::new(name, name, "", 0)).to_vec(),
        rows: rows.collect(),
    };
    report.notes.push("Warm engine, the rest as the question says. How near a number counts as right is told with its mark: a quarter of the change where a change is asked for, less where a law gives it.".into());
}
