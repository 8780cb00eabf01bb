//! Rigs and keys, listed, shown, checked.

use crate::report::{Block, Field, Found, Records, Report, Table};
use crate::scenario::AT_REST;
use crate::text::plain;
use serde::ser::{SerializeMap, SerializeStruct};
use serde::{Serialize, Serializer};
use sim_core::point::{Outcome, Point};
use sim_core::rig::file::{RigFile, range_words, to_toml};
use sim_core::rig::keys::{KEYS, Key, Place, Setup, tidy};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::units::Unit;
use std::rc::Rc;

/// A report that is a line, if there is one, and a table of all that was found.
fn in_a_table(command: &'static str, line: Option<String>, found: Rc<dyn Found>) -> Report {
    let table = found.table();
    let mut report = Report::of(command, found);
    line.into_iter().for_each(|line| report.say(line));
    report.table(table);
    report
}

/// The shipped rigs.
#[derive(Serialize)]
struct RigList {
    #[serde(serialize_with = "rigs")]
    rigs: Vec<RigFile>,
}

static RIGS: &[Field<RigFile>] = &[
    Field::new("name", "rig", "", 0, |rig| rig.name.as_str().into()),
    Field::new("about", "what it is", "", 0, |rig| rig.about.as_str().into()),
];

fn rigs<S: Serializer>(rigs: &[RigFile], serializer: S) -> Result<S::Ok, S::Error> {
    Records(RIGS, rigs).serialize(serializer)
}

impl Found for RigList {
    fn table(&self) -> Table {
        Table::of(RIGS, &self.rigs)
    }
}

/// The report of the shipped rigs.
pub fn list() -> Report {
    let rigs = SHIPPED.iter().filter_map(|(name, _)| shipped(name)).collect();
    in_a_table("rig list", None, Rc::new(RigList { rigs }))
}

/// All keys.
#[derive(Serialize)]
struct KeyList {
    keys: Vec<ListedKey>,
}

#[derive(Serialize)]
struct ListedKey {
    key: &'static str,
    unit: &'static str,
    range: String,
    #[serde(rename = "where")]
    place: String,
    plain_words: Vec<&'static str>,
    meaning: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f64>,
}

impl ListedKey {
    fn of(key: &'static Key) -> ListedKey {
        let number = !matches!(key.place, Place::Choice { .. });
        ListedKey {
            key: key.name,
            unit: key.unit.symbol(),
            range: range_words(key),
            place: key.table().map_or("condition".to_string(), |table| format!("[{table}]")),
            plain_words: key.plain_words().collect(),
            meaning: key.meaning,
            low: number.then_some(key.low),
            high: number.then_some(key.high),
        }
    }
}

impl Found for KeyList {
    fn table(&self) -> Table {
        let rows = self.keys.iter().map(
            |ListedKey { key, unit, range, place, plain_words, meaning, .. }| {
                let words = plain_words.join(", ");
                [key, unit, range.as_str(), place, &words, meaning].map(String::from)
            },
        );
        Table::of_words(["key", "unit", "range", "where", "plain words", "meaning"], rows)
    }
}

/// The report of all keys.
pub fn keys() -> Report {
    let keys = KEYS.iter().map(ListedKey::of).collect();
    in_a_table("rig keys", None, Rc::new(KeyList { keys }))
}

/// A rig with the value of every key.
#[derive(Serialize)]
struct RigValues {
    name: String,
    about: String,
    #[serde(serialize_with = "by_key")]
    values: Vec<(&'static Key, Vec<f64>)>,
}

fn by_key<S: Serializer>(
    values: &[(&'static Key, Vec<f64>)],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let mut map = serializer.serialize_map(None)?;
    for (key, row) in values {
        match key.place {
            Place::PartRow { .. } => map.serialize_entry(key.name, row)?,
            _ => map.serialize_entry(key.name, &row.first())?,
        }
    }
    map.end()
}

impl RigValues {
    fn of(file: RigFile) -> RigValues {
        let setup = Setup { rig: file.rig, conditions: Default::default() };
        let row = |key: &Key| match key.place {
            Place::PartRow { get, .. } => {
                get(file.rig.parts()).iter().map(|si| tidy(key.unit.from_si(*si))).collect()
            }
            _ => key.get(&setup).into_iter().collect(),
        };
        let keys = KEYS.iter().filter(|key| key.table().is_some());
        let values = keys.map(|key| (key, row(key))).collect();
        RigValues { name: file.name, about: file.about, values }
    }
}

impl Found for RigValues {
    fn table(&self) -> Table {
        let rows = self.values.iter().map(|(key, row)| {
            let text = row.iter().map(|value| plain(*value)).collect::<Vec<_>>().join(" ");
            [key.name, &text, key.unit.symbol(), key.meaning].map(String::from)
        });
        Table::of_words(["key", "value", "unit", "meaning"], rows)
    }
}

/// The report of a rig's values.
pub fn show(file: RigFile) -> Report {
    let line = format!("{}: {}", file.name, file.about);
    in_a_table("rig show", Some(line), Rc::new(RigValues::of(file)))
}

/// The report of a rig as a rig file.
pub fn toml(file: RigFile) -> Report {
    let text = to_toml(&file);
    let mut report = Report::of("rig show", Rc::new(RigValues::of(file)));
    report.block(Block::Verbatim(text));
    report
}

/// A rig file that has nothing wrong in it.
pub struct RigCheck {
    /// Where it is.
    pub path: String,
    /// What it holds.
    pub file: RigFile,
    /// Whether fuel runs with the plate at rest.
    pub flows_at_rest: bool,
    /// Its warm idle with the screw where it stands.
    pub point: Point,
}

impl RigCheck {
    fn cylinders(&self) -> usize {
        self.file.rig.parts().slits.width_m.len()
    }
}

impl Serialize for RigCheck {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut record = serializer.serialize_struct("RigCheck", 3)?;
        record.serialize_field("name", &self.file.name)?;
        record.serialize_field("ok", &true)?;
        record.serialize_field("cylinders", &self.cylinders())?;
        record.end()
    }
}

impl Found for RigCheck {
    fn table(&self) -> Table {
        Table::of_words(["name", "ok"], [[self.file.name.clone(), "true".into()]].into_iter())
    }
}

/// The report of a check.
pub fn check(check: RigCheck) -> Report {
    let check = Rc::new(check);
    let mut report = Report::of("rig check", check.clone());
    report.say(format!(
        "{}: rig \"{}\" is complete and in range: {} cylinders, one for each slit.",
        check.path,
        check.file.name,
        check.cylinders()
    ));
    if check.flows_at_rest {
        report.hazard(AT_REST);
    }
    report.say(match &check.point.outcome {
        Outcome::Running(state) => format!(
            "With the screw where it stands, warm, trim off, it runs {} at {:.0} rpm, lambda {:.2}, roughness {:.0} %.",
            check.point.zone().word(),
            Unit::Rpm.from_si(state.speed_rad_s),
            state.lambda,
            100.0 * state.cov
        ),
        Outcome::Stalled(why) => format!(
            "With the screw where it stands it does not idle: {}. It would at lambda 1; `quarterturn sweep` tells where the screw gives that; zero_height_mm of the file makes it 0.",
            why
        ),
    });
    report
}
