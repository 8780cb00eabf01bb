//! What each part that is off does, and which repair calls for a new setting.

use crate::by_name::ByName;
use crate::cautions::{PETROL, of_setups};
use crate::report::{Cell, Column, Fit, Found, Report, Table};
use crate::results::point::DUTY_NOTE;
use crate::scenario::{AT_REST, Scenario};
use serde::{Serialize, Serializer};
use sim_core::parts::{CALLS_FOR, Effect, Repair};
use sim_core::point::{Point, Reading, State};
use sim_core::units::Unit;
use std::rc::Rc;

/// The readings that a part is judged by, beside lambda.
const READINGS: [&str; 4] = ["duty_percent", "potentiometer_v", "cov_percent", "speed_rpm"];

/// What every part does to an engine.
#[derive(Serialize)]
pub struct PartsEffects {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    /// From where on a new setting is called for.
    pub calls_for_a_setting_beyond: Thresholds,
    /// Why the engine does not run, if it does not: there is no row then.
    pub reason: Option<String>,
    /// The effect of each part, the worst first.
    #[serde(rename = "rows", serialize_with = "rows")]
    pub effects: Vec<Effect>,
    /// Whether fuel runs with the plate at rest.
    pub fuel_flows_at_rest: bool,
    /// The engine with all parts as they should be, trim as asked for and off.
    #[serde(skip)]
    pub sound: [Point; 2],
}

/// By how much a renewed part moves what is set, if it calls for a new setting.
#[derive(Serialize)]
pub struct Thresholds {
    duty_points: f64,
    potentiometer_v: f64,
    static_setting_turns: f64,
}

impl Thresholds {
    /// Those of the model.
    pub fn of_the_model() -> Thresholds {
        let (duty, potentiometer_v, static_setting_turns) = CALLS_FOR;
        Thresholds { duty_points: 100.0 * duty, potentiometer_v, static_setting_turns }
    }
}

/// The effect of a part as the JSON object it is.
#[derive(Serialize)]
struct EffectRecord {
    part: &'static str,
    change: &'static str,
    lambda: Option<f64>,
    lambda_trim_off: Option<f64>,
    duty_percent: Option<f64>,
    potentiometer_v: Option<f64>,
    cov_percent: Option<f64>,
    speed_rpm: Option<f64>,
    idle_cell_ma: Option<f64>,
    stalled: Option<String>,
    new_setting_needed: bool,
    repair: &'static str,
    set_with_it: Option<ByName<f64>>,
    why: String,
}

fn rows<S: Serializer>(effects: &[Effect], serializer: S) -> Result<S::Ok, S::Error> {
    let record = |effect: &Effect| {
        let state = effect.off.state();
        let [duty_percent, potentiometer_v, cov_percent, speed_rpm] = readings(state);
        EffectRecord {
            part: effect.part.name,
            change: effect.part.change,
            lambda: state.map(|state| state.lambda),
            lambda_trim_off: lambda(&effect.off_untrimmed),
            duty_percent,
            potentiometer_v,
            cov_percent,
            speed_rpm,
            idle_cell_ma: cell_ma(effect),
            stalled: effect.off.stall().map(ToString::to_string),
            new_setting_needed: effect.new_setting_needed,
            repair: effect.repair().word(),
            set_with_it: effect.set_with_it.map(|(duty, volts, turns)| {
                ByName(vec![
                    ("duty_points", 100.0 * duty),
                    ("potentiometer_v", volts),
                    ("screw_turns", turns),
                ])
            }),
            why: why(effect),
        }
    };
    serializer.collect_seq(effects.iter().map(record))
}

fn readings(state: Option<&State>) -> [Option<f64>; 4] {
    READINGS.map(|name| Reading::find(name)?.value(state?))
}

fn lambda(point: &Point) -> Option<f64> {
    point.state().map(|state| state.lambda)
}

fn cell_ma(effect: &Effect) -> Option<f64> {
    effect.cell_a.map(|ampere| Unit::Milliampere.from_si(ampere))
}

impl Found for PartsEffects {
    fn table(&self) -> Table {
        let mut columns = vec![
            Column::new("part", "part", "", 0),
            Column::new("change", "off by", "", 0),
            Column::new("lambda", "lambda", "", 3),
            Column::new("lambda_trim_off", "trim off", "", 3),
        ];
        columns.extend(READINGS.iter().filter_map(|name| Reading::find(name)).map(Column::of));
        columns.push(Column::new("idle_cell_ma", "idle cell", "mA", 1));
        columns.push(Column::new("repair", "setting", "", 0));
        let [sound, untrimmed] = &self.sound;
        let effects = self.effects.iter().map(|effect| {
            let words = [effect.part.name, effect.part.change, effect.repair().word()];
            row(words, [&effect.off, &effect.off_untrimmed], cell_ma(effect))
        });
        let sound = row(["none", "sound", ""], [sound, untrimmed], None);
        Table::new(columns, [sound].into_iter().chain(effects).collect())
    }
}

fn row(
    [part, change, repair]: [&str; 3],
    [point, untrimmed]: [&Point; 2],
    cell_ma: Option<f64>,
) -> Vec<Cell> {
    let mut row = vec![part.into(), change.into()];
    row.extend([lambda(point), lambda(untrimmed)].map(Cell::Number));
    row.extend(readings(point.state()).map(Cell::Number));
    row.extend([cell_ma.into(), repair.into()]);
    row
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
    match effect.repair() {
        Repair::SetAnew if !duty.is_finite() => "renewed, the engine does not run".into(),
        Repair::SetAnew => format!("{moves}: set it anew"),
        Repair::KeepTheSetting => format!("{moves}: the setting stays"),
        Repair::SetAnewIfSetWithIt => match effect.set_with_it {
            Some((duty, volts, turns)) => format!(
                "{moves}: the setting stays. If it was made with the fault, mending leaves the duty {:+.1} points, the potentiometer {:+.0} mV and the screw {:+.3} turn off",
                100.0 * duty,
                1e3 * volts,
                turns
            ),
            None => {
                format!("{moves}: the setting stays. With the fault there is no setting to find")
            }
        },
    }
}

/// The report of the parts' effects.
pub fn report(found: &Rc<PartsEffects>) -> Report {
    let mut report = Report::of("parts", found.clone());
    report.note_idle_flags(&found.scenario);
    if found.fuel_flows_at_rest {
        report.hazard(AT_REST);
    }
    let called: Vec<&str> = found
        .effects
        .iter()
        .filter(|effect| effect.new_setting_needed)
        .map(|effect| effect.part.name)
        .collect();
    if let Some(why) = &found.reason {
        report.heading(format!("Nothing can be told of the parts: {why}"));
        report.say(found.scenario.words());
        report.cautions = of_setups(&[&found.scenario.setup], &[PETROL]);
        return report;
    }
    report.heading(format!(
        "Renewed, these call for a new setting: {}",
        if called.is_empty() { "none".into() } else { called.join(", ") }
    ));
    let with_it = found.effects.iter().filter(|e| e.repair() == Repair::SetAnewIfSetWithIt);
    let with_it: Vec<&str> = with_it.map(|effect| effect.part.name).collect();
    if !with_it.is_empty() {
        report.say(format!(
            "Mended, these call for one only if the engine was set while they were bad: {}.",
            with_it.join(", ")
        ));
    }
    report.say(found.scenario.words());
    let short = ["part", "change", "duty_percent", "potentiometer_v", "cov_percent", "speed_rpm"];
    report.table(found.table().short_columns(&short).fitted(Fit::First));
    report.in_full(|report| {
        for effect in &found.effects {
            report.say(format!("  {:<20} {}", effect.part.name, why(effect)));
        }
    });
    let Thresholds { duty_points, potentiometer_v, static_setting_turns } =
        found.calls_for_a_setting_beyond;
    report.note(format!("A new setting is called for where the renewed part moves the duty by more than {duty_points:.0} points, the potentiometer by {:.0} mV or the static setting by 1/{:.0} turn. These limits, and how far a new part differs from the old, are our own. That some repairs call for a setting is common practice, no source. The altitude and exhaust-temperature sensors act where one is fitted, the second in runs and starts only. What a failed sensor does on the road: `quarterturn consequences --of SENSOR=MODE`.", 1e3 * potentiometer_v, 1.0 / static_setting_turns));
    report.note(DUTY_NOTE);
    report.cautions = of_setups(&[&found.scenario.setup], &[PETROL]);
    report
}
