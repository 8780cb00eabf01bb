//! `rig`: the shipped rigs, a file's check, and the table of keys.

use super::Command;
use crate::args::with_output;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::scenario::{AT_REST, as_it_stands, load_rig};
use crate::text::{plain, stall};
use clap::{Arg, ArgMatches};
use serde_json::{Map, Value, json};
use sim_core::point::Outcome;
use sim_core::rig::file::{RigFile, to_toml};
use sim_core::rig::keys::{KEYS, Place, Setup, tidy};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::start::flows_at_rest;
use sim_core::units::Unit;

pub const COMMAND: Command = Command {
    name: "rig",
    group: "look-up",
    about: "The invented engines: list them, show one, check a file of your own, list the keys",
    example: "quarterturn rig show six --format toml",
    args,
    report,
};

fn args(command: clap::Command) -> clap::Command {
    let name = |value: &'static str, help: &'static str| {
        Arg::new("name").value_name(value).required(true).help(help)
    };
    let child = |name: &'static str, about: &'static str| {
        with_output(clap::Command::new(name).about(about))
    };
    let show = child("show", "Show one rig: every key with value and meaning")
        .mut_arg("format", |arg| arg.value_parser(["table", "toml", "csv", "json"]))
        .arg(name("NAME|FILE", "a shipped rig or a rig file"));
    command
        .subcommand_required(true)
        .subcommand(child("list", "The shipped rigs"))
        .subcommand(show)
        .subcommand(
            child("check", "Check a rig file: exit code 3 and the place if something is wrong")
                .arg(name("FILE", "a rig file, - for stdin")),
        )
        .subcommand(child("keys", "Every key: name, unit, range, meaning"))
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let Some((what, matches)) = matches.subcommand() else { return Ok(Report::new("rig")) };
    let name = || matches.get_one::<String>("name").map_or("", String::as_str);
    match what {
        "list" => Ok(list()),
        "keys" => Ok(keys()),
        "check" => load_rig(name()).map(|file| checked(name(), &file)),
        _ => {
            let file = load_rig(name())?;
            let toml = matches.get_one::<String>("format").is_some_and(|form| form == "toml");
            Ok(if toml { as_toml(&file) } else { show(&file) })
        }
    }
}

fn list() -> Report {
    let mut report = Report::new("rig list");
    let mut table = Table {
        columns: vec![Column::new("name", "rig", "", 0), Column::new("about", "what it is", "", 0)],
        rows: Vec::new(),
    };
    let mut rigs = Vec::new();
    for file in SHIPPED.iter().filter_map(|(name, _)| shipped(name)) {
        rigs.push(json!({"name": file.name, "about": file.about}));
        table.rows.push(vec![Cell::Word(file.name), Cell::Word(file.about)]);
    }
    report.put("rigs", Value::Array(rigs));
    with_rows(report, table)
}

fn with_rows(mut report: Report, table: Table) -> Report {
    report.rows = table.clone();
    report.blocks.push(Block::Table(table));
    report
}

fn keys() -> Report {
    let mut report = Report::new("rig keys");
    let columns = ["key", "unit", "range", "where", "meaning"];
    let mut table = Table {
        columns: columns.map(|name| Column::new(name, name, "", 0)).to_vec(),
        rows: Vec::new(),
    };
    let mut list = Vec::new();
    for key in KEYS {
        let range = sim_core::rig::file::range_words(key);
        let place = key.table().map_or("condition".to_string(), |table| format!("[{table}]"));
        let mut entry = json!({
            "key": key.name, "unit": key.unit.symbol(), "range": range,
            "where": place, "meaning": key.meaning,
        });
        if !matches!(key.place, Place::Choice { .. }) {
            entry["low"] = json!(key.low);
            entry["high"] = json!(key.high);
        }
        list.push(entry);
        table.rows.push(
            [key.name, key.unit.symbol(), &range, &place, key.meaning]
                .map(|text| Cell::Word(text.to_string()))
                .to_vec(),
        );
    }
    report.put("keys", Value::Array(list));
    with_rows(report, table)
}

fn checked(path: &str, file: &RigFile) -> Report {
    let mut report = Report::new("rig check");
    report.put("name", json!(file.name));
    report.put("ok", json!(true));
    let cylinders = file.rig.parts().slits.width_m.len();
    report.put("cylinders", json!(cylinders));
    report.say(format!(
        "{path}: rig \"{}\" is complete and in range: {cylinders} cylinders, one for each slit.",
        file.name
    ));
    if flows_at_rest(&Setup { rig: file.rig, conditions: Default::default() }) {
        report.blocks.push(Block::Hazard(AT_REST.into()));
    }
    let point = as_it_stands(file);
    report.say(match &point.outcome {
        Outcome::Running(state) => format!(
            "With the screw where it stands, warm, trim off, it runs {} at {:.0} rpm, lambda {:.2}, roughness {:.0} %.",
            point.zone().word(),
            Unit::Rpm.from_si(state.speed_rad_s),
            state.lambda,
            100.0 * state.cov
        ),
        Outcome::Stalled(why) => format!(
            "With the screw where it stands it does not idle: {}. It would at lambda 1; `quarterturn sweep` tells where the screw gives that; zero_height_mm of the file makes it 0.",
            stall(why)
        ),
    });
    report.rows = Table {
        columns: vec![Column::new("name", "rig", "", 0), Column::new("ok", "ok", "", 0)],
        rows: vec![vec![Cell::Word(file.name.clone()), Cell::Word("true".into())]],
    };
    report
}

fn as_toml(file: &RigFile) -> Report {
    let mut report = Report::new("rig show");
    report.blocks.push(Block::Verbatim(to_toml(file)));
    report
}

fn show(file: &RigFile) -> Report {
    let mut report = Report::new("rig show");
    report.put("name", json!(file.name));
    report.put("about", json!(file.about));
    let setup = Setup { rig: file.rig, conditions: Default::default() };
    let mut values = Map::new();
    let columns = ["key", "value", "unit", "meaning"];
    let mut table = Table {
        columns: columns.map(|name| Column::new(name, name, "", 0)).to_vec(),
        rows: Vec::new(),
    };
    for key in KEYS.iter().filter(|key| key.table().is_some()) {
        let row: Vec<f64> = match key.place {
            Place::PartRow { get, .. } => {
                get(file.rig.parts()).iter().map(|si| tidy(key.unit.from_si(*si))).collect()
            }
            _ => key.get(&setup).into_iter().collect(),
        };
        let value = match key.place {
            Place::PartRow { .. } => json!(row),
            _ => json!(row[0]),
        };
        values.insert(key.name.into(), value);
        let text = row.iter().map(|value| plain(*value)).collect::<Vec<_>>().join(" ");
        table.rows.push(
            [key.name, &text, key.unit.symbol(), key.meaning]
                .map(|text| Cell::Word(text.to_string()))
                .to_vec(),
        );
    }
    report.put("values", Value::Object(values));
    report.say(format!("{}: {}", file.name, file.about));
    with_rows(report, table)
}
