//! A mixture, its gas and the sensor in it.

use crate::cautions::RUNNING;
use crate::report::{Column, Found, Report, Table};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::engine::exhaust::Gas;
use sim_core::fuel::kind::Fuel;
use sim_core::sense::lambda_sensor::OxygenCell;
use sim_core::units::Unit;
use std::rc::Rc;

/// A mixture and its gas.
pub struct Exhaust {
    /// What the fuel is called.
    pub fuel_name: String,
    /// The fuel.
    pub fuel: Fuel,
    /// The mixture.
    pub lambda: f64,
    /// Its gas.
    pub gas: Gas,
    /// Temperature of the sensor's tip (degC).
    pub tip_degc: f64,
}

impl Exhaust {
    /// What is told of it, in the order of table and files.
    fn quantities(&self) -> [(Column, f64); 8] {
        let Exhaust { fuel, lambda, gas, tip_degc, .. } = self;
        let cell = OxygenCell::at(Unit::Celsius.to_si(*tip_degc));
        let sensor_mv = 1e3 * cell.voltage_v(fuel, *lambda);
        let sensor = "lambda sensor, thermodynamic, uncapped";
        let air = "stoichiometric air-fuel ratio of the fuel";
        let percent = |name, label, share: f64| (Column::new(name, label, "%", 2), 100.0 * share);
        [
            (Column::new("lambda", "lambda", "", 4), *lambda),
            percent("co_percent", "CO, dry, before the catalyst", gas.co),
            percent("co2_percent", "CO2, dry, before the catalyst", gas.co2),
            percent("o2_percent", "O2, dry, before the catalyst", gas.o2),
            percent("h2_percent", "H2, dry, before the catalyst", gas.h2),
            (Column::new("hc_ppm", "HC as hexane", "ppm", 0), 1e6 * gas.hc),
            (Column::new("sensor_mv", sensor, "mV", 0), sensor_mv),
            (Column::new("air_fuel_ratio", air, "kg/kg", 2), fuel.air_fuel_ratio()),
        ]
    }
}

impl Serialize for Exhaust {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for (column, value) in self.quantities() {
            map.serialize_entry(&column.name, &value)?;
        }
        map.serialize_entry("tip_degc", &self.tip_degc)?;
        map.serialize_entry("fuel", &self.fuel_name)?;
        map.end()
    }
}

impl Found for Exhaust {
    fn table(&self) -> Table {
        let (columns, row) =
            self.quantities().map(|(column, value)| (column, value.into())).into_iter().unzip();
        Table::new(columns, vec![row])
    }
}

/// The report of a gas.
pub fn report(exhaust: &Rc<Exhaust>) -> Report {
    let mut report = Report::of("gas", exhaust.clone());
    let Exhaust { lambda, fuel_name, tip_degc, .. } = &**exhaust;
    let side = match lambda {
        l if (l - 1.0).abs() < 5e-4 => "stoichiometric",
        l if *l < 1.0 => "rich",
        _ => "lean",
    };
    report.heading(format!("lambda {lambda:.3}, {side}; fuel {fuel_name}"));
    let row = |(column, value): (Column, f64)| {
        let value = format!("{value:.*}", column.decimals);
        [column.label, value, column.unit.into()]
    };
    let rows = exhaust.quantities().into_iter().map(row);
    // CO, CO2, O2, HC and the sensor: what is read.
    let short = vec![1, 2, 3, 5, 6];
    report.table(Table::of_words(["reading", "value", "unit"], rows).short_rows(short));
    report.note("One mixture: no spread between cycles or cylinders, no misfire. A real engine's gas shows CO and O2 side by side near lambda 1; `sweep` and `predict` tell that one.");
    report.note(format!("Sensor: gas brought to equilibrium at a tip of {tip_degc} degC, Nernst against air. A real tip caps the rich side near 0.9 V."));
    report.cautions = RUNNING.to_vec();
    report
}
