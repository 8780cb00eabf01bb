//! What a sweep found: edges, middle, settings, points.

mod json;
mod render;

pub use json::edges_told;
pub use render::report;

use crate::report::{Column, Found, Show};
use crate::results::interval::{Intervals, end_columns, ends};
use crate::results::point::{as_records, point_columns, point_row};
use crate::rounding::rounded;
use crate::scenario::Scenario;
use crate::text::{turns as signed, turns_or, turns_typed};
use json::{point_ends, sensitivity, settings, spread};
use serde::Serialize;
use serde_json::Value;
use sim_core::conditions::Trim;
use sim_core::point::Point;
use sim_core::sweep::{EdgeKind, Edges, LEAN_END_TURNS, RICH_END_TURNS, Spread};
use std::io;

/// A sweep, worked out.
#[derive(Serialize)]
pub struct Sweep {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine swept.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    /// Its edges.
    #[serde(skip)]
    pub edges: Edges,
    /// The same, told.
    #[serde(rename = "edges")]
    pub edges_told: Value,
    /// Aim, middle and the ear's aim, run.
    #[serde(serialize_with = "settings")]
    pub settings: [Option<Point>; 3],
    /// The lean and the rich edge, run.
    #[serde(skip)]
    pub at_edges: [Option<Point>; 2],
    /// How middle and width spread.
    #[serde(serialize_with = "spread")]
    pub spread: Option<Spread>,
    /// The edges if the residual gas follows the mixture.
    #[serde(rename = "sensitivity", serialize_with = "sensitivity")]
    pub residual_phi: Option<Edges>,
    /// Stretches without a running point.
    pub stalled: Vec<Stretch>,
    /// From where fuel runs at rest (turns).
    #[serde(rename = "hazard_from_turns")]
    pub hazard: f64,
    /// Its points.
    #[serde(serialize_with = "as_records")]
    pub points: Vec<Point>,
    /// Of a car that is fitted: what holds in 90 of 100 cases.
    #[serde(flatten)]
    pub intervals: Option<SweepIntervals>,
    /// The same range in steps fine enough for a curve.
    #[serde(skip)]
    pub curve: Vec<Point>,
}

/// What holds in 90 of 100 cases of a car that is fitted.
#[derive(Serialize)]
pub struct SweepIntervals {
    /// Edges, middle and aim.
    #[serde(rename = "edges_90_percent")]
    pub edges: EdgeEnds,
    /// The points.
    #[serde(rename = "points_90_percent", serialize_with = "point_ends")]
    pub points: Vec<Intervals>,
    /// The points of the curve.
    #[serde(skip)]
    pub curve: Vec<Intervals>,
}

/// Ends of what edges and settings hold.
#[derive(Serialize)]
pub struct EdgeEnds {
    rough_lean_turns: Option<(f64, f64)>,
    rough_rich_turns: Option<(f64, f64)>,
    middle_turns: Option<(f64, f64)>,
    aim_turns: Option<(f64, f64)>,
}

impl EdgeEnds {
    /// Those of the edges of cars like one.
    pub fn of(edges: &[Edges]) -> EdgeEnds {
        let over = |get: fn(&Edges) -> Option<f64>| ends(edges.iter().filter_map(get), edges.len());
        EdgeEnds {
            rough_lean_turns: over(|edges| edges.lean),
            rough_rich_turns: over(|edges| edges.rich),
            middle_turns: over(Edges::middle),
            aim_turns: over(|edges| edges.lambda_one),
        }
    }

    fn words(&self) -> String {
        let one = |(name, ends): (&str, Option<(f64, f64)>)| {
            let (low, high) = ends?;
            Some(format!("{name} {} to {}", signed(low), signed(high)))
        };
        let all = [
            ("lean edge", self.rough_lean_turns),
            ("aim", self.aim_turns),
            ("middle", self.middle_turns),
            ("rich edge", self.rough_rich_turns),
        ];
        all.into_iter().filter_map(one).collect::<Vec<_>>().join("; ")
    }
}

/// A stretch of the sweep without a running point.
#[derive(Serialize)]
pub struct Stretch {
    /// Its leanest setting (turns).
    pub from_turns: f64,
    /// Its richest.
    pub to_turns: f64,
    /// Why its first does not run.
    pub reason: String,
}

impl Found for Sweep {
    fn columns(&self) -> Vec<Column> {
        let mut columns = point_columns();
        if self.intervals.is_some() {
            columns.extend(end_columns());
        }
        columns
    }

    fn each_row(&self, show: Show<'_>) -> io::Result<()> {
        self.points.iter().enumerate().try_for_each(|(i, point)| {
            let mut row = point_row(point);
            if let Some(intervals) = &self.intervals {
                row.extend(intervals.points[i].cells());
            }
            show(&row)
        })
    }
}

/// Stretches of the sweep without a running point, with the reason of their first.
pub fn stalled(points: &[Point]) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut open = false;
    for point in points {
        match (point.stall(), open) {
            (Some(_), true) => {
                if let Some(last) = stretches.last_mut() {
                    last.to_turns = point.screw_turns;
                }
            }
            (Some(why), false) => {
                let at = point.screw_turns;
                stretches.push(Stretch { from_turns: at, to_turns: at, reason: why.to_string() });
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
        let conditions = &self.scenario.setup.conditions;
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

/// Decimals of the screw's column.
const SCREW_DECIMALS: usize = 4;

/// Of the settings as the table has them.
fn finding(edges: &Edges, aim: &str) -> String {
    let stands = |turns: f64| rounded(turns, SCREW_DECIMALS);
    let places = [edges.lean, edges.rich, edges.middle(), edges.lambda_one];
    match <(_, _, _, _)>::from(places.map(|place| place.map(stands))) {
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

/// What is dangerous about settings richer than one.
pub fn hazard_words(from: f64) -> String {
    format!(
        "from {} turn on the slits are open with the plate at rest: with the pump on, fuel runs into a standing engine. Not a setting.",
        signed(from)
    )
}
