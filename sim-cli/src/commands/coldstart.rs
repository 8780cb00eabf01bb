//! `coldstart`: from the key to an idle of its own, or why not.

use super::Command;
use crate::args::{with_chart, with_output};
use crate::cautions::STARTING;
use crate::error::Error;
use crate::parallel;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::{no_start, turns};
use clap::{Arg, ArgAction, ArgMatches};
use serde_json::{Value, json};
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;
use sim_core::run::start::{StartOutcome, flows_at_rest, start};
use sim_core::run::{Options, RunFault};
use sim_core::units::{Unit, ZERO_CELSIUS_K};

pub const COMMAND: Command = Command {
    name: "coldstart",
    group: "start",
    about: "From the key to an idle of its own at any temperature, or why it does not start",
    example: "quarterturn coldstart --ambient-degc -5 --screw -1/16",
    args,
    report,
};

/// How long the starter is turned at most, and how long the engine is looked at (s).
const CRANKED_S: f64 = 10.0;
/// See [`CRANKED_S`].
const LOOKED_S: f64 = 60.0;
/// The same for each field of the map (s): on no shipped rig does a field change its fate
/// between 10 s and 20 s.
const LOOKED_MAP_S: f64 = 12.0;
/// A correct static setting fires within this (s): common practice, no source.
pub const SOON_S: f64 = 4.0;
/// Fields of the map: temperatures (degC) and screw (turns), least, largest, count.
pub const DEGC: (f64, f64, usize) = (-25.0, 53.0, 40);
/// See [`DEGC`].
pub const TURNS: (f64, f64, usize) = (-0.315, 0.387, 40);

fn args(command: clap::Command) -> clap::Command {
    let command = command.arg(
        Arg::new("map")
            .long("map")
            .action(ArgAction::SetTrue)
            .help("a map over temperature and screw instead: 40 x 40 starts"),
    );
    with_output(with_chart(with_conditions(command, &Conditions::closed_loop())))
}

/// What became of a start.
#[derive(Clone)]
pub enum Fate {
    /// Fuel runs into the ports of the standing engine: not tried.
    Hazard,
    /// It was tried.
    Tried(Box<StartOutcome>),
}

impl Fate {
    /// Whether it starts within [`SOON_S`].
    pub fn soon(&self) -> bool {
        self.start().is_some_and(|start| {
            start.reason.is_none() && start.caught_after_s.is_some_and(|s| s <= SOON_S)
        })
    }

    /// The start, if one was tried.
    pub fn start(&self) -> Option<&StartOutcome> {
        match self {
            Fate::Hazard => None,
            Fate::Tried(start) => Some(start),
        }
    }
}

/// One start, worked out.
pub struct Cold {
    /// The engine.
    pub engine: Scenario,
    /// What became of it.
    pub fate: Fate,
    /// The command, canonically.
    pub command: String,
}

/// A map of starts.
pub struct ColdMap {
    /// The engine.
    pub engine: Scenario,
    /// For each temperature, coldest first, each screw position, leanest first.
    pub fates: Vec<Vec<Fate>>,
    /// The command, canonically.
    pub command: String,
}

fn tried(setup: &Setup, looked_s: f64) -> Result<Fate, RunFault> {
    if flows_at_rest(setup) {
        return Ok(Fate::Hazard);
    }
    start(setup, Options::default(), CRANKED_S, looked_s).map(|found| Fate::Tried(Box::new(found)))
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let ask = EngineArgs::read(matches)?;
    let mut engine = ask.load(Conditions::closed_loop())?;
    let given = |key: &str| {
        matches.contains_id(key)
            || matches.get_many::<String>("set").into_iter().flatten().any(|pair| {
                pair.split('=').next().is_some_and(|name| name.trim().replace('-', "_") == key)
            })
    };
    let (coolant_given, fuel_given) = (given("coolant_degc"), given("fuel_degc"));
    cold(&mut engine.setup, coolant_given, fuel_given);
    let map = matches.get_flag("map");
    let name = if map { "quarterturn coldstart --map" } else { "quarterturn coldstart" };
    let command = format!("{name}{}", engine.flags);
    let error = |fault| Error::Run { fault };
    let mut report = Report::new("coldstart");
    let chart = matches.get_one::<String>("chart").is_some();
    if map {
        let map = mapped(engine, command, coolant_given, fuel_given, progress).map_err(error)?;
        render_map(&mut report, &map);
        if chart {
            report.chart = Some(crate::chart::coldmap::picture(&map));
        }
    } else {
        let fate = tried(&engine.setup, LOOKED_S).map_err(error)?;
        let found = Cold { engine, fate, command };
        values(&mut report, &found);
        render(&mut report, &found);
        if chart {
            report.chart = Some(crate::chart::coldstart::picture(&found));
        }
    }
    report.cautions = STARTING.to_vec();
    Ok(report)
}

/// A cold start: coolant at the ambient and fuel with it, unless they were given.
fn cold(setup: &mut Setup, coolant_given: bool, fuel_given: bool) {
    let conditions = &mut setup.conditions;
    if !coolant_given {
        conditions.coolant_k = conditions.ambient_k;
    }
    if !fuel_given && conditions.coolant_k == conditions.ambient_k {
        conditions.fuel_k = conditions.ambient_k;
    }
}

fn mapped(
    engine: Scenario,
    command: String,
    coolant_given: bool,
    fuel_given: bool,
    progress: &mut Progress<'_>,
) -> Result<ColdMap, RunFault> {
    let rows: Vec<usize> = (0..DEGC.2).collect();
    let setup = engine.setup;
    let fates = parallel::map(
        &rows,
        |row| {
            (0..TURNS.2)
                .map(|column| {
                    let mut here = setup;
                    here.conditions.ambient_k = degc_at(*row) + ZERO_CELSIUS_K;
                    cold(&mut here, coolant_given, fuel_given);
                    here.conditions.screw_turns = turns_at(column);
                    tried(&here, LOOKED_MAP_S)
                })
                .collect::<Result<Vec<Fate>, RunFault>>()
        },
        |done| progress.show(done as f64 / DEGC.2 as f64),
    );
    let fates = fates.into_iter().collect::<Result<Vec<_>, RunFault>>()?;
    Ok(ColdMap { engine, fates, command })
}

fn between((low, high, count): (f64, f64, usize), i: usize) -> f64 {
    low + (high - low) * i as f64 / (count - 1) as f64
}

/// Temperature of a row of the map (degC).
pub fn degc_at(row: usize) -> f64 {
    between(DEGC, row)
}

/// Screw position of a column of the map (turns).
pub fn turns_at(column: usize) -> f64 {
    let turns = between(TURNS, column);
    (turns * 1e6).round() / 1e6
}

const HAZARD: &str = "fuel runs into the ports of the standing engine at this setting: not tried. It fills a cylinder and bends a rod, or burns. Turn the screw back below flow start first";

fn degc(kelvin: f64) -> f64 {
    ((kelvin - ZERO_CELSIUS_K) * 1e9).round() / 1e9
}

fn values(report: &mut Report, cold: &Cold) {
    let conditions = &cold.engine.setup.conditions;
    report.put("canonical_command", json!(cold.command));
    let mut shown = cold.engine.value();
    shown["coolant_degc"] = json!(degc(conditions.coolant_k));
    shown["fuel_degc"] = json!(degc(conditions.fuel_k));
    report.put("conditions", shown);
    report.put("screw_turns", json!(conditions.screw_turns));
    report.put("ambient_degc", json!(degc(conditions.ambient_k)));
    report.put("coolant_degc", json!(degc(conditions.coolant_k)));
    report.put("hazard", json!(cold.fate.start().is_none()));
    let start = cold.fate.start();
    report.put("starts", json!(start.is_some_and(|start| start.reason.is_none())));
    let of = |get: fn(&StartOutcome) -> Option<f64>| number(start.and_then(get));
    report.put("cranking_s", of(|s| s.fires_after_s));
    report.put("caught_after_s", of(|s| s.caught_after_s));
    report.put("running_after_s", of(|s| s.running_after_s));
    report.put("reason", reason(&cold.fate));
    report.put("cranking_rpm", of(|s| Some(Unit::Rpm.from_si(s.cranking_rad_s))));
    report.put("flare_rpm", of(|s| Some(Unit::Rpm.from_si(s.flare_rad_s)).filter(|f| *f > 0.0)));
    report.put("lambda_at_fire", of(|s| s.lambda_at_fire));
    report.put("mass_error", of(|s| Some(s.mass_error)));
    let rows = start.map(|s| s.rows.as_slice()).unwrap_or_default();
    let names = ["time_s", "speed_rpm", "lambda", "manifold_bar", "actuator_ma"];
    let shown =
        |row: &[f64; 5]| [row[0], Unit::Rpm.from_si(row[1]), row[2], 1e-5 * row[3], 1e3 * row[4]];
    let trace = rows.iter().map(|row| {
        let pairs = names.iter().zip(shown(row));
        Value::Object(pairs.map(|(name, value)| ((*name).into(), json!(value))).collect())
    });
    report.put("trace", trace.collect());
    report.rows = Table {
        columns: names.map(|name| Column::new(name, name, "", 3)).to_vec(),
        rows: rows
            .iter()
            .map(|row| shown(row).map(|value| Cell::Number(Some(value))).to_vec())
            .collect(),
    };
}

fn reason(fate: &Fate) -> Value {
    match fate {
        Fate::Hazard => json!(format!("hazard: {HAZARD}")),
        Fate::Tried(start) => json!(start.reason.as_ref().map(no_start)),
    }
}

impl Cold {
    /// What happened, in a sentence.
    pub fn finding(&self) -> String {
        let conditions = &self.engine.setup.conditions;
        let at = format!(
            "{:.0} degC, coolant {:.0} degC, screw {}",
            degc(conditions.ambient_k),
            degc(conditions.coolant_k),
            turns(conditions.screw_turns)
        );
        match &self.fate {
            Fate::Hazard => format!("{at}: refused, fuel runs at rest"),
            Fate::Tried(start) => match (&start.reason, start.caught_after_s) {
                (None, Some(caught)) => format!("{at}: starts, caught after {caught:.1} s"),
                (Some(why), _) => format!("{at}: does not start: {}", no_start(why)),
                (None, None) => format!("{at}: does not start"),
            },
        }
    }
}

fn render(report: &mut Report, cold: &Cold) {
    report.blocks.push(Block::Heading(cold.finding()));
    report.say(cold.engine.words().replace("warm point", "cold start"));
    let Some(start) = cold.fate.start() else {
        report.blocks.push(Block::Hazard(HAZARD.into()));
        return;
    };
    let seconds = |s: Option<f64>| s.map_or("never".into(), |s| format!("after {s:.2} s"));
    report.say(format!(
        "  the starter turns it at {:.0} rpm",
        Unit::Rpm.from_si(start.cranking_rad_s)
    ));
    report.say(format!("  first fire   {}", seconds(start.fires_after_s)));
    report.say(format!("  caught       {}", seconds(start.caught_after_s)));
    report.say(format!("  on its own   {}", seconds(start.running_after_s)));
    if start.flare_rad_s > 0.0 {
        report.say(format!("  flares to    {:.0} rpm", Unit::Rpm.from_si(start.flare_rad_s)));
    }
    report.notes.push("Caught: the speed the starter is let go from (key caught_rpm), and held; a correct static setting fires within 4 s (common practice, no source).".into());
    report.notes.push("Enrichment, evaporated shares, wall film and starter are laws of our own in the range of textbooks, measured on no engine: believe the order of things, not the tenth of a second. Compression strokes, spark plugs that get wet and stay wet, and a battery that tires are left out.".into());
}

fn render_map(report: &mut Report, map: &ColdMap) {
    report.put("canonical_command", json!(map.command));
    report.put("conditions", map.engine.value());
    let cell = |row: usize, column: usize, fate: &Fate| {
        let start = fate.start();
        json!({
            "ambient_degc": degc_at(row),
            "screw_turns": turns_at(column),
            "starts": start.is_some_and(|start| start.reason.is_none()),
            "caught_after_s": number(start.and_then(|start| start.caught_after_s)),
            "within_4_s": fate.soon(),
            "reason": reason(fate),
        })
    };
    let mut cells = Vec::new();
    let mut rows = Vec::new();
    for (row, fates) in map.fates.iter().enumerate() {
        for (column, fate) in fates.iter().enumerate() {
            cells.push(cell(row, column, fate));
            rows.push(vec![
                Cell::Number(Some(degc_at(row))),
                Cell::Number(Some(turns_at(column))),
                Cell::Number(fate.start().and_then(|start| start.caught_after_s)),
                Cell::Word(map_word(fate).into()),
            ]);
        }
    }
    report.put("map", Value::Array(cells));
    report.rows = Table {
        columns: vec![
            Column::new("ambient_degc", "ambient", "degC", 1),
            Column::new("screw_turns", "screw", "turns", 4),
            Column::new("caught_after_s", "caught after", "s", 2),
            Column::new("fate", "fate", "", 0),
        ],
        rows,
    };
    report.blocks.push(Block::Heading(map.finding()));
    report.say(map.engine.words().replace("warm point", "cold start"));
    let mut table = Table {
        columns: vec![
            Column::new("ambient", "ambient", "degC", 0),
            Column::new("from", "leanest that starts", "turns", 3),
            Column::new("to", "richest that starts", "turns", 3),
            Column::new("width", "width", "turns", 3),
        ],
        rows: Vec::new(),
    };
    let mut stretches = Vec::new();
    for row in (0..DEGC.2).step_by(5) {
        let window = map.window(row);
        let [lean, rich, width] = [
            window.map(|(lean, _)| lean),
            window.map(|(_, rich)| rich),
            window.map(|(lean, rich)| rich - lean),
        ];
        stretches.push(json!({
            "ambient_degc": degc_at(row),
            "leanest_turns": number(lean),
            "richest_turns": number(rich),
            "width_turns": number(width),
        }));
        table.rows.push([Some(degc_at(row)), lean, rich, width].map(Cell::Number).to_vec());
    }
    report.put("stretches", Value::Array(stretches));
    report.blocks.push(Block::Table(table));
    report
        .notes
        .push(format!(
            "Starts: caught within {SOON_S} s of cranking and still running {LOOKED_MAP_S} s after the key."
        ));
}

/// What a field of the map is called.
pub fn map_word(fate: &Fate) -> &'static str {
    match fate {
        Fate::Hazard => "fuel runs at rest",
        _ if fate.soon() => "starts within 4 s",
        Fate::Tried(start) if start.reason.is_none() => "starts later",
        Fate::Tried(start) if start.rich() => "too rich",
        Fate::Tried(_) => "too lean",
    }
}

impl ColdMap {
    /// Leanest and richest setting of a row that start within four seconds (turns).
    pub fn window(&self, row: usize) -> Option<(f64, f64)> {
        let soon: Vec<usize> =
            (0..TURNS.2).filter(|column| self.fates[row][*column].soon()).collect();
        Some((turns_at(*soon.first()?), turns_at(*soon.last()?)))
    }

    /// What the map shows, in a sentence.
    pub fn finding(&self) -> String {
        let widths: Vec<(f64, f64)> = (0..DEGC.2)
            .filter_map(|row| self.window(row).map(|(lean, rich)| (degc_at(row), rich - lean)))
            .collect();
        match (widths.first(), widths.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))) {
            (Some(coldest), Some(widest)) => format!(
                "Starts within 4 s: {:.2} turn of screw at {:.0} degC, {:.2} at {:.0} degC",
                coldest.1, coldest.0, widest.1, widest.0
            ),
            _ => "No setting starts within 4 s".into(),
        }
    }
}
