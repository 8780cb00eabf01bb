//! `parts`: what each part that is off does, and which repair calls for a new setting.

use super::Command;
use crate::args::with_output;
use crate::cautions::{PETROL, of_setups};
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::stall;
use clap::ArgMatches;
use serde_json::{Value, json};
use sim_core::conditions::{Conditions, Trim};
use sim_core::parts::{CALLS_FOR, Effect, effects};
use sim_core::point::State;
use sim_core::run::RunFault;
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

pub const COMMAND: Command = Command {
    name: "parts",
    group: "watch",
    about: "What each part that is off does to the meters, and which repair calls for a setting",
    example: "quarterturn parts --rig four",
    args,
    report,
};

fn args(command: clap::Command) -> clap::Command {
    with_output(with_conditions(command, &Conditions::closed_loop()))
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let engine = EngineArgs::read(matches)?.load(Conditions::closed_loop())?;
    let setup = &engine.setup;
    let sound =
        SteadyEngine::new(&setup.rig, &setup.conditions).point(setup.conditions.screw_turns);
    let found = match (effects(setup), sound.stall()) {
        (Some(found), _) => found,
        (None, Some(why)) => return Err(Error::Run { fault: RunFault::NoStart(*why) }),
        (None, None) => Vec::new(),
    };
    let mut report = Report::new("parts");
    report.put("canonical_command", json!(format!("quarterturn parts{}", engine.flags)));
    report.put("conditions", engine.value());
    let (duty, volts, turns) = CALLS_FOR;
    report.put(
        "calls_for_a_setting_beyond",
        json!({"duty_points": 100.0 * duty, "potentiometer_v": volts, "static_setting_turns": turns}),
    );
    report.put("rows", found.iter().map(row).collect());
    engine.render_hazard(&mut report);
    render(&mut report, &engine, &found, sound.state());
    Ok(report)
}

/// Why a new setting is called for or not, in a sentence.
fn why(effect: &Effect) -> String {
    let (duty, volts, turns) = effect.renewed;
    let moves = format!(
        "renewed ({}) it moves the duty by {:+.1} points, the potentiometer by {:+.0} mV, the static setting by {:+.3} turn",
        effect.part.renewed_by,
        100.0 * duty,
        1e3 * volts,
        turns
    );
    match effect.new_setting_needed {
        true if !duty.is_finite() => "renewed, the engine does not run".into(),
        true => format!("{moves}: set it anew"),
        false => format!("{moves}: the setting stays"),
    }
}

fn row(effect: &Effect) -> Value {
    let state = effect.off.state();
    let of = |get: fn(&State) -> f64| number(state.map(get));
    json!({
        "part": effect.part.name,
        "change": effect.part.change,
        "lambda": of(|s| s.lambda),
        "lambda_trim_off": number(effect.off_untrimmed.state().map(|s| s.lambda)),
        "duty_percent": of(|s| 100.0 * s.duty),
        "potentiometer_v": of(|s| s.potentiometer_v),
        "cov_percent": of(|s| 100.0 * s.cov),
        "speed_rpm": of(|s| Unit::Rpm.from_si(s.speed_rad_s)),
        "idle_cell_ma": number(effect.cell_a.map(|a| 1e3 * a)),
        "stalled": effect.off.stall().map(stall),
        "new_setting_needed": effect.new_setting_needed,
        "why": why(effect),
    })
}

fn render(report: &mut Report, engine: &Scenario, found: &[Effect], sound: Option<&State>) {
    let called: Vec<&str> =
        found.iter().filter(|e| e.new_setting_needed).map(|e| e.part.name).collect();
    report.blocks.push(Block::Heading(format!(
        "Renewed, these call for a new setting: {}",
        if called.is_empty() { "none".into() } else { called.join(", ") }
    )));
    report.say(engine.words());
    let columns = vec![
        Column::new("part", "part", "", 0),
        Column::new("change", "off by", "", 0),
        Column::new("lambda", "lambda", "", 3),
        Column::new("lambda_trim_off", "trim off", "", 3),
        Column::new("duty_percent", "duty", "%", 0),
        Column::new("potentiometer_v", "pot.", "V", 3),
        Column::new("cov_percent", "rough", "%", 1),
        Column::new("speed_rpm", "speed", "rpm", 0),
        Column::new("idle_cell_ma", "idle cell", "mA", 1),
        Column::new("new_setting_needed", "new setting", "", 0),
    ];
    let cells =
        |name: &str, change: &str, state: Option<&State>, untrimmed, cell, setting: &str| {
            let of = |get: fn(&State) -> f64| Cell::Number(state.map(get));
            vec![
                Cell::Word(name.into()),
                Cell::Word(change.into()),
                of(|s| s.lambda),
                Cell::Number(untrimmed),
                of(|s| 100.0 * s.duty),
                of(|s| s.potentiometer_v),
                of(|s| 100.0 * s.cov),
                of(|s| Unit::Rpm.from_si(s.speed_rad_s)),
                Cell::Number(cell),
                Cell::Word(setting.into()),
            ]
        };
    let untrimmed = {
        let mut conditions = engine.setup.conditions;
        conditions.trim = Trim::Off;
        SteadyEngine::new(&engine.setup.rig, &conditions).point(conditions.screw_turns)
    };
    let lambda = untrimmed.state().map(|state| state.lambda);
    let mut rows = vec![cells("none", "sound", sound, lambda, None, "")];
    rows.extend(found.iter().map(|effect| {
        cells(
            effect.part.name,
            effect.part.change,
            effect.off.state(),
            effect.off_untrimmed.state().map(|s| s.lambda),
            effect.cell_a.map(|a| 1e3 * a),
            if effect.new_setting_needed { "yes" } else { "no" },
        )
    }));
    let table = Table { columns, rows };
    report.rows = table.clone();
    report.blocks.push(Block::Table(table));
    for effect in found {
        report.say(format!("  {:<20} {}", effect.part.name, why(effect)));
    }
    let (duty, volts, turns) = CALLS_FOR;
    report.notes.push(format!("A new setting is called for beyond {:.0} points of duty, {:.0} mV of the potentiometer or 1/{:.0} turn of the static setting, with a renewed part that differs from the old as said: thresholds and differences are our own; that some repairs call for a setting is common practice, no source. A stuck altitude sensor and a missing exhaust-temperature sensor act in runs and starts only, and where one is fitted.", 100.0 * duty, 1e3 * volts, 1.0 / turns));
    report.cautions = of_setups(&[&engine.setup], &[PETROL]);
}
