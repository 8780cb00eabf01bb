//! The machine in a position: where its parts stand, and its pressures.

use crate::cautions::{STANDING, of_setups};
use crate::report::{Cell, Column, Found, Report, Table};
use crate::scenario::Scenario;
use crate::text::turns;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::point::Point;
use sim_core::section::{Position, Section};
use sim_core::units::Unit;
use std::rc::Rc;

/// What is drawn of the machine.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// Funnel, plate, lever, plunger, slits.
    Metering,
    /// Tank to injectors.
    Fuel,
}

impl Sheet {
    /// Its word in `--sheet`.
    pub const fn word(self) -> &'static str {
        match self {
            Sheet::Metering => "metering",
            Sheet::Fuel => "fuel",
        }
    }
}

/// A machine as it is drawn.
pub struct DrawnMachine {
    /// The command, canonically.
    pub command: String,
    /// The engine.
    pub scenario: Scenario,
    /// Where its parts stand.
    pub section: Section,
    /// What is drawn of it.
    pub sheet: Sheet,
    /// Where the drawing goes.
    pub file: String,
}

/// A value of a machine: its name and words, unit and decimals, how it is had, and whether a
/// stalled engine has it.
struct Value {
    name: &'static str,
    words: &'static str,
    unit: Unit,
    decimals: usize,
    get: fn(&DrawnMachine) -> Option<f64>,
    needs_engine: bool,
}

const fn value(
    name: &'static str,
    words: &'static str,
    unit: Unit,
    decimals: usize,
    get: fn(&DrawnMachine) -> Option<f64>,
) -> Value {
    Value { name, words, unit, decimals, get, needs_engine: true }
}

const fn standing(value: Value) -> Value {
    Value { needs_engine: false, ..value }
}

const MM: Unit = Unit::Millimetre;
const ML_MIN: Unit = Unit::MillilitrePerMinute;

#[rustfmt::skip]
static VALUES: &[Value] = &[
    value("plate_above_rest_mm", "plate above its rest", MM, 2, |m| Some(m.section.machine.plate_above_rest_m)),
    value("plate_above_throat_mm", "plate above the throat's lower edge", MM, 2, |m| Some(m.section.machine.plate_above_throat_m)),
    value("plunger_mm", "plunger above its seat", MM, 3, |m| Some(m.section.machine.plunger_m)),
    value("slit_opening_mm", "slits open", MM, 3, |m| Some(m.section.machine.slit_opening_m)),
    standing(value("play_mm", "play, rest to first fuel, at the plate", MM, 2, |m| m.section.machine.heights.play_m())),
    standing(value("felt_play_mm", "play felt, rest to the touch", MM, 2, |m| Some(m.section.machine.heights.felt_play_m()))),
    standing(value("rest_height_mm", "rest below the throat's lower edge", MM, 2, |m| Some(-m.section.machine.heights.rest_m))),
    standing(value("screw_turns", "screw from where the rig stands", Unit::Turns, 3, |m| Some(m.section.machine.screw_turns))),
    value("lever_deg", "lever from level", Unit::Degree, 2, |m| Some(m.section.machine.lever_rad.to_degrees())),
    value("system_bar", "system pressure", Unit::Bar, 2, |m| Some(m.section.hydraulics.system_pa)),
    value("lower_chamber_bar", "lower chambers", Unit::Bar, 2, |m| Some(m.section.hydraulics.lower_chamber_pa)),
    value("upper_chamber_bar", "upper chambers", Unit::Bar, 2, |m| Some(m.section.hydraulics.upper_chamber_pa)),
    value("slit_drop_bar", "drop over the slits", Unit::Bar, 3, |m| Some(m.section.hydraulics.slit_drop_pa)),
    value("line_bar", "injection line", Unit::Bar, 2, |m| Some(m.section.hydraulics.line_pa)),
    value("actuator_ma", "actuator current", Unit::Milliampere, 1, |m| Some(m.section.hydraulics.current_a)),
    value("pump_ml_min", "pump delivers", ML_MIN, 0, |m| Some(m.section.hydraulics.pump_m3_s)),
    value("lines_ml_min", "slits pass, all together", ML_MIN, 1, |m| Some(m.section.hydraulics.lines_m3_s)),
    value("returns_ml_min", "returns to the tank", ML_MIN, 0, |m| Some(m.section.hydraulics.returns_m3_s())),
];

impl DrawnMachine {
    /// Why the engine does not run, if it should and does not.
    pub fn stall(&self) -> Option<String> {
        self.section.point.as_ref().and_then(Point::stall).map(ToString::to_string)
    }

    fn value(&self, value: &Value) -> Option<f64> {
        if value.needs_engine && self.section.stalled() {
            return None;
        }
        (value.get)(self).map(|si| value.unit.from_si(si))
    }

    /// What the drawing shows, in a sentence.
    pub fn sentence(&self) -> String {
        let machine = &self.section.machine;
        let above_mm = 1e3 * machine.plate_above_rest_m;
        let hydraulics = &self.section.hydraulics;
        if self.section.stalled() {
            return "The engine does not run: the machine is drawn at rest".into();
        }
        if self.sheet == Sheet::Fuel {
            let [system, upper] = [hydraulics.system_pa, hydraulics.upper_chamber_pa].map(bar);
            let drop = Unit::Bar.from_si(hydraulics.slit_drop_pa);
            if hydraulics.lines_m3_s <= 0.0 {
                return format!(
                    "The slits are shut: {drop:.3} bar would drive the fuel through them"
                );
            }
            return format!(
                "{system:.2} bar before the slits, {upper:.2} behind: {drop:.3} bar drives the fuel"
            );
        }
        let slit_mm = 1e3 * machine.slit_opening_m;
        let lifted_at_rest = above_mm <= 0.0 && machine.plunger_m > 0.0;
        match self.section.position {
            _ if lifted_at_rest && slit_mm > 0.0 => {
                format!("No play: at rest the slits already stand {slit_mm:.3} mm open")
            }
            _ if lifted_at_rest => "No play: at rest the roller already lifts the plunger".into(),
            Position::Rest => format!(
                "At rest: {:.2} mm of play at the plate until roller and plunger touch",
                1e3 * machine.heights.felt_play_m()
            ),
            Position::Touch => {
                format!(
                    "Plate lifted {above_mm:.2} mm: the roller touches, the slits are still shut"
                )
            }
            Position::FirstFuel => {
                format!(
                    "Plate lifted {above_mm:.2} mm: the slits begin to open, the first fuel shows"
                )
            }
            Position::WarmIdle | Position::FullLoad => format!(
                "The plate rides {above_mm:.2} mm above its rest; the slits stand {slit_mm:.2} mm open"
            ),
        }
    }

    /// Under what it is drawn.
    pub fn circumstances(&self) -> String {
        let mut words = self.scenario.words();
        if !self.section.position.runs() {
            let name = &self.scenario.file.name;
            words =
                format!("Rig {name}, invented; engine standing, pump on the jumper, no current");
        }
        let state = self.section.point.as_ref().and_then(Point::state);
        if let Some(state) = state.filter(|_| !words.contains("; speed")) {
            words += &format!(", {:.0} rpm", Unit::Rpm.from_si(state.speed_rad_s));
        }
        if !words.contains("; screw") {
            words += &format!(", screw at {} turn", turns(self.section.machine.screw_turns));
        }
        match self.stall() {
            Some(why) => format!("{words}: {why}"),
            None => words,
        }
    }

    /// Every value with its words, for the drawing's description.
    pub fn told(&self) -> String {
        let told = VALUES.iter().filter_map(|value| {
            let number = self.value(value)?;
            let symbol = value.unit.symbol();
            Some(format!("{} {number:.*} {symbol}", value.words, value.decimals))
        });
        told.collect::<Vec<_>>().join(", ")
    }
}

fn bar(pa: f64) -> f64 {
    Unit::Bar.from_si(pa)
}

impl Serialize for DrawnMachine {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("canonical_command", &self.command)?;
        map.serialize_entry("conditions", &self.scenario)?;
        map.serialize_entry("sheet", self.sheet.word())?;
        map.serialize_entry("position", self.section.position.word())?;
        map.serialize_entry("says", &self.sentence())?;
        for value in VALUES {
            map.serialize_entry(value.name, &self.value(value))?;
        }
        map.serialize_entry("reason", &self.stall())?;
        map.serialize_entry("file", &self.file)?;
        map.end()
    }
}

impl Found for DrawnMachine {
    fn table(&self) -> Table {
        let columns = vec![
            Column::named(["reading"]).remove(0),
            Column::named(["value"]).remove(0),
            Column::named(["unit"]).remove(0),
        ];
        let row = |value: &Value| {
            let number = self.value(value).map(|number| format!("{number:.*}", value.decimals));
            vec![
                Cell::from(value.words),
                Cell::from(number.unwrap_or_else(|| "-".into())),
                Cell::from(value.unit.symbol()),
            ]
        };
        Table::new(columns, VALUES.iter().map(row).collect())
    }

    fn columns(&self) -> Vec<Column> {
        let column = |value: &Value| {
            Column::new(value.name, value.words, value.unit.symbol(), value.decimals)
        };
        VALUES.iter().map(column).collect()
    }

    fn each_row(&self, show: crate::report::Show<'_>) -> std::io::Result<()> {
        let row: Vec<Cell> = VALUES.iter().map(|value| self.value(value).into()).collect();
        show(&row)
    }
}

/// The report of a machine drawn.
pub fn report(drawn: &Rc<DrawnMachine>) -> Report {
    let mut report = Report::of("draw", drawn.clone());
    report.note_idle_flags(&drawn.scenario);
    report.heading(drawn.sentence());
    report.say(drawn.circumstances());
    report.warn_at_rest(&drawn.scenario);
    // The short answer: positions, play, and what a gauge shows.
    report.table(drawn.table().short_rows(vec![0, 2, 3, 4, 5, 9, 10, 12]));
    report.cautions = match drawn.section.position.runs() {
        true => of_setups(&[&drawn.scenario.setup], &[]),
        false => STANDING.to_vec(),
    };
    report
}
