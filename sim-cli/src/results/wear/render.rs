//! What `wear` found, for reading.

use super::{Ageing, IDLES, IDLES_TRIED, ROUGH_PERCENT, passes_rough, table};
use crate::cautions::RUNNING;
use crate::report::{Column, Fit, Report, Table};
use sim_core::conditions::Conditions;
use sim_core::run::idle_wear::{BAD_RATIO, Search};
use sim_core::sense::potentiometer::IDLE_BAND_V;
use std::rc::Rc;

/// The report of the wear.
pub fn report(ageing: &Rc<Ageing>) -> Report {
    let mut report = Report::of("wear", ageing.clone());
    report.note_idle_flags(&ageing.scenario);
    report.heading(ageing.finding());
    report.say(ageing.scenario.words().replace("warm point", "running"));
    if let Some(why) = &ageing.reason {
        report.note_always(format!("Nothing to tell: {why}."));
    }
    if let Some((dither, search)) = &ageing.found {
        report.in_full(|report| report.say(format!(
            "  dither at idle   {:.1} strokes a second, {:.0} m/h at the plate; the pit's half width {:.3} mm",
            dither.passes_per_s,
            3600.0 * dither.pace_m_s,
            1e3 * dither.half_width_m()
        )));
        report.say(format!(
            "  wear             {:.1} mV lost in 100 h of idling at the median",
            1e5 * ageing.lost_v_h
        ));
        if let Some(fleet) = &ageing.fleet {
            report.say(format!("  a bad idle after {:.0} h at the median", fleet.median_h));
        }
        report.in_full(|report| {
            report.heading("The idle on a worn track");
            report.table(Table::of(IDLES_TRIED, &search.tried));
        });
        report.note(rough_words(search));
    }
    if !ageing.curves.is_empty() {
        let heading = format!("Cars that have had a bad idle, of {}", ageing.parts);
        let risk = "; risk: of those spared till then, within the year";
        report.in_short(|report| report.heading(heading.as_str()));
        report.in_full(|report| report.heading(format!("{heading}{risk}")));
        let table = table(ageing, false);
        let shares = |column: &&Column| !column.name.starts_with("risk");
        let short: Vec<String> =
            table.columns.iter().filter(shares).map(|column| column.name.clone()).collect();
        let short: Vec<&str> = short.iter().map(String::as_str).collect();
        report.table(table.short_columns(&short).fitted(Fit::Spread));
    }
    let (low, high) = IDLE_BAND_V;
    report.note(format!(
        "Bad idle, our own criterion: lambda or speed wanders {BAD_RATIO} times as much as on a sound track (root mean square over {IDLES} idles), the engine stalls, or the mean voltage leaves {low} to {high} V. Pulsation 10 % and torque noise."
    ));
    report.note("Depth by Archard's law (J. Appl. Phys. 24, 981, 1953, from memory): load times distance. Distance and width of the pit come from the run. Wear coefficient, load and the voltage lost for a depth are invented, and so are the years: twice the wear, half the years. Trust the order of the curves, not the years.");
    report.note("Here the wiper idles at one place all its life. A real one wanders with weather and load: that makes the pit wider and slower.");
    let conditions = &ageing.scenario.setup.conditions;
    if conditions.wear != Conditions::default().wear {
        report.note_always(
            "Every track starts sound here: the wear that the flags give is left out.",
        );
    }
    report.cautions = RUNNING.to_vec();
    report
}

fn rough_words(search: &Search) -> String {
    let most = search.tried.iter().map(|one| one.cov_percent.0).fold(0.0, f64::max);
    if passes_rough(search) {
        format!("Roughness passes {ROUGH_PERCENT} % COV on the way: {most:.1} % at most.")
    } else {
        format!(
            "Roughness never passes {ROUGH_PERCENT} % COV ({most:.1} % at most): a worn track shows in the voltage and the mixture, and is not felt as misfires. The controller takes each leap of voltage for acceleration and adds fuel."
        )
    }
}
