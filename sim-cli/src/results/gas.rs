//! A mixture, its gas and the sensor in it; what a gas as read means.

use crate::cautions::RUNNING;
use crate::report::{Column, Found, Report, Table};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::engine::exhaust::{Gas, gas_of, mixed_gas};
use sim_core::engine::gas_balance::{GasBalance, GasRead, LambdaOfCo, Sign};
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
    /// The mixture, if it can be told.
    pub lambda: Option<f64>,
    /// Its gas.
    pub gas: Gas,
    /// Temperature of the sensor's tip (degC).
    pub tip_degc: f64,
    /// From what it is told.
    pub told: Told,
}

/// From what a mixture is told.
pub enum Told {
    /// It was given.
    OfAMixture,
    /// From CO alone.
    ByCoAlone(LambdaOfCo),
    /// From a gas as read, and its balance.
    ByBalance(GasRead, GasBalance),
}

/// Oxygen (share) that is worth a word where none was read.
const UNREAD_O2: f64 = 2e-3;

/// A comment on a gas.
#[derive(Serialize)]
struct Comment {
    /// Its word, for programs.
    kind: &'static str,
    /// What it means, in a sentence or two.
    text: String,
}

fn percent(share: f64) -> f64 {
    Unit::Percent.from_si(share)
}

impl Exhaust {
    /// What is told of it, in the order of table and files.
    fn quantities(&self) -> [(Column, Option<f64>); 8] {
        let Exhaust { fuel, lambda, gas, tip_degc, .. } = self;
        let cell = OxygenCell::at(Unit::Celsius.to_si(*tip_degc));
        let sensor_mv = lambda.map(|lambda| 1e3 * cell.voltage_v(fuel, lambda));
        let sensor = "lambda sensor, thermodynamic, uncapped";
        let air = "stoichiometric air-fuel ratio of the fuel";
        let share = |name, label, share| (Column::new(name, label, "%", 2), Some(percent(share)));
        let read = matches!(self.told, Told::ByBalance(..));
        let label = |gas: &str| match read {
            true => format!("{gas}, dry"),
            false => format!("{gas}, dry, before the catalyst"),
        };
        [
            (Column::new("lambda", "lambda", "", 4), *lambda),
            share("co_percent", &label("CO"), gas.co),
            share("co2_percent", &label("CO2"), gas.co2),
            share("o2_percent", &label("O2"), gas.o2),
            share("h2_percent", &label("H2"), gas.h2),
            (Column::new("hc_ppm", "HC as hexane", "ppm", 0), Some(1e6 * gas.hc)),
            (Column::new("sensor_mv", sensor, "mV", 0), sensor_mv),
            (Column::new("air_fuel_ratio", air, "kg/kg", 2), Some(fuel.air_fuel_ratio())),
        ]
    }

    /// What the gas means.
    fn comments(&self) -> Vec<Comment> {
        match &self.told {
            Told::OfAMixture => Vec::new(),
            Told::ByCoAlone(found) => vec![self.of_co_alone(found)],
            Told::ByBalance(_, balance) => {
                balance.signs.iter().map(|sign| self.of_sign(*sign, balance)).collect()
            }
        }
    }

    fn of_co_alone(&self, found: &LambdaOfCo) -> Comment {
        let text = match (found.lambda, found.leanest) {
            (None, _) => "No CO: the mixture is at lambda 1 or leaner, and CO cannot tell how lean. Or a catalyst burnt it: read before the catalyst.".into(),
            (Some(lambda), None) => format!("So little CO stands for about lambda {lambda:.2}, not richer than {:.2}. How lean it is, CO cannot tell: a lean mixture leaves hardly any. O2 tells.", found.richest),
            (Some(lambda), Some(leanest)) => format!("So much CO stands for about lambda {lambda:.2}: {:.2} if all cylinders burn alike, {leanest:.2} if they differ much. Air let into the pipe thins CO, and a catalyst burns it: then the engine runs richer than this.", found.richest),
        };
        Comment { kind: "co-alone", text }
    }

    fn of_sign(&self, sign: Sign, found: &GasBalance) -> Comment {
        let gas = &found.gas;
        let (co, co2, o2, ppm) = (percent(gas.co), percent(gas.co2), percent(gas.o2), 1e6 * gas.hc);
        let (sum, whole) = (percent(found.sum), percent(found.sum_without_air));
        let (lost, air) = (percent(found.lost), percent(found.added_air));
        let burnt = found.burnt_lambda.map_or("about 1".into(), |burnt| format!("{burnt:.2}"));
        let off = percent(found.oxygen_beyond.abs());
        let doubt = percent(found.doubt);
        let (kind, text) = match sign {
            Sign::NearlyAir => (
                "nearly-air",
                format!(
                    "This cannot be the gas of a running engine: with {o2:.1} % O2 it is air, or nearly so (air has 20.9 %). Look at the probe, its hose and the tester's pump."
                ),
            ),
            Sign::TooMuchOxygen => (
                "cannot-be",
                format!(
                    "This gas cannot be: it holds {off:.1} % more oxygen (free, and in CO, CO2 and water) than came with its nitrogen. A good tester is off by {doubt:.1} % at most. One of the readings is wrong: calibrate the tester."
                ),
            ),
            Sign::TooLittleOxygen => (
                "cannot-be",
                format!(
                    "This gas cannot be: {off:.1} % of oxygen is missing against its nitrogen. A good tester is off by {doubt:.1} % at most. With {o2:.1} % O2 the CO2 would have to be higher: a worn-out oxygen cell, or CO2 read wrong."
                ),
            ),
            Sign::Catalyst => (
                "catalyst",
                format!(
                    "CO and HC are nearly gone, and CO2 is at {co2:.1} %, about the highest there is ({:.1} %): a catalyst works. An engine alone would leave {:.1} % CO and about 200 ppm HC on this mixture. Read before the catalyst to see how it burns.",
                    percent(gas_of(&self.fuel, 1.0).co2),
                    percent(mixed_gas(&self.fuel, &[found.lambda], 0.0, 0.0).co)
                ),
            ),
            Sign::LeanMisfire => (
                "lean-misfire",
                format!(
                    "Lean misfire: HC {ppm:.0} ppm together with O2 {o2:.1} % on a lean mixture (lambda {:.2}). About {lost:.1} % of the cycles do not burn.",
                    found.lambda
                ),
            ),
            Sign::Misfire => (
                "misfire",
                format!(
                    "Misfire: HC {ppm:.0} ppm, and the O2 that those cycles did not use. About {lost:.1} % of the cycles do not burn, though the mixture is not lean: look at plugs, leads, spark and compression."
                ),
            ),
            Sign::UnburntWithoutOxygen => (
                "hc-without-o2",
                format!(
                    "HC {ppm:.0} ppm, but not the O2 that lost cycles would bring with it: no plain misfire. Too rich, an injector that drips, or oil."
                ),
            ),
            Sign::AirAdded => (
                "exhaust-leak",
                format!(
                    "CO says that it burnt at lambda {burnt}, but O2 is {o2:.1} %. So air came in after the burning, about {air:.0} % of what the engine breathes: a leak in the exhaust pipe, or a probe that draws air. CO itself hardly changes. The lambda of all gases ({:.2}) counts that air, too.",
                    found.lambda
                ),
            ),
            Sign::Uneven => (
                "co-beside-o2",
                format!(
                    "CO {co:.1} % and O2 {o2:.1} % side by side: some cylinders are richer than others, or a little air gets into the pipe."
                ),
            ),
            Sign::LeanOrAir => (
                "lean-or-air",
                format!(
                    "O2 {o2:.1} % and hardly any CO: a lean mixture (lambda {:.2}), or as much air let into the pipe. The two leave the same gas; close the pipe and read again.",
                    found.lambda
                ),
            ),
            Sign::SumLow => (
                "sum-low",
                format!(
                    "CO and CO2 together are {sum:.1} %. Without added air they would be {whole:.1} %, by the balance of carbon and oxygen. Air thins the gas: in the probe, in the pipe or in a lean mixture."
                ),
            ),
            Sign::Doubtful => (
                "doubtful",
                format!(
                    "The readings hardly belong together: {off:.1} % of oxygen too {}, where a good tester is off by {doubt:.1} %. Check the tester before you trust the rest.",
                    if found.oxygen_beyond > 0.0 { "much" } else { "little" }
                ),
            ),
            Sign::Fits => (
                "fits",
                format!(
                    "The gas balances: it burnt at lambda {}, with CO and CO2 together {sum:.1} %. No sign of added air or of lost cycles.",
                    found.burnt_lambda.map_or(format!("{:.2}", found.lambda), |_| burnt.clone())
                ),
            ),
        };
        Comment { kind, text }
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
        match &self.told {
            Told::OfAMixture => {}
            Told::ByCoAlone(found) => {
                map.serialize_entry("lambda_range", &(found.richest, found.leanest))?;
            }
            Told::ByBalance(_, found) => {
                map.serialize_entry("possible", &found.possible())?;
                map.serialize_entry("burnt_lambda", &found.burnt_lambda)?;
                map.serialize_entry("lost_cycles_percent", &percent(found.lost))?;
                map.serialize_entry("added_air_percent", &percent(found.added_air))?;
                map.serialize_entry("co_and_co2_percent", &percent(found.sum))?;
                map.serialize_entry("without_air_percent", &percent(found.sum_without_air))?;
                map.serialize_entry("oxygen_beyond_percent", &percent(found.oxygen_beyond))?;
            }
        }
        map.serialize_entry("comments", &self.comments())?;
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
    let Exhaust { lambda, fuel_name, tip_degc, told, .. } = &**exhaust;
    let side = |lambda: f64| match lambda {
        l if (l - 1.0).abs() < 5e-4 => "stoichiometric",
        l if l < 1.0 => "rich",
        _ => "lean",
    };
    report.heading(match (lambda, told) {
        (_, Told::ByBalance(_, found)) if !found.possible() => {
            format!("No gas of a running engine; fuel {fuel_name}")
        }
        (Some(lambda), _) => {
            format!("lambda {lambda:.3}, {}; fuel {fuel_name}", side(*lambda))
        }
        (None, _) => format!("lambda 1 or leaner; fuel {fuel_name}"),
    });
    for Comment { text, .. } in exhaust.comments() {
        report.say(text);
    }
    let row = |(column, value): (Column, Option<f64>)| {
        let value = value.map_or("-".into(), |value| format!("{value:.*}", column.decimals));
        [column.label, value, column.unit.into()]
    };
    let rows = exhaust.quantities().into_iter().map(row);
    // CO, CO2, O2, HC and the sensor: what is read.
    let short = vec![1, 2, 3, 5, 6];
    report.table(Table::of_words(["reading", "value", "unit"], rows).short_rows(short));
    match told {
        Told::OfAMixture => report.note("One mixture: no spread between cycles or cylinders, no misfire. A real engine's gas shows CO and O2 side by side near lambda 1; `sweep` and `predict` tell that one."),
        Told::ByCoAlone(_) => report.note("All but CO is computed: what an engine of the usual spread leaves at this lambda."),
        Told::ByBalance(read, balance) => {
            let hc = if read.hc.is_none() { " HC was not read: nothing is said about misfire." } else { "" };
            if read.o2.is_none() && balance.gas.o2 > UNREAD_O2 {
                let o2 = percent(balance.gas.o2);
                report.note_always(format!("O2 was not read: the table and its lambda count none, the balance says {o2:.1} %."));
            }
            report.note(format!("What a gas means is worked out from its carbon, hydrogen, oxygen and nitrogen. A good tester is one of OIML R 99, class I (from memory).{hc}"));
        }
    }
    report.note(format!("Sensor: gas brought to equilibrium at a tip of {tip_degc} degC, Nernst against air. A real tip caps the rich side near 0.9 V."));
    report.cautions = RUNNING.to_vec();
    report
}
