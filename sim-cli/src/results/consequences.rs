//! What comes of a voltage that is left as it is, or of a sensor that has failed.

use crate::cautions::DRIVING;
use crate::report::{Cell, Column, Field, Found, Records, Report, Table};
use crate::scenario::Scenario;
use crate::text::{fixed, plain};
use serde::{Serialize, Serializer};
use sim_core::consequences::{Consequences, Shown};
use sim_core::point::Point;
use sim_core::run::trial::Trial;
use sim_core::units::Unit;
use sim_core::voltage::LeftAt;
use std::rc::Rc;

/// What was followed.
pub struct Followed {
    /// The command, canonically.
    pub command: String,
    /// The engine.
    pub scenario: Scenario,
    /// Temperature of the cold start of the voltages (degC).
    pub cold_degc: f64,
    /// Why the engine does not run, if it does not.
    pub reason: Option<String>,
    /// Cars left at a voltage.
    pub left: Vec<LeftAt>,
    /// Cars with a failed sensor.
    pub failed: Vec<Consequences>,
}

/// The same as the JSON object it is.
#[derive(Serialize)]
struct FollowedRecord<'a> {
    canonical_command: &'a str,
    conditions: &'a Scenario,
    cold_degc: f64,
    reason: &'a Option<String>,
    left_at: Records<'a, LeftAt>,
    failed: Vec<FailedRecord>,
}

/// What a failed sensor does as the JSON object it is.
#[derive(Serialize)]
struct FailedRecord {
    fault: String,
    felt: Vec<String>,
    shown: Vec<ShownRecord>,
    shown_on_a_mountain: Vec<ShownRecord>,
    learned_wrong: Option<String>,
    settled_at_start: Option<usize>,
}

/// A meter that shows something else.
#[derive(Serialize)]
struct ShownRecord {
    reading: &'static str,
    sound: Option<f64>,
    failed: Option<f64>,
}

impl From<&Shown> for ShownRecord {
    fn from(shown: &Shown) -> ShownRecord {
        let &Shown { reading, sound, failed } = shown;
        ShownRecord { reading: reading.name, sound, failed }
    }
}

impl FailedRecord {
    fn of(found: &Consequences) -> FailedRecord {
        let records = |list: Vec<Shown>| list.iter().map(ShownRecord::from).collect();
        FailedRecord {
            fault: found.fault.to_string(),
            felt: found.felt(),
            shown: records(found.shown()),
            shown_on_a_mountain: records(found.shown_on_a_mountain()),
            learned_wrong: found.learned_wrong(),
            settled_at_start: found.failed.learned.settled_at,
        }
    }
}

impl Serialize for Followed {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        FollowedRecord {
            canonical_command: &self.command,
            conditions: &self.scenario,
            cold_degc: self.cold_degc,
            reason: &self.reason,
            left_at: Records(LEFT, &self.left),
            failed: self.failed.iter().map(FailedRecord::of).collect(),
        }
        .serialize(serializer)
    }
}

fn rpm(rad_s: f64) -> f64 {
    Unit::Rpm.from_si(rad_s)
}

/// Mixture half a minute after the start.
fn idle_lambda(trial: &Trial) -> Cell {
    trial.idle.map(|idle| idle.lambda).into()
}

fn idle_rough(trial: &Trial) -> Cell {
    trial.idle.map(|idle| 100.0 * idle.cov).into()
}

fn blip_lowest(trial: &Trial) -> Cell {
    trial.blip_lowest_rad_s.map(rpm).into()
}

/// Leanest mixture after the push on the pedal.
fn pushed(trial: &Trial) -> Cell {
    trial.push.map(|(lambda, _)| lambda).into()
}

fn grams(trial: &Trial) -> Cell {
    (1e3 * trial.fuel_kg).into()
}

fn dies(trial: &Trial) -> Cell {
    match (&trial.start.reason, &trial.stalled_because) {
        (Some(reason), _) => Cell::Word(reason.to_string()),
        (None, cause) => Cell::said(cause.map(|cause| cause.sentence()).as_ref()),
    }
}

/// What comes of a voltage.
static LEFT: &[Field<LeftAt>] = &[
    Field::new("potentiometer_v", "left at", "V", 2, |l| l.potentiometer_v.into()),
    Field::new("housing_mm", "housing", "mm", 2, |l| (1e3 * l.housing_m).into()),
    Field::new("seen_air_percent", "air seen", "%", 0, |l| (100.0 * l.seen_over_true).into()),
    Field::new("cold_caught_after_s", "cold: caught", "s", 2, |l| {
        l.cold.start.caught_after_s.into()
    }),
    Field::new("cold_added_percent", "added", "%", 0, |l| (100.0 * l.cold_share).into()),
    Field::new("cold_lambda_after_catch", "lambda at first", "", 3, |l| {
        l.cold_lambda_after_catch.into()
    }),
    Field::new("cold_lambda", "lambda", "", 3, |l| idle_lambda(&l.cold)),
    Field::new("cold_cov_percent", "rough", "%", 1, |l| idle_rough(&l.cold)),
    Field::new("cold_blip_lowest_rpm", "after a blip", "rpm", 0, |l| blip_lowest(&l.cold)),
    Field::new("cold_push_leanest_lambda", "pushed", "", 2, |l| pushed(&l.cold)),
    Field::new("cold_fuel_g", "fuel", "g", 1, |l| grams(&l.cold)),
    Field::data("cold_dies", |l| dies(&l.cold)),
    Field::new("warm_lambda", "warm: lambda", "", 3, |l| idle_lambda(&l.warm)),
    Field::data("warm_cov_percent", |l| idle_rough(&l.warm)),
    Field::new("warm_blip_lowest_rpm", "after a blip", "rpm", 0, |l| blip_lowest(&l.warm)),
    Field::new("warm_push_leanest_lambda", "pushed", "", 2, |l| pushed(&l.warm)),
    Field::new("wide_open_lambda", "wide open", "", 3, |l| {
        l.warm.wide_open.map(|(lambda, _)| lambda).into()
    }),
    Field::new("warm_fuel_g", "fuel", "g", 1, |l| grams(&l.warm)),
    Field::data("warm_dies", |l| dies(&l.warm)),
    Field::data("settled_at_start", |l| l.settled_at.map(|n| n as f64).into()),
];

impl Followed {
    /// The cells of the cars left at a voltage.
    fn cells(&self) -> Table {
        let count = self.left.first().map_or(0, |left| left.cells_a.len());
        let mut names = vec!["left at".to_string(), "settled at start".into()];
        names.extend((1..=count).map(|cell| format!("cell {cell}, mA (s a drive)")));
        let rows = self.left.iter().map(|left| {
            let settled = left.settled_at.map_or("not".into(), |start| start.to_string());
            let mut row = vec![format!("{:.2} V", left.potentiometer_v), settled];
            row.extend(
                left.cells_a
                    .iter()
                    .zip(left.learned_s)
                    .map(|(cell_a, learned_s)| format!("{:+.1} ({learned_s:.0})", 1e3 * cell_a)),
            );
            row.into_iter().map(Cell::Word).collect()
        });
        let rows = rows.collect();
        Table::new(Column::named(names.iter().map(String::as_str)), rows)
    }

    fn finding(&self) -> String {
        let mut found = Vec::new();
        let seen = self.left.iter().map(|left| {
            format!("{:.2} V: {:.0} %", left.potentiometer_v, 100.0 * left.seen_over_true)
        });
        let seen: Vec<String> = seen.collect();
        if !seen.is_empty() {
            found.push(format!("Of the idle's air the controller sees at {}", seen.join(", ")));
        }
        let felt = |failed: &Consequences| match failed.felt().len() {
            0 => format!("{}: nothing is felt", failed.fault),
            1 => format!("{}: one thing is felt", failed.fault),
            count => format!("{}: {count} things are felt", failed.fault),
        };
        found.extend(self.failed.iter().map(felt));
        found.join("; ")
    }
}

impl Found for Followed {
    fn table(&self) -> Table {
        Table::of(LEFT, &self.left)
    }
}

fn told(report: &mut Report, title: &str, failed: &Point, shown: &[Shown]) {
    if let Some(stall) = failed.stall() {
        return report.say(format!("  {title} that it does not run: {stall}"));
    }
    if shown.is_empty() {
        return report.say(format!("  {title}: nothing else"));
    }
    let value = |value: Option<f64>, shown: &Shown| {
        value.map_or("nothing".into(), |value| fixed(value, shown.reading.decimals))
    };
    let each = shown.iter().map(|shown| {
        format!(
            "{} {} {} instead of {}",
            shown.reading.short_label(),
            value(shown.failed, shown),
            shown.reading.unit.symbol(),
            value(shown.sound, shown)
        )
        .replace("  ", " ")
    });
    report.say(format!("  {title}: {}", each.collect::<Vec<_>>().join("; ")));
}

/// What of a drive the voltages do not move, and why, in sentences.
fn answers(left: &[LeftAt]) -> Vec<String> {
    let spread = |of: &dyn Fn(&LeftAt) -> Option<f64>| {
        let values: Vec<f64> = left.iter().filter_map(of).collect();
        let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        (left.len() > 1 && values.len() == left.len()).then_some(most - least)
    };
    let mut told = Vec::new();
    if spread(&|l| l.cold.start.caught_after_s).is_some_and(|s| s < 0.02) {
        told.push("The voltage does not change the start: while the starter turns, the current follows the coolant only. Once the engine has caught, the voltage counts.".into());
    }
    if spread(&|l| l.cold.idle.map(|idle| idle.lambda)).is_some_and(|s| s > 0.005) {
        told.push("Cold, the controller adds current, and the fuel goes with the root of the pressure drop that the current makes. So 10 % more current is about 5 % more fuel at the most. A voltage that is far off moves a cold idle by a few hundredths of lambda.".into());
    }
    if spread(&|l| l.warm.idle.map(|idle| idle.lambda)).is_some_and(|s| s < 0.003) {
        told.push("Warm, nothing is felt: the controller adds nothing for air, and loop and cells correct the rest. But what it learns it files under the wrong air flow.".into());
    }
    told
}

/// Columns of the short answer: what is read and felt.
const FELT: [&str; 8] = [
    "potentiometer_v",
    "seen_air_percent",
    "cold_caught_after_s",
    "cold_cov_percent",
    "cold_blip_lowest_rpm",
    "warm_lambda",
    "wide_open_lambda",
    "warm_fuel_g",
];

/// The report of what was followed.
pub fn report(followed: &Rc<Followed>) -> Report {
    let mut report = Report::of("consequences", followed.clone());
    report.note_idle_flags(&followed.scenario);
    report.warn_at_rest(&followed.scenario);
    if let Some(why) = &followed.reason {
        report.heading(format!("Nothing can be done to an engine that does not run: {why}"));
        report.say(followed.scenario.words().replace("warm point", "driven"));
        report.cautions = DRIVING.to_vec();
        return report;
    }
    report.heading(followed.finding());
    report.say(followed.scenario.words().replace("warm point", "driven"));
    if !followed.left.is_empty() {
        report.say(format!(
            "The housing is turned until the warm idle shows each voltage; cold start at {} degC.",
            plain(followed.cold_degc)
        ));
        report.table(followed.table().short_columns(&FELT));
        report.in_full(|report| report.table(followed.cells()));
        for line in self::answers(&followed.left) {
            report.note_always(line);
        }
        report.note("Each car drives the same: start, 40 s of idle, a blip, a push on the pedal, a wide-open throttle. Cells: what they hold after 40 drives from a cleared memory, and how long each learns in a drive. The controller reads its air from the voltage: by it, it enriches a cold engine and files what it learns. Added: what a cold engine is given, as a share of what is right for it. Lambda at first: mean of the fifth and sixth second after it has caught.");
    }
    for failed in &followed.failed {
        report.heading(failed.fault.to_string());
        for line in failed.felt() {
            report.say(format!("  {line}"));
        }
        if failed.felt().is_empty() {
            report.say("  A driver feels nothing.");
        }
        let (warm, high) = (failed.shown(), failed.shown_on_a_mountain());
        told(&mut report, "warm idle shows", &failed.failed.warm, &warm);
        told(&mut report, "idle at 1500 m shows", &failed.failed.mountain, &high);
        report.say(match failed.learned_wrong() {
            Some(cells) => format!("  learned wrong: {cells}"),
            None => "  learned wrong: nothing".into(),
        });
    }
    if !followed.failed.is_empty() {
        report.note("A sound car and one with the fault drive the same, cold (-10 degC), warm, and warm at 1500 m. Only what a driver or a meter can tell apart is listed; how much that is, is our own choice.");
    }
    report.cautions = DRIVING.to_vec();
    report
}
