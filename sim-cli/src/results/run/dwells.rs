//! What the readings did from action to action.

use crate::report::{Cell, Column, Report, Table};
use crate::results::by_name::ByName;
use crate::results::procedure::action_words;
use serde::Serialize;
use sim_core::point::{READINGS, Reading};
use sim_core::run::TICK_S;
use sim_core::run::procedure::{Action, Procedure, Value::Number};
use sim_core::run::record::Dwell;
use sim_core::run::settling::Dispersion;
use sim_core::units::Unit;

/// The time between actions as the JSON object it is.
#[derive(Serialize)]
pub struct DwellRecord {
    from_s: f64,
    to_s: f64,
    action: String,
    set: ByName<f64>,
    readings: ByName<DispersionRecord>,
}

/// What a reading did in it.
#[derive(Serialize)]
struct DispersionRecord {
    mean: f64,
    least: f64,
    most: f64,
    deviation: f64,
}

impl DwellRecord {
    /// Every dwell of a procedure.
    pub fn all(procedure: &Procedure, dwells: &[Dwell]) -> Vec<DwellRecord> {
        dwells.iter().map(|dwell| DwellRecord::of(procedure, dwell)).collect()
    }

    fn of(procedure: &Procedure, dwell: &Dwell) -> DwellRecord {
        let record = |&Dispersion { mean, least, most, deviation }: &Dispersion| DispersionRecord {
            mean,
            least,
            most,
            deviation,
        };
        let spreads = READINGS.iter().zip(&dwell.spreads).filter_map(|(reading, spread)| {
            spread.as_ref().map(|spread| (reading.name, record(spread)))
        });
        DwellRecord {
            from_s: dwell.from_s,
            to_s: dwell.to_s,
            action: words(procedure, dwell),
            set: set(procedure, dwell),
            readings: ByName(spreads.collect()),
        }
    }
}

/// What was done at the start of a dwell.
fn done<'a>(procedure: &'a Procedure, dwell: &Dwell) -> impl Iterator<Item = &'a Action> {
    let from_s = dwell.from_s;
    let here = move |at_s: f64| (at_s - from_s).abs() < 0.5 * TICK_S;
    procedure.steps.iter().filter(move |step| here(step.at_s)).map(|step| &step.action)
}

/// What was done at the start of a dwell, in words.
fn words(procedure: &Procedure, dwell: &Dwell) -> String {
    let words: Vec<String> = done(procedure, dwell).map(action_words).collect();
    if words.is_empty() { "as it was".into() } else { words.join(", ") }
}

/// The numbers of what was done, by the key that was set or by a name with its unit. Of two
/// numbers with one name the later holds.
fn set(procedure: &Procedure, dwell: &Dwell) -> ByName<f64> {
    let mut set: Vec<(&'static str, f64)> = Vec::new();
    for action in done(procedure, dwell) {
        let (name, number) = match action {
            Action::Turn(turns) => ("turned_turns", *turns),
            Action::Blip(speed) => ("blip_rpm", Unit::Rpm.from_si(*speed)),
            Action::Throttle(share, _) => ("throttle_percent", 100.0 * share),
            Action::Set(key, Number(number)) => (*key, *number),
            _ => continue,
        };
        match set.iter_mut().find(|(known, _)| *known == name) {
            Some((_, known)) => *known = number,
            None => set.push((name, number)),
        }
    }
    ByName(set)
}

/// The dwells as a table: means, and how far mixture and current swing.
pub fn render(report: &mut Report, procedure: &Procedure, dwells: &[Dwell]) {
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
    let rows = dwells.iter().map(|dwell| {
        let of = |name: &str, get: fn(&Dispersion) -> f64| {
            let at = READINGS.iter().position(|reading: &Reading| reading.name == name);
            let spread = at.and_then(|at| dwell.spreads.get(at).copied().flatten());
            Cell::Number(spread.as_ref().map(get))
        };
        vec![
            Cell::Number(Some(dwell.from_s)),
            Cell::Word(words(procedure, dwell)),
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
    report.heading("From action to action (second half of each dwell)");
    report.table(Table { columns, rows });
}
