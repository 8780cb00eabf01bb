//! The files of lessons for a class: charts, charts to draw on, worksheets, keys, quizzes.

use super::folder_index::{INDEX, INDEX_FILE, index};
use super::lesson_commands::LessonCommands;
use super::lesson_plan::LessonPlan;
use super::lessons::Lesson;
use super::paper_size::PaperSize;
use super::printed_quiz::{questions, quiz_page};
use super::sheet_request::SheetRequest;
use super::worksheet::{Pupil, key, machine, names, pupils_key, worksheet};
use crate::cautions::STANDING;
use crate::command::{Context, Program};
use crate::drawing::linked_page::LinkedPage;
use crate::drawing::picture::{FileKind, Picture};
use crate::error::Error;
use crate::parallel;
use crate::report::{Field, Found, Report, Table};
use serde::Serialize;
use std::path::Path;
use std::rc::Rc;

/// The files that were made.
#[derive(Serialize)]
struct ClassFiles {
    canonical_command: String,
    rig: String,
    r#for: &'static str,
    folder: String,
    files: Vec<ListedFile>,
}

/// A file in the list.
#[derive(Serialize)]
struct ListedFile {
    /// None: of all lessons.
    lesson: Option<u32>,
    file: String,
    what: &'static str,
}

static FILES: &[Field<ListedFile>] = &[
    Field::new("lesson", "lesson", "", 0, |listed| listed.lesson.map(f64::from).into()),
    Field::new("file", "file", "", 0, |listed| listed.file.as_str().into()),
    Field::new("what", "what it is", "", 0, |listed| listed.what.into()),
];

impl Found for ClassFiles {
    fn table(&self) -> Table {
        Table::of(FILES, &self.files)
    }
}

/// Makes the files of lessons, for a folder; the command is the canonical one.
pub fn class_files(
    command: String,
    lessons: &[Lesson],
    request: &SheetRequest,
    folder: &Path,
    context: &mut Context<'_, '_>,
) -> Result<Report, Error> {
    let count = lessons.len() as f64;
    let program = context.program;
    let made = parallel::map(
        lessons,
        |lesson| lesson_files(lesson, request, program),
        |done| context.progress.show(done as f64 / count),
    );
    let (mut listed, mut contents) = (Vec::new(), Vec::new());
    let mut take = |lesson: Option<u32>, files: Vec<File>| {
        for (file, what, bytes) in files {
            contents.push((folder.join(&file), bytes));
            listed.push(ListedFile { lesson, file, what });
        }
    };
    for (lesson, files) in lessons.iter().zip(made) {
        take(Some(lesson.number), files?);
    }
    let size = request.paper_size;
    take(None, page_files("names", "what bold words mean", "Names", &names(size), size)?);
    let named = |one: &ListedFile| (one.file.clone(), one.what);
    let named: Vec<(String, &str)> = listed.iter().map(named).collect();
    let named: Vec<(&str, &str)> = named.iter().map(|(file, what)| (&**file, *what)).collect();
    let text = index(&named, request).into_bytes();
    listed.insert(0, ListedFile { lesson: None, file: INDEX_FILE.into(), what: INDEX });
    contents.insert(0, (folder.join(INDEX_FILE), text));
    let found = Rc::new(ClassFiles {
        canonical_command: command,
        rig: request.name.clone(),
        r#for: request.reader(),
        folder: folder.display().to_string(),
        files: listed,
    });
    let mut report = Report::of("class", found.clone());
    report.heading(format!(
        "{} files of {} lesson{} for the {}, rig {}",
        found.files.len(),
        lessons.len(),
        if lessons.len() == 1 { "" } else { "s" },
        found.r#for,
        found.rig
    ));
    report.table(found.table());
    report.files = contents;
    report.folder = Some(folder.into());
    report.cautions = STANDING.to_vec();
    Ok(report)
}

/// A file: its name, what it is, what is in it.
type File = (String, &'static str, Vec<u8>);

/// Pages as files: one PDF, or where that is left out each page as SVG.
fn page_files(
    stem: &str,
    what: &'static str,
    title: &str,
    pages: &[LinkedPage],
    paper_size: PaperSize,
) -> Result<Vec<File>, Error> {
    #[cfg(feature = "pdf")]
    {
        let name = format!("{stem}.pdf");
        let bytes = crate::drawing::pdf::bytes(title, pages, paper_size.size());
        let bytes = bytes.map_err(Error::writing(&name))?;
        Ok(vec![(name, what, bytes)])
    }
    #[cfg(not(feature = "pdf"))]
    {
        let _ = (title, paper_size);
        let page = |(i, page): (usize, &LinkedPage)| {
            (format!("{stem}-{}.svg", i + 1), what, page.svg.clone().into_bytes())
        };
        Ok(pages.iter().enumerate().map(page).collect())
    }
}

/// A picture in every kind of file.
fn picture_files(stem: &str, what: &'static str, picture: &Picture) -> Result<Vec<File>, Error> {
    let drawn = || FileKind::ALL.iter().filter(|(_, kind)| *kind != FileKind::Csv);
    let kinds: Vec<FileKind> = drawn().map(|(_, kind)| *kind).collect();
    let files = picture.files(&kinds).map_err(Error::writing(stem))?;
    let names = drawn().map(|(ending, _)| format!("{stem}.{ending}"));
    Ok(names.zip(files).map(|(name, bytes)| (name, what, bytes)).collect())
}

/// The files of a lesson.
fn lesson_files(
    lesson: &Lesson,
    request: &SheetRequest,
    program: &dyn Program,
) -> Result<Vec<File>, Error> {
    let stem = format!("{:02}", lesson.number);
    let lesson_commands = LessonCommands::new(lesson, request, program);
    let mut files = Vec::new();
    for (i, result) in lesson_commands.figure_results()?.iter().enumerate() {
        let Some(picture) = &result.picture else { continue };
        let more = if i > 0 { format!("-{}", i + 1) } else { String::new() };
        let blank = format!("{stem}-blank{more}");
        files.extend(picture_files(&blank, "chart to draw on", &picture.blank())?);
        if request.instructor {
            let chart = format!("{stem}-chart{more}");
            files.extend(picture_files(&chart, "chart", picture)?);
            files.push((format!("{chart}.csv"), "data of the chart", result.data.clone()));
        }
    }
    let title = format!("Lesson {}: {}", lesson.number, lesson.title());
    let size = request.paper_size;
    let sheet = |name: &str, what, pages: &[LinkedPage]| {
        page_files(&format!("{stem}-{name}"), what, &format!("{title}, {what}"), pages, size)
    };
    let pupils = pupils(lesson, request);
    if request.instructor || pupils.is_empty() {
        files.extend(sheet("worksheet", "worksheet", &worksheet(&lesson_commands, None)?)?);
    }
    for pupil in &pupils {
        let name = format!("worksheet-{:02}", pupil.number);
        let pages = worksheet(&lesson_commands, Some(pupil))?;
        files.extend(sheet(&name, "worksheet of a pupil", &pages)?);
    }
    let items = questions(lesson, request, request.seed)?;
    files.extend(sheet("quiz", "quiz", &quiz_page(lesson, request, &items, false)?)?);
    if request.instructor {
        if let Some(picture) = &machine(&lesson_commands)?.picture {
            files.extend(picture_files(&format!("{stem}-machine"), "the machine", picture)?);
        }
        files.extend(sheet("key", "key and plan of the lesson", &key(&lesson_commands)?)?);
        let pages = quiz_page(lesson, request, &items, true)?;
        files.extend(sheet("quiz-answers", "quiz with its answers", &pages)?);
        if !pupils.is_empty() {
            let pages = pupils_key(&lesson_commands, &pupils)?;
            files.extend(sheet("pupils", "answers of all pupils", &pages)?);
        }
    }
    Ok(files)
}

/// The pupils of a request, each with the numbers of a lesson.
fn pupils(lesson: &Lesson, request: &SheetRequest) -> Vec<Pupil> {
    let Some(plan) = LessonPlan::of(lesson.number) else { return Vec::new() };
    let pupil = |i| Pupil { number: i + 1, numbers: plan.pupil_numbers(request.seed, i) };
    (0..request.pupils).map(pupil).collect()
}
