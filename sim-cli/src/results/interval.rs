//! Intervals of readings over cars like a fitted one.

use crate::report::Column;
use crate::results::point::value_at;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::point::{Point, READINGS, Reading};

/// Ends of an interval that holds in 90 of 100 cases.
pub const ENDS: (f64, f64) = (0.05, 0.95);
/// Share of the cars that must show a reading for its interval to be told.
const SHOWN: f64 = 0.9;

/// The ends of what values show in 90 of 100 cases, of so many that were drawn: order statistics
/// on straight lines.
pub fn ends(values: impl Iterator<Item = f64>, drawn: usize) -> Option<(f64, f64)> {
    let mut values: Vec<f64> = values.filter(|value| value.is_finite()).collect();
    if values.is_empty() || (values.len() as f64) < SHOWN * drawn as f64 {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = share * (values.len() - 1) as f64;
        let (below, part) = (place.floor() as usize, place.fract());
        let above = (below + 1).min(values.len() - 1);
        values[below] + part * (values[above] - values[below])
    };
    Some((at(ENDS.0), at(ENDS.1)))
}

/// An interval of each reading, in the order of [`READINGS`].
pub struct Intervals(Vec<Option<(f64, f64)>>);

impl Intervals {
    /// Those of points of cars like one.
    pub fn of(points: &[&Point]) -> Intervals {
        Intervals::by(points.len(), |reading| {
            points.iter().map(|point| value_at(point, reading)).collect()
        })
    }

    /// Those of what moved from points to others.
    pub fn of_moves(pairs: &[(&Point, &Point)]) -> Intervals {
        Intervals::by(pairs.len(), |reading| {
            let moved = |(before, after): &(&Point, &Point)| {
                Some(value_at(after, reading)? - value_at(before, reading)?)
            };
            pairs.iter().map(moved).collect()
        })
    }

    fn by(drawn: usize, values: impl Fn(&Reading) -> Vec<Option<f64>>) -> Intervals {
        let one = |reading: &Reading| ends(values(reading).into_iter().flatten(), drawn);
        Intervals(READINGS.iter().map(one).collect())
    }

    /// That of a reading.
    pub fn reading(&self, name: &str) -> Option<(f64, f64)> {
        let place = READINGS.iter().position(|reading| reading.name == name)?;
        self.0[place]
    }

    /// The lower ends.
    pub fn low(&self) -> Ends<'_> {
        Ends(self, |ends| ends.0)
    }

    /// The upper ends.
    pub fn high(&self) -> Ends<'_> {
        Ends(self, |ends| ends.1)
    }
}

/// One end of each interval, as a JSON object by the readings' names.
pub struct Ends<'a>(&'a Intervals, fn((f64, f64)) -> f64);

impl Serialize for Ends<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for (reading, ends) in READINGS.iter().zip(&self.0.0) {
            map.serialize_entry(reading.name, &ends.map(self.1))?;
        }
        map.end()
    }
}

/// Columns of both ends of each reading.
pub fn end_columns() -> Vec<Column> {
    let ends = |reading: &Reading| {
        ["low", "high"].map(|end| {
            let (name, label) =
                (format!("{}_{end}", reading.name), format!("{}, {end}", reading.label));
            Column::new(&name, &label, reading.unit.symbol(), reading.decimals)
        })
    };
    READINGS.iter().flat_map(ends).collect()
}

impl Intervals {
    /// The cells that belong to [`end_columns`].
    pub fn cells(&self) -> impl Iterator<Item = crate::report::Cell> + '_ {
        self.0.iter().flat_map(|ends| [ends.map(|e| e.0).into(), ends.map(|e| e.1).into()])
    }
}
