//! Figures of the lessons: their list, and one of them drawn.

use super::lessons::{Figure, figures};
use crate::cautions::RUNNING;
use crate::command::{Context, NestedCommand};
use crate::drawing::picture::{FileKind, Picture};
use crate::drawing::theme::Theme;
use crate::error::Error;
use crate::output::csv;
use crate::report::{Field, Found, Report, Table};
use crate::scenario::{canonical_rig, load_rig};
use serde::Serialize;
use serde_json::Value;
use std::rc::Rc;

/// What is to be drawn.
pub struct FigureRequest<'a> {
    /// Which figure.
    pub figure: Figure,
    /// The file it goes to, and its kind.
    pub file: (&'a str, FileKind),
    /// The file its data go to as well.
    pub data_file: Option<&'a str>,
    /// Whom it is drawn for.
    pub theme: Theme,
    /// The rig in place of the lesson's.
    pub rig: Option<&'a str>,
}

/// A figure that was drawn.
#[derive(Serialize)]
struct DrawnFigure {
    canonical_command: String,
    name: &'static str,
    lesson: u32,
    draws: Value,
    theme: &'static str,
    #[serde(flatten)]
    files: Option<FigureFiles>,
}

/// What a figure shows, and where it is.
#[derive(Serialize)]
struct FigureFiles {
    title: String,
    description: String,
    file: String,
    data_file: Option<String>,
}

impl Found for DrawnFigure {}

/// Draws a figure.
pub fn drawn(request: &FigureRequest<'_>, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let FigureRequest { figure, file: (file, kind), data_file, theme, rig } = *request;
    let nested = NestedCommand::read(context.program, &figure.words(), rig, true)?;
    let mut found = theme.during(|| nested.report(context.program, context.progress))?;
    let mut command = format!("quarterturn chart {}", figure.name);
    if let Some(rig) = rig.filter(|_| context.program.takes_rig(&nested.words)) {
        command += &canonical_rig(rig, &load_rig(rig)?);
    }
    let theme_word = theme.word();
    if theme != Theme::Print {
        command += &format!(" --theme {theme_word}");
    }
    let draws = found.value().get("canonical_command").cloned().unwrap_or_default();
    let shown = |picture: &Picture| FigureFiles {
        title: picture.title.clone(),
        description: picture.description.clone(),
        file: file.into(),
        data_file: data_file.map(Into::into),
    };
    let mut report = Report::of(
        "chart",
        Rc::new(DrawnFigure {
            canonical_command: command,
            name: figure.name,
            lesson: figure.lesson.number,
            draws: draws.clone(),
            theme: theme_word,
            files: found.chart.as_ref().map(shown),
        }),
    );
    let Some(picture) = &found.chart else { return Ok(report) };
    report.heading(picture.title.clone());
    let draws = draws.as_str().unwrap_or_default();
    report.say(format!("Figure {} of lesson {}: {draws}", figure.name, figure.lesson.number));
    let data = csv::bytes(&found);
    let bytes = match kind {
        FileKind::Csv => data.clone(),
        kind => picture.bytes(kind).map_err(Error::writing(file))?,
    };
    report.files.push((file.into(), bytes));
    if let Some(place) = data_file {
        report.files.push((place.into(), data));
    }
    report.take_notes(&mut found);
    report.cautions = found.cautions;
    report.exit = found.exit;
    Ok(report)
}

/// The figures of the course.
#[derive(Serialize)]
struct FigureList {
    canonical_command: &'static str,
    charts: Vec<ListedFigure>,
}

/// A figure in the list.
#[derive(Serialize)]
struct ListedFigure {
    name: &'static str,
    lesson: u32,
    shows: &'static str,
    draws: String,
}

static FIGURES: &[Field<ListedFigure>] = &[
    Field::new("name", "name", "", 0, |figure| figure.name.into()),
    Field::new("lesson", "lesson", "", 0, |figure| f64::from(figure.lesson).into()),
    Field::new("shows", "what it shows", "", 0, |figure| figure.shows.into()),
];

impl Found for FigureList {
    fn table(&self) -> Table {
        Table::of(FIGURES, &self.charts)
    }
}

/// The list of figures.
pub fn list() -> Report {
    let listed = |figure: Figure| ListedFigure {
        name: figure.name,
        lesson: figure.lesson.number,
        shows: figure.shows,
        draws: format!("quarterturn {}", figure.words().join(" ")),
    };
    let list = Rc::new(FigureList {
        canonical_command: "quarterturn chart list",
        charts: figures().into_iter().map(listed).collect(),
    });
    let mut report = Report::of("chart list", list.clone());
    let count = list.charts.len();
    report.say(format!("{count} charts, each drawn by `quarterturn chart NAME -o FILE`"));
    report.in_short(|report| {
        let names: Vec<&str> = list.charts.iter().map(|figure| figure.name).collect();
        report.say(names.join(", "));
    });
    report.in_full(|report| {
        for figure in &list.charts {
            report.heading(format!("{} (lesson {})", figure.name, figure.lesson));
            report.say(format!("{}.", figure.shows));
            report.say(figure.draws.clone());
        }
    });
    report.cautions = RUNNING.to_vec();
    report
}
