//! What a change does to every reading.

mod pair;
mod shares;

pub use pair::{Pair, PairIntervals};
pub use shares::{Share, Shares};

use pair::at_2500;
use shares::is_single;

use crate::cautions::{MISFIRE, MISFIRES, PETROL, of_setups};
use crate::report::{Cell, Column, Field, Fit, Found, Report, Table};
use crate::results::point::{DUTY_NOTE, short_readings};
use crate::rounding::Move;
use crate::scenario::{AT_REST, Scenario};
use crate::text::{fixed, hunting, plain};
use serde::Serialize;
use sim_core::conditions::Trim;
use sim_core::housing::HousingTurn;
use sim_core::point::{READINGS, Reading};
use sim_core::rig::keys::Setup;
use sim_core::units::Unit;
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
    /// How the housing is turned, if a voltage is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub housing: Option<Housing>,
    /// What the change does, in sentences.
    pub sentences: Vec<String>,
    /// What each of several changes has in what they do together; nothing where it cannot be
    /// told.
    #[serde(skip_serializing_if = "is_single")]
    pub shares: Shares,
}

/// How the potentiometer's housing is turned for a voltage.
#[derive(Serialize)]
pub struct Housing {
    /// The voltage asked for (V).
    pub asked_v: f64,
    /// What the warm idle shows before (V).
    pub before_v: f64,
    /// The turn, in plate height (mm); positive raises the voltage.
    pub turn_mm: f64,
    /// The same as an angle about the lever's axis (deg).
    pub turn_degrees: f64,
    /// Where it then stands (mm).
    pub housing_mm: f64,
}

impl Housing {
    /// The housing turned for a voltage (V).
    pub fn new(asked_v: f64, turn: HousingTurn) -> Housing {
        Housing {
            asked_v,
            before_v: turn.before_v,
            turn_mm: Unit::Millimetre.from_si(turn.to_m - turn.from_m),
            turn_degrees: turn.angle_rad.to_degrees(),
            housing_mm: Unit::Millimetre.from_si(turn.to_m),
        }
    }

    /// What the housing needs, in a sentence.
    pub fn sentence(&self) -> String {
        let Housing { asked_v, before_v, turn_mm, turn_degrees, .. } = self;
        let volts =
            Reading::find("potentiometer_v").map(|volts| Move::of(volts, *before_v, *asked_v));
        let Some(volts) = volts.filter(|volts| volts.steps() != 0) else {
            return "The warm idle shows that voltage already: leave the housing where it is."
                .into();
        };
        let [before, _] = volts.texts();
        let more = if volts.steps() < 0 { "less" } else { "more" };
        let way = if *turn_mm < 0.0 { "lowers" } else { "raises" };
        format!(
            "The warm idle shows {before} V and needs {} V {more}: turn the housing so that it {way} the voltage, by {:.2} degrees about the lever's axis ({:.2} mm of plate height). Read the meter while you turn. Turn nothing else.",
            volts.distance(),
            turn_degrees.abs(),
            turn_mm.abs()
        )
    }
}

impl Found for Prediction {
    fn table(&self) -> Table {
        table(&self.pair)
    }
}

/// Every reading before and after, in the decimals of its kind. The short answer has what
/// a workshop reads and what moved.
fn table(pair: &Pair) -> Table {
    let shown = || READINGS.iter().filter(|reading| reading.name != "residual");
    let rows = shown().map(|reading| {
        let (before, after) = pair.values(reading);
        let shown = |value: Option<f64>| {
            value.map_or("-".to_string(), |value| fixed(value, reading.decimals))
        };
        let difference = pair.moved(reading.name).map(|moved| moved.difference());
        let word = pair.direction(reading).unwrap_or_default();
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
    let row_readings: Vec<&'static str> = shown().map(|reading| reading.name).collect();
    let moved =
        |name: &str| Reading::find(name).is_some_and(|reading| pair.direction(reading).is_some());
    let place = |name| row_readings.iter().position(|row| *row == name);
    let short = short_readings(moved).into_iter().filter_map(place).collect();
    let mut table = Table::of_words(names, rows);
    if let Some(intervals) = &pair.intervals {
        with_intervals(&mut table, intervals, shown());
    }
    let table = table.short_rows(short).fitted(Fit::First);
    Table { row_readings, ..table }
}

/// Adds what holds in 90 of 100 cases to a table of readings, and leaves out which way they go in
/// the short answer.
fn with_intervals<'a>(
    table: &mut Table,
    intervals: &PairIntervals,
    readings: impl Iterator<Item = &'a Reading>,
) {
    let names = ["before", "after", "difference"];
    for name in names {
        for end in ["low", "high"] {
            let label = format!("{name}, {end}");
            table.columns.push(Column::new(&format!("{name}_{end}"), &label, "", 0));
        }
    }
    for (row, reading) in table.rows.iter_mut().zip(readings) {
        for ends in intervals.reading(reading.name) {
            let cell = |end: Option<f64>| match end {
                Some(value) => Cell::Word(fixed(value, reading.decimals)),
                None => Cell::Word("-".into()),
            };
            row.extend([cell(ends.map(|ends| ends.0)), cell(ends.map(|ends| ends.1))]);
        }
    }
    *table = std::mem::take(table)
        .short_columns(&["reading", "before", "after", "after_low", "after_high", "unit"])
        .full_columns(&[
            "reading",
            "before",
            "before_low",
            "before_high",
            "after",
            "after_low",
            "after_high",
            "unit",
        ]);
}

/// The shares in a table.
static SHARES: &[Field<Share>] = &[
    Field::new("change", "change", "", 0, |share| share.words.clone().into()),
    Field::new("potentiometer_v", "potentiometer", "V", 3, |share| share.potentiometer_v.into()),
    Field::new("duty_percent", "duty", "%", 0, |share| share.duty_percent.into()),
    Field::new("lambda", "lambda", "", 3, |share| share.lambda.into()),
];

/// That a coolant made colder than the air around it leaves air and fuel as they were.
fn stands_in_the_cold(before: &Setup, after: &Setup) -> Option<String> {
    let (was, is) = (&before.conditions, &after.conditions);
    let degc = |k: f64| format!("{:.0} degC", Unit::Celsius.from_si(k));
    (is.coolant_k < was.coolant_k && is.coolant_k < is.ambient_k).then(|| {
        let cold = plain(Unit::Celsius.from_si(is.coolant_k));
        format!(
            "Only the coolant is cold: the outside air stays at {}, the petrol at {}. For a car that stood in the cold add `--change outside={cold} --change fuel_temperature={cold}`.",
            degc(is.ambient_k),
            degc(is.fuel_k)
        )
    })
}

/// Duty that is called the middle of the trim (points).
const MIDDLE_POINTS: f64 = 3.0;

/// Why the duty does not start at 50 % with the trim on.
fn starts_off_the_middle(before: &Setup, pair: &Pair) -> Option<String> {
    let duty = pair.moved("duty_percent")?;
    let [from, _] = duty.texts();
    let off = from.parse::<f64>().ok()? - 50.0;
    let on = before.conditions.trim == Trim::On && before.conditions.actuator_a.is_none();
    let (side, does) = if off < 0.0 { ("rich", "takes fuel away") } else { ("lean", "adds fuel") };
    (on && off.abs() > MIDDLE_POINTS).then(|| {
        format!("Duty {from} % before: by itself this engine is {side}, so the trim {does}.")
    })
}

/// Why CO falls by more than the share of the cycles that are lost.
fn lost_cycles_thin(before: &Setup, after: &Setup, pair: &Pair) -> Option<String> {
    let more = after.conditions.misfire > before.conditions.misfire;
    let (was, is) = pair.values(Reading::find("co_percent")?);
    let left = 1.0 - (after.conditions.misfire - before.conditions.misfire);
    let falls = pair.moved("co_percent")?.steps() < 0 && is? < left * was?;
    (more && falls).then(|| {
        "CO falls by more than the lost cycles' share: their air holds no water, so of the dry gas it is a larger part. The mixture has moved, too.".to_string()
    })
}

/// The report of a prediction.
pub fn report(prediction: &Rc<Prediction>) -> Report {
    let mut report = Report::of("predict", prediction.clone());
    report.note_idle_flags(&prediction.scenario);
    let (before, after) = (&prediction.scenario.setup, &prediction.after);
    let points = [("before", &prediction.pair.before), ("after", &prediction.pair.after)];
    report.heading(format!("Change: {}", prediction.change));
    report.say(prediction.scenario.words());
    for sentence in &prediction.sentences {
        report.say(format!("  {sentence}"));
    }
    if prediction.shares.of.is_some() && prediction.shares.count > 1 {
        report.in_full(|report| {
            report.heading("Each change's share");
            report.table(Table::of(SHARES, &prediction.shares.printed(&prediction.pair)));
        });
        report.note("The changes can be made in any order. A share is what its change adds, as a mean over all orders (Shapley 1953). The shares add up to the difference; their last digits are rounded so that they do in print, too.");
    }
    report.table(prediction.table());
    if let Some(fast) = &prediction.fast {
        report.heading(
            "The same at 2500 rpm without load: valve shut, throttle as far open as needed",
        );
        report.table(table(fast));
        report.note_always("The duties at idle and fast idle should lie within 10 points of each other (common practice, no source). A screw that is off shows at idle only, pressure and slits at both. Unmetered air shows at idle, with a lower potentiometer.");
    }
    if prediction.pair.intervals.is_some() {
        report.note_always("Low and high: in 90 of 100 cars that these readings fit, the reading lies between. What a meter is off comes on top.");
    }
    for (word, point) in points {
        if let Some(why) = point.stall() {
            report.note_always(format!("Stalled {word}: {}.", why));
        }
        if let Some(hunts) = point.state().and_then(hunting) {
            let told = format!("The idle {word} the change hunts");
            report.note_always(hunts.replace("The idle hunts", &told));
        }
        if point.state().is_some_and(|state| state.flows_at_rest) {
            report.hazard(format!("{word} the change, {AT_REST}"));
        }
    }
    if let Some(note) = stands_in_the_cold(before, after) {
        report.note_always(note);
    }
    if after.conditions.altitude_m != before.conditions.altitude_m
        && after.rig.parts().controller.altitude_sensor > 0.5
    {
        report.note_always("This rig has an altitude sensor. Its correction belongs to the running controller and is not in this point: take `run`.");
    }
    report.note(DUTY_NOTE);
    report.note("Gas is before the catalyst.");
    if let Some(note) = starts_off_the_middle(before, &prediction.pair) {
        report.note_always(note);
    }
    if let Some(note) = lost_cycles_thin(before, after, &prediction.pair) {
        report.note_always(note);
    }
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
