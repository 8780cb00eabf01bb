//! A diagnosis in words and as a table.

use super::{CauseFound, Diagnosis};
use crate::cautions::{ENGINE, MISFIRE, MODEL, PETROL};
use crate::report::{Cell, Column, Fit, Found, Report, Table};
use crate::text::fixed;
use sim_core::point::Reading;
use std::rc::Rc;

/// Probability of the first cause from which readings tell anything.
const TELLS: f64 = 0.3;

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
    report.note_idle_flags(&found.scenario);
    let first = &found.causes[0];
    let one = format!("{} ({}), {}", first.name, said(first.probability), first.words);
    let says = match found.pairs.first() {
        Some(pair) if pair.probability > 0.5 => {
            let names = pair.names.join(" and ");
            format!("most likely two at once, {names} ({})", said(pair.probability))
        }
        _ if first.probability < TELLS => format!("they do not tell yet; first of all {one}"),
        _ => format!("most likely {one}"),
    };
    report.heading(format!("{} readings: {says}", found.readings.len()));
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
    if let Some(pair) = found.pairs.first().filter(|pair| (0.02..=0.5).contains(&pair.probability))
    {
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
                let by_size = match expected.high.abs() {
                    size if size >= 100.0 => 0,
                    size if size >= 10.0 => 1,
                    _ => 2,
                };
                let decimals =
                    Reading::find(&expected.reading).map_or(by_size, |known| known.decimals);
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
