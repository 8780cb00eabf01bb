//! `flowstart`: the static setting, and what the rest height does to it.

use super::Command;
use crate::args::{turns, turns_arg, with_output};
use crate::cautions::STANDING;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::scenario::{EngineArgs, with_conditions};
use crate::text::{stall, turns as signed, turns_typed};
use clap::ArgMatches;
use serde_json::json;
use sim_core::conditions::Conditions;
use sim_core::flowstart::{FlowStart, flow_start};
use sim_core::point::Point;

pub const COMMAND: Command = Command {
    name: "flowstart",
    group: "set",
    about: "The static setting: screw to where fuel just flows, back off, and where it will run",
    example: "quarterturn flowstart --back-off 1/4",
    args,
    report,
};

/// Largest way back (turns), either way.
const BACK_OFF_MOST: f64 = 1.0;

fn args(command: clap::Command) -> clap::Command {
    let command =
        command.arg(turns_arg("back-off", "1/4", "how far back from where fuel just flows"));
    with_output(with_conditions(command, &Conditions::default()))
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let back_off = turns(matches, "back-off")?;
    let engine = EngineArgs::read(matches)?.turning_the_screw().load(Conditions::default())?;
    if !(-BACK_OFF_MOST..=BACK_OFF_MOST).contains(&back_off) {
        return Err(Error::NumberOutOfRange {
            flag: "--back-off",
            value: back_off,
            low: -BACK_OFF_MOST,
            high: BACK_OFF_MOST,
            unit: "turns",
        });
    }
    let found = flow_start(&engine.setup, back_off).ok_or(Error::NeverFlows)?;
    let mut report = Report::new("flowstart");
    let range = if back_off == 0.25 {
        String::new()
    } else {
        format!(" --back-off {}", turns_typed(back_off))
    };
    let command = format!("quarterturn flowstart{range}{}", engine.flags);
    report.put("canonical_command", json!(command));
    report.put("conditions", engine.value());
    values(&mut report, &found);
    report.blocks.push(Block::Heading(heading(&found, back_off)));
    report.say(engine.words());
    render(&mut report, &found, back_off);
    engine.note_screw(&mut report);
    report.cautions = STANDING.to_vec();
    Ok(report)
}

fn lambda(point: &Point) -> Option<f64> {
    point.state().map(|state| state.lambda)
}

fn values(report: &mut Report, found: &FlowStart) {
    let mm = |m: f64| 1e3 * m;
    report.put("flow_start_turns", json!(found.flow_start_turns));
    report.put("setting_turns", json!(found.setting_turns));
    report.put("play_mm", json!(mm(found.play_m)));
    report.put("felt_play_mm", json!(mm(found.felt_play_m)));
    report.put("threshold_turns", json!(found.threshold_turns));
    report.put("stream_turns", number(found.stream_turns));
    report.put("zone_after", json!(found.after.zone().word()));
    report.put("lambda_after", number(lambda(&found.after)));
    report.put("reason", json!(found.after.stall().map(stall)));
    report.put("hazard", json!(found.hazard));
    let rest: Vec<_> = found
        .rest_height
        .iter()
        .map(|(offset, point)| {
            json!({
                "offset_mm": mm(*offset),
                "zone_after": point.zone().word(),
                "lambda_after": number(lambda(point)),
            })
        })
        .collect();
    report.put("rest_height", json!(rest));
    let lines: Vec<_> = found
        .lines
        .iter()
        .map(|(lift, flows)| {
            let flows: Vec<f64> = flows.iter().map(|flow| found.ml_min(*flow)).collect();
            json!({"lift_mm": mm(*lift), "flow_ml_min": flows})
        })
        .collect();
    report.put("lines", json!(lines));
    report.rows = line_table(found);
}

fn line_table(found: &FlowStart) -> Table {
    let count = found.lines.first().map_or(0, |(_, flows)| flows.len());
    let mut columns = vec![Column::new("lift_mm", "plate above rest", "mm", 2)];
    columns.extend(
        (1..=count)
            .map(|i| Column::new(&format!("line_{i}_ml_min"), &format!("line {i}"), "ml/min", 2)),
    );
    let rows = found
        .lines
        .iter()
        .map(|(lift, flows)| {
            let flows = flows.iter().map(|flow| found.ml_min(*flow));
            std::iter::once(1e3 * lift).chain(flows).map(|v| Cell::Number(Some(v))).collect()
        })
        .collect();
    Table { columns, rows }
}

fn runs(point: &Point) -> String {
    match (point.state(), point.stall()) {
        (Some(state), _) => format!(
            "{} at lambda {:.2}, {:.1} % COV",
            point.zone().word(),
            state.lambda,
            100.0 * state.cov
        ),
        (None, Some(why)) => format!("stalled: {}", stall(why)),
        (None, None) => "stalled".into(),
    }
}

fn heading(found: &FlowStart, back_off: f64) -> String {
    format!(
        "Fuel just flows at {} turn; {} turn back puts the screw at {} turn: it will run {}",
        signed(found.flow_start_turns),
        turns_typed(back_off),
        signed(found.setting_turns),
        runs(&found.after)
    )
}

fn render(report: &mut Report, found: &FlowStart, back_off: f64) {
    if found.hazard {
        report.blocks.push(Block::Hazard(
            "at this setting the slits are open with the plate at rest: with the pump on, fuel runs into the intake of a standing engine. Not a setting: back off further. If fuel has run: ignition off, do not crank, plugs out, let it dry, look for petrol in the oil.".into(),
        ));
    }
    report.say(format!(
        "  play at the plate     {:5.2} mm  from rest to the first fuel",
        1e3 * found.play_m
    ));
    report.say(format!(
        "  play to the touch     {:5.2} mm  from rest until the lever meets the plunger",
        1e3 * found.felt_play_m
    ));
    report.say(format!(
        "  the first drop is worth {:.3} turn of lift{}",
        found.threshold_turns,
        found.stream_turns.map_or(String::new(), |stream| format!(
            "; waiting for a stream of 1 ml/min would set it {stream:.3} turn richer"
        ))
    ));
    report.blocks.push(Block::Heading(
        "The rule is the rest height: flow start and the way back done again with the plate resting".into(),
    ));
    for (offset, point) in &found.rest_height {
        let word = if *offset > 0.0 { "higher" } else { "lower" };
        report.say(format!("  {:.2} mm {word:<7} {}", 1e3 * offset.abs(), runs(point)));
    }
    report.blocks.push(Block::Heading(format!(
        "Fuel of each line at this setting, pump jumpered, no current ({} turn back)",
        turns_typed(back_off)
    )));
    report.blocks.push(Block::Table(line_table(found)));
    report.notes.push("Rest height moves the static setting, the felt play, the first start and the rest voltage; it does not move the warm point. So: centre the plate, set the rest height, check free travel, then flow start, then the way back.".into());
}
