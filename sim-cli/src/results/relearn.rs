//! What the controller learned start by start after the battery was off.

use crate::by_name::ByName;
use crate::cautions::DRIVING;
use crate::report::{Cell, Column, Fit, Found, Report, Table};
use crate::scenario::Scenario;
use crate::text::plain;
use serde::{Serialize, Serializer};
use sim_core::control::cells::{CELLS, Cells};
use sim_core::drive::Drive;
use sim_core::relearn::{DriveOutcome, PartFelt, Relearn, UnsettledReason};
use sim_core::run::start::flows_at_rest;
use sim_core::sense::faults::Lambda;
use sim_core::units::{Unit, ZERO_CELSIUS_K};
use std::rc::Rc;

/// Drives, worked out.
pub struct Learned {
    /// The engine.
    pub scenario: Scenario,
    /// The drive after each start.
    pub drive: Drive,
    /// What was learned.
    pub found: Relearn,
    /// The cells before the first drive.
    pub first: Cells,
    /// How long the battery was off (s), and whether the memory kept its cells.
    pub battery: (f64, bool),
    /// The command, canonically.
    pub command: String,
}

/// What was learned as the JSON object it is.
#[derive(Serialize)]
struct LearnedRecord<'a> {
    fuel_flows_at_rest: bool,
    canonical_command: &'a str,
    conditions: &'a Scenario,
    memory_kept: bool,
    memory: ByName<f64>,
    drive: ByName<f64>,
    cell_centres_kg_h: [f64; CELLS],
    cells_before_ma: [f64; CELLS],
    cells_asked_for_ma: [Option<f64>; CELLS],
    #[serde(serialize_with = "starts")]
    starts: &'a [DriveOutcome],
    settled_at_start: Option<usize>,
    reason: Option<String>,
}

/// A start and its drive as the JSON object they are.
#[derive(Serialize)]
struct StartRecord {
    start: usize,
    cells_ma: [f64; CELLS],
    cov_percent: Option<f64>,
    fuel_kg: Option<f64>,
    /// How often the starter was turned until the engine ran; 0 by the averaged model.
    tries: u32,
    stalls: u32,
    stalled_because: Option<String>,
    surge_rpm: Option<f64>,
    least_rpm: Option<f64>,
    worst_cov_percent: Option<f64>,
    leanest_lambda: Option<f64>,
    idle: Option<ByName<f64>>,
    cruise: Option<ByName<f64>>,
    load: Option<ByName<f64>>,
    learned_s: [f64; CELLS],
    given_up: bool,
}

impl StartRecord {
    fn all(starts: &[DriveOutcome]) -> impl Iterator<Item = StartRecord> {
        starts.iter().enumerate().map(|(i, start)| StartRecord {
            start: i + 1,
            cells_ma: ma(start.cells_a),
            cov_percent: start.cov.map(|cov| 100.0 * cov),
            // The averaged model burns none.
            fuel_kg: Some(start.fuel_kg).filter(|kg| kg.is_finite()),
            tries: start.tries,
            stalls: start.stalls,
            stalled_because: start.stalled_because.map(|cause| cause.sentence()),
            surge_rpm: start.surge_rad_s.map(|speed| Unit::Rpm.from_si(speed)),
            least_rpm: start.least_rad_s.map(|speed| Unit::Rpm.from_si(speed)),
            worst_cov_percent: start.worst_cov.map(|cov| 100.0 * cov),
            leanest_lambda: start.leanest_lambda,
            idle: start.idle.map(part),
            cruise: start.cruise.map(part),
            load: start.load.map(part),
            learned_s: start.learned_s,
            given_up: start.given_up,
        })
    }
}

fn starts<S: Serializer>(starts: &[DriveOutcome], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(StartRecord::all(starts))
}

/// What is felt of a part of a drive, by name.
fn part(felt: PartFelt) -> ByName<f64> {
    ByName(vec![
        ("cov_percent", 100.0 * felt.cov),
        ("worst_cov_percent", 100.0 * felt.worst_cov),
        ("leanest_lambda", felt.leanest_lambda),
        ("richest_lambda", felt.richest_lambda),
    ])
}

fn ma(cells_a: [f64; CELLS]) -> [f64; CELLS] {
    cells_a.map(|added| (added * 1e9).round() / 1e6)
}

impl Serialize for Learned {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (found, memory) = (&self.found, &self.scenario.setup.rig.parts().memory);
        let (off_s, kept) = self.battery;
        LearnedRecord {
            fuel_flows_at_rest: flows_at_rest(&self.scenario.setup),
            canonical_command: &self.command,
            conditions: &self.scenario,
            memory_kept: kept,
            memory: ByName(vec![
                ("battery_off_s", off_s),
                ("voltage_v", memory.voltage_v(off_s)),
                ("keeps_for_s", memory.keeps_for_s()),
                ("share_that_keeps_percent", 100.0 * memory.share_that_keeps(off_s)),
            ]),
            drive: ByName(vec![
                ("lasts_s", self.drive.lasts_s()),
                ("length_km", self.drive.length_km()),
            ]),
            cell_centres_kg_h: self.first.centre_kg_s.map(|centre| 3600.0 * centre),
            cells_before_ma: ma(self.first.added_a),
            cells_asked_for_ma: found.wanted_a.map(|wanted| wanted.map(|a| 1e3 * a)),
            starts: &found.starts,
            settled_at_start: found.settled_at,
            reason: found.why.as_ref().map(why),
        }
        .serialize(serializer)
    }
}

impl Found for Learned {
    fn table(&self) -> Table {
        let cells: Vec<String> = (1..=CELLS).map(|i| format!("cell_{i}_ma")).collect();
        let rest = ["cov_percent", "fuel_kg", "stalls"];
        let felt = ["surge_rpm", "least_rpm", "worst_cov_percent", "leanest_lambda"];
        let names =
            ["start"].into_iter().chain(cells.iter().map(String::as_str)).chain(rest).chain(felt);
        let row = |start: StartRecord| {
            let mut row = vec![Some(start.start as f64)];
            row.extend(start.cells_ma.map(Some));
            row.extend([start.cov_percent, start.fuel_kg, Some(f64::from(start.stalls))]);
            row.extend([start.surge_rpm, start.least_rpm]);
            row.extend([start.worst_cov_percent, start.leanest_lambda]);
            row.into_iter().map(Cell::Number).collect()
        };
        let rows = StartRecord::all(&self.found.starts).map(row).collect();
        Table::new(Column::named(names), rows)
    }
}

/// Why the cells do not settle, in a sentence.
fn why(why: &UnsettledReason) -> String {
    match why {
        UnsettledReason::NoSensor(Lambda::Cold) => {
            "lambda sensor cold: its tip never gets hot, the loop stays open and nothing is learned".into()
        }
        UnsettledReason::NoSensor(_) => {
            "lambda sensor dead: the loop stays open and nothing is learned".into()
        }
        UnsettledReason::TrimOff => "the trim is off: nothing is learned".into(),
        UnsettledReason::Forced => "a current is forced through the actuator: nothing is learned".into(),
        UnsettledReason::TakenForCold(seen_k) => format!(
            "coolant sensor: the controller takes the engine for {:.0} degC, too cold to close the loop; nothing is learned",
            seen_k - ZERO_CELSIUS_K
        ),
        UnsettledReason::CannotBeDriven => {
            "at this setting the engine cannot be driven: it does not start again or stalls again and again".into()
        }
        UnsettledReason::TooFewStarts => "not settled within these starts".into(),
        UnsettledReason::NoIdleSwitch => {
            "the idle switch never closes: the cell of the idle learns nothing".into()
        }
        UnsettledReason::NothingSteady => {
            "no flow is held steadily enough to learn from in this drive".into()
        }
    }
}

impl Learned {
    /// Whether no cell moves from the first start on.
    fn stands(&self) -> bool {
        self.found.starts.iter().all(|start| start.cells_a == self.first.added_a)
    }

    /// Whether a cell ends at its limit.
    fn at_limit(&self) -> bool {
        let last = self.found.starts.last().map(|start| start.cells_a);
        last.is_some_and(|added_a| Cells { added_a, ..self.first }.at_limit())
    }

    /// What was learned, in a sentence.
    pub fn finding(&self) -> String {
        let (off_s, kept) = self.battery;
        let memory = if kept { "keeps" } else { "loses" };
        let start = format!("{} s without battery: the memory {memory} its cells", plain(off_s));
        match (&self.found.why, self.found.settled_at) {
            (Some(UnsettledReason::TooFewStarts), _) if self.stands() => {
                format!("{start}; they do not move in these starts")
            }
            (Some(reason), _) => format!("{start}; {}", why(reason)),
            (None, Some(n)) if self.at_limit() => {
                format!(
                    "{start}; they stand from start {n} on, with a cell at its limit of {:.0} mA",
                    1e3 * self.first.limit_a
                )
            }
            (None, Some(n)) => format!("{start}; they stand from start {n} on"),
            (None, None) => start,
        }
    }
}

/// Columns of what is felt of a drive.
const FELT: usize = 9;

/// The report of drives.
pub fn report(learned: &Rc<Learned>) -> Report {
    let mut report = Report::of("relearn", learned.clone());
    report.note_idle_flags(&learned.scenario);
    report.warn_at_rest(&learned.scenario);
    let (found, memory) = (&learned.found, &learned.scenario.setup.rig.parts().memory);
    report.heading(learned.finding());
    if let Some(first) = found.starts.first().filter(|start| start.tries > 1) {
        let end = if first.given_up { "and it was given up" } else { "until it ran" };
        report.say(format!("The first start took {} tries of the starter {end}.", first.tries));
    }
    report.say(learned.scenario.words().replace("warm point", "driven"));
    report.say(format!(
        "Each start is followed by {:.1} min and {:.1} km of driving.",
        learned.drive.lasts_s() / 60.0,
        learned.drive.length_km()
    ));
    report.in_full(|report| report.say(format!(
        "The capacitor keeps the memory for {:.0} s. Parts differ: after 10 s {:.0} % of them still keep it, after 30 s {:.0} %, after 60 s {:.1} %.",
        memory.keeps_for_s(),
        100.0 * memory.share_that_keeps(10.0),
        100.0 * memory.share_that_keeps(30.0),
        100.0 * memory.share_that_keeps(60.0)
    )));
    let mut columns = vec![Column::new("start", "start", "", 0)];
    for centre in learned.first.centre_kg_s {
        let label = format!("{:.0} kg/h", 3600.0 * centre);
        columns.push(Column::new(&label, &label, "mA", 1));
    }
    // The averaged model runs no engine that could be rough, burn fuel or stall.
    let driven = found.starts.iter().any(|start| start.fuel_kg.is_finite());
    if driven {
        columns.push(Column::new("rough", "idle: rough", "%", 1));
        columns.push(Column::new("worst", "at worst", "%", 1));
        columns.push(Column::new("surge", "surge", "rpm", 0));
        columns.push(Column::new("cruise_rough", "cruise: rough", "%", 1));
        columns.push(Column::new("cruise_worst", "at worst", "%", 1));
        columns.push(Column::new("load_richest", "load: richest", "", 2));
        columns.push(Column::new("leanest", "leanest", "", 2));
        columns.push(Column::new("fuel", "fuel", "kg", 2));
        columns.push(Column::new("stalls", "stalls", "", 0));
    }
    let row = |label: String, cells: [Option<f64>; CELLS], rest: [Option<f64>; FELT]| {
        let mut row = vec![Cell::Word(label)];
        row.extend(cells.map(|a| Cell::Number(a.map(|a| 1e3 * a))));
        row.extend(rest.map(Cell::Number).into_iter().take(if driven { FELT } else { 0 }));
        row
    };
    let mut rows = vec![row("to begin with".into(), learned.first.added_a.map(Some), [None; FELT])];
    let count = found.starts.len();
    for (i, start) in found.starts.iter().enumerate() {
        let n = i + 1;
        if n <= 5 || n % 5 == 0 || n == count {
            let fuel = Some(start.fuel_kg).filter(|kg| kg.is_finite());
            let percent = |cov: Option<f64>| cov.map(|cov| 100.0 * cov);
            let rest = [
                percent(start.cov),
                percent(start.worst_cov),
                start.surge_rad_s.map(|speed| Unit::Rpm.from_si(speed)),
                percent(start.cruise.map(|felt| felt.cov)),
                percent(start.cruise.map(|felt| felt.worst_cov)),
                start.load.map(|felt| felt.richest_lambda),
                start.load.map(|felt| felt.leanest_lambda),
                fuel,
                Some(f64::from(start.stalls)),
            ];
            rows.push(row(n.to_string(), start.cells_a.map(Some), rest));
        }
    }
    rows.push(row("asked for".into(), found.wanted_a, [None; FELT]));
    // What is felt, then what is learned.
    let cells = columns[1..=CELLS].iter().map(|column| column.name.clone()).collect::<Vec<_>>();
    let felt = ["start", "rough", "surge", "stalls"].into_iter();
    let short: Vec<&str> = felt.chain(cells.iter().map(String::as_str)).collect();
    report.table(Table::new(columns, rows).short_columns(&short).fitted(Fit::Spread));
    report.note("Cells: currents added to the base current, one for each range of air flow, stored at key-off. A screw that is off needs another current at each air flow: much at idle, little under load. Asked for: what the middle of each range needs. A cell ends near it, at its limit, or where it was if the drive does not visit it.");
    if driven {
        report.note("A row's cells are those stored at the end of its drive: what is felt comes from the cells of the row before. Rough: mean COV of the idle. At worst: its roughest second, mostly right after the start, while the loop is open and the stored cells stand alone. Later the loop corrects what the cells lack, and hides it. Surge: standard deviation of the idle speed. Cruise: at a steady speed. Load: richest and leanest second while the car gathers speed. There the air flow changes from cell to cell faster than the loop can follow, and a wrong cell is felt: a flat spot, or a pull that is too rich.");
    }
    report.note("Cells, dead band, limits and steps are our own: 20 mA after a reset, 14 % less with each start, 0.4 mA at the least. The trade's 20 to 40 starts are common practice, no source. The vehicle is invented.");
    report.cautions = DRIVING.to_vec();
    report
}
