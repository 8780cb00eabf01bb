//! `chart`: every figure of the course by a name of its own.

use super::Command;
use super::nested::NestedCommand;
use crate::args::with_form;
use crate::chart::picture::FileKind;
use crate::chart::theme::Theme;
use crate::error::Error;
use crate::files::same_place;
use crate::lessons::{Figure, figure, figures};
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table};
use clap::{Arg, ArgMatches};
use serde_json::{Value, json};
use std::path::Path;

pub const COMMAND: Command = Command {
    name: "chart",
    group: "teach",
    about: "Every figure of the lessons by its name, for paper or for the back of a room",
    example: "quarterturn chart list",
    args,
    report,
};

fn args(command: clap::Command) -> clap::Command {
    let flag = |name: &'static str, value: &'static str, help: &'static str| {
        Arg::new(name).long(name).value_name(value).help(help)
    };
    let command = command
        .arg(
            Arg::new("name")
                .value_name("list|NAME")
                .required(true)
                .help("`list`, or the name of a figure"),
        )
        .arg(
            flag("figure", "FILE", "the figure's place: .svg, .png, .pdf, or .csv for the data")
                .long("output")
                .short('o'),
        )
        .arg(flag("data", "FILE", "the data behind it too, as CSV"))
        .arg(
            flag("theme", "THEME", "print, or projector: large text and thick lines")
                .value_parser(["print", "projector"])
                .default_value("print"),
        )
        .arg(flag("rig", "NAME|FILE", "another rig than the lesson's: a shipped one or a file"));
    with_form(command)
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let text = |name: &str| matches.get_one::<String>(name).map(String::as_str);
    let name = text("name").unwrap_or_default();
    let (place, data) = (text("figure"), text("data"));
    if name == "list" {
        for (given, flag) in [(place, "--output"), (data, "--data"), (text("rig"), "--rig")] {
            if given.is_some() {
                return Err(Error::Together { argument: "chart list".into(), flag, takes: false });
            }
        }
        return Ok(listed());
    }
    let figure =
        figure(name).map_err(|nearest| Error::UnknownChart { name: name.into(), nearest })?;
    let place = place.ok_or_else(|| Error::Together {
        argument: format!("chart {name}"),
        flag: "-o FILE",
        takes: true,
    })?;
    let kind = FileKind::of_path(place)?;
    if let Some(data) = data {
        if FileKind::of_path(data)? != FileKind::Csv {
            return Err(Error::DataKind { path: data.into() });
        }
        if same_place(Path::new(place), Path::new(data)) {
            return Err(Error::SamePlace { path: place.into() });
        }
    }
    let theme = match text("theme") {
        Some("projector") => Theme::Projector,
        _ => Theme::Print,
    };
    drawn(&figure, (place, kind), data, theme, text("rig"), progress)
}

fn drawn(
    figure: &Figure,
    (place, kind): (&str, FileKind),
    data: Option<&str>,
    theme: Theme,
    rig: Option<&str>,
    progress: &mut Progress<'_>,
) -> Result<Report, Error> {
    let nested = NestedCommand::read(&figure.words(), rig, true)?;
    let found = theme.during(|| nested.report(progress))?;
    let mut report = Report::new("chart");
    let command = found.value.get("canonical_command").cloned().unwrap_or(Value::Null);
    let words = command.as_str().unwrap_or_default();
    let own = words.split_once(" --rig ").map_or(String::new(), |(_, rig)| {
        let end = if rig.starts_with('<') { rig.find('>').map(|at| at + 1) } else { rig.find(' ') };
        format!(" --rig {}", &rig[..end.unwrap_or(rig.len())])
    });
    let own = if rig.is_some() { own } else { String::new() };
    let themed = if theme == Theme::Projector { " --theme projector" } else { "" };
    report
        .put("canonical_command", json!(format!("quarterturn chart {}{own}{themed}", figure.name)));
    report.put("name", json!(figure.name));
    report.put("lesson", json!(figure.lesson.number));
    report.put("draws", command.clone());
    report.put("theme", json!(if theme == Theme::Print { "print" } else { "projector" }));
    let Some(picture) = &found.chart else { return Ok(report) };
    report.put("title", json!(picture.title));
    report.put("description", json!(picture.description));
    report.put("file", json!(place));
    report.put("data_file", json!(data));
    report.blocks.push(Block::Heading(picture.title.clone()));
    report.say(format!("Figure {} of lesson {}: {words}", figure.name, figure.lesson.number));
    let rows = found.csv().into_bytes();
    let bytes = if kind == FileKind::Csv { rows.clone() } else { picture.bytes(kind) };
    report.files.push((place.into(), bytes));
    if let Some(data) = data {
        report.files.push((data.into(), rows));
    }
    report.rows = found.rows;
    report.notes = found.notes;
    report.cautions = found.cautions;
    report.exit = found.exit;
    Ok(report)
}

/// The list of figures.
fn listed() -> Report {
    let mut report = Report::new("chart list");
    let figures = figures();
    report.put("canonical_command", json!("quarterturn chart list"));
    let value = |figure: &Figure| {
        json!({
            "name": figure.name,
            "lesson": figure.lesson.number,
            "shows": figure.shows,
            "draws": format!("quarterturn {}", figure.words().join(" ")),
        })
    };
    report.put("charts", figures.iter().map(value).collect());
    report.say(format!("{} charts, each drawn by `quarterturn chart NAME -o FILE`", figures.len()));
    let columns = vec![
        Column::new("name", "name", "", 0),
        Column::new("lesson", "lesson", "", 0),
        Column::new("shows", "what it shows", "", 0),
    ];
    let rows = figures.iter().map(|figure| {
        vec![
            Cell::Word(figure.name.into()),
            Cell::Number(Some(f64::from(figure.lesson.number))),
            Cell::Word(figure.shows.into()),
        ]
    });
    report.rows = Table { columns, rows: rows.collect() };
    for figure in &figures {
        report
            .blocks
            .push(Block::Heading(format!("{} (lesson {})", figure.name, figure.lesson.number)));
        report.say(format!("{}.", figure.shows));
        report.say(format!("quarterturn {}", figure.words().join(" ")));
    }
    report.cautions = crate::cautions::RUNNING.to_vec();
    report
}
