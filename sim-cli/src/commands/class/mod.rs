//! `class`: a lesson as paper and pictures, for the trainee or for the instructor.

mod lesson_commands;
mod plain_text;
mod worksheet;

use super::Command;
use crate::args::with_form;
use crate::chart::picture::{FileKind, Picture};
use crate::error::Error;
use crate::files::in_a_folder;
use crate::lessons::{Lesson, all};
use crate::parallel;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::scenario::{as_it_stands, load_rig};
use crate::sheet::Paper;
use crate::text::stall;
use clap::{Arg, ArgMatches};
use lesson_commands::LessonCommands;
use serde_json::json;
use sim_core::rig::shipped::shipped;
use std::path::PathBuf;

pub const COMMAND: Command = Command {
    name: "class",
    group: "teach",
    about: "Worksheets, charts to draw on, charts and answer keys of the lessons, for any rig",
    example: "quarterturn class --lesson 2 -o /tmp/class-2 --force",
    args,
    report,
};

fn args(command: clap::Command) -> clap::Command {
    let flag = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).help(help)
    };
    let command = command
        .arg(flag("lesson", "NUMBER", "one lesson; every lesson if it is left out"))
        .arg(
            flag("rig", "NAME|FILE", "the engine: a shipped rig or a rig file")
                .default_value("six"),
        )
        .arg(
            flag("for", "WHOM", "trainee: no answer and no curve; instructor: all of it")
                .value_parser(["trainee", "instructor"])
                .default_value("trainee"),
        )
        .arg(
            flag("paper", "SIZE", "a4 or letter")
                .value_parser(["a4", "letter"])
                .default_value("a4"),
        )
        .arg(
            flag("folder", "DIR", "folder that is made for the files")
                .long("output")
                .short('o')
                .required(true),
        );
    with_form(command)
}

/// What a class is made for.
pub struct SheetRequest {
    /// The rig as it is asked for.
    pub rig: String,
    /// Its name.
    pub name: String,
    /// Whether answers are wanted.
    pub instructor: bool,
    /// The paper.
    pub paper: Paper,
    /// That it does not idle as it stands, and why; empty if it does.
    pub error: String,
}

impl SheetRequest {
    /// For a shipped rig or a rig file.
    pub fn new(rig: &str, instructor: bool, paper: Paper) -> Result<SheetRequest, Error> {
        let file = load_rig(rig)?;
        let point = as_it_stands(&file);
        let error = point.stall().map(|why| format!(
            " It does not idle as it stands, and much on this sheet is \"none\": {}. It does at lambda 1: `quarterturn sweep` tells where the screw gives that; zero_height_mm of the file makes it 0.",
            stall(why)
        ).replace('`', ""));
        let error = error.unwrap_or_default();
        Ok(SheetRequest { rig: rig.into(), name: file.name.to_string(), instructor, paper, error })
    }
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let text = |name: &str| matches.get_one::<String>(name).map(String::as_str);
    let lesson = match matches.contains_id("lesson") {
        true => Some(super::asked::number_of(matches, "lesson")?),
        false => None,
    };
    let rig = text("rig").unwrap_or("six");
    let paper = if text("paper") == Some("letter") { Paper::Letter } else { Paper::A4 };
    let assignment = SheetRequest::new(rig, text("for") == Some("instructor"), paper)?;
    let lessons: Vec<Lesson> =
        all().into_iter().filter(|l| lesson.is_none_or(|n| f64::from(l.number) == n)).collect();
    if let (Some(number), true) = (lesson, lessons.is_empty()) {
        let there: Vec<String> = all().iter().map(|lesson| lesson.number.to_string()).collect();
        return Err(Error::NoLesson { number, there: format!("lessons {}", there.join(", ")) });
    }
    let folder = PathBuf::from(text("folder").unwrap_or_default());
    if folder.is_file() {
        return Err(Error::NotAFolder { path: folder.display().to_string() });
    }
    if folder.symlink_metadata().is_ok() && !matches.get_flag("force") {
        return Err(Error::FolderExists { path: folder.display().to_string() });
    }
    in_a_folder(&folder)?;
    let count = lessons.len() as f64;
    let made = parallel::map(
        &lessons,
        |lesson| files(lesson, &assignment),
        |done| progress.show(done as f64 / count),
    );
    let mut report = Report::new("class");
    let mut command = String::from("quarterturn class");
    if let Some(number) = lesson {
        command += &format!(" --lesson {number}");
    }
    match shipped(rig) {
        Some(_) if rig == "six" => {}
        Some(_) => command += &format!(" --rig {rig}"),
        None => command += &format!(" --rig <{}, from a file>", assignment.name),
    }
    if assignment.instructor {
        command += " --for instructor";
    }
    if assignment.paper == Paper::Letter {
        command += " --paper letter";
    }
    report.put("canonical_command", json!(command));
    report.put("rig", json!(assignment.name));
    report.put("for", json!(if assignment.instructor { "instructor" } else { "trainee" }));
    report.put("folder", json!(folder.display().to_string()));
    let mut names = Vec::new();
    for (lesson, files) in lessons.iter().zip(made) {
        for (name, what, bytes) in files? {
            names.push((lesson.number, name.clone(), what));
            report.files.push((folder.join(&name), bytes));
        }
    }
    let value = |(lesson, name, what): &(u32, String, &str)| json!({"lesson": lesson, "file": name, "what": what});
    report.put("files", names.iter().map(value).collect());
    report.blocks.push(Block::Heading(format!(
        "{} files of {} lesson{} for the {}, rig {}",
        names.len(),
        lessons.len(),
        if lessons.len() == 1 { "" } else { "s" },
        if assignment.instructor { "instructor" } else { "trainee" },
        assignment.name
    )));
    let columns = vec![
        Column::new("lesson", "lesson", "", 0),
        Column::new("file", "file", "", 0),
        Column::new("what", "what it is", "", 0),
    ];
    let rows = names.into_iter().map(|(lesson, name, what)| {
        vec![Cell::Number(Some(f64::from(lesson))), Cell::Word(name), Cell::Word(what.into())]
    });
    report.rows = Table { columns, rows: rows.collect() };
    report.blocks.push(Block::Table(report.rows.clone()));
    report.folder = Some(folder);
    report.cautions = crate::cautions::STANDING.to_vec();
    Ok(report)
}

/// A file: its name, what it is, what is in it.
type File = (String, &'static str, Vec<u8>);

/// Pages as files: one PDF, or where that is left out each page as SVG.
fn paged(stem: &str, what: &'static str, title: &str, pages: &[String], paper: Paper) -> Vec<File> {
    #[cfg(feature = "pdf")]
    return vec![(
        format!("{stem}.pdf"),
        what,
        crate::chart::pdf::bytes(title, pages, paper.size()),
    )];
    #[cfg(not(feature = "pdf"))]
    {
        let _ = (title, paper);
        let page = |(i, page): (usize, &String)| {
            (format!("{stem}-{}.svg", i + 1), what, page.clone().into_bytes())
        };
        pages.iter().enumerate().map(page).collect()
    }
}

/// A picture in every kind of file.
fn pictured(stem: &str, what: &'static str, picture: &Picture) -> Vec<File> {
    let kinds = [
        ("svg", FileKind::Svg),
        ("png", FileKind::Png),
        #[cfg(feature = "pdf")]
        ("pdf", FileKind::Pdf),
    ];
    kinds.map(|(ending, kind)| (format!("{stem}.{ending}"), what, picture.bytes(kind))).to_vec()
}

/// The files of a lesson.
fn files(lesson: &Lesson, assignment: &SheetRequest) -> Result<Vec<File>, Error> {
    let stem = format!("{:02}", lesson.number);
    let lesson_commands = LessonCommands::new(lesson, assignment);
    let mut files = Vec::new();
    for (i, one) in lesson_commands.figures()?.iter().enumerate() {
        let Some(picture) = &one.picture else { continue };
        let more = if i > 0 { format!("-{}", i + 1) } else { String::new() };
        files.extend(pictured(
            &format!("{stem}-blank{more}"),
            "chart to draw on",
            &picture.blank(),
        ));
        if assignment.instructor {
            files.extend(pictured(&format!("{stem}-chart{more}"), "chart", picture));
            let data = one.data.clone().into_bytes();
            files.push((format!("{stem}-chart{more}.csv"), "data of the chart", data));
        }
    }
    let title = format!("Lesson {}: {}", lesson.number, lesson.title());
    let pages = worksheet::worksheet(lesson, assignment, &lesson_commands)?;
    files.extend(paged(
        &format!("{stem}-worksheet"),
        "worksheet",
        &title,
        &pages,
        assignment.paper,
    ));
    if assignment.instructor {
        let pages = worksheet::key(lesson, assignment, &lesson_commands)?;
        let title = format!("{title}, answer key");
        files.extend(paged(
            &format!("{stem}-key"),
            "answer key and notes",
            &title,
            &pages,
            assignment.paper,
        ));
    }
    Ok(files)
}
