//! What the readings did from action to action, as a table and as JSON.

use super::{Run, action_words};
use crate::report::{Block, Cell, Column, Report, Table};
use serde_json::{Map, Value, json};
use sim_core::point::{READINGS, Reading};
use sim_core::run::TICK_S;
use sim_core::run::procedure::{Action, Value::Number};
use sim_core::run::record::Dwell;
use sim_core::run::settling::Dispersion;
use sim_core::units::Unit;

/// What was done at the start of a dwell.
fn done<'a>(run: &'a Run, dwell: &Dwell) -> impl Iterator<Item = &'a Action> {
    let from_s = dwell.from_s;
    let here = move |at_s: f64| (at_s - from_s).abs() < 0.5 * TICK_S;
    run.procedure.steps.iter().filter(move |step| here(step.at_s)).map(|step| &step.action)
}

/// What was done at the start of a dwell, in words.
fn words(run: &Run, dwell: &Dwell) -> String {
    let words: Vec<String> = done(run, dwell).map(action_words).collect();
    if words.is_empty() { "as it was".into() } else { words.join(", ") }
}

/// The numbers of what was done, by the key that was set or by a name with its unit.
fn set(run: &Run, dwell: &Dwell) -> Value {
    let rpm = |rad_s: &f64| Unit::Rpm.from_si(*rad_s);
    let mut set = Map::new();
    for action in done(run, dwell) {
        match action {
            Action::Turn(turns) => set.insert("turned_turns".into(), json!(turns)),
            Action::Blip(speed) => set.insert("blip_rpm".into(), json!(rpm(speed))),
            Action::Throttle(share, _) => {
                set.insert("throttle_percent".into(), json!(100.0 * share))
            }
            Action::Set(key, Number(number)) => set.insert((*key).into(), json!(number)),
            _ => None,
        };
    }
    Value::Object(set)
}

pub fn value(run: &Run, dwell: &Dwell) -> Value {
    let mut object = Map::new();
    for (reading, spread) in READINGS.iter().zip(&dwell.spreads) {
        let Some(spread) = spread else { continue };
        object.insert(
            reading.name.into(),
            json!({"mean": spread.mean, "least": spread.least, "most": spread.most, "deviation": spread.deviation}),
        );
    }
    json!({"from_s": dwell.from_s, "to_s": dwell.to_s, "action": words(run, dwell), "set": set(run, dwell), "readings": object})
}

/// The dwells as a table: means, and how far mixture and current swing.
pub fn render(report: &mut Report, run: &Run) {
    let columns = vec![
        Column::new("from", "from", "s", 0),
        Column::new("done", "done", "", 0),
        Column::new("speed", "speed", "rpm", 0),
        Column::new("pot", "pot.", "V", 3),
        Column::new("lambda", "lambda", "", 3),
        Column::new("least", "least", "", 2),
        Column::new("most", "most", "", 2),
        Column::new("current", "current", "mA", 1),
        Column::new("swing", "+-", "mA", 1),
        Column::new("duty", "duty", "%", 0),
        Column::new("rough", "rough up to", "%", 1),
    ];
    let rows = run.record.dwells.iter().map(|dwell| {
        let of = |name: &str, get: fn(&Dispersion) -> f64| {
            let at = READINGS.iter().position(|reading: &Reading| reading.name == name);
            let spread = at.and_then(|at| dwell.spreads.get(at).copied().flatten());
            Cell::Number(spread.as_ref().map(get))
        };
        vec![
            Cell::Number(Some(dwell.from_s)),
            Cell::Word(words(run, dwell)),
            of("speed_rpm", |s| s.mean),
            of("potentiometer_v", |s| s.mean),
            of("lambda", |s| s.mean),
            of("lambda", |s| s.least),
            of("lambda", |s| s.most),
            of("actuator_ma", |s| s.mean),
            of("actuator_ma", |s| s.deviation),
            of("duty_percent", |s| s.mean),
            of("cov_percent", |s| s.most),
        ]
    });
    let rows = rows.collect();
    report.blocks.push(Block::Heading("From action to action (second half of each dwell)".into()));
    report.blocks.push(Block::Table(Table { columns, rows }));
}
