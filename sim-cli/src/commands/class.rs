//! `class`: a lesson as paper and pictures, for the trainee or for the instructor.

use crate::command::{Command, Context, PLAIN};
use crate::course::class::class_files;
use crate::course::lessons::{Lesson, all};
use crate::course::paper_size::PaperSize;
use crate::course::sheet_request::SheetRequest;
use crate::error::Error;
use crate::files::folder_writable;
use crate::options::{Choice, Given, Number, Text, seed};
use crate::report::Report;
use crate::scenario::RIG_DEFAULT;
use clap::ArgMatches;
use std::path::PathBuf;

pub const COMMAND: Command = Command {
    name: "class",
    group: "teach",
    about: "Worksheets, keys, quizzes and charts for a class of 45 minutes",
    example: "quarterturn class --lesson 2 -o /tmp/class-2 --force",
    more_help: "Killed at any moment it leaves the folder as it was or with all of its files. Only where --force writes beside other files may some of them be new and some as they were.",
    options: &[&LESSON, &RIG, &READER, &PAPER, &PUPILS, &SEED, &FOLDER],
    report_to_file: false,
    run,
    ..PLAIN
};

static LESSON: Number =
    Number::whole("lesson", "NUMBER", (1.0, 19.0), "one lesson; every lesson if it is left out");
static RIG: Text = Text {
    default: Some(RIG_DEFAULT),
    ..Text::new("rig", "NAME|FILE", "the engine: a shipped rig or a rig file")
};
static READER: Choice = Choice {
    flag: "for",
    value: "WHOM",
    words: &["trainee", "instructor"],
    default: Some("trainee"),
    meaning: "trainee: no answer and no curve; instructor: the plan and all answers, too",
};
static PAPER: Choice = Choice {
    flag: "paper",
    value: "SIZE",
    words: &["a4", "letter"],
    default: Some("a4"),
    meaning: "a4 or letter",
};
static PUPILS: Number = Number::whole(
    "pupils",
    "NUMBER",
    (1.0, 99.0),
    "a worksheet for each pupil, with numbers of their own; the instructor's key has them all",
);
static SEED: Number = seed("another seed, other numbers for pupils and quiz");
static FOLDER: Text = Text {
    short: Some('o'),
    required: true,
    ..Text::new("output", "DIR", "folder that is made for the files")
};

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let lesson = LESSON.read(matches)?;
    let number = lesson.map(|given| given.unchecked());
    let (reader, paper) = (READER.read(matches)?, PAPER.read(matches)?);
    let paper_size = if paper == Some("letter") { PaperSize::Letter } else { PaperSize::A4 };
    let rig = RIG.read(matches).unwrap_or(RIG_DEFAULT);
    let pupils = PUPILS.read(matches)?;
    let seed = SEED.given(matches)?;
    let request = SheetRequest {
        pupils: pupils.as_ref().map(Given::checked).transpose()?.unwrap_or(0.0) as usize,
        seed: seed.checked()? as u64,
        ..SheetRequest::new(rig, reader == Some("instructor"), paper_size)?
    };
    let lessons: Vec<Lesson> =
        all().into_iter().filter(|l| number.is_none_or(|n| f64::from(l.number) == n)).collect();
    if let (Some(number), true) = (number, lessons.is_empty()) {
        let there: Vec<String> = all().iter().map(|lesson| lesson.number.to_string()).collect();
        return Err(Error::no_lesson(number, &format!("lessons {}", there.join(", "))));
    }
    let folder = PathBuf::from(FOLDER.read(matches).unwrap_or_default());
    if folder.is_file() {
        return Err(Error::place(folder.display(), "is a file, a folder is needed"));
    }
    if folder.symlink_metadata().is_ok() && !matches.get_flag("force") {
        let why = "exists; --force writes into it, over files of the same names";
        return Err(Error::unless_forced(folder.display(), why));
    }
    folder_writable(&folder)?;
    let command = format!(
        "quarterturn class{}{}{}{}{}{}",
        lesson.as_ref().map(Given::canonical).unwrap_or_default(),
        request.rig_option,
        READER.canonical(reader),
        PAPER.canonical(paper),
        pupils.as_ref().map(Given::canonical).unwrap_or_default(),
        seed.canonical()
    );
    class_files(command, &lessons, &request, &folder, context)
}
