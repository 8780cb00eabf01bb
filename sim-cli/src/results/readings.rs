//! A file of readings: what it takes, and what one holds.

use crate::report::{Field, Found, Records, Report, Table};
use serde::Serialize;
use sim_core::diagnose::given::{BESIDE, Given};
use sim_core::diagnose::sheet::{Kind, METERED};
use std::rc::Rc;

/// Columns of the template, in order.
const COLUMNS: [&str; 21] = [
    "plugged",
    "screw_turns",
    "speed_rpm",
    "ear",
    "potentiometer_v",
    "duty_percent",
    "actuator_ma",
    "sensor_v",
    "swing_s",
    "vacuum_bar",
    "co_percent",
    "co2_percent",
    "o2_percent",
    "hc_ppm",
    "idle_valve_percent",
    "system_bar",
    "lower_chamber_bar",
    "residual_bar",
    "cranking_s",
    "meter_ohm",
    "note",
];

/// The template: notes, header, rows to be filled in.
pub fn template() -> Report {
    let mut text = String::from(
        "# Readings of one car, warm, before anything is moved. A row for each state of the engine;\n\
         # leave empty what was not read; lines like this one are notes. Decimal points.\n",
    );
    for (name, words) in BESIDE {
        text += &format!("# {name}: {words}\n");
    }
    for metered in METERED {
        let unit = metered.unit.symbol();
        let unit = if unit.is_empty() { String::new() } else { format!(" ({unit})") };
        text += &format!("# {}: {}{unit}\n", metered.name, metered.label);
    }
    text +=
        "# N stands for a line: line_1_ml, line_2_ml ... Other keys of a point are taken, too.\n";
    text += &COLUMNS.join(",");
    let empty = ",".repeat(COLUMNS.len() - 2);
    text +=
        &format!("\nyes,0{empty}as found at idle\nno,0{empty}lambda sensor unplugged at idle\n");
    text += &format!("yes,0,2500{}2500 rpm without load\n", ",".repeat(COLUMNS.len() - 3));
    let listed: Vec<Listed> = METERED.iter().map(Listed::of).collect();
    let mut report =
        Report::of("readings template", Rc::new(Template { csv: text.clone(), readings: listed }));
    report.block(crate::report::Block::Verbatim(text));
    report
}

#[derive(Serialize)]
struct Template {
    csv: String,
    readings: Vec<Listed>,
}

#[derive(Serialize)]
struct Listed {
    name: &'static str,
    unit: &'static str,
    meaning: &'static str,
    running: bool,
}

impl Listed {
    fn of(metered: &sim_core::diagnose::sheet::Metered) -> Listed {
        let (unit, running) = (metered.unit.symbol(), metered.running);
        Listed { name: metered.name, unit, meaning: metered.label, running }
    }
}

static LISTED: &[Field<Listed>] = &[
    Field::new("name", "reading", "", 0, |l| l.name.into()),
    Field::new("unit", "unit", "", 0, |l| l.unit.into()),
    Field::new("meaning", "what it is", "", 0, |l| l.meaning.into()),
];

impl Found for Template {
    fn table(&self) -> Table {
        Table::of(LISTED, &self.readings)
    }
}

/// A reading as it was understood.
pub struct Understood {
    name: String,
    value: f64,
    unit: &'static str,
    when: String,
    meter: f64,
}

impl Understood {
    /// That of a reading as given.
    pub fn of(given: &Given) -> Understood {
        let kind: Kind = given.slot.kind;
        let sigma = kind.meter_sigma(kind.scaled(given.value), given.class);
        let off = kind.unscaled(kind.scaled(given.value) + sigma) - given.value;
        Understood {
            name: given.slot.name(),
            value: given.value,
            unit: kind.unit().symbol(),
            when: given.slot.taken().map_or("standing".into(), |taken| taken.words()),
            meter: off,
        }
    }
}

/// Readings as they were understood.
pub static UNDERSTOOD: &[Field<Understood>] = &[
    Field::new("name", "reading", "", 0, |u| u.name.as_str().into()),
    Field::new("value", "value", "", 3, |u| u.value.into()),
    Field::new("unit", "unit", "", 0, |u| u.unit.into()),
    Field::new("when", "when", "", 0, |u| u.when.as_str().into()),
    Field::new("meter_sigma", "meter, one sigma", "", 3, |u| u.meter.into()),
];

struct Checked {
    readings: Vec<Understood>,
    ear: Option<&'static str>,
}

impl Serialize for Checked {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let mut object = serializer.serialize_struct("Checked", 3)?;
        object.serialize_field("readings", &Records(UNDERSTOOD, &self.readings))?;
        object.serialize_field("ear", &self.ear)?;
        object.serialize_field("usable", &true)?;
        object.end()
    }
}

impl Found for Checked {
    fn table(&self) -> Table {
        Table::of(UNDERSTOOD, &self.readings)
    }
}

/// The report of a file that holds.
pub fn checked(readings: &[Given], ear: Option<&'static str>) -> Report {
    let readings: Vec<Understood> = readings.iter().map(Understood::of).collect();
    let count = readings.len();
    let found = Rc::new(Checked { readings, ear });
    let table = found.table();
    let mut report = Report::of("readings check", found);
    report.heading(format!("{count} readings, none contradicts another"));
    report.table(table);
    if let Some(ear) = ear {
        report.say(format!("By ear: {ear}."));
    }
    report
}
