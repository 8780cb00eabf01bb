//! How often a diagnosis is right, and how far its probabilities can be trusted.

use super::name_of;
use crate::cautions::MODEL;
use crate::report::{Cell, Column, Found, Report, Table};
use crate::scenario::Scenario;
use serde::Serialize;
use sim_core::diagnose::library::Library;
use sim_core::diagnose::trial::{BIN_LEAST, Bin, CALLED, Scores, worst, worst_errors};
use std::rc::Rc;

#[derive(Serialize)]
struct Counted {
    said: f64,
    true_percent: f64,
    /// How many times it was said.
    cars: usize,
    /// Of how many different cars.
    different_cars: usize,
    by_chance_points: f64,
}

/// Standard errors that the worst of ten bins passes by chance alone in one trial of twenty.
const CHANCE_ERRORS: f64 = 2.8;

fn counted(bins: &[Bin]) -> Vec<Counted> {
    let one = |bin: &Bin| Counted {
        said: bin.said,
        true_percent: bin.true_percent,
        cars: bin.count,
        different_cars: bin.cars,
        by_chance_points: bin.by_chance,
    };
    bins.iter().map(one).collect()
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
    #[serde(skip_serializing_if = "Option::is_none")]
    observer_first: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    observer_first_three: Option<usize>,
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
    calibration: Vec<Counted>,
    calibration_worst_points: f64,
    calibration_worst_standard_errors: f64,
    calibration_whole_sheet: Vec<Counted>,
    calibration_whole_sheet_worst_points: f64,
    calibration_whole_sheet_worst_standard_errors: f64,
    median_checks: usize,
    fixed_order_median_checks: usize,
    other_laws: Vec<OtherLaw>,
    by_cause: Vec<ByCause>,
    /// Of all cars, an observer who knows the model: first, in the first three (%).
    #[serde(skip_serializing_if = "Option::is_none")]
    observer_first_percent: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    observer_first_three_percent: Option<f64>,
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
        let by_cause = scores.by_cause.iter().enumerate().filter(|(_, places)| places.cars > 0);
        let observed = |part: fn((usize, usize)) -> usize| {
            scores.all.observed.map(|of| 100.0 * part(of) as f64 / scores.all.cars as f64)
        };
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
            calibration_worst_points: worst(&scores.calibration),
            calibration_worst_standard_errors: worst_errors(&scores.calibration),
            calibration: counted(&scores.calibration),
            calibration_whole_sheet_worst_points: worst(&scores.calibration_whole),
            calibration_whole_sheet_worst_standard_errors: worst_errors(&scores.calibration_whole),
            calibration_whole_sheet: counted(&scores.calibration_whole),
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
                .map(|(cause, places)| ByCause {
                    name: name_of(library, cause),
                    cars: places.cars,
                    first: places.first,
                    first_three: places.first_three,
                    observer_first: places.observed.map(|(first, _)| first),
                    observer_first_three: places.observed.map(|(_, three)| three),
                })
                .collect(),
            observer_first_percent: observed(|(first, _)| first),
            observer_first_three_percent: observed(|(_, three)| three),
            sheet: library.slots.iter().map(|slot| slot.words()).collect(),
        }
    }
}

impl Found for TrialScores {
    fn table(&self) -> Table {
        let mut columns = vec![
            Column::new("name", "cause", "", 0),
            Column::new("cars", "cars", "", 0),
            Column::new("first", "first", "", 0),
            Column::new("first_three", "in the first three", "", 0),
        ];
        if self.observer_first_percent.is_some() {
            columns.push(Column::new("observer_first", "observer: first", "", 0));
            columns.push(Column::new("observer_first_three", "in the first three", "", 0));
        }
        let row = |cause: &ByCause| -> Vec<Cell> {
            let own = [cause.cars, cause.first, cause.first_three].into_iter();
            let observed = [cause.observer_first, cause.observer_first_three].into_iter().flatten();
            let name = std::iter::once(Cell::from(cause.name.as_str()));
            name.chain(own.chain(observed).map(Cell::from)).collect()
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
    if let (Some(first), Some(three)) = (f.observer_first_percent, f.observer_first_three_percent) {
        report.say(format!("An observer who knows the model and the strengths, of the same readings: first in {first:.1} %, in the first three in {three:.1} %."));
    }
    for law in &f.other_laws {
        report.say(format!(
            "Other law, {}: first in {:.1} % of {} cars, {:+.1} points.",
            law.law, law.first_percent, law.cars, -law.fall_points
        ));
    }
    let bins = |report: &mut Report, bins: &[Counted]| {
        for bin in bins {
            let few = if bin.cars < BIN_LEAST { ", few" } else { "" };
            report.say(format!(
                "  {:.0} %: {:.0} % of {} (by chance {:.1} points{few})",
                100.0 * bin.said,
                bin.true_percent,
                bin.cars,
                bin.by_chance_points
            ));
        }
    };
    report.say("Calibration: said, how often it was so, and one standard error:");
    bins(&mut report, &f.calibration);
    let judged = |points: f64, errors: f64| {
        let chance = match errors <= CHANCE_ERRORS {
            true => "chance alone does as much",
            false => "more than chance does",
        };
        format!(
            "The worst bin of {BIN_LEAST} and more is {points:.1} points off, {errors:.1} of its standard errors: {chance}."
        )
    };
    report.say(judged(f.calibration_worst_points, f.calibration_worst_standard_errors));
    report.in_full(|report| {
        report.say("The same of whole sheets only:");
        bins(report, &f.calibration_whole_sheet);
        report.say(judged(
            f.calibration_whole_sheet_worst_points,
            f.calibration_whole_sheet_worst_standard_errors,
        ));
    });
    report.table(f.table());
    report.note("Calibration counts every cause, and none, that is said with 1 % or more, in ten bins; a standard error counts cars, since what is said of one car hangs together. Of ten bins chance alone puts one more than 2.8 standard errors off in one trial of twenty. Each car is read on the whole sheet, and again, each meter erring anew, on parts of it: the first look and some of the other checks by chance, as a workshop has them on the way. Four further cars for each with one cause, drawn alike, are read on parts only.");
    report.note(format!("The sheet that is read of every car: {}.", f.sheet.join("; ")));
    report.note("Cars are relatives of the rig, set as a workshop sets them, with meters that err; as many of each cause, a third as many sound ones and pairs, a sixth as many of each other law.");
    report.cautions = vec![MODEL];
    report
}
