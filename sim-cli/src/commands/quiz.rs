//! `quiz`: questions worked out from the model, and what became of the answers.

use crate::command::{Command, Context, PLAIN};
use crate::course::quiz::answers::Answers;
use crate::course::quiz::kinds::{KINDS, QuestionKind, drawn_questions};
use crate::course::quiz::marking::marked;
use crate::course::quiz::result::{Quiz, report};
use crate::error::Error;
use crate::options::{Given, Number, Text, seed};
use crate::report::Report;
use crate::scenario::{RIG_DEFAULT, canonical_rig, load_rig};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "quiz",
    group: "teach",
    about: "Questions worked out from the model; what is right, and why",
    example: "quarterturn quiz --lesson 5 --seed 3",
    options: &[&LESSON, &SEED, &ANSWERS, &RIG],
    run,
    ..PLAIN
};

static LESSON: Number =
    Number::whole("lesson", "NUMBER", (1.0, 19.0), "questions of one lesson only");
static SEED: Number = seed("another seed, other numbers");
static ANSWERS: Text = Text::new(
    "answers",
    "FILE",
    "your answers, a line each: 01-leak 1.05; or JSON, {\"01-leak\": 1.05}; - reads them from stdin",
);
static RIG: Text = Text {
    default: Some(RIG_DEFAULT),
    ..Text::new("rig", "NAME|FILE", "the engine asked about: a shipped rig or a rig file")
};

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let seed = SEED.given(matches)?;
    let lesson = LESSON.read(matches)?;
    let rig = RIG.read(matches).unwrap_or(RIG_DEFAULT);
    let file = load_rig(rig)?;
    let wanted = |kind: &&QuestionKind| {
        lesson.is_none_or(|lesson| f64::from(kind.lesson()) == lesson.unchecked())
    };
    let kinds: Vec<&'static QuestionKind> = KINDS.iter().filter(wanted).collect();
    let answers = ANSWERS.read(matches).map(Answers::read).transpose()?;
    let seed_number = seed.checked()? as u64;
    if let Some(number) = lesson.filter(|_| kinds.is_empty()) {
        return Err(Error::no_lesson(number.unchecked(), "questions on lessons 1 to 19"));
    }
    let setup = Setup { rig: file.rig, conditions: Conditions::default() };
    let items = drawn_questions(&kinds, &setup, seed_number, context.progress);
    let marks = answers.map(|answers| {
        let ids: Vec<&'static str> = kinds.iter().map(|kind| kind.id.as_str()).collect();
        answers.check(&ids)?;
        marked(&items, &answers)
    });
    let command = format!(
        "quarterturn quiz{}{}{}",
        lesson.as_ref().map(Given::canonical).unwrap_or_default(),
        seed.canonical(),
        canonical_rig(rig, &file)
    );
    let rig = file.name.to_string();
    let quiz = Quiz { command, rig, seed: seed_number, items, marks: marks.transpose()? };
    Ok(report(&Rc::new(quiz)))
}
