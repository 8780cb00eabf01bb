//! The next move, and how good such advice is.

use crate::cautions::{ENGINE, MODEL, PETROL};
use crate::report::{Cell, Column, Field, Found, Records, Report, Table};
use crate::scenario::Scenario;
use crate::text::{capital, fixed, turns_typed};
use serde::{Serialize, Serializer};
use serde_json::{Value, json};
use sim_core::diagnose::car::Law;
use sim_core::fit::advise::{Act, Advice, Expected, WANTED};
use sim_core::fit::bench_trial::{Scores, WayScores};
use sim_core::point::Reading;
use std::rc::Rc;

/// What a meter should then show.
pub struct Expects {
    reading: String,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
}

static EXPECTS: &[Field<Expects>] = &[
    Field::new("reading", "reading", "", 0, |e| e.reading.as_str().into()),
    Field::new("value", "about", "", 3, |e| e.value.into()),
    Field::new("low", "90 %: from", "", 3, |e| e.low.into()),
    Field::new("high", "to", "", 3, |e| e.high.into()),
    Field::new("unit", "unit", "", 0, |e| e.unit.into()),
];

impl Expects {
    fn of(expected: &Expected) -> Expects {
        Expects {
            reading: expected.slot.name(),
            value: expected.value,
            low: expected.low,
            high: expected.high,
            unit: expected.slot.kind.unit().symbol(),
        }
    }
}

/// Advice.
#[derive(Serialize)]
pub struct Advised {
    #[serde(rename = "canonical_command")]
    command: String,
    #[serde(rename = "conditions")]
    scenario: Scenario,
    #[serde(rename = "move")]
    act: Value,
    #[serde(serialize_with = "expects")]
    expects: Vec<Expects>,
    stop: bool,
    stop_when: String,
    words: String,
    stands: Value,
    screw_stands_turns: f64,
    held_short_of_an_edge: bool,
    #[serde(skip)]
    caution: Option<&'static str>,
}

fn expects<S: Serializer>(found: &[Expects], serializer: S) -> Result<S::Ok, S::Error> {
    Records(EXPECTS, found).serialize(serializer)
}

impl Advised {
    /// Advice on a car whose screw stands so many turns from found, that is to show a voltage
    /// (V), with its plate arm (m).
    pub fn new(
        (command, scenario): (String, Scenario),
        advice: &Advice,
        (turned, wanted_v, plate_arm_m): (f64, f64, f64),
    ) -> Advised {
        let mut caution = None;
        let (act, words) = match advice.act {
            Act::Screw(turns) => {
                let way = if turns > 0.0 { "in (clockwise, richer)" } else { "out (leaner)" };
                let words = format!(
                    "Turn the screw {} turn {way}, take the tool out, blip the throttle, wait a minute, read again. It then stands {} from found.",
                    turns_typed(turns.abs()),
                    turns_typed(turned + turns)
                );
                (json!({"screw_turns": turns, "from_found_turns": turned + turns}), words)
            }
            Act::Housing(up_m) => {
                let degrees = (up_m / plate_arm_m).to_degrees();
                let way = if up_m > 0.0 { "raises" } else { "lowers" };
                let words = format!(
                    "Leave the screw. Turn the potentiometer's housing so that it {way} the voltage, by {:.2} degrees about the lever's axis ({:.2} mm of plate height), to {wanted_v:.2} V. Read the meter while you turn.",
                    degrees.abs(),
                    1e3 * up_m.abs()
                );
                (json!({"housing_mm": 1e3 * up_m, "housing_degrees": degrees}), words)
            }
            Act::Check(check, what) => {
                caution = Some(check.caution);
                let words = format!(
                    "Move nothing yet: {what} first. {} ({:.0} min).",
                    capital(check.words),
                    check.minutes
                );
                (json!({"check": check.name, "because_of": what}), words)
            }
            Act::Stop => {
                let words = "Stop: duty and voltage are where they are wanted. Write both down, seal the screw.";
                (Value::Null, words.to_string())
            }
        };
        let [duty, volts] = advice.stands;
        Advised {
            command,
            scenario,
            act,
            expects: advice.expects.iter().map(Expects::of).collect(),
            stop: matches!(advice.act, Act::Stop),
            stop_when: format!(
                "duty {} to {} %, potentiometer {:.2} to {:.2} V",
                50.0 - WANTED.0,
                50.0 + WANTED.0,
                wanted_v - WANTED.1,
                wanted_v + WANTED.1
            ),
            words,
            stands: json!({
                "duty_percent": duty.0,
                "duty_percent_standard_error": duty.1,
                "potentiometer_v": volts.0,
                "potentiometer_v_standard_error": volts.1,
            }),
            screw_stands_turns: turned,
            held_short_of_an_edge: advice.held_short,
            caution,
        }
    }
}

impl Found for Advised {
    fn table(&self) -> Table {
        Table::of(EXPECTS, &self.expects)
    }
}

/// What the meters should show, as they show it.
fn shown(expects: &[Expects]) -> Table {
    let columns = vec![
        Column::new("reading", "reading", "", 0),
        Column::new("value", "about", "", 0),
        Column::new("low", "90 %: from", "", 0),
        Column::new("high", "to", "", 0),
        Column::new("unit", "unit", "", 0),
    ];
    let row = |expected: &Expects| -> Vec<Cell> {
        let known = Reading::find(&expected.reading);
        let decimals = known.map_or(2, |known| known.decimals);
        let name = known.map_or(expected.reading.as_str(), |known| known.label);
        let numbers = [expected.value, expected.low, expected.high];
        let [value, low, high] = numbers.map(|number| fixed(number, decimals).into());
        vec![name.into(), value, low, high, expected.unit.into()]
    };
    Table::new(columns, expects.iter().map(row).collect())
}

/// The report of advice.
pub fn report(found: &Rc<Advised>) -> Report {
    let mut report = Report::of("advise", found.clone());
    report.note_idle_flags(&found.scenario);
    report.heading(found.words.clone());
    if !found.expects.is_empty() {
        let when =
            if found.stop { "The meters should show:" } else { "The meters should then show:" };
        report.say(when);
        report.table(shown(&found.expects));
    }
    if let Some(caution) = found.caution {
        report.say(caution);
    }
    if !found.stop {
        report.say(format!("Stop when {}.", found.stop_when));
    }
    if found.held_short_of_an_edge {
        report.note_always("The step is not the nearest to what is wanted: past an edge, or where fuel would run at rest, nothing is turned.");
    }
    if !found.expects.is_empty() && !found.stop {
        report.note_always("Outside what should show: turn back as counted, and look for a fault (`quarterturn diagnose`).");
    }
    report.note("A hand is off by up to a seventy-second of a turn: that is in the intervals, with the meters and what is not known of the car.");
    report.cautions = match found.caution {
        Some(_) => vec![PETROL, ENGINE, MODEL],
        None => vec![ENGINE, MODEL],
    };
    report
}

/// A trial of the advice.
#[derive(Serialize)]
pub struct AdviseTrial {
    #[serde(rename = "canonical_command")]
    command: String,
    #[serde(rename = "conditions")]
    scenario: Scenario,
    engines: usize,
    coverage_percent: f64,
    median_moves: usize,
    p95_moves: usize,
    reached_percent: f64,
    ear_median_moves: usize,
    ear_p95_moves: usize,
    ear_reached_percent: f64,
    ear_fifth_median_moves: usize,
    ear_fifth_p95_moves: usize,
    ear_fifth_reached_percent: f64,
    laws: Vec<Value>,
    #[serde(skip)]
    scores: Vec<Scores>,
}

fn word(law: Law) -> &'static str {
    match law {
        Law::Flame => "flame: Gulder's",
        Law::Unlisted => "a drag of 0.35 bar",
        law => law.word(),
    }
}

const WAYS: [&str; 3] = ["advised", "by ear, 1/16 leaner", "by ear, 1/5 leaner"];

impl AdviseTrial {
    /// The scores of each law, the same one first. There is one at least.
    pub fn new(command: String, scenario: Scenario, scores: Vec<Scores>) -> AdviseTrial {
        let none = WayScores { moves: (0, 0), of_screw: 0, right: f64::NAN };
        let first = scores.first();
        let ways = first.map_or([none; 3], |scores| scores.ways);
        let [advised, sixteenth, fifth] = ways;
        let laws = scores.iter().map(|scores| {
            let way = |way: &WayScores| {
                json!({
                    "median_moves": way.moves.0,
                    "p95_moves": way.moves.1,
                    "median_screw_moves": way.of_screw,
                    "reached_percent": way.right,
                })
            };
            json!({
                "law": word(scores.law),
                "engines": scores.cars,
                "coverage_percent": scores.within,
                "advised": way(&scores.ways[0]),
                "ear": way(&scores.ways[1]),
                "ear_fifth": way(&scores.ways[2]),
                "fall_points": advised.right - scores.ways[0].right,
            })
        });
        AdviseTrial {
            command,
            engines: first.map_or(0, |scores| scores.cars),
            coverage_percent: first.map_or(f64::NAN, |scores| scores.within),
            median_moves: advised.moves.0,
            p95_moves: advised.moves.1,
            reached_percent: advised.right,
            ear_median_moves: sixteenth.moves.0,
            ear_p95_moves: sixteenth.moves.1,
            ear_reached_percent: sixteenth.right,
            ear_fifth_median_moves: fifth.moves.0,
            ear_fifth_p95_moves: fifth.moves.1,
            ear_fifth_reached_percent: fifth.right,
            laws: laws.collect(),
            scenario,
            scores,
        }
    }
}

impl Found for AdviseTrial {
    fn table(&self) -> Table {
        let columns = vec![
            Column::new("law", "law", "", 0),
            Column::new("way", "way", "", 0),
            Column::new("median_moves", "moves: half need", "", 0),
            Column::new("p95_moves", "95 % need", "", 0),
            Column::new("reached_percent", "got there", "%", 1),
        ];
        let row = |scores: &Scores, way: usize| -> Vec<Cell> {
            let of = &scores.ways[way];
            vec![
                word(scores.law).into(),
                WAYS[way].into(),
                of.moves.0.into(),
                of.moves.1.into(),
                of.right.into(),
            ]
        };
        let rows = self.scores.iter().flat_map(|scores| (0..3).map(move |way| row(scores, way)));
        Table::new(columns, rows.collect())
    }
}

/// The report of a trial.
pub fn trial_report(found: &Rc<AdviseTrial>) -> Report {
    let mut report = Report::of("advise", found.clone());
    report.note_idle_flags(&found.scenario);
    report.heading(format!(
        "{} engines: half are set in {} moves, 95 % in {}; {} % get there",
        found.engines,
        found.median_moves,
        found.p95_moves,
        fixed(found.reached_percent, 1)
    ));
    report.table(found.table().short_rows(vec![0, 1, 2]).short_columns(&[
        "way",
        "median_moves",
        "p95_moves",
        "reached_percent",
    ]));
    report.say(format!(
        "The meters show what was expected, within its 90 %, in {} %.",
        fixed(found.coverage_percent, 1)
    ));
    for scores in found.scores.iter().skip(1) {
        report.say(format!(
            "Other law, {}: {} % get there in {} moves (half), {:+.1} points.",
            word(scores.law),
            fixed(scores.ways[0].right, 1),
            scores.ways[0].moves.0,
            scores.ways[0].right - found.reached_percent
        ));
    }
    report.note_always("A move: every turn of the screw, whatever it is for, and every turn of the housing. There: duty 40 to 60 % and the voltage within 0.01 V, as they are, not as they are read.");
    report.note("Hands are off by up to a seventy-second of a turn; a blip leaves a third of the plunger's friction; the trim is read after three of its time constants; meters and ear err as stated. Ignition, leaks and pressure have been read.");
    report.note("The way of the ear: a thirty-second out at a time until it runs rough, in until it runs rough, half way back, then a sixteenth of a turn or a fifth of the width leaner; the housing by its meter.");
    report.cautions = vec![MODEL];
    report
}
