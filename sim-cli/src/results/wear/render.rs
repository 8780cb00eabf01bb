//! What `wear` found, for reading.

use super::{Ageing, IDLES, ROUGH_PERCENT, columns, passes_rough, rows};
use crate::cautions::RUNNING;
use crate::report::{Block, Cell, Column, Report, Table};
use sim_core::conditions::Conditions;
use sim_core::run::idle_wear::{BAD_RATIO, Disturbance, Search};
use std::rc::Rc;

/// The report of the wear.
pub fn report(ageing: &Rc<Ageing>) -> Report {
    let mut report = Report::of("wear", ageing.clone());
    render(&mut report, ageing);
    report
}

fn render(report: &mut Report, ageing: &Ageing) {
    report.blocks.push(Block::Heading(ageing.finding()));
    report.say(ageing.scenario.words().replace("warm point", "running"));
    if let Some(why) = &ageing.reason {
        report.notes.push(format!("Nothing to tell: {why}."));
    }
    if let Some((dither, search)) = &ageing.found {
        report.say(format!(
            "  dither at idle   {:.1} strokes a second, {:.0} m/h at the plate; the pit's half width {:.3} mm",
            dither.passes_per_s,
            3600.0 * dither.pace_m_s,
            1e3 * dither.half_width_m()
        ));
        report.say(format!(
            "  wear             {:.1} mV lost in 100 h of idling at the median",
            1e5 * ageing.lost_v_h
        ));
        if let Some(fleet) = &ageing.fleet {
            report.say(format!("  a bad idle after {:.0} h at the median", fleet.median_h));
        }
        report.blocks.push(Block::Heading("The idle on a worn track".into()));
        report.blocks.push(Block::Table(idle_table(search)));
        report.notes.push(rough_words(search));
    }
    if !ageing.curves.is_empty() {
        report.blocks.push(Block::Heading(format!(
            "Cars that have had a bad idle, of {}; risk: of those spared till then, within the year",
            ageing.parts
        )));
        report.blocks.push(Block::Table(Table {
            columns: columns(ageing, false),
            rows: rows(ageing, false).collect(),
        }));
    }
    report.notes.push(format!(
        "Bad idle: lambda or speed off the sound track's mean by {BAD_RATIO} times what it is on a sound track (root mean square over {IDLES} idles), or a stall; our own criterion. Pulsation 10 % and torque noise."
    ));
    report.notes.push("Depth by Archard's law (J. Appl. Phys. 24, 981, 1953, from memory): load times distance, the distance and the width of the pit from the run. Wear coefficient, load and the voltage lost for a depth are invented, and so are the years: twice the wear, half the years. Trust the order of the curves, not the years.".into());
    report.notes.push("The wiper idles at one place for all its life here; a real one wanders with weather and load, which spreads the pit and slows it.".into());
    let conditions = &ageing.scenario.setup.conditions;
    if conditions.wear != Conditions::default().wear {
        report.notes.push(
            "Every track starts sound here: the wear that the flags give is left out.".into(),
        );
    }
    report.cautions = RUNNING.to_vec();
}

fn rough_words(search: &Search) -> String {
    let most = search.tried.iter().map(|one| one.cov_percent.0).fold(0.0, f64::max);
    if passes_rough(search) {
        format!("Roughness passes {ROUGH_PERCENT} % COV on the way: {most:.1} % at most.")
    } else {
        format!(
            "Roughness never passes {ROUGH_PERCENT} % COV ({most:.1} % at most): the worn track is seen in the mixture, not felt as misfires; the controller takes the leaps of voltage for acceleration and adds fuel."
        )
    }
}

fn idle_table(search: &Search) -> Table {
    let columns = vec![
        Column::new("lost_mv", "lost", "mV", 0),
        Column::new("lambda_mean", "lambda", "", 3),
        Column::new("lambda_ratio", "off", "times", 2),
        Column::new("speed_ratio", "speed off", "times", 2),
        Column::new("cov_percent", "rough", "%", 1),
        Column::new("bad", "idle", "", 0),
    ];
    let row = |one: &Disturbance| {
        let numbers =
            [1e3 * one.lost_v, one.lambda, one.lambda_ratio, one.speed_ratio, one.cov_percent.0];
        let mut cells: Vec<Cell> = numbers.map(|value| Cell::Number(Some(value))).to_vec();
        cells.push(Cell::Word(if one.is_bad() { "bad" } else { "good" }.into()));
        cells
    };
    Table { columns, rows: search.tried.iter().map(row).collect() }
}
