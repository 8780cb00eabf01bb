//! A point as data: the same object and the same row wherever it appears.

use crate::report::{Cell, Column};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use serde_json::Value;
use sim_core::engine::roughness::RoughBy;
use sim_core::point::{Outcome, Point, READINGS, Reading, Stall, WORKSHOP_READINGS};
use sim_core::units::Unit;

/// Which way the duty goes, for notes.
pub const DUTY_NOTE: &str = "Duty above 50 %: the controller adds fuel, the mechanical mixture is lean. Below 50 % it takes fuel away. A meter whose clips are swapped, and a controller that counts the other way, show 100 minus this.";

/// A point as the JSON object it is everywhere.
pub struct PointRecord<'a>(pub &'a Point);

impl Serialize for PointRecord<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let point = self.0;
        let state = point.state();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("screw_turns", &point.screw_turns)?;
        map.serialize_entry("zone", point.zone().word())?;
        let rough_by = state.and_then(|state| state.rough_by);
        map.serialize_entry("rough_by", &rough_by.map(RoughBy::word))?;
        let mode = state.and_then(|state| state.mode);
        map.serialize_entry("idle_damping", &mode.map(|mode| mode.damping()))?;
        map.serialize_entry("idle_period_s", &mode.and_then(|mode| mode.period_s()))?;
        map.serialize_entry("valve_at_limit", &state.map(|state| state.valve_limit.is_some()))?;
        map.serialize_entry("lines_spray", &lines_spray(point))?;
        for reading in READINGS {
            map.serialize_entry(reading.name, &value_at(point, reading))?;
        }
        if let Some(state) = state {
            map.serialize_entry("valve_limit", &state.valve_limit.map(|limit| limit.word()))?;
            map.serialize_entry("fuel_flows_at_rest", &state.flows_at_rest)?;
        }
        if let Outcome::Stalled(why) = &point.outcome {
            map.serialize_entry("reason", &why.to_string())?;
        }
        map.end()
    }
}

/// A reading of a point, if the engine runs there.
pub fn value_at(point: &Point, reading: &Reading) -> Option<f64> {
    point.state().and_then(|state| reading.value(state))
}

/// For a field of a result that is many points.
pub fn as_records<S: Serializer>(points: &[Point], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(points.iter().map(PointRecord))
}

/// A point as a JSON value.
pub fn point_value(point: &Point) -> Value {
    serde_json::to_value(PointRecord(point)).unwrap_or_default()
}

/// Columns of a point for CSV: everything.
pub fn point_columns() -> Vec<Column> {
    let mut columns = vec![
        Column::new("screw_turns", "screw", Unit::Turns.symbol(), 4),
        Column::new("zone", "zone", "", 0),
        Column::new("valve_at_limit", "valve", "", 0),
    ];
    columns.extend(READINGS.iter().map(Column::of));
    columns.push(Column::new("rough_by", "rough by", "", 0));
    columns.push(Column::new("idle_damping", "idle damping", "", 2));
    columns.push(Column::new("idle_period_s", "idle period", Unit::Second.symbol(), 2));
    columns.push(Column::new("reason", "reason", "", 0));
    columns
}

/// The row that belongs to [`point_columns`].
pub fn point_row(point: &Point) -> Vec<Cell> {
    let state = point.state();
    let limit = state.map(|state| state.valve_limit.is_some().to_string()).unwrap_or_default();
    let mut row = vec![point.screw_turns.into(), point.zone().word().into(), limit.into()];
    row.extend(READINGS.iter().map(|reading| Cell::from(value_at(point, reading))));
    let rough_by = state.and_then(|state| state.rough_by);
    row.push(rough_by.map(RoughBy::word).unwrap_or_default().into());
    let mode = state.and_then(|state| state.mode);
    row.push(mode.map(|mode| mode.damping()).into());
    row.push(mode.and_then(|mode| mode.period_s()).into());
    row.push(point.stall().map(ToString::to_string).unwrap_or_default().into());
    row
}

/// The readings of the short answer in their order: what a workshop reads and what moved, the
/// workshop's first. Of those that stay a pressure is left out: its gauge is put on where a
/// pressure is in question.
pub fn short_readings(moved: impl Fn(&str) -> bool) -> Vec<&'static str> {
    let owned = |name: &&str| WORKSHOP_READINGS.contains(name);
    let at_hand = |name: &&str| !name.ends_with("_bar") || *name == "manifold_bar";
    let workshop = || WORKSHOP_READINGS.iter().copied();
    let others = READINGS.iter().map(|reading| reading.name).filter(|name| !owned(name));
    workshop()
        .filter(|name| moved(name))
        .chain(workshop().filter(|name| !moved(name)).filter(at_hand))
        .chain(others.filter(|name| moved(name)))
        .collect()
}

/// Whether every injector opens, where it is known.
fn lines_spray(point: &Point) -> Option<bool> {
    match point.stall() {
        Some(Stall::NothingSprays { .. } | Stall::FewSpray { .. }) => Some(false),
        Some(_) => None,
        None => point.state().map(|state| state.lines_spray),
    }
}
