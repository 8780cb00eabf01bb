//! What a run found, for reading.

use super::{BANDED, DWELLS_TOLD, Run, dwells, waits};
use crate::cautions::{MISFIRE, MISFIRES, of_setups};
use crate::report::{Fit, Report, Table};
use crate::results::point::DUTY_NOTE;
use crate::results::procedure::action_words;
use crate::text::{fixed, hunting};
use sim_core::conditions::Trim;
use sim_core::point::{Reading, State, WORKSHOP_READINGS};
use sim_core::run::procedure::Action;
use std::rc::Rc;

/// Most actions that the short answer tells one by one.
const STEPS_TOLD: usize = 4;

/// The report of a run.
pub fn report(run: &Rc<Run>) -> Report {
    let mut report = Report::of("run", run.clone());
    report.warn_at_rest(&run.scenario);
    let record = &run.record;
    report.heading(run.headline());
    report.say(run.scenario.words().replace("warm point", "running"));
    let steps = &run.procedure.steps;
    let tell_steps = |report: &mut Report| {
        for step in steps {
            report.say(format!("  at {:6.1} s  {}", step.at_s, action_words(&step.action)));
        }
    };
    match steps.len() {
        0..=STEPS_TOLD => tell_steps(&mut report),
        count => {
            report.in_full(tell_steps);
            let told = record.dwells.len() > DWELLS_TOLD;
            report.in_short(|report| match told {
                true => {}
                false => report
                    .say(format!("  {count} actions, the last at {:.1} s", record.last_action_s)),
            });
        }
    }
    let value = |state: Option<&State>, reading: &Reading| {
        let value = state.and_then(|state| reading.value(state));
        value.map_or("-".to_string(), |value| fixed(value, reading.decimals))
    };
    let hidden = ["residual", "wanted_ma", "wanted_duty_percent"];
    let shown = || run.settled().filter(|(reading, _)| !hidden.contains(&reading.name));
    let rows = shown().map(|(reading, after)| {
        let [first, last] =
            [run.trace.first, record.last].map(|state| value(state.as_ref(), reading));
        let settled = match after {
            Some(s) if s > 0.0 => format!("{s:.1} s"),
            Some(_) => "at once".into(),
            None if last == "-" => "-".into(),
            None => "not yet".into(),
        };
        [reading.label.into(), first, last, reading.unit.symbol().into(), settled]
    });
    let names = ["reading", "at the start", "at the end", "unit", "settled after"];
    if let Some(intervals) = &run.intervals {
        let told = |name: &&str| {
            let (reading, (low, high)) = (Reading::find(name)?, intervals.last.reading(name)?);
            let [low, high] = [low, high].map(|end| fixed(end, reading.decimals));
            let told = format!("{} {low} to {high} {}", reading.label, reading.unit.symbol());
            Some(told.trim_end().to_string())
        };
        let told: Vec<String> = BANDED.iter().filter_map(told).collect();
        report.say(format!(
            "At the end, in 90 of 100 cars that the readings fit: {}.",
            told.join("; ")
        ));
    }
    let row_readings: Vec<&'static str> = shown().map(|(reading, _)| reading.name).collect();
    // They all move on the way: a run shows what its meters do, in one order.
    let moved = |name: &str| {
        let [first, last] = [run.trace.first, record.last]
            .map(|state| Reading::find(name).map(|reading| value(state.as_ref(), reading)));
        !name.ends_with("_bar") || first != last
    };
    let place = |name: &&str| row_readings.iter().position(|row| row == name);
    let owned = WORKSHOP_READINGS.iter().filter(|name| **name == "manifold_bar" || moved(name));
    let short = owned.filter_map(place).collect();
    let table = Table::of_words(names, rows).short_rows(short).fitted(Fit::First);
    let table = Table { row_readings, ..table };
    // Where a run tells more than one wait, that is what it is run for.
    match record.dwells.len() > DWELLS_TOLD || run.attribution.is_some() {
        true => report.in_full(|report| report.table(table)),
        false => report.table(table),
    }
    if record.dwells.len() > DWELLS_TOLD {
        dwells::render(&mut report, &run.procedure, &record.dwells);
    }
    if let Some(attribution) = &run.attribution {
        waits::render(&mut report, attribution);
    }
    if let Some(why) = &record.no_start {
        report.note_always(format!("Stalled from the start: {}.", why));
    }
    if let Some(hunts) = record.last.as_ref().and_then(hunting) {
        report.note_always(hunts);
    }
    report.note("Settled: from then on within 0.5 % of its range, or half the last decimal shown, of its final value. The time counts from the last action. Where the trim swings, a mean over whole swings of about 2 s is taken.");
    report.note(DUTY_NOTE);
    report.note("What each wait is owed to: --blame. What goes on for minutes here is only that the fast idle trim takes over from the two-point trim. No meter shows it, and its time is our choice (key fast_trim_s). Heat of manifold, exhaust and sensor is left out.");
    if run.scenario.setup.conditions.trim == Trim::On {
        report.note("Trim on: it starts where the trim has already brought lambda to 1. Where the screw stands rich of that, the duty starts below 50 %.");
        report.note("Lambda sensor: at the start it shows the held mixture, on the steep part of its curve. From then on it is the mean of its swing between rich and lean. Neither tells much.");
    }
    let mut setups = vec![run.scenario.setup];
    for step in &run.procedure.steps {
        let mut setup = run.scenario.setup;
        match &step.action {
            Action::Set(key, value) if value.give(key, &mut setup).is_ok() => setups.push(setup),
            Action::Throttle(share, _) => {
                setup.conditions.throttle = *share;
                setups.push(setup);
            }
            _ => {}
        }
    }
    let lost = dwells::loses_cycles(&record.dwells, MISFIRES);
    let found: &[_] = if lost { &[MISFIRE] } else { &[] };
    report.cautions = of_setups(&setups.iter().collect::<Vec<_>>(), found);
    report
}
