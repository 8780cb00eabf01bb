//! Starts over temperature and screw.

use crate::cautions::STARTING;
use crate::report::{self, Found, Records, Report, Table};
use crate::results::coldstart::{Fate, SOON_S, scenario_words};
use crate::scenario::Scenario;
use serde::{Serialize, Serializer};
use std::rc::Rc;

/// How long each field is looked at (s), at most: sooner its fate may be clear. On no shipped rig
/// does a field change its fate between 10 s and 20 s.
pub const LOOKED_MAP_S: f64 = 12.0;
/// Temperatures of the fields (degC): least, largest, count.
pub const DEGC: (f64, f64, usize) = (-25.0, 53.0, 40);
/// The same for the screw (turns).
pub const TURNS: (f64, f64, usize) = (-0.315, 0.387, 40);

fn between((low, high, count): (f64, f64, usize), i: usize) -> f64 {
    low + (high - low) * i as f64 / (count - 1) as f64
}

/// Temperature of a row of the map (degC).
pub fn degc_at(row: usize) -> f64 {
    between(DEGC, row)
}

/// Screw position of a column of the map (turns).
pub fn turns_at(column: usize) -> f64 {
    (between(TURNS, column) * 1e6).round() / 1e6
}

/// A map of starts.
#[derive(Serialize)]
pub struct ColdMap {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine started.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    /// For each temperature, coldest first, each screw position, leanest first.
    #[serde(rename = "map", serialize_with = "in_one_list")]
    pub fields: Vec<Vec<Field>>,
    #[serde(serialize_with = "stretches")]
    stretches: Vec<Stretch>,
}

/// A field of the map.
#[derive(Serialize)]
pub struct Field {
    ambient_degc: f64,
    screw_turns: f64,
    starts: bool,
    caught_after_s: Option<f64>,
    within_4_s: bool,
    reason: Option<String>,
    /// What it is called.
    #[serde(skip)]
    pub word: &'static str,
}

/// A temperature (degC), and leanest and richest setting that start at it (turns).
type Stretch = (f64, Option<(f64, f64)>);

fn stretches<S: Serializer>(stretches: &[Stretch], serializer: S) -> Result<S::Ok, S::Error> {
    Records(STRETCHES, stretches).serialize(serializer)
}

fn in_one_list<S: Serializer>(fields: &[Vec<Field>], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(fields.iter().flatten())
}

impl Field {
    /// What became of a field.
    pub fn of(row: usize, column: usize, fate: &Fate) -> Field {
        let start = fate.start();
        let caught_after_s = start.and_then(|start| start.caught_after_s);
        let within_4_s = fate.starts() && caught_after_s.is_some_and(|s| s <= SOON_S);
        Field {
            ambient_degc: degc_at(row),
            screw_turns: turns_at(column),
            starts: fate.starts(),
            caught_after_s,
            within_4_s,
            reason: fate.reason(),
            word: match start {
                None => "fuel runs at rest",
                Some(_) if within_4_s => "starts within 4 s",
                Some(_) if fate.starts() => "starts later",
                Some(start) if start.rich() => "too rich",
                Some(_) => "too lean",
            },
        }
    }
}

impl ColdMap {
    /// A map of its fields.
    pub fn of(command: String, scenario: Scenario, fields: Vec<Vec<Field>>) -> ColdMap {
        let mut map = ColdMap { command, scenario, fields, stretches: Vec::new() };
        let rows = (0..DEGC.2).step_by(5);
        map.stretches = rows.map(|row| (degc_at(row), map.window(row))).collect();
        map
    }

    /// Leanest and richest setting of a row that start within four seconds (turns).
    pub fn window(&self, row: usize) -> Option<(f64, f64)> {
        let mut soon = self.fields[row].iter().filter(|field| field.within_4_s);
        let lean = soon.next()?.screw_turns;
        Some((lean, soon.next_back().map_or(lean, |field| field.screw_turns)))
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

/// The fields of the map in a table.
static FIELDS: &[report::Field<Field>] = &[
    report::Field::new("ambient_degc", "ambient", "degC", 1, |field| field.ambient_degc.into()),
    report::Field::new("screw_turns", "screw", "turns", 4, |field| field.screw_turns.into()),
    report::Field::new("caught_after_s", "caught after", "s", 2, |field| {
        field.caught_after_s.into()
    }),
    report::Field::new("fate", "fate", "", 0, |field| field.word.into()),
];

/// The settings that start.
static STRETCHES: &[report::Field<Stretch>] = &[
    report::Field::new("ambient_degc", "ambient", "degC", 0, |s| s.0.into()),
    report::Field::new("leanest_turns", "leanest that starts", "turns", 3, |s| {
        s.1.map(|(lean, _)| lean).into()
    }),
    report::Field::new("richest_turns", "richest that starts", "turns", 3, |s| {
        s.1.map(|(_, rich)| rich).into()
    }),
    report::Field::new("width_turns", "width", "turns", 3, |s| {
        s.1.map(|(lean, rich)| rich - lean).into()
    }),
];

impl Found for ColdMap {
    fn table(&self) -> Table {
        Table::of(FIELDS, self.fields.iter().flatten())
    }
}

/// The report of a map.
pub fn report(map: &Rc<ColdMap>) -> Report {
    let mut report = Report::of("coldstart", map.clone());
    report.heading(map.finding());
    report.say(scenario_words(&map.scenario));
    report.table(Table::of(STRETCHES, &map.stretches));
    report.note(format!(
            "Starts: caught within {SOON_S} s of cranking and still running {LOOKED_MAP_S} s after the key."
        ));
    report.cautions = STARTING.to_vec();
    report
}
