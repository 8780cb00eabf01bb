//! `sweep`: the screw from lean to rich, its edges, its middle, and how far to trust them.

use crate::alike::{DRAWN, over};
use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Asked, Number};
use crate::report::Report;
use crate::results::interval::Intervals;
use crate::results::sweep::{EdgeEnds, Sweep, SweepIntervals, edges_told, report, stalled};
use crate::scenario::EngineArgs;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::point::Point;
use sim_core::run::stability::point_with_mode;
use sim_core::steady::SteadyEngine;
use sim_core::sweep::{Edges, edges, edges_with_residual_phi, hazard_turns, positions, spread};
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "sweep",
    group: "set",
    about: "The screw from rough to rough: edges, middle, every meter",
    example: "quarterturn sweep --from -1/8 --to 1/8 --step 1/32",
    options: &[&FROM, &TO, &STEP],
    conditions: Some(Conditions::default),
    chart: true,
    readings: true,
    run,
    ..PLAIN
};

const TURNS: (&str, &str) = ("TURNS", "turns");
static FROM: Number = Number::of_key("from", TURNS, "screw", "leanest setting").or("-1/4");
static TO: Number = Number::of_key("to", TURNS, "screw", "richest setting").or("1/2");
static STEP: Number =
    Number::new("step", TURNS, (0.0, f64::INFINITY), "from point to point").or("1/64");

/// Steps of a curve in the chart, whatever the table's.
const CURVE_STEPS: u32 = 384;

/// A car like a fitted one: its edges, the table's points and the curve's.
type DrawnCar = (Edges, Vec<Point>, Vec<Point>);

fn run(matches: &ArgMatches, context: &mut Context<'_, '_>) -> Result<Report, Error> {
    let asked = Asked::read([&FROM, &TO, &STEP], matches)?;
    let args = EngineArgs::read(matches)?.running().turning_the_screw();
    let [from, to, step] = asked.unchecked();
    let screws = positions(from, to, step)?;
    let scenario = args.load(Conditions::default())?;
    let [low, high, _] = asked.checked()?;
    context.begin()?;
    let setup = &scenario.setup;
    let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
    let draws = matches.contains_id("chart");
    let curve = |i: u32| low + (high - low) * f64::from(i) / f64::from(CURVE_STEPS);
    let edges = edges(&steady);
    let points =
        screws.into_iter().map(|screw| point_with_mode(&steady, screw)).collect::<Vec<_>>();
    let curve: Vec<Point> =
        (0..=CURVE_STEPS).filter(|_| draws).map(|i| point_with_mode(&steady, curve(i))).collect();
    let intervals = over(&scenario.file, DRAWN, |alike| {
        let drawn = alike(setup)?;
        let steady = SteadyEngine::new(&drawn.rig, &drawn.conditions);
        let at = |points: &[Point]| -> Vec<Point> {
            points.iter().map(|point| steady.point(point.screw_turns)).collect()
        };
        let found = sim_core::sweep::edges(&steady);
        Some((found, at(&points), at(&curve)))
    })?;
    let intervals = intervals.map(|drawn| {
        let by = |get: fn(&DrawnCar) -> &[Point], count: usize| {
            let one =
                |i: usize| Intervals::of(&drawn.iter().map(|car| &get(car)[i]).collect::<Vec<_>>());
            (0..count).map(one).collect()
        };
        let edges: Vec<Edges> = drawn.iter().map(|car| car.0).collect();
        SweepIntervals {
            edges: EdgeEnds::of(&edges),
            points: by(|car| &car.1, points.len()),
            curve: by(|car| &car.2, curve.len()),
        }
    });
    let run_at = |at: Option<f64>| at.map(|at| point_with_mode(&steady, at));
    let settings = [edges.lambda_one, edges.middle(), edges.ear_aim()];
    let sweep = Rc::new(Sweep {
        command: format!("quarterturn sweep{}{}", asked.canonical(), scenario.flags),
        edges_told: edges_told(&edges, &setup.conditions.ear),
        edges,
        at_edges: [edges.lean, edges.rich].map(run_at),
        settings: settings.map(run_at),
        spread: spread(&scenario.file.rig, setup),
        residual_phi: edges_with_residual_phi(setup),
        stalled: stalled(&points),
        hazard: hazard_turns(setup),
        points,
        intervals,
        curve,
        scenario,
    });
    let all = matches.try_get_one::<bool>("all").ok().flatten() == Some(&true);
    Ok(report(&sweep, all).drawn(matches, || crate::chart::sweep::picture(&sweep)))
}
