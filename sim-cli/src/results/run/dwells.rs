//! What the readings did from action to action.

use crate::by_name::ByName;
use crate::report::{Column, Fit, Report, Table};
use crate::results::procedure::action_words;
use crate::rounding::rounded;
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
    readings: ByName<ByName<f64>>,
}

impl DwellRecord {
    /// Every dwell of a procedure.
    pub fn all(procedure: &Procedure, dwells: &[Dwell]) -> Vec<DwellRecord> {
        dwells.iter().map(|dwell| DwellRecord::of(procedure, dwell)).collect()
    }

    fn of(procedure: &Procedure, dwell: &Dwell) -> DwellRecord {
        let record = |&Dispersion { mean, least, most, deviation }: &Dispersion| {
            ByName(vec![("mean", mean), ("least", least), ("most", most), ("deviation", deviation)])
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

/// What a dwell is told by: column, unit, decimals, reading, and what of it.
type Shown = (&'static str, &'static str, usize, &'static str, fn(&Dispersion) -> f64);

const SHOWN: [Shown; 9] = [
    ("speed", "rpm", 0, "speed_rpm", |s| s.mean),
    ("pot.", "V", 3, "potentiometer_v", |s| s.mean),
    ("lambda", "", 3, "lambda", |s| s.mean),
    ("least", "", 2, "lambda", |s| s.least),
    ("most", "", 2, "lambda", |s| s.most),
    ("current", "mA", 1, "actuator_ma", |s| s.mean),
    ("+-", "mA", 1, "actuator_ma", |s| s.deviation),
    ("duty", "%", 0, "duty_percent", |s| s.mean),
    ("rough up to", "%", 1, "cov_percent", |s| s.most),
];

/// Columns of the short answer.
const SHOWN_SHORT: [&str; 7] = ["from", "done", "speed", "pot.", "duty", "rough up to", "lambda"];

/// The dwells as a table: means, and how far mixture and current swing.
pub fn render(report: &mut Report, procedure: &Procedure, dwells: &[Dwell]) {
    let columns = [("from", "s", 0), ("done", "", 0)].into_iter();
    let columns = columns.chain(SHOWN.map(|(name, unit, decimals, ..)| (name, unit, decimals)));
    let columns = columns.map(|(name, unit, decimals)| Column::new(name, name, unit, decimals));
    let rows = dwells.iter().map(|dwell| {
        let of = |name: &str, get: fn(&Dispersion) -> f64| {
            let at = READINGS.iter().position(|reading: &Reading| reading.name == name);
            at.and_then(|at| dwell.spreads.get(at).copied().flatten()).as_ref().map(get).into()
        };
        let values = SHOWN.into_iter().map(|(_, _, _, name, get)| of(name, get));
        [dwell.from_s.into(), words(procedure, dwell).into()].into_iter().chain(values).collect()
    });
    let (columns, rows) = (columns.collect(), rows.collect());
    report.heading("From action to action (second half of each dwell)");
    // The roughest dwell stays, however small the screen is.
    let at = READINGS.iter().position(|reading| reading.name == "cov_percent");
    let rough = |dwell: &Dwell| at.and_then(|at| dwell.spreads.get(at)?.map(|s| s.most));
    let roughest = (0..dwells.len()).max_by(|a, b| {
        let [a, b] = [a, b].map(|i| rough(&dwells[*i]).unwrap_or(f64::NEG_INFINITY));
        a.total_cmp(&b)
    });
    // So does every one that starts with the screw turned.
    let turned = (0..dwells.len())
        .filter(|i| done(procedure, &dwells[*i]).any(|action| matches!(action, Action::Turn(_))));
    let mut firm: Vec<usize> = turned.chain(roughest).collect();
    firm.sort_unstable();
    firm.dedup();
    let table = Table::new(columns, rows).short_columns(&SHOWN_SHORT).fitted(Fit::Spread);
    report.table(Table { firm, ..table });
}

/// A reading of a dwell, as its column shows it.
fn stands(dwell: &Dwell, name: &str, get: fn(&Dispersion) -> f64) -> Option<f64> {
    let at = READINGS.iter().position(|reading: &Reading| reading.name == name)?;
    let value = get(dwell.spreads.get(at)?.as_ref()?);
    Some(rounded(value, READINGS[at].decimals))
}

/// Which edges were met and when, in words: where the engine ran rougher than the ear lets pass
/// (COV of imep, %). An engine that met none is told by its roughest.
pub fn edges_met(dwells: &[Dwell], rough_percent: f64) -> Option<String> {
    let told = dwells.iter().filter_map(|dwell| {
        let rough = stands(dwell, "cov_percent", |s| s.most)?;
        let lambda = stands(dwell, "lambda", |s| s.mean)?;
        Some((dwell.from_s, rough, lambda))
    });
    let told: Vec<(f64, f64, f64)> = told.collect();
    let side = |lambda: f64| if lambda > 1.0 { "lean" } else { "rich" };
    let met = |wanted: &str| {
        told.iter()
            .find(|(_, rough, lambda)| *rough >= rough_percent && side(*lambda) == wanted)
            .map(|(from_s, ..)| format!("rough on the {wanted} side from {from_s:.0} s"))
    };
    let met: Vec<String> = [met("lean"), met("rich")].into_iter().flatten().collect();
    if !met.is_empty() {
        return Some(met.join(", "));
    }
    let (from_s, rough, lambda) = told.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let side = side(*lambda);
    Some(format!(
        "never rough; nearest to it from {from_s:.0} s, on the {side} side ({rough:.1} %)"
    ))
}

/// Whether in some dwell more cycles are lost, as a mean, than a share.
pub fn loses_cycles(dwells: &[Dwell], share: f64) -> bool {
    let lost = |dwell: &Dwell| stands(dwell, "misfire_percent", |s| s.mean);
    dwells.iter().filter_map(lost).any(|percent| percent > Unit::Percent.from_si(share))
}

/// What a run ends with, in words: the last dwell as its row shows it.
pub fn ends_with(dwells: &[Dwell]) -> Option<String> {
    let last = dwells.last()?;
    let lambda = stands(last, "lambda", |s| s.mean)?;
    let duty = stands(last, "duty_percent", |s| s.mean)?;
    let volts = stands(last, "potentiometer_v", |s| s.mean)?;
    Some(format!("ends at lambda {lambda:.3}, duty {duty:.0} %, {volts:.3} V"))
}
