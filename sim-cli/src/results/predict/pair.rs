//! A point before and after a change, and how far each reading moves.

use crate::results::interval::Intervals;
use crate::results::point::{PointRecord, value_at};
use crate::rounding::Move;
use crate::text::direction;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::point::{Point, READINGS, Reading};
use sim_core::rig::keys::Setup;
use sim_core::run::stability::point_with_mode;
use sim_core::steady::SteadyEngine;

/// A point before and after.
pub struct Pair {
    /// Before.
    pub before: Point,
    /// After.
    pub after: Point,
    /// Of a car that is fitted: what holds in 90 of 100 cases.
    pub intervals: Option<PairIntervals>,
}

/// Intervals before, after, and of the difference.
pub struct PairIntervals([Intervals; 3]);

impl PairIntervals {
    /// Those of points before and after of cars like one.
    pub fn of(pairs: &[(Point, Point)]) -> PairIntervals {
        let before: Vec<&Point> = pairs.iter().map(|pair| &pair.0).collect();
        let after: Vec<&Point> = pairs.iter().map(|pair| &pair.1).collect();
        let both: Vec<(&Point, &Point)> = pairs.iter().map(|pair| (&pair.0, &pair.1)).collect();
        PairIntervals([Intervals::of(&before), Intervals::of(&after), Intervals::of_moves(&both)])
    }

    /// Before, after, of the difference: of a reading.
    pub fn reading(&self, name: &str) -> [Option<(f64, f64)>; 3] {
        [0, 1, 2].map(|i| self.0[i].reading(name))
    }
}

impl Pair {
    /// The points of two setups.
    pub fn of(before: &Setup, after: &Setup) -> Pair {
        let point = |setup: &Setup| {
            let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
            point_with_mode(&steady, setup.conditions.screw_turns)
        };
        Pair { before: point(before), after: point(after), intervals: None }
    }

    /// A reading before and after, where the engine runs.
    pub fn values(&self, reading: &Reading) -> (Option<f64>, Option<f64>) {
        (value_at(&self.before, reading), value_at(&self.after, reading))
    }

    /// How far a reading moves, as it is printed, where the engine runs before and after.
    pub fn moved(&self, name: &str) -> Option<Move> {
        let reading = Reading::find(name)?;
        let (before, after) = self.values(reading);
        before.zip(after).map(|(before, after)| Move::of(reading, before, after))
    }

    /// Which way a reading went. One that means nothing on an engine that runs, as the
    /// roughness of one that is driven, is not told to stall.
    pub fn direction(&self, reading: &Reading) -> Option<&'static str> {
        let (before, after) = self.values(reading);
        let runs = self.before.state().is_some() && self.after.state().is_some();
        match (before, after) {
            (None, Some(_)) if runs => Some("to be told again"),
            (Some(_), None) if runs => Some("no longer to be told"),
            _ => direction(reading, before, after),
        }
    }

    /// The members of the JSON object, their names with a suffix.
    fn members<S: Serializer>(&self, suffix: &str, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry(&format!("before{suffix}"), &PointRecord(&self.before))?;
        map.serialize_entry(&format!("after{suffix}"), &PointRecord(&self.after))?;
        map.serialize_entry(&format!("difference{suffix}"), &Difference(self))?;
        let names = ["before", "after", "difference"];
        for (name, intervals) in names.iter().zip(self.intervals.iter().flat_map(|all| &all.0)) {
            map.serialize_entry(&format!("{name}{suffix}_low"), &intervals.low())?;
            map.serialize_entry(&format!("{name}{suffix}_high"), &intervals.high())?;
        }
        map.end()
    }
}

impl Serialize for Pair {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.members("", serializer)
    }
}

pub(super) fn at_2500<S: Serializer>(
    pair: &Option<Pair>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match pair {
        Some(pair) => pair.members("_2500", serializer),
        None => serializer.serialize_none(),
    }
}

/// How far each reading moves.
struct Difference<'a>(&'a Pair);

impl Serialize for Difference<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Pair { before, after, .. } = self.0;
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("screw_turns", &(after.screw_turns - before.screw_turns))?;
        for reading in READINGS {
            let (before, after) = self.0.values(reading);
            let moved = before.zip(after).map(|(before, after)| after - before);
            map.serialize_entry(reading.name, &moved)?;
        }
        map.end()
    }
}
