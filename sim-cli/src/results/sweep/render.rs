//! What a sweep found, for reading.

use super::{SCREW_DECIMALS, Stretch, Sweep, hazard_words};
use crate::cautions::{MISFIRE, of_setups};
use crate::report::{Cell, Column, Fit, Pick, Report, Table};
use crate::results::point::{DUTY_NOTE, value_at};
use crate::text::{edge_reason, flame_words, plain, turns as signed, turns_or};
use sim_core::conditions::Trim;
use sim_core::engine::flame::FLAME_LAWS;
use sim_core::engine::roughness::RoughBy;
use sim_core::mechanisms::MECHANISMS;
use sim_core::point::{Point, READINGS, Zone};
use sim_core::sweep::{EdgeKind, SPREAD_COV, Spread};
use sim_core::units::Unit;
use std::rc::Rc;

/// Columns of the full table.
const SHOWN: [&str; 13] = [
    "screw_turns",
    "zone",
    "lambda",
    "cov_percent",
    "speed_rpm",
    "manifold_bar",
    "air_kg_h",
    "fuel_kg_h",
    "potentiometer_v",
    "actuator_ma",
    "wanted_duty_percent",
    "co_percent",
    "sensor_v",
];

/// Columns of the short one: what a workshop can read, and the mixture.
const SHOWN_SHORT: [&str; 9] = [
    "screw_turns",
    "zone",
    "speed_rpm",
    "potentiometer_v",
    "sensor_v",
    "wanted_duty_percent",
    "co_percent",
    "cov_percent",
    "lambda",
];

/// Why the sensor's voltage at the aim says little: by Nernst's law it falls from 0.68 V at
/// lambda 0.9995 to 0.16 V at 1.0005.
const STEEP_SENSOR: &str =
    "Sensor at lambda 1: so steep there that 0.001 of lambda is half a volt.";

/// The report of a sweep; `all` for one whose table has every point.
pub fn report(sweep: &Rc<Sweep>, all: bool) -> Report {
    let mut report = Report::of("sweep", sweep.clone());
    let edges = &sweep.edges;
    report.heading(sweep.finding());
    report.say(sweep.scenario.words());
    for (side, at, kind) in
        [("lean", edges.lean, &edges.lean_kind), ("rich", edges.rich, &edges.rich_kind)]
    {
        let why = edge_reason(kind, &sweep.scenario.setup.conditions.ear);
        let line = format!("  {side} edge   {:>8}  {why}", turns_or(at, "none"));
        // The first sentence tells where it is; why is worth a line if it is not the usual.
        match kind {
            EdgeKind::Rough(RoughBy::Cov) => report.in_full(|report| report.say(line)),
            _ => report.say(line),
        }
    }
    render_settings(&mut report, sweep);
    if let Some(intervals) = &sweep.intervals {
        report.say(format!(
            "In 90 of 100 cars that the readings fit: {} turn.",
            intervals.edges.words()
        ));
    }
    if let Some(s) = &sweep.spread {
        report.note(spread_note(s, sweep.aim_word()));
    }
    if let Some((phi, one)) =
        sweep.residual_phi.as_ref().and_then(|phi| Some((phi.middle()?, phi.lambda_one?)))
    {
        report.note(format!(
            "The burnt gas left in the cylinders is held at its share for lambda 1. If it followed the mixture, as its published fit does there, the middle would lie {} turn from the aim.",
            signed(phi - one)
        ));
    }
    report.table(table(sweep, all));
    for Stretch { from_turns: from, to_turns: to, reason: why } in &sweep.stalled {
        let place = match from == to {
            true => format!("at {}", signed(*from)),
            false => format!("from {} to {}", signed(*from), signed(*to)),
        };
        let words = format!("Stalled {place} turn: {why}.");
        match sweep.points.iter().all(|point| point.state().is_none()) {
            true => report.note_always(words),
            false => report.note(words),
        }
    }
    render_hazards(&mut report, sweep);
    let (mut worst, mut band) = (0.0_f64, None);
    for state in sweep.points.iter().filter_map(Point::state) {
        worst = worst.max(state.residual);
        band = Some(state.friction_band);
    }
    if let Some(band) = band {
        report.note(format!(
            "Largest relative residual of the balances: under 1e{:.0}. Friction of the plunger can leave lambda up to {:.1} % off either way until the throttle is blipped.",
            worst.max(1e-16).log10().ceil(),
            100.0 * band
        ));
    }
    report.note(DUTY_NOTE);
    report.note(
        "`wanted` is the duty that would bring lambda to 1 here; at 0 or 100 it is at its limit.",
    );
    let sound = sweep.scenario.setup.conditions.faults.lambda == Default::default();
    if sound && sweep.settings[0].is_some() {
        report.note_always(STEEP_SENSOR);
    }
    if sweep.scenario.setup.conditions.trim == Trim::On {
        report.note("Trim on: the smooth zone is as wide as the trim can hide; the duty, not the ear, finds its middle.");
    }
    let rough = sweep.points.iter().any(|point| point.zone() != Zone::Smooth);
    let mut setup = sweep.scenario.setup;
    setup.conditions.screw_turns = sweep.points.last().map_or(0.0, |point| point.screw_turns);
    report.cautions = of_setups(&[&setup], if rough { &[MISFIRE] } else { &[] });
    report.note_idle_flags(&sweep.scenario);
    report
}

/// How far middle and width can be trusted, and under which law the middle lies where.
fn spread_note(s: &Spread, aim: &str) -> String {
    let covs = SPREAD_COV.map(|cov| plain(Unit::Percent.from_si(cov))).join(", ");
    let by_law = flame_words().zip(s.middle_from_one).filter_map(|(law, range)| {
        let (low, high) = range?;
        Some(format!("{law} {} to {}", signed(low), signed(high)))
    });
    format!(
        "Reckoned again with {} flame laws, roughness {covs} % at lambda 1, and {} sets of mechanisms that could make it: {} of {} cases have both edges. The middle then lies between {} and {} turn, the width between {:.2} and {:.2} turn. Trust signs and order, not the third digit. Middle less {aim}, turns, by law: {}.",
        FLAME_LAWS.len(),
        MECHANISMS.len(),
        s.cases,
        s.of,
        signed(s.middle.0),
        signed(s.middle.1),
        s.width.0,
        s.width.1,
        by_law.collect::<Vec<_>>().join("; ")
    )
}

/// Aim, middle and the ear's aim: where they are and what they mean.
fn render_settings(report: &mut Report, sweep: &Sweep) {
    let aim = match sweep.aim_word() {
        "lambda 1" => "on base current",
        _ => "base current, the sensor content",
    };
    let words = [
        ("aim", aim),
        ("middle", "half way between the edges"),
        ("by ear", "middle less 1/5 of width"),
    ];
    for ((name, what), point) in words.into_iter().zip(&sweep.settings) {
        let Some(point) = point else {
            report.say(format!("  {name:<11} {:>8}  {what}", "none"));
            continue;
        };
        // The short answer has it as a row of its table.
        let runs = point.state().map_or("stalled".to_string(), |state| {
            let wants = |duty: f64| format!(", wants duty {:.0} %", 100.0 * duty);
            let duty = state.wanted_duty.map_or(String::new(), wants);
            format!("lambda {:.2}{duty}", state.lambda)
        });
        let hazard = if point.screw_turns > sweep.hazard { "; FUEL RUNS AT REST" } else { "" };
        let at = signed(point.screw_turns);
        let line = format!("  {name:<11} {at:>8}  {runs}{hazard} ({what})");
        report.in_full(|report| report.say(line));
    }
}

fn render_hazards(report: &mut Report, sweep: &Sweep) {
    if sweep.points.last().is_some_and(|point| point.screw_turns > sweep.hazard) {
        let words = hazard_words(sweep.hazard);
        report.note(format!("HAZARD: {words}"));
        report.hazard(words);
    }
    if sweep.settings.iter().flatten().any(|point| point.screw_turns > sweep.hazard) {
        report.note_always("A setting that lets fuel run at rest hides a fault: look for unmetered air, do not screw it away.");
    }
    if sweep.scenario.setup.conditions.coolant_k < 333.0 {
        report.note("Cold engine: how unevenly liquid fuel is shared out (`liquid_scatter`) is our own. Believe its mixture more than its smoothness.");
    }
}

/// Points of a long sweep that a table keeps which does not show them all.
const KEPT: usize = 1024;

/// The points in a table with all their readings, and which of them are shown. The short answer
/// has edges and settings among them.
fn table(sweep: &Sweep, all: bool) -> Table {
    let columns = [
        Column::new("screw_turns", "screw", "turns", SCREW_DECIMALS),
        Column::new("zone", "zone", "", 0),
    ];
    let columns = columns.into_iter().chain(READINGS.iter().map(Column::of)).collect();
    let row = |(point, zone): (&Point, String)| {
        let values = READINGS.iter().map(|reading| value_at(point, reading).into());
        [point.screw_turns.into(), zone.into()].into_iter().chain(values).collect()
    };
    let ([lean, rich], [aim, middle, by_ear]) = (&sweep.at_edges, &sweep.settings);
    let named = [
        ("lean edge", lean),
        ("aim", aim),
        ("by ear", by_ear),
        ("middle", middle),
        ("rich edge", rich),
    ];
    let named = named.into_iter().filter_map(|(name, point)| Some((name, point.as_ref()?)));
    let named: Vec<(&str, &Point)> = named.collect();
    let name_cell = |(name, point): (&str, &Point)| {
        let hazard = if point.screw_turns > sweep.hazard { ", FUEL RUNS" } else { "" };
        let rough = !name.ends_with("edge") && point.zone() != Zone::Smooth;
        let zone = if rough { format!(", {}", point.zone().word()) } else { String::new() };
        format!("{name}{zone}{hazard}")
    };
    let named_rows = named.iter().map(|&(name, point)| (point, name_cell((name, point))));
    let count = if all { sweep.points.len() } else { sweep.points.len().min(KEPT) };
    let place = |i: usize| i * (sweep.points.len() - 1) / (count - 1).max(1);
    let kept: Vec<&Point> = (0..count).map(|i| &sweep.points[place(i)]).collect();
    let plain = kept.iter().map(|&point| (point, zone_cell(point)));
    let rows: Vec<Vec<Cell>> = plain.chain(named_rows).map(row).collect();
    let firm = (count..rows.len()).collect();
    let screws: Vec<f64> =
        kept.iter().chain(named.iter().map(|(_, point)| point)).map(|p| p.screw_turns).collect();
    let screw = |i: &usize| screws[*i];
    let twice = |i: &usize| named.iter().any(|(_, p)| (p.screw_turns - screw(i)).abs() < 1e-6);
    let mut short: Vec<usize> = (0..count).filter(|i| !twice(i)).chain(count..rows.len()).collect();
    short.sort_by(|a, b| screw(a).total_cmp(&screw(b)));
    let table = Table::new(columns, rows)
        .full_columns(&SHOWN)
        .short_columns(&SHOWN_SHORT)
        .short_rows(short)
        .fitted(Fit::Spread);
    let full = Pick { rows: Some((0..count).collect()), ..table.full.clone() };
    Table { full, firm, reading_columns: true, ..table }
}

fn zone_cell(point: &Point) -> String {
    let limit = point.state().and_then(|state| state.valve_limit);
    match (point.zone(), limit) {
        (Zone::Stalled, _) => "stalled".into(),
        (zone, Some(limit)) => format!("{}, valve {}", zone.word(), limit.word()),
        (zone, None) => zone.word().into(),
    }
}
