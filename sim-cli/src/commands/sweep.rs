//! `sweep`: the screw from lean to rich, its edges, its middle, and how far to trust them.

use super::Command;
use crate::args::{turns, turns_arg, with_chart, with_output};
use crate::cautions::{MISFIRE, of_setups};
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{
    Block, Cell, Column, Report, Table, number, point_columns, point_row, point_value,
};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::{edge_word, stall, turns as signed, turns_or, turns_typed};
use clap::ArgMatches;
use serde_json::{Value, json};
use sim_core::conditions::{Conditions, Trim};
use sim_core::engine::roughness::RoughBy;
use sim_core::point::{Point, Reading, Zone};
use sim_core::steady::SteadyEngine;
use sim_core::sweep::{
    EdgeKind, Edges, LEAN_END_TURNS, RICH_END_TURNS, Spread, edges, edges_with_residual_phi,
    hazard_turns, positions, spread,
};

pub const COMMAND: Command = Command {
    name: "sweep",
    group: "set",
    about: "Turn the mixture screw from rough to rough: edges, middle, every reading, a chart",
    example: "quarterturn sweep --from -1/8 --to 1/8 --step 1/32",
    args,
    report,
};

/// Readings of the printed table.
const SHOWN: [&str; 9] = [
    "lambda",
    "cov_percent",
    "speed_rpm",
    "manifold_bar",
    "air_kg_h",
    "fuel_kg_h",
    "potentiometer_v",
    "actuator_ma",
    "wanted_duty_percent",
];

/// Steps of a curve in the chart, whatever the table's.
const CURVE_STEPS: u32 = 384;

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(turns_arg("from", "-1/4", "leanest setting"))
        .arg(turns_arg("to", "1/2", "richest setting"))
        .arg(turns_arg("step", "1/64", "from point to point"));
    with_output(with_chart(with_conditions(command, &Conditions::default())))
}

/// A sweep, worked out.
pub struct Sweep {
    /// The engine swept.
    pub engine: Scenario,
    /// Its points.
    pub points: Vec<Point>,
    /// The same range in steps fine enough for a curve.
    pub curve: Vec<Point>,
    /// Its edges.
    pub edges: Edges,
    /// How middle and width spread.
    pub spread: Option<Spread>,
    /// The edges if the residual gas follows the mixture.
    pub residual_phi: Option<Edges>,
    /// Aim, middle and the ear's aim, run.
    pub settings: [Option<Point>; 3],
    /// From where fuel runs at rest (turns).
    pub hazard: f64,
    /// The command, canonically.
    pub command: String,
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let [from, to, step] = ["from", "to", "step"].map(|name| turns(matches, name));
    let (from, to, step) = (from?, to?, step?);
    let ask = EngineArgs::read(matches)?.turning_the_screw();
    let screws = positions(from, to, step).map_err(Error::Range)?;
    let engine = ask.load(Conditions::default())?;
    for (flag, value) in [("--from", from), ("--to", to)] {
        let key = sim_core::rig::keys::Key::find("screw").expect("a key");
        if !key.allows(value) {
            return Err(Error::OutOfRange { flag: flag.into(), key, value });
        }
    }
    let steady = SteadyEngine::new(&engine.setup.rig, &engine.setup.conditions);
    let range = [("from", from, -0.25), ("to", to, 0.5), ("step", step, 1.0 / 64.0)]
        .iter()
        .filter(|(_, value, default)| value != default)
        .map(|(name, value, _)| format!(" --{name} {}", turns_typed(*value)))
        .collect::<String>();
    let wants_chart = matches.get_one::<String>("chart").is_some();
    let found = edges(&steady);
    let sweep = Sweep {
        points: screws.into_iter().map(|screw| steady.point(screw)).collect(),
        curve: if wants_chart {
            fine(from, to).map(|screw| steady.point(screw)).collect()
        } else {
            Vec::new()
        },
        edges: found,
        spread: spread(&engine.file.rig, &engine.setup),
        settings: [found.lambda_one, found.middle(), found.ear_aim()]
            .map(|at| at.map(|at| steady.point(at))),
        hazard: hazard_turns(&engine.setup),
        residual_phi: edges_with_residual_phi(&engine.setup),
        command: format!("quarterturn sweep{range}{}", engine.flags),
        engine,
    };
    let mut report = Report::new("sweep");
    values(&mut report, &sweep);
    render(&mut report, &sweep);
    sweep.engine.note_screw(&mut report);
    if wants_chart {
        report.chart = Some(crate::chart::sweep::picture(&sweep));
    }
    Ok(report)
}

/// Settings of a smooth curve.
fn fine(from: f64, to: f64) -> impl Iterator<Item = f64> {
    (0..=CURVE_STEPS).map(move |i| from + (to - from) * f64::from(i) / f64::from(CURVE_STEPS))
}

fn values(report: &mut Report, sweep: &Sweep) {
    let edges = &sweep.edges;
    let kind = |kind: &EdgeKind| {
        let reason = match kind {
            EdgeKind::Stalls(why) => json!(stall(why)),
            _ => Value::Null,
        };
        json!({"kind": edge_word(kind), "reason": reason})
    };
    report.put("canonical_command", json!(sweep.command));
    report.put("conditions", sweep.engine.value());
    report.put(
        "edges",
        json!({
            "rough_lean_turns": number(edges.lean),
            "rough_rich_turns": number(edges.rich),
            "edge_kinds": {"lean": kind(&edges.lean_kind), "rich": kind(&edges.rich_kind)},
            "middle_turns": number(edges.middle()),
            "width_turns": number(edges.width()),
            "lambda_one_turns": number(edges.lambda_one),
            "aim_turns": number(edges.lambda_one),
            "ear_aim_turns": number(edges.ear_aim()),
        }),
    );
    let [aim, middle, ear] = &sweep.settings;
    let there = |point: &Option<Point>| point.as_ref().map_or(Value::Null, point_value);
    report
        .put("settings", json!({"aim": there(aim), "middle": there(middle), "by_ear": there(ear)}));
    report.put(
        "spread",
        sweep.spread.map_or(json!({"middle_turns": null, "width_turns": null, "cases": 0}), |s| {
            json!({
                "middle_turns": [s.middle.0, s.middle.1],
                "width_turns": [s.width.0, s.width.1],
                "cases": s.cases,
            })
        }),
    );
    let phi = sweep.residual_phi.as_ref();
    report.put(
        "sensitivity",
        json!({"residual_phi": {
            "middle_turns": number(phi.and_then(Edges::middle)),
            "lambda_one_turns": number(phi.and_then(|edges| edges.lambda_one)),
        }}),
    );
    let stretches: Vec<Value> = stalled(&sweep.points)
        .into_iter()
        .map(|(from, to, why)| json!({"from_turns": from, "to_turns": to, "reason": why}))
        .collect();
    report.put("stalled", Value::Array(stretches));
    report.put("hazard_from_turns", json!(sweep.hazard));
    report.put("points", sweep.points.iter().map(point_value).collect());
    report.rows =
        Table { columns: point_columns(), rows: sweep.points.iter().map(point_row).collect() };
}

/// Stretches of the sweep without a running point, with the reason of their first.
fn stalled(points: &[Point]) -> Vec<(f64, f64, String)> {
    let mut stretches: Vec<(f64, f64, String)> = Vec::new();
    let mut open = false;
    for point in points {
        match (point.stall(), open) {
            (Some(_), true) => {
                if let Some(last) = stretches.last_mut() {
                    last.1 = point.screw_turns;
                }
            }
            (Some(why), false) => {
                stretches.push((point.screw_turns, point.screw_turns, stall(why)));
            }
            (None, _) => {}
        }
        open = point.stall().is_some();
    }
    stretches
}

impl Sweep {
    /// What the aim is: lambda 1 where the sensor is not fooled and base current flows, else
    /// only a duty.
    pub fn aim_word(&self) -> &'static str {
        let conditions = &self.engine.setup.conditions;
        let fooled = conditions.misfire > 0.0 || conditions.exhaust_leak > 0.0;
        match (fooled, conditions.actuator_a, conditions.trim) {
            (false, None, Trim::Off) => "lambda 1",
            _ => "duty 50 %",
        }
    }

    /// One finding in a sentence: the chart's title and the table's first line.
    pub fn finding(&self) -> String {
        finding(&self.edges, self.aim_word())
    }
}

fn finding(edges: &Edges, aim: &str) -> String {
    match (edges.lean, edges.rich, edges.middle(), edges.lambda_one) {
        (Some(lean), Some(rich), Some(middle), Some(one)) => {
            let side = if middle >= one { "rich" } else { "lean" };
            format!(
                "Smooth from {} to {} turn; the middle lies {:.3} turn {side} of {aim}",
                signed(lean),
                signed(rich),
                (middle - one).abs()
            )
        }
        (Some(lean), Some(rich), Some(middle), None) => format!(
            "Smooth from {} to {} turn, the middle at {}; no setting contents the sensor",
            signed(lean),
            signed(rich),
            signed(middle)
        ),
        _ => match (&edges.lean_kind, &edges.rich_kind) {
            (EdgeKind::NoneSmooth, _) => {
                "Nowhere smooth from -1/2 to 1 turn: no setting of the screw helps".into()
            }
            (EdgeKind::Beyond, EdgeKind::Beyond) => format!(
                "Smooth from {} to {} turn: no edge to find",
                turns_typed(LEAN_END_TURNS),
                turns_typed(RICH_END_TURNS)
            ),
            (EdgeKind::Beyond, _) => {
                format!("Smooth up to {} turn; no lean edge to find", turns_or(edges.rich, "?"))
            }
            _ => format!("Smooth from {} turn on; no rich edge to find", turns_or(edges.lean, "?")),
        },
    }
}

fn render(report: &mut Report, sweep: &Sweep) {
    let edges = &sweep.edges;
    report.blocks.push(Block::Heading(sweep.finding()));
    report.say(sweep.engine.words());
    for (side, at, kind) in
        [("lean", edges.lean, &edges.lean_kind), ("rich", edges.rich, &edges.rich_kind)]
    {
        let why = match kind {
            EdgeKind::Rough(RoughBy::Cov) => "COV of imep passes its limit".to_string(),
            EdgeKind::Rough(RoughBy::Misfire) => "lost cycles pass their limit".to_string(),
            EdgeKind::Rough(RoughBy::Speed) => "speed falls too far below its best".to_string(),
            EdgeKind::Rough(RoughBy::Hunting) => "speed hunts".to_string(),
            EdgeKind::Stalls(why) => stall(why),
            EdgeKind::Beyond => "smooth as far as was looked".to_string(),
            EdgeKind::NoneSmooth => "rough at every setting".to_string(),
        };
        report.say(format!("  {side} edge   {:>8}  {why}", turns_or(at, "none")));
    }
    render_settings(report, sweep);
    if let Some(s) = &sweep.spread {
        report.notes.push(format!(
            "Over three flame laws and roughness 3, 5, 8 % at lambda 1 in place of the rig's own ({} of 9 cases have both edges) the middle lies between {} and {} turn, the width between {:.2} and {:.2} turn: trust signs and order, not the third digit.",
            s.cases, signed(s.middle.0), signed(s.middle.1), s.width.0, s.width.1
        ));
    }
    if let Some((phi, one)) =
        sweep.residual_phi.as_ref().and_then(|phi| Some((phi.middle()?, phi.lambda_one?)))
    {
        report.notes.push(format!(
            "If the burnt gas left in the cylinders is let follow the mixture, as its published fit does near lambda 1, instead of being held there, the middle lies {} turn from the aim: so much rests on that choice.",
            signed(phi - one)
        ));
    }
    let readings = SHOWN.iter().filter_map(|name| Reading::find(name));
    let mut table = Table {
        columns: vec![
            Column::new("screw_turns", "screw", "turns", 4),
            Column::new("zone", "zone", "", 0),
        ],
        rows: Vec::new(),
    };
    table.columns.extend(readings.clone().map(Column::of));
    for point in &sweep.points {
        let mut row = vec![Cell::Number(Some(point.screw_turns)), Cell::Word(zone_cell(point))];
        row.extend(
            readings
                .clone()
                .map(|reading| Cell::Number(point.state().and_then(|state| reading.value(state)))),
        );
        table.rows.push(row);
    }
    report.blocks.push(Block::Table(table));
    for (from, to, why) in stalled(&sweep.points) {
        let place = match from == to {
            true => format!("at {}", signed(from)),
            false => format!("from {} to {}", signed(from), signed(to)),
        };
        report.notes.push(format!("Stalled {place} turn: {why}."));
    }
    render_hazards(report, sweep);
    let (mut worst, mut band) = (0.0_f64, None);
    for state in sweep.points.iter().filter_map(Point::state) {
        worst = worst.max(state.residual);
        band = Some(state.friction_band);
    }
    if let Some(band) = band {
        report.notes.push(format!(
            "Largest relative residual of the balances: under 1e{:.0}. Friction of the plunger can leave lambda up to {:.1} % off either way until the throttle is blipped.",
            worst.max(1e-16).log10().ceil(),
            100.0 * band
        ));
    }
    report.notes.push("Duty above 50 %: the controller adds fuel, the mechanical mixture is lean. A meter whose clips are swapped, and a controller that counts the other way, show 100 minus this. `wanted` is what would bring lambda to 1 here.".into());
    if sweep.engine.setup.conditions.trim == Trim::On {
        report.notes.push("Trim on: the smooth zone is as wide as the trim can hide; the duty, not the ear, finds its middle.".into());
    }
    let rough = sweep.points.iter().any(|point| point.zone() != Zone::Smooth);
    let mut setup = sweep.engine.setup;
    setup.conditions.screw_turns = sweep.points.last().map_or(0.0, |point| point.screw_turns);
    report.cautions = of_setups(&[&setup], if rough { &[MISFIRE] } else { &[] });
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
        ("by ear", "middle less a fifth of the width"),
    ];
    for ((name, what), point) in words.into_iter().zip(&sweep.settings) {
        let Some(point) = point else {
            report.say(format!("  {name:<11} {:>8}  {what}", "none"));
            continue;
        };
        let runs = point.state().map_or("stalled".to_string(), |state| {
            let wants = |duty: f64| format!(", wants duty {:.0} %", 100.0 * duty);
            let duty = state.wanted_duty.map_or(String::new(), wants);
            format!("lambda {:.2}{duty}", state.lambda)
        });
        let hazard = if point.screw_turns > sweep.hazard { "; FUEL RUNS AT REST" } else { "" };
        let at = signed(point.screw_turns);
        report.say(format!("  {name:<11} {at:>8}  {runs}{hazard} ({what})"));
    }
}

/// What is dangerous about settings richer than one.
pub fn hazard_words(from: f64) -> String {
    format!(
        "from {} turn on the slits are open with the plate at rest: with the pump on, fuel runs into a standing engine. Not a setting.",
        signed(from)
    )
}

fn render_hazards(report: &mut Report, sweep: &Sweep) {
    if sweep.points.last().is_some_and(|point| point.screw_turns > sweep.hazard) {
        let words = hazard_words(sweep.hazard);
        report.notes.push(format!("HAZARD: {words}"));
        report.blocks.push(Block::Hazard(words));
    }
    if sweep.settings.iter().flatten().any(|point| point.screw_turns > sweep.hazard) {
        report.notes.push("A setting that lets fuel run at rest hides a fault: look for unmetered air, do not screw it away.".into());
    }
    if sweep.engine.setup.conditions.coolant_k < 333.0 {
        report.notes.push("Cold engine: the model lacks the uneven evaporation that roughens a cold idle. Believe its mixture, not its smoothness.".into());
    }
}

fn zone_cell(point: &Point) -> String {
    let limit = point.state().and_then(|state| state.valve_limit);
    match (point.zone(), limit) {
        (Zone::Stalled, _) => "stalled".into(),
        (zone, Some(limit)) => format!("{}, valve {}", zone.word(), limit.word()),
        (zone, None) => zone.word().into(),
    }
}
