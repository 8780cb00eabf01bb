//! How often the intervals of a fit hold.

use crate::cautions::MODEL;
use crate::report::{Cell, Column, Found, Report, Table};
use crate::scenario::Scenario;
use serde::Serialize;
use sim_core::diagnose::car::Law;
use sim_core::fit::parameters::Space;
use sim_core::fit::question::Question;
use sim_core::fit::trial::Scores;
use std::rc::Rc;

#[derive(Serialize)]
struct OfParameter {
    name: String,
    told: usize,
    coverage_percent: Option<f64>,
    bias_standard_errors: Option<f64>,
    error_of_prior: Option<f64>,
}

#[derive(Serialize)]
struct OfLaw {
    law: &'static str,
    cars: usize,
    coverage_percent: f64,
    fall_points: f64,
    flame_kept_percent: f64,
    flame_said_percent: f64,
    outliers_per_hundred: f64,
    parameters: Vec<OfParameter>,
}

/// A trial of the fit.
#[derive(Serialize)]
pub struct FitTrial {
    #[serde(rename = "canonical_command")]
    command: String,
    #[serde(rename = "conditions")]
    scenario: Scenario,
    cars: usize,
    coverage_percent: f64,
    laws: Vec<OfLaw>,
    sheet: Vec<String>,
}

/// Cars in which a parameter must be told for its score to be told.
const FEW: usize = 20;

impl FitTrial {
    /// The scores of each law, the same one first.
    pub fn new(
        command: String,
        scenario: Scenario,
        scores: Vec<Scores>,
        question: &Question,
    ) -> FitTrial {
        let space = Space::of(&scenario.setup, question.each_line());
        let same = scores.first().map_or(f64::NAN, |scores| scores.coverage);
        let law = |scores: &Scores| OfLaw {
            law: match scores.law {
                // The fit has every law of the flame among its own.
                Law::Flame => "flame: Gulder's",
                Law::Unlisted => "a drag of 0.35 bar",
                law => law.word(),
            },
            cars: scores.cars,
            coverage_percent: scores.coverage,
            fall_points: same - scores.coverage,
            flame_kept_percent: scores.flame.0,
            flame_said_percent: scores.flame.1,
            outliers_per_hundred: scores.out_of_place,
            parameters: scores
                .parameters
                .iter()
                .map(|score| {
                    let enough = |value: f64| (score.told >= FEW).then_some(value);
                    OfParameter {
                        name: space.coordinates()[score.place].name(),
                        told: score.told,
                        coverage_percent: enough(score.coverage),
                        bias_standard_errors: enough(score.bias),
                        error_of_prior: enough(score.spreads),
                    }
                })
                .collect(),
        };
        FitTrial {
            command,
            cars: scores.first().map_or(0, |scores| scores.cars),
            coverage_percent: same,
            laws: scores.iter().map(law).collect(),
            sheet: question.reads.iter().map(|read| read.slot.words()).collect(),
            scenario,
        }
    }
}

impl Found for FitTrial {
    fn table(&self) -> Table {
        let columns = vec![
            Column::new("law", "law", "", 0),
            Column::new("parameter", "parameter", "", 0),
            Column::new("told", "told in", "cars", 0),
            Column::new("coverage_percent", "90 % holds", "%", 1),
            Column::new("bias", "off by", "errors", 2),
            Column::new("error_of_prior", "of prior", "", 2),
        ];
        let row = |law: &OfLaw, of: &OfParameter| -> Vec<Cell> {
            vec![
                law.law.into(),
                of.name.as_str().into(),
                of.told.into(),
                of.coverage_percent.into(),
                of.bias_standard_errors.into(),
                of.error_of_prior.into(),
            ]
        };
        let rows = self.laws.iter().flat_map(|law| law.parameters.iter().map(|of| row(law, of)));
        Table::new(columns, rows.collect())
    }
}

/// The report of a trial.
pub fn trial_report(found: &Rc<FitTrial>) -> Report {
    let mut report = Report::of("fit", found.clone());
    report.heading(format!(
        "{} cars: the 90 % intervals hold in {:.1} % of what is told",
        found.cars, found.coverage_percent
    ));
    let own = found.laws.first().map_or(0, |law| law.parameters.len());
    report.table(found.table().short_rows((0..own).collect()).short_columns(&[
        "parameter",
        "told",
        "coverage_percent",
        "bias",
        "error_of_prior",
    ]));
    for law in found.laws.iter().skip(1) {
        report.say(format!(
            "Other law, {}: {:.1} % hold in {} cars, {:+.1} points.",
            law.law, law.coverage_percent, law.cars, -law.fall_points
        ));
    }
    if let Some(law) = found.laws.first() {
        report.say(format!(
            "The flame's law is kept right in {:.0} %, and said to be so in {:.0} %.",
            law.flame_kept_percent, law.flame_said_percent
        ));
    }
    report.note_always("Off by: mean of fit less truth, in standard errors. Of prior: standard error against the prior's. A dash: told in fewer than 20 cars.");
    report.note(
        "A parameter counts as told where its standard error is below 0.85 of its prior's spread.",
    );
    report.note(format!("The sheet that is read of every car: {}; marks by ear unplugged, a sixteenth out and an eighth in.", found.sheet.join("; ")));
    report.note("Cars are drawn as the priors have them, read with meters, an ear and a model that err as stated; a fourth as many of each other law. A plunger that sticks holds the mixture off by a hundredth of a turn: the fit takes that for the screw.");
    report.cautions = vec![MODEL];
    report
}
