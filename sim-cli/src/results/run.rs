//! What a run found: the trace, how long each reading takes to settle, what it did from action
//! to action, and what each wait is owed to.

mod dwells;
mod render;
mod waits;

pub use render::report;

use crate::by_name::ByName;
use crate::report::{Column, Found, Show};
use crate::results::interval::{Ends, Intervals, end_columns, ends};
use crate::results::point::point_value;
use crate::results::procedure::ProcedureRecord;
use crate::results::trace::{Trace, trace_columns};
use crate::scenario::Scenario;
use crate::text::fixed;
use dwells::DwellRecord;
use serde::{Serialize, Serializer};
use serde_json::{Value, json};
use sim_core::point::{Outcome, Point, READINGS, Reading, Stall, State};
use sim_core::run::attribution::Attribution;
use sim_core::run::procedure::{Action, Procedure, Step};
use sim_core::run::record::Record;
use sim_core::run::start::flows_at_rest;
use sim_core::units::Unit;
use std::io;
use waits::WaitsRecord;

/// A run, worked out.
pub struct Run {
    /// The engine it started with.
    pub scenario: Scenario,
    /// What was done.
    pub procedure: Procedure,
    /// What was written down, without its rows.
    pub record: Record,
    /// Its rows.
    pub trace: Trace,
    /// Whether noise or pulsation shook it.
    pub shaken: bool,
    /// What the waits are owed to, if that was asked.
    pub attribution: Option<Attribution>,
    /// Of a car that is fitted: what holds in 90 of 100 cases.
    pub intervals: Option<RunIntervals>,
    /// The command, canonically.
    pub command: String,
}

/// The readings of a trace whose intervals are told.
pub const BANDED: [&str; 4] = ["speed_rpm", "lambda", "potentiometer_v", "duty_percent"];

/// What holds in 90 of 100 cases of a car that is fitted.
pub struct RunIntervals {
    /// At the end.
    pub last: Intervals,
    /// Time from row to row (s).
    pub every_s: f64,
    /// Of each row of the trace, in the order of [`BANDED`].
    pub rows: Vec<[Option<(f64, f64)>; BANDED.len()]>,
}

impl RunIntervals {
    /// Those of runs of cars like one: the last point of each, and its rows.
    pub fn of(runs: &[(Point, Vec<[f32; BANDED.len()]>)], every_s: f64) -> RunIntervals {
        let last: Vec<&Point> = runs.iter().map(|run| &run.0).collect();
        let count = runs.iter().map(|run| run.1.len()).max().unwrap_or(0);
        let row = |row: usize| {
            [0, 1, 2, 3].map(|name| {
                let at = |run: &(Point, Vec<[f32; 4]>)| {
                    run.1.get(row).map_or(f64::NAN, |row| f64::from(row[name]))
                };
                ends(runs.iter().map(at), runs.len())
            })
        };
        RunIntervals { last: Intervals::of(&last), every_s, rows: (0..count).map(row).collect() }
    }
}

/// Intervals of a run as a JSON object.
#[derive(Serialize)]
struct RunIntervalsRecord<'a> {
    final_low: Ends<'a>,
    final_high: Ends<'a>,
    trace_readings: [&'static str; BANDED.len()],
    trace_low_high: &'a [[Option<(f64, f64)>; BANDED.len()]],
}

/// A run as the JSON object it is.
#[derive(Serialize)]
struct RunRecord<'a> {
    fuel_flows_at_rest: bool,
    canonical_command: &'a str,
    conditions: &'a Scenario,
    procedure: ProcedureRecord<'a>,
    summary: Summary,
    #[serde(rename = "intervals_90_percent", skip_serializing_if = "Option::is_none")]
    intervals: Option<RunIntervalsRecord<'a>>,
    dwells: Vec<DwellRecord>,
    #[serde(rename = "blame", skip_serializing_if = "Option::is_none")]
    attribution: Option<WaitsRecord>,
    trace: &'a Trace,
}

#[derive(Serialize)]
struct Summary {
    settled_after_s: ByName<Option<f64>>,
    lowest_rpm: f64,
    highest_rpm: f64,
    stalled_at_s: Option<f64>,
    stalled_because: Option<String>,
    learned_trim_settled_after_s: Option<f64>,
    swing_s: Option<f64>,
    last_action_s: f64,
    mass_error: f64,
    #[serde(rename = "final")]
    last: Value,
}

impl Serialize for Run {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        RunRecord {
            fuel_flows_at_rest: flows_at_rest(&self.scenario.setup),
            canonical_command: &self.command,
            conditions: &self.scenario,
            procedure: ProcedureRecord::of(&self.procedure),
            summary: self.summary(),
            intervals: self.intervals.as_ref().map(|intervals| RunIntervalsRecord {
                final_low: intervals.last.low(),
                final_high: intervals.last.high(),
                trace_readings: BANDED,
                trace_low_high: &intervals.rows,
            }),
            dwells: DwellRecord::all(&self.procedure, &self.record.dwells),
            attribution: self.attribution.as_ref().map(WaitsRecord::of),
            trace: &self.trace,
        }
        .serialize(serializer)
    }
}

impl Found for Run {
    fn columns(&self) -> Vec<Column> {
        let mut columns = trace_columns();
        if self.intervals.is_some() {
            columns.extend(
                end_columns().into_iter().filter(|column| banded_name(&column.name).is_some()),
            );
        }
        columns
    }

    fn each_row(&self, show: Show<'_>) -> io::Result<()> {
        let Some(intervals) = &self.intervals else { return self.trace.each_row(show) };
        // In the order of the columns.
        let names: Vec<&str> = READINGS
            .iter()
            .map(|reading| reading.name)
            .filter(|name| BANDED.contains(name))
            .collect();
        let mut rows = intervals.rows.iter();
        self.trace.each_row(&mut |row| {
            let mut row = row.to_vec();
            let ends = rows.next();
            for name in &names {
                let place = BANDED.iter().position(|banded| banded == name);
                let ends = ends.zip(place).and_then(|(ends, place)| ends[place]);
                row.extend([ends.map(|ends| ends.0).into(), ends.map(|ends| ends.1).into()]);
            }
            show(&row)
        })
    }
}

impl Run {
    fn summary(&self) -> Summary {
        let record = &self.record;
        let (lowest, highest) = record.speed_range_rad_s;
        Summary {
            settled_after_s: ByName(
                self.settled().map(|(reading, after)| (reading.name, after)).collect(),
            ),
            lowest_rpm: Unit::Rpm.from_si(lowest),
            highest_rpm: Unit::Rpm.from_si(highest),
            stalled_at_s: record.stalled_at_s,
            stalled_because: record.stalled_because.map(|cause| cause.sentence()),
            learned_trim_settled_after_s: record.last.and(record.learned_settled_after_s),
            swing_s: record.swing_s,
            last_action_s: record.last_action_s,
            mass_error: record.mass_error,
            last: self.last(),
        }
    }

    /// When each reading has settled (s after the last action). One that has no value at the end
    /// has not.
    fn settled(&self) -> impl Iterator<Item = (&'static Reading, Option<f64>)> {
        let last = self.record.last.as_ref();
        READINGS.iter().zip(&self.record.settled_after_s).map(move |(reading, after)| {
            (reading, last.and_then(|last| reading.value(last)).and(*after))
        })
    }

    /// The last point, as JSON.
    fn last(&self) -> Value {
        let record = &self.record;
        let screw_turns = self.trace.last_screw_turns;
        let stalled = Stall::TooSlow {
            limit: None,
            stall_rad_s: self.scenario.setup.rig.parts().controller.stall_rad_s,
            best_rad_s: record.speed_range_rad_s.0,
            lambda: 0.0,
            short_pa: 0.0,
        };
        let stalled = record.no_start.unwrap_or(stalled);
        let outcome = record.last.map_or(Outcome::Stalled(stalled), Outcome::Running);
        let mut last = point_value(&Point { screw_turns, outcome });
        if let (Some(at), None) = (record.stalled_at_s, record.no_start) {
            let when = format!("stalled {at:.2} s after the start");
            last["reason"] = json!(match record.stalled_because {
                Some(cause) => format!("{}; {when}", cause.sentence()),
                None => when,
            });
        }
        last
    }

    /// What was met on the way and what it ended with, then what [`Run::finding`] says.
    fn headline(&self) -> String {
        let finding = self.finding();
        let dwells = &self.record.dwells;
        let runs = self.record.no_start.is_none() && self.record.stalled_at_s.is_none();
        let rest = finding.strip_prefix(&format!("{}: ", self.procedure.name));
        let Some(rest) = rest.filter(|_| runs && self.record.last.is_some()) else {
            return finding;
        };
        let name = &self.procedure.name;
        if dwells.len() <= DWELLS_TOLD {
            return match self.record.last.as_ref().and_then(ends_at) {
                Some(ends) => format!("{name}: {ends}; {rest}"),
                None => finding,
            };
        }
        let rough_percent = Unit::Percent.from_si(self.scenario.setup.conditions.ear.cov);
        let turns = |step: &Step| matches!(step.action, Action::Turn(_));
        let searched = self.procedure.steps.iter().any(turns);
        let met = dwells::edges_met(dwells, rough_percent).filter(|_| searched);
        let told: Vec<String> = met.into_iter().chain(dwells::ends_with(dwells)).collect();
        format!("{name}: {}; {rest}", told.join("; "))
    }

    /// What happened, in a sentence.
    pub fn finding(&self) -> String {
        let record = &self.record;
        let rpm = |rad_s: f64| format!("{:.0} rpm", Unit::Rpm.from_si(rad_s));
        if record.no_start.is_some() {
            return format!("{}: the engine does not run to begin with", self.procedure.name);
        }
        if let Some(at) = record.stalled_at_s {
            let stalls = format!("{}: the engine stalls after {at:.1} s", self.procedure.name);
            return match record.stalled_because {
                Some(cause) => format!("{stalls}, {}", cause.sentence()),
                None => stalls,
            };
        }
        let (low, high) = record.speed_range_rad_s;
        let name = &self.procedure.name;
        let between = format!("{:.0} to {}", Unit::Rpm.from_si(low), rpm(high));
        if self.shaken {
            return format!("{name}: {between}, shaken by noise and pulsation");
        }
        let settled = |name: &str| {
            let at = READINGS.iter().position(|reading| reading.name == name)?;
            record.settled_after_s[at]
        };
        let watched = [
            ("lambda", "lambda"),
            ("duty", "duty_percent"),
            ("volts", "potentiometer_v"),
            ("speed", "speed_rpm"),
        ];
        let waits = watched.map(|(word, name)| (word, settled(name)));
        let not: Vec<&str> =
            waits.iter().filter(|(_, wait)| wait.is_none()).map(|(word, _)| *word).collect();
        let slowest = waits.iter().filter_map(|(_, wait)| *wait).fold(0.0, f64::max);
        let settled = match &not[..] {
            [] => format!(
                "lambda, duty, volts and speed have settled {slowest:.0} s after the last action"
            ),
            [_, _, _, _] => "lambda, duty, volts and speed have not settled".into(),
            not => format!(
                "{} not settled, the rest {slowest:.0} s after the last action",
                not.join(" and ")
            ),
        };
        format!("{name}: {between}; {settled}")
    }
}

/// What a run ends with, as the table has it.
fn ends_at(state: &State) -> Option<String> {
    let shown = |name: &str| {
        let reading = Reading::find(name)?;
        Some(fixed(reading.value(state)?, reading.decimals))
    };
    let (lambda, duty, volts) =
        (shown("lambda")?, shown("duty_percent")?, shown("potentiometer_v")?);
    Some(format!("ends at lambda {lambda}, duty {duty} %, {volts} V"))
}

/// The banded reading that a column of an end belongs to.
fn banded_name(column: &str) -> Option<&'static str> {
    let name = column.strip_suffix("_low").or_else(|| column.strip_suffix("_high"))?;
    BANDED.into_iter().find(|banded| *banded == name)
}

/// Most dwells that go without a table of their own.
const DWELLS_TOLD: usize = 3;
