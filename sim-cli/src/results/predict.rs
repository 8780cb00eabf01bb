//! What a change does to every reading.

use crate::cautions::{MISFIRE, MISFIRES, PETROL, of_setups};
use crate::report::{Found, Report, Table};
use crate::results::point::{PointRecord, value_at};
use crate::scenario::{AT_REST, Scenario};
use crate::text::{direction, fixed};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::point::{Point, READINGS, Reading};
use sim_core::rig::keys::Setup;
use sim_core::steady::SteadyEngine;
use std::rc::Rc;

/// A change and what came of it.
#[derive(Serialize)]
pub struct Prediction {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine before.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    /// What is changed, as it is typed.
    #[serde(rename = "change")]
    pub typed: Vec<String>,
    /// The same in words.
    #[serde(skip)]
    pub change: String,
    /// The setup after.
    #[serde(skip)]
    pub after: Setup,
    /// Before and after, as the conditions ask.
    #[serde(flatten)]
    pub pair: Pair,
    /// The same at the fast idle.
    #[serde(flatten, serialize_with = "at_2500")]
    pub fast: Option<Pair>,
    /// What the change does, in sentences.
    pub sentences: Vec<String>,
}

/// A point before and after.
pub struct Pair {
    /// Before.
    pub before: Point,
    /// After.
    pub after: Point,
}

impl Pair {
    /// The points of two setups.
    pub fn of(before: &Setup, after: &Setup) -> Pair {
        let point = |setup: &Setup| {
            SteadyEngine::new(&setup.rig, &setup.conditions).point(setup.conditions.screw_turns)
        };
        Pair { before: point(before), after: point(after) }
    }

    /// A reading before and after, where the engine runs.
    pub fn values(&self, reading: &Reading) -> (Option<f64>, Option<f64>) {
        (value_at(&self.before, reading), value_at(&self.after, reading))
    }

    /// The members of the JSON object, their names with a suffix.
    fn members<S: Serializer>(&self, suffix: &str, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry(&format!("before{suffix}"), &PointRecord(&self.before))?;
        map.serialize_entry(&format!("after{suffix}"), &PointRecord(&self.after))?;
        map.serialize_entry(&format!("difference{suffix}"), &Difference(self))?;
        map.end()
    }
}

impl Serialize for Pair {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.members("", serializer)
    }
}

fn at_2500<S: Serializer>(pair: &Option<Pair>, serializer: S) -> Result<S::Ok, S::Error> {
    match pair {
        Some(pair) => pair.members("_2500", serializer),
        None => serializer.serialize_none(),
    }
}

/// How far each reading moves.
struct Difference<'a>(&'a Pair);

impl Serialize for Difference<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Pair { before, after } = self.0;
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("screw_turns", &(after.screw_turns - before.screw_turns))?;
        for reading in READINGS {
            let (before, after) = self.0.values(reading);
            let moved = before.zip(after).map(|(before, after)| after - before);
            map.serialize_entry(reading.name, &moved)?;
        }
        map.end()
    }
}

impl Found for Prediction {
    fn table(&self) -> Table {
        table(&self.pair)
    }
}

/// Every reading before and after, in the decimals of its kind.
fn table(pair: &Pair) -> Table {
    let shown = READINGS.iter().filter(|reading| reading.name != "residual");
    let rows = shown.map(|reading| {
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
        let word = direction(reading, before, after).unwrap_or_default();
        [
            reading.label.to_string(),
            shown(before),
            shown(after),
            difference.unwrap_or("-".into()),
            reading.unit.symbol().to_string(),
            word.to_string(),
        ]
    });
    let names = ["reading", "before", "after", "difference", "unit", "direction"];
    Table::of_words(names, rows)
}

/// The report of a prediction.
pub fn report(prediction: &Rc<Prediction>) -> Report {
    let mut report = Report::of("predict", prediction.clone());
    let (before, after) = (&prediction.scenario.setup, &prediction.after);
    let points = [("before", &prediction.pair.before), ("after", &prediction.pair.after)];
    report.heading(format!("Change: {}", prediction.change));
    report.say(prediction.scenario.words());
    for sentence in &prediction.sentences {
        report.say(format!("  {sentence}"));
    }
    report.table(prediction.table());
    if let Some(fast) = &prediction.fast {
        report.heading(
            "The same at 2500 rpm without load: valve shut, throttle as far open as needed",
        );
        report.table(table(fast));
        report.note("Idle and fast idle should read duties within 10 points of each other (common practice, no source): screw errors show at idle only, pressure and slit errors at both, unmetered air at idle with a lower potentiometer.");
    }
    for (word, point) in points {
        if let Some(why) = point.stall() {
            report.note(format!("Stalled {word}: {}.", why));
        }
        if point.state().is_some_and(|state| state.flows_at_rest) {
            report.hazard(format!("{word} the change, {AT_REST}"));
        }
    }
    if after.conditions.altitude_m != before.conditions.altitude_m
        && after.rig.parts().controller.altitude_sensor > 0.5
    {
        report.note("This rig has an altitude sensor; its correction belongs to the running controller and is not in this point, which is uncorrected.");
    }
    report.note("Duty above 50 %: the controller adds fuel, the mechanical mixture is lean. A meter whose clips are swapped, and a controller that counts the other way, show 100 minus this. Gas is before the catalyst.");
    let (was, is) = (before.rig.parts(), after.rig.parts());
    let mut found = Vec::new();
    if was.pressures.system_pa != is.pressures.system_pa || was.slits != is.slits {
        found.push(PETROL);
    }
    if points.iter().filter_map(|(_, point)| point.state()).any(|state| state.misfire > MISFIRES) {
        found.push(MISFIRE);
    }
    report.cautions = of_setups(&[before, after], &found);
    report
}
