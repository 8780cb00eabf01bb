//! `live`: the bench as a page, or acts answered here.

use crate::bench_page::{Contents, page};
use crate::chart::machine::moving;
use crate::command::{Command, Context, PLAIN};
use crate::course::lessons::all;
use crate::error::Error;
use crate::files::{new_folder, read_text};
use crate::options::{Choice, Number, Text, seed};
use crate::report::Report;
use crate::results::live::{Answered, Written, answered, written};
use crate::scenario::{EngineArgs, value_of};
use clap::ArgMatches;
use live::{Bench, rig_keys, workshop};
use serde_json::{Map, Value, json};
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::{KEYS, Setup};
use std::path::PathBuf;

pub const COMMAND: Command = Command {
    name: "live",
    group: "teach",
    about: "The bench as a page: turn the screw, hear it, read the needle",
    example: "quarterturn live -o /tmp/bench.html --force",
    more_help: "Without -o the page is written to a new folder for temporary files and opened in the\n\
                default browser. The page is one file and connects to nothing.\n\
                --acts answers the acts of a file here, a line for each: a list of acts as\n\
                [{\"act\": \"help\"}, ...], or what the act `session` gave.",
    options: &[&LESSON, &FOUND, &SEED, &VIEW, &ACTS, &FILE],
    conditions: Some(workshop),
    report_to_file: false,
    run,
    ..PLAIN
};

static LESSON: Number =
    Number::whole("lesson", "NUMBER", (1.0, 99.0), "a lesson: its task, its prediction first");
static FOUND: Number = Number::whole(
    "found",
    "NUMBER",
    (0.0, 9e15),
    "a car with a hidden state of its own, drawn from this seed; as the flags say if left out",
);
static SEED: Number = seed("seed of the cycles' scatter");
static VIEW: Choice = Choice {
    flag: "view",
    value: "VIEW",
    words: &["teaching", "exercise"],
    default: None,
    meaning: "teaching: the section is cut open; exercise: only what hand and eye can reach; teaching for a lesson",
};
static ACTS: Text = Text::new("acts", "FILE", "answer the acts of a file here; - is stdin");
static FILE: Text =
    Text { short: Some('o'), ..Text::new("output", "FILE", "the page's place, .html") };

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let (lesson, found, seed) = (LESSON.read(matches)?, FOUND.read(matches)?, SEED.given(matches)?);
    let (view, acts, file) = (VIEW.read(matches)?, ACTS.read(matches), FILE.read(matches));
    if acts.is_some() && file.is_some() {
        return Err(Error::takes_no("live --acts", "--output"));
    }
    let scenario = EngineArgs::read(matches)?.load(workshop())?;
    let mut command = format!("quarterturn live{}", scenario.flags);
    let mut begin = begin(&scenario.file, &scenario.setup, scenario.failed());
    begin["seed"] = json!(seed.checked()?);
    if let Some(lesson) = &lesson {
        begin["lesson"] = lesson_of(lesson.checked()?)?;
        command += &lesson.canonical();
    }
    if let Some(found) = &found {
        begin["found"] = json!(found.checked()?);
        command += &found.canonical();
    }
    command += &seed.canonical();
    if let Some(view) = view {
        begin["view"] = json!(view);
        command += &VIEW.canonical(Some(view));
    }
    match acts {
        Some(acts) => {
            let text = read_text(acts)?;
            Ok(answered(answer(command, acts, &text, &begin)?))
        }
        None => {
            let (place, opens) = match file {
                Some(file) => (PathBuf::from(file), false),
                None => (new_folder()?.join("bench.html"), true),
            };
            let name = scenario.file.name.clone();
            let page = page(&Contents {
                name: &name,
                begin: &begin,
                section: &moving(&scenario.setup.rig),
            });
            Ok(written(Written::new(command, scenario, place, opens, page)))
        }
    }
}

/// The act that puts the car on the bench: the rig's file, and every key that differs from
/// the workshop's.
fn begin(file: &RigFile, setup: &Setup, failed: &[String]) -> Value {
    let standard = Setup { rig: file.rig, conditions: workshop() };
    let mut conditions = Map::new();
    for key in KEYS {
        let value = value_of(key, setup);
        if !value.is_null() && value != value_of(key, &standard) {
            conditions.insert(key.name.into(), value);
        }
    }
    // What a fault does to keys stands among them already.
    let failed: Vec<&String> =
        failed.iter().filter(|fault| !fault.starts_with("potentiometer=")).collect();
    json!({ "act": "begin", "rig": rig_keys(file), "conditions": conditions, "failed": failed })
}

fn lesson_of(number: f64) -> Result<Value, Error> {
    let lessons = all();
    let lesson = lessons.iter().find(|lesson| f64::from(lesson.number) == number);
    let lesson = lesson.ok_or_else(|| {
        let there: Vec<String> = lessons.iter().map(|lesson| lesson.number.to_string()).collect();
        Error::no_lesson(number, &format!("lessons {}", there.join(", ")))
    })?;
    Ok(json!({
        "number": lesson.number,
        "title": lesson.title(),
        "bench": lesson.section("At the bench"),
        "task": lesson.section("Try first"),
        "question": lesson.section("Your prediction"),
    }))
}

/// Answers the acts of a file, a list or a session.
fn answer(command: String, path: &str, text: &str, begin: &Value) -> Result<Answered, Error> {
    let wrong = |why: String| Error::file(format!("{path}: {why}"));
    let value: Value =
        serde_json::from_str(text).map_err(|why| wrong(format!("is no JSON: {why}")))?;
    let (begin, acts) = match (&value, &value["acts"]) {
        (Value::Array(acts), _) => (begin.clone(), acts),
        (_, Value::Array(acts)) => {
            let mut begin = value["begin"].clone();
            begin["act"] = json!("begin");
            (begin, acts)
        }
        _ => return Err(wrong("holds no list of acts".into())),
    };
    let mut bench = Bench::default();
    let first: Value = serde_json::from_str(&bench.answer(&begin.to_string())).unwrap_or_default();
    if let Some(why) = first["error"].as_str() {
        return Err(Error::outside(why));
    }
    let lines = acts.iter().map(|act| bench.answer(&act.to_string())).collect();
    Ok(Answered { command, lines })
}
