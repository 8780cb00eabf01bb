//! `gas`: exhaust gas of a mixture, or the mixture of a gas.

use super::Command;
use super::asked::{number_in, within};
use crate::args::with_output;
use crate::cautions::RUNNING;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::text::plain;
use clap::{Arg, ArgMatches};
use serde_json::json;
use sim_core::engine::exhaust::{FORMULA_FUEL, Gas, gas_of, hydrogen_of, lambda_of};
use sim_core::fuel::kind::{Fuel, NAMED};
use sim_core::sense::lambda_sensor::OxygenCell;
use sim_core::units::Unit;

pub const COMMAND: Command = Command {
    name: "gas",
    group: "look-up",
    about: "Exhaust gas and sensor voltage of a mixture, or lambda of a gas as read",
    example: "quarterturn gas --lambda 0.98",
    args,
    report,
};

/// A number the command takes: flag, range, unit, help.
struct GasQuantity {
    flag: &'static str,
    low: f64,
    high: f64,
    unit: &'static str,
    help: &'static str,
}

const fn quantity(
    flag: &'static str,
    range: (f64, f64),
    unit: &'static str,
    help: &'static str,
) -> GasQuantity {
    GasQuantity { flag, low: range.0, high: range.1, unit, help }
}

impl GasQuantity {
    fn name(&self) -> &'static str {
        self.flag.trim_start_matches('-')
    }
}

const LAMBDA: GasQuantity = quantity("--lambda", (0.5, 5.0), "", "mixture that burns");
const CO: GasQuantity = quantity("--co", (0.0, 20.0), "%", "carbon monoxide read, dry");
const CO2: GasQuantity = quantity("--co2", (0.0, 20.0), "%", "carbon dioxide read, dry");
const O2: GasQuantity = quantity("--o2", (0.0, 21.0), "%", "oxygen read, dry");
const HC: GasQuantity =
    quantity("--hc-ppm", (0.0, 50_000.0), "ppm", "hydrocarbons read, as hexane");
const TIP: GasQuantity = quantity(
    "--tip-degc",
    (550.0, 1000.0),
    "degC",
    "temperature of the sensor's tip [default 700]",
);
const H: GasQuantity =
    quantity("--h-per-c", (0.0, 4.5), "", "hydrogen atoms of the fuel for each carbon");
const O: GasQuantity =
    quantity("--o-per-c", (0.0, 1.5), "", "oxygen atoms of the fuel for each carbon");

fn args(mut command: clap::Command) -> clap::Command {
    for quantity in [&LAMBDA, &CO, &CO2, &O2, &HC, &TIP, &H, &O] {
        let range = format!("{} to {} {}", quantity.low, quantity.high, quantity.unit);
        let arg = Arg::new(quantity.name())
            .long(quantity.name())
            .value_name("NUMBER")
            .allow_hyphen_values(true)
            .help(format!("{} [{}]", quantity.help, range.trim_end()));
        command = command.arg(match quantity.name() {
            "co" | "co2" | "o2" | "hc-ppm" => arg.conflicts_with("lambda"),
            _ => arg,
        });
    }
    let names: Vec<&str> =
        ["e0", "e5", "e10"].into_iter().chain(NAMED.iter().map(|(name, _)| *name)).collect();
    with_output(
        command
            .arg(
                Arg::new("fuel")
                    .long("fuel")
                    .value_name("FUEL")
                    .value_parser(clap::builder::PossibleValuesParser::new(names))
                    .conflicts_with_all(["h-per-c", "o-per-c"])
                    .help("a fuel by name [default e0; from readings the formula's own]"),
            )
            .group(clap::ArgGroup::new("given").args(["lambda", "co2"]).required(true)),
    )
}

fn read(matches: &ArgMatches, quantity: &GasQuantity) -> Result<Option<f64>, Error> {
    let Some(found) = matches.get_one::<String>(quantity.name()) else { return Ok(None) };
    number_in(quantity.flag, found).map(Some)
}

/// The fuel that is named or given by its formula, with its words.
fn fuel(matches: &ArgMatches, h: Option<f64>, o: Option<f64>) -> Option<(String, Fuel)> {
    if let Some(name) = matches.get_one::<String>("fuel") {
        let share = match name.as_str() {
            "e0" => Some(0.0),
            "e5" => Some(0.05),
            "e10" => Some(0.10),
            _ => None,
        };
        let named = NAMED.iter().find(|(known, _)| known == name).map(|(_, fuel)| *fuel);
        let fuel = share.map(Fuel::petrol_with_ethanol).or(named)?;
        return Some((name.clone(), fuel));
    }
    if h.is_none() && o.is_none() {
        return None;
    }
    let (h, o) = (h.unwrap_or(1.85), o.unwrap_or(0.0));
    Some((format!("H/C {}, O/C {}", plain(h), plain(o)), Fuel::of_formula(h, o)))
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    static ALL: [GasQuantity; 8] = [LAMBDA, CO, CO2, O2, HC, TIP, H, O];
    let mut values = [None; 8];
    for (value, quantity) in values.iter_mut().zip(&ALL) {
        *value = read(matches, quantity)?;
    }
    for (value, quantity) in values.iter().zip(&ALL) {
        let range = (quantity.low, quantity.high);
        value.map(|value| within(quantity.flag, value, range, quantity.unit)).transpose()?;
    }
    let [lambda, co, co2, o2, hc, tip, h, o] = values;
    let tip_degc = tip.unwrap_or(700.0);
    let given = fuel(matches, h, o);
    let share = |percent: Option<f64>| percent.unwrap_or(0.0) / 100.0;
    let (name, fuel, lambda, gas) = match lambda {
        Some(lambda) => {
            let (name, fuel) = given.unwrap_or(("e0".into(), Fuel::petrol_with_ethanol(0.0)));
            (name, fuel, lambda, gas_of(&fuel, lambda))
        }
        None => {
            let (h, o) = FORMULA_FUEL;
            let own = (format!("the formula's own, H/C {h}, O/C {o}"), Fuel::of_formula(h, o));
            let (name, fuel) = given.unwrap_or(own);
            let (co, co2) = (share(co), share(co2));
            let gas = Gas {
                co,
                co2,
                o2: share(o2),
                h2: hydrogen_of(co, co2, fuel.h_per_c),
                hc: 1e-6 * hc.unwrap_or(0.0),
            };
            let lambda =
                lambda_of(&gas, (fuel.h_per_c, fuel.o_per_c)).ok_or(Error::NumberOutOfRange {
                    flag: CO2.flag,
                    value: 0.0,
                    low: 0.1,
                    high: CO2.high,
                    unit: "%: without it nothing burnt",
                })?;
            (name, fuel, lambda, gas)
        }
    };
    let cell = OxygenCell::at(Unit::Celsius.to_si(tip_degc));
    let sensor_mv = 1e3 * cell.voltage_v(&fuel, lambda);
    Ok(render(&name, &fuel, lambda, &gas, sensor_mv, tip_degc))
}

fn render(
    name: &str,
    fuel: &Fuel,
    lambda: f64,
    gas: &Gas,
    sensor_mv: f64,
    tip_degc: f64,
) -> Report {
    let mut report = Report::new("gas");
    let side = match lambda {
        l if (l - 1.0).abs() < 5e-4 => "stoichiometric",
        l if l < 1.0 => "rich",
        _ => "lean",
    };
    report.blocks.push(Block::Heading(format!("lambda {lambda:.3}, {side}; fuel {name}")));
    let rows = [
        ("lambda", "lambda", lambda, "", 4),
        ("co_percent", "CO, dry, before the catalyst", 100.0 * gas.co, "%", 2),
        ("co2_percent", "CO2, dry, before the catalyst", 100.0 * gas.co2, "%", 2),
        ("o2_percent", "O2, dry, before the catalyst", 100.0 * gas.o2, "%", 2),
        ("h2_percent", "H2, dry, before the catalyst", 100.0 * gas.h2, "%", 2),
        ("hc_ppm", "HC as hexane", 1e6 * gas.hc, "ppm", 0),
        ("sensor_mv", "lambda sensor, thermodynamic, uncapped", sensor_mv, "mV", 0),
        (
            "air_fuel_ratio",
            "stoichiometric air-fuel ratio of the fuel",
            fuel.air_fuel_ratio(),
            "kg/kg",
            2,
        ),
    ];
    let columns = ["reading", "value", "unit"];
    let mut table = Table {
        columns: columns.map(|name| Column::new(name, name, "", 0)).to_vec(),
        rows: vec![],
    };
    for (key, label, value, unit, decimals) in rows {
        report.put(key, number(Some(value)));
        report.rows.columns.push(Column::new(key, label, "", decimals));
        let cells = [label.to_string(), format!("{value:.decimals$}"), unit.to_string()];
        table.rows.push(cells.map(Cell::Word).to_vec());
    }
    report.rows.rows =
        vec![rows.iter().map(|(_, _, value, ..)| Cell::Number(Some(*value))).collect()];
    report.put("tip_degc", json!(tip_degc));
    report.put("fuel", json!(name));
    report.blocks.push(Block::Table(table));
    report.notes.push("One mixture: no spread between cycles or cylinders, no misfire. A real engine's gas shows CO and O2 side by side near lambda 1; `sweep` and `predict` tell that one.".into());
    report.notes.push(format!("Sensor: gas brought to equilibrium at a tip of {tip_degc} degC, Nernst against air. A real tip caps the rich side near 0.9 V."));
    report.cautions = RUNNING.to_vec();
    report
}
