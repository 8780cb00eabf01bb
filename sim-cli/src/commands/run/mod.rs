//! `run`: the engine in time, through a procedure.

mod dwells;
mod waits;

use super::Command;
use super::asked::{
    SEED_MOST, WHOLE, load_procedure, number_of, on_or_off, optional_arg, procedure_arg, value_arg,
    whole_within, within,
};
use crate::args::{with_chart, with_output};
use crate::cautions::of_setups;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{
    Block, Cell, Column, Report, Table, number, point_value, trace_columns, trace_row, trace_value,
};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::{fixed, key_words, plain};
use clap::{Arg, ArgAction, ArgMatches};
use serde_json::{Map, Value, json};
use sim_core::conditions::{Conditions, Trim};
use sim_core::point::{Outcome, Point, READINGS, Stall};
use sim_core::rig::keys::Key;
use sim_core::run::attribution::{Attribution, FACTORS, attribute};
use sim_core::run::procedure::{Action, PULSATION_MOST_PERCENT, Procedure, Value as Setting};
use sim_core::run::record::{Record, perform};
use sim_core::run::{Options, TICK_S};
use sim_core::units::Unit;

pub const COMMAND: Command = Command {
    name: "run",
    group: "watch",
    about: "The minutes after a move of the screw: a procedure run in time, every meter traced",
    example: "quarterturn run --procedure throttle-release --every-ms 500",
    args,
    report,
};

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(procedure_arg())
        .arg(value_arg("seed", "NUMBER", "1", "seed of the noise, where there is any"))
        .arg(value_arg(
            "every-ms",
            "MS",
            "100",
            "time from row to row of the trace, in steps of 10",
        ))
        .arg(optional_arg("noise", "on|off", "scatter of the cycles' torque [the procedure's]"))
        .arg(optional_arg(
            "pulsation-percent",
            "PERCENT",
            "amplitude of the intake's pulsation at the plate, of the flow [the procedure's]",
        ))
        .arg(
            Arg::new("blame")
                .long("blame")
                .action(ArgAction::SetTrue)
                .help("run again with each part in turn made quick: what each wait is owed to"),
        );
    let command = with_output(with_chart(with_conditions(command, &Conditions::closed_loop())));
    let example = command.get_after_help().map(ToString::to_string).unwrap_or_default();
    command.after_help(format!("{example}\n\n{FILE}"))
}

/// What a procedure's file looks like.
const FILE: &str = r#"A procedure of your own is a text file, as mine.toml:
  name = "mine"
  about = "a thirty-second out, wait, a blip"
  lasts_s = 120
  [[action]]
  at_s = 10
  turn = "-1/32"
  [[action]]
  at_s = 60
  blip = 2500
Actions: turn (turns), blip (rpm), throttle (%) with speed_rpm, unplug and plug ("lambda",
"actuator"), fit (mm of the air valve), set ("KEY=VALUE"), fail ("SENSOR=MODE"), wait (s)."#;

/// A run, worked out.
pub struct Run {
    /// The engine it started with.
    pub engine: Scenario,
    /// What was done.
    pub procedure: Procedure,
    /// What was written down.
    pub record: Record,
    /// Whether noise or pulsation shook it.
    pub shaken: bool,
    /// What the waits are owed to, if that was asked.
    pub blame: Option<Attribution>,
    /// The command, canonically.
    pub command: String,
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let (seed, every_ms) = (number_of(matches, "seed")?, number_of(matches, "every-ms")?);
    let pulsation_percent = match matches.contains_id("pulsation-percent") {
        true => Some(number_of(matches, "pulsation-percent")?),
        false => None,
    };
    let noise = on_or_off(matches, "noise", "--noise")?;
    let ask = EngineArgs::read(matches)?;
    let asked = matches.get_one::<String>("procedure").map_or("", String::as_str);
    let engine = ask.load(Conditions::closed_loop())?;
    let (procedure, own_file) =
        load_procedure(asked, engine.setup.rig.parts().controller.limit_rad_s)?;
    let seed = whole_within("--seed", seed, (0.0, SEED_MOST), WHOLE)?;
    let every_ms = whole_within("--every-ms", every_ms, (10.0, 60_000.0), "ms, whole")?;
    let every = (every_ms / (1e3 * TICK_S)).round().max(1.0) as u64;
    if let Some(percent) = pulsation_percent {
        within("--pulsation-percent", percent, (0.0, PULSATION_MOST_PERCENT), "%")?;
    }
    let options = Options {
        seed: seed as u64,
        torque_noise: noise.unwrap_or(procedure.noise),
        pulsation: pulsation_percent.map_or(procedure.pulsation, |percent| 0.01 * percent),
        ..Options::default()
    };
    let seek = matches.get_flag("blame");
    let runs = if seek { FACTORS.len() + 2 } else { 1 } as f64;
    let first = |share: f64| progress.show(share / runs);
    let error = |fault| Error::Run { fault };
    let record = perform(&engine.setup, &procedure, options, every, first).map_err(error)?;
    let blame = if seek {
        let rest = |share: f64| progress.show((1.0 + share * (runs - 1.0)) / runs);
        attribute(&engine.setup, &procedure, options, rest).map_err(error)?
    } else {
        None
    };
    let mut command = String::from("quarterturn run --procedure ");
    command += &if own_file { format!("<{}, from a file>", procedure.name) } else { asked.into() };
    if let Some(noise) = noise.filter(|noise| *noise != procedure.noise) {
        command += if noise { " --noise on" } else { " --noise off" };
    }
    if options.torque_noise && seed != 1.0 {
        command += &format!(" --seed {seed}");
    }
    if let Some(percent) = pulsation_percent.filter(|p| 0.01 * p != procedure.pulsation) {
        command += &format!(" --pulsation-percent {}", plain(percent));
    }
    if seek {
        command += " --blame";
    }
    if every_ms != 100.0 {
        command += &format!(" --every-ms {every_ms}");
    }
    command += &engine.flags;
    let shaken = options.torque_noise || options.pulsation > 0.0;
    let run = Run { engine, procedure, record, shaken, blame, command };
    let mut report = Report::new("run");
    run.engine.render_hazard(&mut report);
    values(&mut report, &run);
    render(&mut report, &run);
    if matches.get_one::<String>("chart").is_some() {
        report.chart = Some(crate::chart::run::picture(&run));
    }
    Ok(report)
}

/// The last point of a run.
fn last(run: &Run) -> Point {
    let record = &run.record;
    let screw_turns = record.rows.last().map_or(0.0, |row| row.screw_turns);
    let stalled = Stall::TooSlow {
        limit: None,
        stall_rad_s: run.engine.setup.rig.parts().controller.stall_rad_s,
        best_rad_s: record.speed_range_rad_s.0,
        lambda: 0.0,
        short_pa: 0.0,
    };
    let stalled = record.no_start.unwrap_or(stalled);
    let outcome = record.last.map_or(Outcome::Stalled(stalled), Outcome::Running);
    Point { screw_turns, outcome }
}

fn values(report: &mut Report, run: &Run) {
    let record = &run.record;
    report.put("canonical_command", json!(run.command));
    report.put("conditions", run.engine.value());
    report.put("procedure", json!({"name": run.procedure.name, "about": run.procedure.about, "lasts_s": run.procedure.lasts_s}));
    let mut settled = Map::new();
    for (reading, after) in READINGS.iter().zip(&record.settled_after_s) {
        settled.insert(reading.name.into(), number(*after));
    }
    let rpm = |rad_s: f64| Unit::Rpm.from_si(rad_s);
    let mut at_the_end = point_value(&last(run));
    if let (Some(at), None, Value::Object(object)) =
        (record.stalled_at_s, record.no_start, &mut at_the_end)
    {
        object.insert("reason".into(), json!(format!("stalled {at:.2} s after the start")));
    }
    report.put(
        "summary",
        json!({
            "settled_after_s": settled,
            "lowest_rpm": rpm(record.speed_range_rad_s.0),
            "highest_rpm": rpm(record.speed_range_rad_s.1),
            "stalled_at_s": number(record.stalled_at_s),
            "learned_trim_settled_after_s": number(record.learned_settled_after_s),
            "swing_s": number(record.swing_s),
            "last_action_s": record.last_action_s,
            "mass_error": record.mass_error,
            "final": at_the_end,
        }),
    );
    report.put("dwells", record.dwells.iter().map(|dwell| dwells::value(run, dwell)).collect());
    if let Some(blame) = &run.blame {
        report.put("blame", waits::value(blame));
    }
    report.put("trace", record.rows.iter().map(trace_value).collect());
    report.rows =
        Table { columns: trace_columns(), rows: record.rows.iter().map(trace_row).collect() };
}

/// An action in words.
pub fn action_words(action: &Action) -> String {
    let rpm = |rad_s: &f64| format!("{:.0} rpm", Unit::Rpm.from_si(*rad_s));
    match action {
        Action::Turn(by) => {
            let side = if *by > 0.0 { "in, richer" } else { "out, leaner" };
            format!("screw {} turn {side}", crate::text::turns_typed(by.abs()))
        }
        Action::Blip(speed) => format!("blip to {}", rpm(speed)),
        Action::Throttle(share, _) if *share <= 0.0 => "foot off".into(),
        Action::Throttle(share, speed) => {
            format!("throttle {:.0} %, braked at {}", 100.0 * share, rpm(speed))
        }
        Action::PlugSensor(true) => "lambda sensor plugged in".into(),
        Action::PlugSensor(false) => "lambda sensor unplugged".into(),
        Action::PlugActuator(true) => "actuator plugged in".into(),
        Action::PlugActuator(false) => "actuator unplugged".into(),
        Action::Fail(sensor, mode) => format!("{sensor} fails: {mode}"),
        Action::Set(name, value) => {
            let key = Key::find(name);
            let words = key.map_or(name.to_string(), key_words);
            let unit = key.map_or("", |key| key.unit.symbol());
            match value {
                Setting::Number(number) => format!("{words} {} {unit}", plain(*number)),
                Setting::Word(word) => format!("{words} {word}"),
            }
            .trim_end()
            .to_string()
        }
        Action::Wait => "wait".into(),
    }
}

impl Run {
    /// What happened, in a sentence.
    pub fn finding(&self) -> String {
        let record = &self.record;
        let rpm = |rad_s: f64| format!("{:.0} rpm", Unit::Rpm.from_si(rad_s));
        if record.no_start.is_some() {
            return format!("{}: the engine does not run to begin with", self.procedure.name);
        }
        if let Some(at) = record.stalled_at_s {
            return format!("{}: the engine stalls after {at:.1} s", self.procedure.name);
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

fn render(report: &mut Report, run: &Run) {
    let record = &run.record;
    report.blocks.push(Block::Heading(run.finding()));
    report.say(run.engine.words().replace("warm point", "running"));
    for step in &run.procedure.steps {
        report.say(format!("  at {:6.1} s  {}", step.at_s, action_words(&step.action)));
    }
    let columns = ["reading", "at the start", "at the end", "unit", "settled after"];
    let mut table = Table {
        columns: columns.map(|name| Column::new(name, name, "", 0)).to_vec(),
        rows: Vec::new(),
    };
    for (reading, after) in READINGS.iter().zip(&record.settled_after_s) {
        let value = |state: Option<&sim_core::point::State>| {
            state
                .and_then(|state| reading.value(state))
                .map_or("-".to_string(), |value| fixed(value, reading.decimals))
        };
        let first = record.rows.first().and_then(|row| row.state.as_ref());
        let settled = match after {
            Some(s) if *s > 0.0 => format!("{s:.1} s"),
            Some(_) => "at once".into(),
            None => "not yet".into(),
        };
        if ["residual", "wanted_ma", "wanted_duty_percent"].contains(&reading.name) {
            continue;
        }
        table.rows.push(
            [
                reading.label,
                &value(first),
                &value(record.last.as_ref()),
                reading.unit.symbol(),
                &settled,
            ]
            .map(|text| Cell::Word(text.to_string()))
            .to_vec(),
        );
    }
    report.blocks.push(Block::Table(table));
    if record.dwells.len() > 3 {
        dwells::render(report, run);
    }
    if let Some(blame) = &run.blame {
        waits::render(report, blame);
    }
    if let Some(why) = &record.no_start {
        report.notes.push(format!("Stalled from the start: {}.", crate::text::stall(why)));
    }
    report.notes.push("Settled: within 0.5 % of its range of its final value from then on, counted from the last action; where the trim swings, a mean over the whole swings nearest 2 s.".into());
    report.notes.push("What each wait is owed to: --blame. What goes on for minutes here is only that the fast idle trim takes over from the two-point trim, in a time of our choice (key fast_trim_s), which no meter shows. Heat of manifold, exhaust and sensor is left out.".into());
    if run.engine.setup.conditions.trim == Trim::On {
        report.notes.push("Lambda sensor: at the start what it shows at the very mixture that is held, on its steep flank; from then on the mean of its swing between rich and lean, which tells as little.".into());
    }
    let mut setups = vec![run.engine.setup];
    for step in &run.procedure.steps {
        let mut setup = run.engine.setup;
        match &step.action {
            Action::Set(key, value) if value.give(key, &mut setup).is_ok() => setups.push(setup),
            Action::Throttle(share, _) => {
                setup.conditions.throttle = *share;
                setups.push(setup);
            }
            _ => {}
        }
    }
    report.cautions = of_setups(&setups.iter().collect::<Vec<_>>(), &[]);
}
