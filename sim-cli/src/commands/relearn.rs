//! `relearn`: battery off, then start by start what the controller learns again.

use super::Command;
use super::asked::{SEED_MOST, WHOLE, number_of, value_arg, whole_within, within};
use crate::args::{with_chart, with_output};
use crate::cautions::DRIVING;
use crate::error::Error;
use crate::files::read_text;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::plain;
use clap::{Arg, ArgAction, ArgMatches};
use serde_json::json;
use sim_core::conditions::Conditions;
use sim_core::control::cells::{CELLS, Cells};
use sim_core::drive::{Drive, engine_demand};
use sim_core::relearn::{Relearn, UnsettledReason, first_cells, relearn};
use sim_core::run::Options;
use sim_core::sense::faults::Lambda;
use sim_core::units::ZERO_CELSIUS_K;

pub const COMMAND: Command = Command {
    name: "relearn",
    group: "start",
    about: "Battery off, then start by start: what the controller learns again, and how long",
    example: "quarterturn relearn --starts 3 --minutes 5 --battery-off-s 60",
    args,
    report,
};

/// Least and largest of the flags' numbers.
const STARTS: (f64, f64) = (1.0, 500.0);
/// See [`STARTS`].
const OFF_S: (f64, f64) = (0.0, 1e6);
/// See [`STARTS`].
const MINUTES: (f64, f64) = (4.0, 60.0);

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(value_arg("starts", "NUMBER", "40", "how many drives, each from a start"))
        .arg(value_arg("battery-off-s", "S", "60", "how long the battery was off before"))
        .arg(value_arg("minutes", "MIN", "20", "length of each drive of urban cycles"))
        .arg(value_arg("seed", "NUMBER", "1", "seed of the scatter of the cycles' torque"))
        .arg(
            Arg::new("drive")
                .long("drive")
                .value_name("FILE")
                .help("a CSV of time_s,speed_kmh instead of urban cycles"),
        )
        .arg(
            Arg::new("averaged")
                .long("averaged")
                .action(ArgAction::SetTrue)
                .help("the quick averaged model instead of the engine in time"),
        );
    with_output(with_chart(with_conditions(command, &Conditions::closed_loop())))
}

/// Drives, worked out.
pub struct Learned {
    /// The engine.
    pub engine: Scenario,
    /// What was learned.
    pub found: Relearn,
    /// The cells before the first drive.
    pub first: Cells,
    /// How long the battery was off (s), and whether the memory kept its cells.
    pub battery: (f64, bool),
    /// The command, canonically.
    pub command: String,
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let [starts, off_s, minutes, seed] =
        ["starts", "battery-off-s", "minutes", "seed"].map(|name| number_of(matches, name));
    let (starts, off_s, minutes, seed) = (starts?, off_s?, minutes?, seed?);
    let ask = EngineArgs::read(matches)?;
    let file = matches.get_one::<String>("drive");
    let drive = match file {
        None => None,
        Some(path) => Some(
            Drive::parse(&read_text(path)?)
                .map_err(|fault| Error::DriveFile { path: path.clone(), fault: Box::new(fault) })?,
        ),
    };
    let engine = ask.load(Conditions::closed_loop())?;
    let starts = whole_within("--starts", starts, STARTS, WHOLE)?;
    let off_s = within("--battery-off-s", off_s, OFF_S, "s")?;
    let minutes = within("--minutes", minutes, MINUTES, "min")?;
    let seed = whole_within("--seed", seed, (0.0, SEED_MOST), WHOLE)?;
    let averaged = matches.get_flag("averaged");
    let mut command = String::from("quarterturn relearn");
    for (flag, value, default) in
        [("starts", starts, 40.0), ("battery-off-s", off_s, 60.0), ("minutes", minutes, 20.0)]
    {
        if value != default {
            command += &format!(" --{flag} {}", plain(value));
        }
    }
    if seed != 1.0 && !averaged {
        command += &format!(" --seed {seed}");
    }
    if file.is_some() {
        command += " --drive <from a file>";
    }
    if averaged {
        command += " --averaged";
    }
    command += &engine.flags;
    let drive = drive.unwrap_or_else(|| Drive::urban(60.0 * minutes));
    let moments = engine_demand(&engine.setup, &drive);
    let kept = engine.setup.rig.parts().memory.keeps(off_s);
    let first = first_cells(&engine.setup, kept, &moments);
    let options = Options { seed: seed as u64, torque_noise: !averaged, ..Options::default() };
    let found =
        relearn(&engine.setup, first, &moments, (starts as usize, !averaged), options, |share| {
            progress.show(share)
        })
        .map_err(|fault| Error::Run { fault })?;
    let learned = Learned { engine, found, first, battery: (off_s, kept), command };
    let mut report = Report::new("relearn");
    learned.engine.render_hazard(&mut report);
    values(&mut report, &learned, &drive);
    render(&mut report, &learned, &drive);
    if matches.get_one::<String>("chart").is_some() {
        report.chart = Some(crate::chart::relearn::picture(&learned));
    }
    Ok(report)
}

fn ma(cells_a: [f64; CELLS]) -> Vec<f64> {
    cells_a.iter().map(|added| (added * 1e9).round() / 1e6).collect()
}

fn values(report: &mut Report, learned: &Learned, drive: &Drive) {
    let (found, memory) = (&learned.found, &learned.engine.setup.rig.parts().memory);
    let (off_s, kept) = learned.battery;
    report.put("canonical_command", json!(learned.command));
    report.put("conditions", learned.engine.value());
    report.put("memory_kept", json!(kept));
    report.put(
        "memory",
        json!({
            "battery_off_s": off_s,
            "voltage_v": memory.voltage_v(off_s),
            "keeps_for_s": memory.keeps_for_s(),
            "share_that_keeps_percent": 100.0 * memory.share_that_keeps(off_s),
        }),
    );
    report.put("drive", json!({"lasts_s": drive.lasts_s(), "length_km": drive.length_km()}));
    report.put("cell_centres_kg_h", json!(learned.first.centre_kg_s.map(|c| 3600.0 * c)));
    report.put("cells_before_ma", json!(ma(learned.first.added_a)));
    let wanted = found.wanted_a.map(|a| number(a.map(|a| 1e3 * a)));
    report.put("cells_asked_for_ma", json!(wanted));
    let starts = found.starts.iter().enumerate().map(|(i, start)| {
        json!({
            "start": i + 1,
            "cells_ma": ma(start.cells_a),
            "cov_percent": number(start.cov.map(|cov| 100.0 * cov)),
            "fuel_kg": number(Some(start.fuel_kg)),
            "stalls": start.stalls,
            "learned_s": start.learned_s,
            "given_up": start.given_up,
        })
    });
    report.put("starts", starts.collect());
    report.put("settled_at_start", json!(found.settled_at));
    report.put("reason", json!(found.why.as_ref().map(why)));
    let names = ["start", "cell_1_ma", "cell_2_ma", "cell_3_ma", "cell_4_ma"];
    let mut columns: Vec<Column> = names.map(|name| Column::new(name, name, "", 3)).to_vec();
    columns.extend(["cov_percent", "fuel_kg", "stalls"].map(|name| Column::new(name, name, "", 3)));
    let rows = found.starts.iter().enumerate().map(|(i, start)| {
        let mut row = vec![Cell::Number(Some((i + 1) as f64))];
        row.extend(ma(start.cells_a).into_iter().map(|a| Cell::Number(Some(a))));
        row.push(Cell::Number(start.cov.map(|cov| 100.0 * cov)));
        row.push(Cell::Number(Some(start.fuel_kg).filter(|kg| kg.is_finite())));
        row.push(Cell::Number(Some(f64::from(start.stalls))));
        row
    });
    report.rows = Table { columns, rows: rows.collect() };
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

fn render(report: &mut Report, learned: &Learned, drive: &Drive) {
    let (found, memory) = (&learned.found, &learned.engine.setup.rig.parts().memory);
    report.blocks.push(Block::Heading(learned.finding()));
    report.say(learned.engine.words().replace("warm point", "driven"));
    report.say(format!(
        "Each start is followed by {:.1} min and {:.1} km of driving.",
        drive.lasts_s() / 60.0,
        drive.length_km()
    ));
    report.say(format!(
        "The memory lives on its capacitor for {:.0} s; over parts 10 s keep it in {:.0} %, 30 s in {:.0} %, 60 s in {:.1} %.",
        memory.keeps_for_s(),
        100.0 * memory.share_that_keeps(10.0),
        100.0 * memory.share_that_keeps(30.0),
        100.0 * memory.share_that_keeps(60.0)
    ));
    let mut columns = vec![Column::new("start", "start", "", 0)];
    for centre in learned.first.centre_kg_s {
        let label = format!("{:.0} kg/h", 3600.0 * centre);
        columns.push(Column::new(&label, &label, "mA", 1));
    }
    // The averaged model runs no engine that could be rough, burn fuel or stall.
    let driven = found.starts.iter().any(|start| start.fuel_kg.is_finite());
    if driven {
        columns.push(Column::new("rough", "rough", "%", 1));
        columns.push(Column::new("fuel", "fuel", "kg", 2));
        columns.push(Column::new("stalls", "stalls", "", 0));
    }
    let row = |label: String, cells: [Option<f64>; CELLS], rest: [Option<f64>; 3]| {
        let mut row = vec![Cell::Word(label)];
        row.extend(cells.map(|a| Cell::Number(a.map(|a| 1e3 * a))));
        row.extend(rest.map(Cell::Number).into_iter().take(if driven { 3 } else { 0 }));
        row
    };
    let mut rows = vec![row("to begin with".into(), learned.first.added_a.map(Some), [None; 3])];
    let count = found.starts.len();
    for (i, start) in found.starts.iter().enumerate() {
        let n = i + 1;
        if n <= 5 || n % 5 == 0 || n == count {
            let fuel = Some(start.fuel_kg).filter(|kg| kg.is_finite());
            let rest = [start.cov.map(|cov| 100.0 * cov), fuel, Some(f64::from(start.stalls))];
            rows.push(row(n.to_string(), start.cells_a.map(Some), rest));
        }
    }
    rows.push(row("asked for".into(), found.wanted_a, [None; 3]));
    report.blocks.push(Block::Table(Table { columns, rows }));
    report.notes.push("Cells: currents added to the base by air flow, stored at key-off. A screw that is off is a lift, which each air flow needs another current to make good: the cells differ and fade with load. Asked for: what each centre would need; a cell ends there, at its limit, or where it was if the drive does not visit it.".into());
    report.notes.push("Cells, steps (20 mA after a reset, less by 14 % a start, 0.4 mA at the least), dead band and limits are our own; the trade's 20 to 40 starts are common practice, no source. The vehicle is invented.".into());
    report.cautions = DRIVING.to_vec();
}
