//! `predict`: every reading before and after a change.

use super::Command;
use crate::args::{with_chart, with_output};
use crate::cautions::{MISFIRE, MISFIRES, PETROL, of_setups};
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number, point_value};
use crate::scenario::{AT_REST, Change, EngineArgs, changes, with_conditions};
use crate::text::{Direction, direction, effect, fixed, stall};
use clap::{Arg, ArgAction, ArgMatches};
use serde_json::{Map, Value, json};
use sim_core::conditions::Conditions;
use sim_core::point::{Point, READINGS, Reading};
use sim_core::rig::keys::Setup;
use sim_core::steady::SteadyEngine;

pub const COMMAND: Command = Command {
    name: "predict",
    group: "set",
    about: "What every meter shows before and after a change, in numbers and in words",
    example: "quarterturn predict --change screw=-1/16 --change leak_kg_h=1",
    args,
    report,
};

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(
            Arg::new("change")
                .long("change")
                .value_name("KEY=VALUE")
                .action(ArgAction::Append)
                .required(true)
                .allow_hyphen_values(true)
                .help("a key of `quarterturn rig keys` and its new value; several at once"),
        )
        .arg(
            Arg::new("also-fast-idle").long("also-fast-idle").action(ArgAction::SetTrue).help(
                "the same at 2500 rpm without load: valve shut, throttle as far open as needed",
            ),
        );
    with_output(with_chart(with_conditions(command, &Conditions::default())))
}

/// A change and what came of it.
pub struct Prediction {
    /// What was changed, in words.
    pub change: String,
    /// The conditions, in words.
    pub conditions: String,
    /// Before and after, as the conditions ask.
    pub pair: Pair,
    /// The same at the fast idle.
    pub fast: Option<Pair>,
    /// The command, canonically.
    pub command: String,
}

/// A point before and after.
pub struct Pair {
    /// Before.
    pub before: Point,
    /// After.
    pub after: Point,
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let ask = EngineArgs::read(matches)?;
    let changes = changes(matches)?;
    let engine = ask.load(Conditions::default())?;
    let mut after = engine.setup;
    let mut ordered: Vec<&Change> = changes.iter().collect();
    ordered.sort_by_key(|change| change.order());
    for change in ordered {
        change.apply(&mut after)?;
    }
    let before = engine.setup;
    let fast = matches.get_flag("also-fast-idle");
    let typed: String = changes.iter().map(|c| format!(" --change {}", c.typed())).collect();
    let prediction = Prediction {
        change: changes.iter().map(Change::words).collect::<Vec<_>>().join(", "),
        conditions: engine.words(),
        pair: pair(&before, &after),
        fast: fast.then(|| pair(&at_fast_idle(&before), &at_fast_idle(&after))),
        command: format!(
            "quarterturn predict{typed}{}{}",
            if fast { " --also-fast-idle" } else { "" },
            engine.flags
        ),
    };
    let mut report = Report::new("predict");
    report.put("canonical_command", json!(prediction.command));
    report.put("conditions", engine.value());
    report.put("change", json!(changes.iter().map(Change::typed).collect::<Vec<_>>()));
    put_pair(&mut report, &prediction.pair, "");
    if let Some(fast) = &prediction.fast {
        put_pair(&mut report, fast, "_2500");
    }
    render(&mut report, &prediction, &before, &after);
    if matches.get_one::<String>("chart").is_some() {
        report.chart = Some(crate::chart::predict::picture(&prediction));
    }
    Ok(report)
}

fn at_fast_idle(setup: &Setup) -> Setup {
    Setup { conditions: setup.conditions.at_fast_idle(), ..*setup }
}

fn point(setup: &Setup) -> Point {
    SteadyEngine::new(&setup.rig, &setup.conditions).point(setup.conditions.screw_turns)
}

fn pair(before: &Setup, after: &Setup) -> Pair {
    Pair { before: point(before), after: point(after) }
}

impl Pair {
    /// A reading before and after, where the engine runs.
    pub fn values(&self, reading: &Reading) -> (Option<f64>, Option<f64>) {
        let value = |point: &Point| point.state().and_then(|state| reading.value(state));
        (value(&self.before), value(&self.after))
    }
}

fn put_pair(report: &mut Report, pair: &Pair, suffix: &str) {
    report.put(&format!("before{suffix}"), point_value(&pair.before));
    report.put(&format!("after{suffix}"), point_value(&pair.after));
    let mut difference = Map::new();
    let screws = pair.after.screw_turns - pair.before.screw_turns;
    difference.insert("screw_turns".into(), json!(screws));
    for reading in READINGS {
        let (before, after) = pair.values(reading);
        let value = before.zip(after).map(|(before, after)| after - before);
        difference.insert(reading.name.into(), number(value));
    }
    report.put(&format!("difference{suffix}"), Value::Object(difference));
}

fn render(report: &mut Report, prediction: &Prediction, before: &Setup, after: &Setup) {
    report.blocks.push(Block::Heading(format!("Change: {}", prediction.change)));
    report.say(prediction.conditions.as_str());
    let sentences = effect(&prediction.pair.before, &prediction.pair.after, before, after);
    report.put("sentences", json!(sentences));
    for sentence in sentences {
        report.say(format!("  {sentence}"));
    }
    let table = table(&prediction.pair);
    report.rows = table.clone();
    report.blocks.push(Block::Table(table));
    if let Some(fast) = &prediction.fast {
        report.blocks.push(Block::Heading(
            "The same at 2500 rpm without load: valve shut, throttle as far open as needed".into(),
        ));
        report.blocks.push(Block::Table(self::table(fast)));
        report.notes.push("Idle and fast idle should read duties within 10 points of each other (common practice, no source): screw errors show at idle only, pressure and slit errors at both, unmetered air at idle with a lower potentiometer.".into());
    }
    for (word, point) in [("before", &prediction.pair.before), ("after", &prediction.pair.after)] {
        if let Some(why) = point.stall() {
            report.notes.push(format!("Stalled {word}: {}.", stall(why)));
        }
        if point.state().is_some_and(|state| state.flows_at_rest) {
            report.blocks.push(Block::Hazard(format!("{word} the change, {AT_REST}")));
        }
    }
    if after.conditions.altitude_m != before.conditions.altitude_m
        && after.rig.parts().controller.altitude_sensor > 0.5
    {
        report.notes.push("This rig has an altitude sensor; its correction belongs to the running controller and is not in this point, which is uncorrected.".into());
    }
    report.notes.push("Duty above 50 %: the controller adds fuel, the mechanical mixture is lean. A meter whose clips are swapped, and a controller that counts the other way, show 100 minus this. Gas is before the catalyst.".into());
    let states =
        || [&prediction.pair.before, &prediction.pair.after].into_iter().filter_map(|p| p.state());
    let (was, is) = (before.rig.parts(), after.rig.parts());
    let mut found = Vec::new();
    if was.pressures.system_pa != is.pressures.system_pa || was.slits != is.slits {
        found.push(PETROL);
    }
    if states().any(|state| state.misfire > MISFIRES) {
        found.push(MISFIRE);
    }
    report.cautions = of_setups(&[before, after], &found);
}

/// Columns reading, before, after, difference, direction.
fn table(pair: &Pair) -> Table {
    let columns = ["reading", "before", "after", "difference", "unit", "direction"];
    let rows = READINGS
        .iter()
        .filter(|reading| reading.name != "residual")
        .map(|reading| {
            let (before, after) = pair.values(reading);
            let step = 10f64.powi(reading.decimals as i32);
            let text = |value| fixed(value, reading.decimals);
            let shown = |value: Option<f64>| value.map_or("-".to_string(), text);
            let rounded = |value: Option<f64>| text(value?).parse::<f64>().ok();
            // Of the numbers as they stand there: whoever takes one from the other finds it.
            // Adding 0 makes of a minus zero a plain one.
            let difference = rounded(before).zip(rounded(after)).map(|(before, after)| {
                format!("{:+.*}", reading.decimals, ((after - before) * step).round() / step + 0.0)
            });
            let word = match direction(reading, before, after) {
                Direction::Same => "",
                Direction::Words(words) => words,
            };
            [
                reading.label.to_string(),
                shown(before),
                shown(after),
                difference.unwrap_or("-".into()),
                reading.unit.symbol().to_string(),
                word.to_string(),
            ]
            .map(Cell::Word)
            .to_vec()
        })
        .collect();
    Table { columns: columns.map(|name| Column::new(name, name, "", 0)).to_vec(), rows }
}
