//! What readings tell of the cause, what could be found, and how often it is right.

use super::readings::{UNDERSTOOD, Understood};
use crate::cautions::{ENGINE, MISFIRE, MODEL, PETROL};
use crate::report::{Cell, Column, Field, Fit, Found, Records, Report, Table};
use crate::scenario::Scenario;
use crate::text::fixed;
use serde::{Serialize, Serializer};
use sim_core::diagnose::causes::{NONE, Named};
use sim_core::diagnose::given::Sheet;
use sim_core::diagnose::library::Library;
use sim_core::diagnose::posterior::{Posterior, Read, Speaks, Worth};
use sim_core::diagnose::trial::{BIN_LEAST, CALLED, Scores, ranking};
use sim_core::point::Reading;
use std::rc::Rc;

/// Pairs that are told, and signs for and against each cause.
const TOLD: (usize, usize) = (10, 3);
/// Causes less probable than this have no signs.
const HAS_SIGNS: f64 = 0.005;
/// How much a reading must say to be a sign: a factor of 1.35 (natural logarithm).
const SAYS_LEAST: f64 = 0.3;
/// Readings whose expected values are told for the next check.
const EXPECTED: usize = 3;

/// A cause and what speaks for and against it.
#[derive(Serialize)]
struct CauseFound {
    name: String,
    probability: f64,
    /// That it is there, alone or with another.
    present_probability: f64,
    words: String,
    strength: Option<f64>,
    full_strength: &'static str,
    #[serde(rename = "for")]
    signs_for: Vec<String>,
    #[serde(rename = "against")]
    signs_against: Vec<String>,
}

#[derive(Serialize)]
struct PairFound {
    names: Vec<String>,
    probability: f64,
}

#[derive(Serialize)]
struct CheckFound {
    name: &'static str,
    words: &'static str,
    minutes: f64,
    caution: &'static str,
    information_bit: f64,
    waits_for: Option<&'static str>,
    expects: Vec<Expected>,
}

#[derive(Serialize)]
struct Expected {
    cause: String,
    reading: String,
    low: f64,
    high: f64,
    unit: &'static str,
}

/// What readings tell.
#[derive(Serialize)]
pub struct Diagnosis {
    #[serde(rename = "canonical_command")]
    command: String,
    #[serde(rename = "conditions")]
    scenario: Scenario,
    #[serde(serialize_with = "understood")]
    readings: Vec<Understood>,
    ear: Option<&'static str>,
    causes: Vec<CauseFound>,
    pairs: Vec<PairFound>,
    next_check: Option<CheckFound>,
    #[serde(skip_serializing_if = "Option::is_none")]
    checks: Option<Vec<CheckFound>>,
    #[serde(skip)]
    warm: bool,
}

fn understood<S: Serializer>(readings: &[Understood], serializer: S) -> Result<S::Ok, S::Error> {
    Records(UNDERSTOOD, readings).serialize(serializer)
}

fn name_of(library: &Library, cause: usize) -> String {
    library.causes.get(cause).map_or(NONE.to_string(), Named::name)
}

fn sign(library: &Library, speaks: &Speaks, sound: bool) -> String {
    let slot = &library.slots[speaks.slot];
    let (mean, sigma) = speaks.expected;
    let times = (speaks.says / std::f64::consts::LN_10).abs();
    let factor = if times > 3.0 { "more than 1000".into() } else { fixed(10f64.powf(times), 1) };
    let compared = match sound {
        true => String::new(),
        false => format!(", a sound car {}", slot.shown(speaks.sound)),
    };
    format!(
        "{} {}: expected {} give or take {}{compared} ({factor} times)",
        slot.words(),
        slot.shown(speaks.value),
        slot.shown(mean),
        slot.shown(sigma)
    )
}

fn check(library: &Library, worth: &Worth) -> CheckFound {
    let mut slots: Vec<(usize, f64)> = Vec::new();
    for (_, slot, mean, sigma) in &worth.expects {
        let others = worth.expects.iter().filter(|other| other.1 == *slot);
        let apart = others.map(|other| (other.2 - mean).abs() / sigma).fold(0.0, f64::max);
        match slots.iter_mut().find(|(known, _)| known == slot) {
            Some((_, most)) => *most = most.max(apart),
            None => slots.push((*slot, apart)),
        }
    }
    slots.sort_by(|a, b| b.1.total_cmp(&a.1));
    slots.truncate(EXPECTED);
    let expects = worth
        .expects
        .iter()
        .filter(|(_, slot, ..)| slots.iter().any(|(told, _)| told == slot))
        .map(|(cause, slot, mean, sigma)| {
            let slot = &library.slots[*slot];
            let (low, high) = slot.kind.ends();
            let at = |scaled: f64| slot.kind.unscaled(scaled.clamp(low, high));
            Expected {
                cause: name_of(library, *cause),
                reading: slot.name(),
                low: at(mean - 2.0 * sigma),
                high: at(mean + 2.0 * sigma),
                unit: slot.kind.unit().symbol(),
            }
        })
        .collect();
    CheckFound {
        name: worth.check.name,
        words: worth.check.words,
        minutes: worth.check.minutes,
        caution: worth.check.caution,
        information_bit: worth.information / std::f64::consts::LN_2,
        waits_for: worth.waits_for,
        expects,
    }
}

impl Diagnosis {
    /// What was found.
    pub fn new(
        command: String,
        scenario: Scenario,
        sheet: &Sheet,
        (library, posterior, reads): (&Library, &Posterior, &[Read]),
        (check_library, worths, all_checks): (&Library, &[Worth], bool),
    ) -> Diagnosis {
        let best = |cause: usize| {
            let own = |h: &&sim_core::diagnose::posterior::Weighed| h.causes == [cause];
            posterior.hypotheses.iter().find(own)
        };
        let ranked = ranking(posterior);
        let rival: Vec<usize> = ranked
            .iter()
            .find(|cause| **cause < library.causes.len())
            .and_then(|cause| best(*cause))
            .map(|h| h.cells.clone())
            .unwrap_or_default();
        let causes = ranked
            .iter()
            .map(|&cause| {
                let named = library.causes.get(cause);
                let found = best(cause);
                let cells = found.map(|h| h.cells.clone()).unwrap_or_default();
                let strength = found.and_then(|h| h.strengths.first().copied());
                let signs = match posterior.shared[cause] > HAS_SIGNS {
                    true => library.signs(&cells, &rival, reads),
                    false => Vec::new(),
                };
                let told = |is_for: bool| {
                    let says = |s: &&Speaks| s.says.abs() > SAYS_LEAST && (s.says > 0.0) == is_for;
                    let sound = named.is_none();
                    signs
                        .iter()
                        .filter(says)
                        .take(TOLD.1)
                        .map(|s| sign(library, s, sound))
                        .collect()
                };
                CauseFound {
                    name: name_of(library, cause),
                    probability: posterior.shared[cause],
                    present_probability: posterior.present[cause],
                    words: named.map_or("nothing is wrong that these readings show".into(), |n| {
                        n.words(strength.unwrap_or(1.0))
                    }),
                    strength: strength.filter(|_| named.is_some_and(|n| n.cause.graded)),
                    full_strength: named.map_or("", |n| n.cause.full),
                    signs_for: told(true),
                    signs_against: told(false),
                }
            })
            .collect();
        let pairs = posterior
            .hypotheses
            .iter()
            .filter(|h| h.causes.len() == 2)
            .take(TOLD.0)
            .map(|h| PairFound {
                names: h.causes.iter().map(|cause| name_of(library, *cause)).collect(),
                probability: h.probability,
            })
            .collect();
        let next = worths.iter().find(|worth| worth.waits_for.is_none());
        Diagnosis {
            command,
            scenario,
            readings: sheet.readings().iter().map(Understood::of).collect(),
            ear: sheet.ear(),
            causes,
            pairs,
            next_check: next.map(|worth| check(check_library, worth)),
            checks: all_checks
                .then(|| worths.iter().map(|worth| check(check_library, worth)).collect()),
            warm: sheet.is_warm(),
        }
    }
}

/// A probability as it is said.
fn said(probability: f64) -> String {
    match 100.0 * probability {
        percent if percent > 99.5 => "over 99 %".into(),
        percent if percent < 0.5 => "under 1 %".into(),
        percent => format!("{percent:.0} %"),
    }
}

impl Found for Diagnosis {
    fn table(&self) -> Table {
        let columns = vec![
            Column::new("name", "cause", "", 0),
            Column::new("probability_percent", "probability", "%", 1),
            Column::new("words", "what is wrong", "", 0),
        ];
        let row = |cause: &CauseFound| -> Vec<Cell> {
            vec![
                cause.name.as_str().into(),
                (100.0 * cause.probability).into(),
                cause.words.as_str().into(),
            ]
        };
        let told = self.causes.iter().enumerate().filter(|(i, c)| *i < 5 || c.probability > 0.01);
        Table::new(columns, told.map(|(_, cause)| row(cause)).collect())
    }
}

/// The report of a diagnosis.
pub fn report(found: &Rc<Diagnosis>) -> Report {
    let mut report = Report::of("diagnose", found.clone());
    let first = &found.causes[0];
    report.heading(format!(
        "{} readings: most likely {} ({}), {}",
        found.readings.len(),
        first.name,
        said(first.probability),
        first.words
    ));
    report.table(found.table().fitted(Fit::First));
    let likely = found.causes.iter().take(3).filter(|cause| cause.probability > 0.05);
    for (place, cause) in likely.enumerate() {
        let signs = |report: &mut Report, most: usize| {
            for sign in cause.signs_for.iter().take(most) {
                report.say(format!("For {}: {sign}.", cause.name));
            }
            for sign in cause.signs_against.iter().take(most) {
                report.say(format!("Against {}: {sign}.", cause.name));
            }
        };
        // The short answer has the strongest sign of the most likely cause.
        if place == 0 {
            report.in_short(|report| signs(report, 1));
        }
        report.in_full(|report| signs(report, usize::MAX));
    }
    if let Some(pair) = found.pairs.first().filter(|pair| pair.probability > 0.02) {
        report.say(format!(
            "Two at once: {} ({}).",
            pair.names.join(" and "),
            said(pair.probability)
        ));
    }
    match &found.next_check {
        Some(next) => {
            report.say(format!(
                "Next check: {} ({:.0} min). {}",
                next.words, next.minutes, next.caution
            ));
            for (place, expected) in next.expects.iter().enumerate() {
                let decimals = Reading::find(&expected.reading).map_or(2, |known| known.decimals);
                let line = format!(
                    "  if {}: {} {} to {} {}",
                    expected.cause,
                    expected.reading,
                    fixed(expected.low, decimals),
                    fixed(expected.high, decimals),
                    expected.unit
                );
                match place {
                    0 | 1 => report.say(line),
                    _ => report.in_full(|report| report.say(line)),
                }
            }
        }
        None => report.say("Every check of the list has been made."),
    }
    for check in found.checks.iter().flatten() {
        let waits = check.waits_for.map(|what| format!("; waits for {what}")).unwrap_or_default();
        report.say(format!(
            "{}: {:.2} bit in {:.0} min{waits}",
            check.name, check.information_bit, check.minutes
        ));
    }
    report.note_always(
        "The mixture screw is not moved before ignition, leaks and pressure have been read.",
    );
    report.note("Probabilities are those of a model: of the causes it lists, on relatives of this rig that were set right before. `quarterturn diagnose --trial 300` tells how far they can be trusted.");
    if !found.warm {
        report.note_always("Coolant below 60 degC: the readings are compared with an engine that cold; the trim may not act yet.");
    }
    report.cautions = vec![PETROL, ENGINE, MODEL];
    if first.name.starts_with("spark") {
        report.cautions.insert(0, MISFIRE);
    }
    report
}

/// What can be found.
struct CauseList(Vec<Named>);

static LISTED: &[Field<Named>] = &[
    Field::new("name", "cause", "", 0, |n| n.name().into()),
    Field::new("words", "what is wrong", "", 0, |n| n.words(1.0).into()),
    Field::new("other_way", "or", "", 0, |n| n.cause.other_way.into()),
    Field::new("full_strength", "full strength", "", 0, |n| n.cause.full.into()),
];

impl Serialize for CauseList {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut names: Vec<String> = self.0.iter().map(Named::name).collect();
        names.push(NONE.into());
        use serde::ser::SerializeStruct;
        let mut object = serializer.serialize_struct("CauseList", 2)?;
        object.serialize_field("names", &names)?;
        object.serialize_field("causes", &Records(LISTED, &self.0))?;
        object.end()
    }
}

impl Found for CauseList {
    fn table(&self) -> Table {
        let mut table = Table::of(LISTED, &self.0);
        let words = "nothing is wrong that the readings show";
        table.rows.push(vec![NONE.into(), words.into(), "".into(), "".into()]);
        table
    }
}

/// The report of the causes.
pub fn causes_report(causes: &[Named]) -> Report {
    let found = Rc::new(CauseList(causes.to_vec()));
    let table = found.table();
    let mut report = Report::of("diagnose causes", found);
    report.table(table);
    report
}

#[derive(Serialize)]
struct Bin {
    said: f64,
    true_percent: f64,
    cars: usize,
}

#[derive(Serialize)]
struct OtherLaw {
    law: &'static str,
    cars: usize,
    first_percent: f64,
    fall_points: f64,
}

#[derive(Serialize)]
struct ByCause {
    name: String,
    cars: usize,
    first: usize,
    first_three: usize,
}

/// Scores of a trial.
#[derive(Serialize)]
pub struct TrialScores {
    #[serde(rename = "canonical_command")]
    command: String,
    #[serde(rename = "conditions")]
    scenario: Scenario,
    cars: usize,
    first_percent: f64,
    first_three_percent: f64,
    pairs_first_five_percent: f64,
    false_alarm_percent: f64,
    called_from: f64,
    sound_cars_with_none_not_first_percent: f64,
    calibration: Vec<Bin>,
    calibration_worst_points: f64,
    median_checks: usize,
    fixed_order_median_checks: usize,
    other_laws: Vec<OtherLaw>,
    by_cause: Vec<ByCause>,
    sheet: Vec<String>,
}

impl TrialScores {
    /// Those of a trial.
    pub fn new(
        command: String,
        scenario: Scenario,
        scores: Scores,
        library: &Library,
    ) -> TrialScores {
        let by_cause = scores.by_cause.iter().enumerate().filter(|(_, (cars, ..))| *cars > 0);
        TrialScores {
            command,
            scenario,
            cars: scores.cars,
            first_percent: scores.first,
            first_three_percent: scores.first_three,
            pairs_first_five_percent: scores.pairs_first_five,
            false_alarm_percent: scores.false_alarms,
            called_from: CALLED,
            sound_cars_with_none_not_first_percent: scores.none_not_first,
            calibration_worst_points: scores.worst_bin(),
            calibration: scores
                .calibration
                .iter()
                .map(|&(said, true_percent, cars)| Bin { said, true_percent, cars })
                .collect(),
            median_checks: scores.median_checks.0,
            fixed_order_median_checks: scores.median_checks.1,
            other_laws: scores
                .other_laws
                .iter()
                .map(|(law, cars, first)| OtherLaw {
                    law: law.word(),
                    cars: *cars,
                    first_percent: *first,
                    fall_points: scores.first - first,
                })
                .collect(),
            by_cause: by_cause
                .map(|(cause, &(cars, first, first_three))| ByCause {
                    name: name_of(library, cause),
                    cars,
                    first,
                    first_three,
                })
                .collect(),
            sheet: library.slots.iter().map(|slot| slot.words()).collect(),
        }
    }
}

impl Found for TrialScores {
    fn table(&self) -> Table {
        let columns = vec![
            Column::new("name", "cause", "", 0),
            Column::new("cars", "cars", "", 0),
            Column::new("first", "first", "", 0),
            Column::new("first_three", "in the first three", "", 0),
        ];
        let row = |cause: &ByCause| -> Vec<Cell> {
            vec![
                cause.name.as_str().into(),
                cause.cars.into(),
                cause.first.into(),
                cause.first_three.into(),
            ]
        };
        Table::new(columns, self.by_cause.iter().map(row).collect())
    }
}

/// The report of a trial.
pub fn trial_report(found: &Rc<TrialScores>) -> Report {
    let mut report = Report::of("diagnose", found.clone());
    let f = found;
    report.heading(format!(
        "{} cars with one cause: first in {:.1} %, in the first three in {:.1} %",
        f.cars, f.first_percent, f.first_three_percent
    ));
    report
        .say(format!("Two causes: both in the first five in {:.1} %.", f.pairs_first_five_percent));
    report.say(format!(
        "Sound cars: a cause is called (said with {:.0} % or more) in {:.1} %; some cause stands before none in {:.1} %.",
        100.0 * f.called_from, f.false_alarm_percent, f.sound_cars_with_none_not_first_percent
    ));
    report.say(format!(
        "Checks after the first look to 90 % certainty: {} in the median; in a fixed order {}.",
        f.median_checks, f.fixed_order_median_checks
    ));
    for law in &f.other_laws {
        report.say(format!(
            "Other law, {}: first in {:.1} % of {} cars, {:+.1} points.",
            law.law, law.first_percent, law.cars, -law.fall_points
        ));
    }
    report.say("Calibration: said, and how often it was so:");
    for bin in &f.calibration {
        let few = if bin.cars < BIN_LEAST { " (few)" } else { "" };
        report.say(format!(
            "  {:.0} %: {:.0} % of {}{few}",
            100.0 * bin.said,
            bin.true_percent,
            bin.cars
        ));
    }
    report.say(format!(
        "The worst bin of {BIN_LEAST} and more is {:.1} points off.",
        f.calibration_worst_points
    ));
    report.table(f.table());
    report.note(format!("The sheet that is read of every car: {}.", f.sheet.join("; ")));
    report.note("Cars are relatives of the rig, set as a workshop sets them, with meters that err; as many of each cause, a third as many sound ones and pairs, a sixth as many of each other law.");
    report.cautions = vec![MODEL];
    report
}
