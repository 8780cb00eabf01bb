//! What a car's readings tell of its parts and its setting.

use super::readings::{UNDERSTOOD, Understood};
use crate::cautions::{ENGINE, MODEL};
use crate::report::{Field, Fit as Fits, Found, Records, Report, Table};
use crate::scenario::Scenario;
use crate::text::{fixed, flame_words, harmless};
use serde::{Serialize, Serializer};
use serde_json::{Map, Value};
use sim_core::diagnose::given::Sheet;
use sim_core::fit::posterior::Fitted;
use sim_core::fit::trial::NINETY;
use std::rc::Rc;

/// What is told of a parameter.
pub struct Parameter {
    name: String,
    words: &'static str,
    value: f64,
    unit: &'static str,
    standard_error: f64,
    low: f64,
    high: f64,
    identified: bool,
    why: String,
    error_of_prior: f64,
}

static PARAMETERS: &[Field<Parameter>] = &[
    Field::new("name", "parameter", "", 0, |p| p.name.as_str().into()),
    Field::new("value", "value", "", 4, |p| p.value.into()),
    Field::new("low", "90 %: from", "", 4, |p| p.low.into()),
    Field::new("high", "to", "", 4, |p| p.high.into()),
    Field::new("unit", "unit", "", 0, |p| p.unit.into()),
    Field::new("standard_error", "standard error", "", 4, |p| p.standard_error.into()),
    Field::new("identified", "told", "", 0, |p| p.identified.into()),
    Field::new("why_not", "why not", "", 0, |p| p.why.as_str().into()),
    Field::new("error_of_prior", "of prior", "", 2, |p| p.error_of_prior.into()),
    Field::new("words", "what it is", "", 0, |p| p.words.into()),
];

/// A reading that the others contradict.
#[derive(Serialize)]
struct Outlier {
    line: Option<usize>,
    reading: String,
    when: String,
    value: f64,
    expected: f64,
    expected_low: f64,
    expected_high: f64,
    unit: &'static str,
    #[serde(skip)]
    words: String,
}

/// A fit.
#[derive(Serialize)]
pub struct Fit {
    #[serde(rename = "canonical_command")]
    command: String,
    #[serde(rename = "conditions")]
    scenario: Scenario,
    #[serde(serialize_with = "understood")]
    readings: Vec<Understood>,
    #[serde(serialize_with = "parameters")]
    parameters: Vec<Parameter>,
    outliers: Vec<Outlier>,
    condition_number: f64,
    flame: &'static str,
    flame_laws: Map<String, Value>,
    not_used: Vec<String>,
    #[serde(skip)]
    marks: usize,
}

fn understood<S: Serializer>(readings: &[Understood], serializer: S) -> Result<S::Ok, S::Error> {
    Records(UNDERSTOOD, readings).serialize(serializer)
}

fn parameters<S: Serializer>(found: &[Parameter], serializer: S) -> Result<S::Ok, S::Error> {
    Records(PARAMETERS, found).serialize(serializer)
}

impl Fit {
    /// What was found. With the sheet: the line of each reading, and those not used.
    pub fn new(
        (command, scenario): (String, Scenario),
        (sheet, lines, not_used): (&Sheet, &[Option<usize>], &[usize]),
        fitted: &Fitted,
    ) -> Fit {
        let given = sheet.readings();
        let used: Vec<usize> = (0..given.len()).filter(|i| !not_used.contains(i)).collect();
        let coordinates = fitted.space.coordinates();
        let parameters = fitted.parameters.iter().map(|told| {
            let coordinate = &coordinates[told.place];
            let off = NINETY * told.standard_error;
            let why = match told.together_with {
                Some(other) => format!("only together with {}", coordinates[other].name()),
                None if told.identified => String::new(),
                None => "these readings hardly tell it: left at its prior".into(),
            };
            let low = told.value - off;
            // What cannot be below 0 is not.
            let least = if told.value >= 0.0 && coordinate.is_never_negative() { 0.0 } else { low };
            Parameter {
                name: coordinate.name(),
                words: coordinate.parameter.words,
                value: told.value,
                unit: coordinate.unit().symbol(),
                standard_error: told.standard_error,
                low: low.max(least),
                high: told.value + off,
                identified: told.identified,
                why,
                error_of_prior: told.spreads,
            }
        });
        let outliers = fitted.out_of_place.iter().map(|out| {
            let place = used[out.read];
            let slot = &given[place].slot;
            let (expected, sigma) = out.expected;
            let at = |sigmas: f64| slot.kind.unscaled(expected + sigmas * sigma);
            Outlier {
                line: lines[place],
                reading: slot.name(),
                when: slot.taken().map_or("standing".into(), |taken| taken.words()),
                value: given[place].value,
                expected: at(0.0),
                expected_low: at(-NINETY),
                expected_high: at(NINETY),
                unit: slot.kind.unit().symbol(),
                words: format!(
                    "{} shows {}, the others say {} to {}",
                    slot.words(),
                    slot.shown(given[place].value),
                    slot.shown(at(-NINETY)),
                    slot.shown(at(NINETY))
                ),
            }
        });
        let laws = flame_words().map(String::from).zip(fitted.laws.iter().map(|p| (*p).into()));
        let words: Vec<&'static str> = flame_words().collect();
        Fit {
            command,
            scenario,
            readings: given.iter().map(Understood::of).collect(),
            parameters: parameters.collect(),
            outliers: outliers.collect(),
            condition_number: fitted.condition_number,
            flame: words[fitted.flame as usize],
            flame_laws: laws.collect(),
            not_used: not_used.iter().map(|place| given[*place].slot.name()).collect(),
            marks: sheet.ears().len(),
        }
    }
}

impl Found for Fit {
    fn table(&self) -> Table {
        Table::of(PARAMETERS, &self.parameters)
    }
}

/// The report of a fit; with where its file goes, if it has one.
pub fn report(found: &Rc<Fit>, place: Option<&str>) -> Report {
    let mut report = Report::of("fit", found.clone());
    report.note_idle_flags(&found.scenario);
    let told = found.parameters.iter().filter(|p| p.identified).count();
    let left = found.parameters.len() - told;
    report.heading(format!(
        "{} readings, {} by ear: {told} parameters told, {left} left at their prior",
        found.readings.len() - found.not_used.len() - found.outliers.len(),
        found.marks,
    ));
    for outlier in &found.outliers {
        let line = outlier.line.map(|line| format!("line {line}: ")).unwrap_or_default();
        report
            .hazard(format!("Out of place and left out: {line}{}. Read it again.", outlier.words));
    }
    let rows = (0..found.parameters.len()).collect();
    report.table(
        found
            .table()
            .short_columns(&["name", "value", "low", "high", "unit", "identified"])
            .short_rows(rows)
            .fitted(Fits::First),
    );
    for parameter in found.parameters.iter().filter(|p| !p.why.is_empty()) {
        let line = format!("{}: {}.", parameter.name, parameter.why);
        match parameter.why.starts_with("only") {
            true => report.say(line),
            false => report.in_full(|report| report.say(line)),
        }
    }
    let probability = found.flame_laws.get(found.flame).and_then(Value::as_f64).unwrap_or(0.0);
    report.say(format!(
        "Flame law that fits best: {} ({} %, of {} laws).",
        found.flame,
        fixed(100.0 * probability, 0),
        found.flame_laws.len()
    ));
    if !found.not_used.is_empty() {
        report.note_always(format!(
            "Not used, the model does not show them from these parameters: {}.",
            found.not_used.join(", ")
        ));
    }
    match place {
        Some(place) => {
            let place = harmless(place);
            report.note_always(format!(
                "Written: {place}. `--rig {place}` takes this car; its screw 0 is where you found it."
            ));
        }
        None => report.note_always(
            "`-o my-car.toml` writes this car; `--rig my-car.toml` takes it anywhere.",
        ),
    }
    report.note("Screw: turns in from where the duty would stand at 50 %. Each reading counts by what its meter may be off, and half as much again for the model, added as squares.");
    report.note("Priors are the spread of cars that come in and of a rig's relatives: our own judgement. `quarterturn fit --trial 1000` tells how often the intervals hold.");
    report.cautions = vec![ENGINE, MODEL];
    report
}
