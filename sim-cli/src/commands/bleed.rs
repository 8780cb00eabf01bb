//! `bleed`: pressure built up, lines bled, pressure held, hot restart.

use super::Command;
use super::asked::number_in;
use crate::args::{with_chart, with_output};
use crate::cautions::BLEEDING;
use crate::chart;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::{plain, turns};
use clap::{Arg, ArgMatches};
use serde_json::{Value, json};
use sim_core::bleed::{Bleed, BleedRequest, FlowsAtRest, LONGEST_S, bleed};
use sim_core::conditions::Conditions;
use sim_core::fuel::supply::CheckValve;
use sim_core::units::Unit;

pub const COMMAND: Command = Command {
    name: "bleed",
    group: "start",
    about: "Pump on the jumper: pressure up, lines bled, what stands after 30 min, hot restart",
    example: "quarterturn bleed --check-valve leaks",
    args,
    report,
};

/// The least residual pressure of a sound supply after 30 min (bar): common practice, no
/// source.
pub const LEAST_RESIDUAL_BAR: f64 = 2.5;

/// A number the command takes: flag, range, unit, default, help.
struct BleedQuantity {
    name: &'static str,
    flag: &'static str,
    low: f64,
    high: f64,
    unit: &'static str,
    default: &'static str,
    help: &'static str,
}

#[rustfmt::skip]
static QUANTITIES: [BleedQuantity; 5] = [
    BleedQuantity { name: "lift-mm", flag: "--lift-mm", low: 0.0, high: 60.0, unit: "mm", default: "20",
        help: "how far the plate is lifted above rest by hand" },
    BleedQuantity { name: "accumulator-percent", flag: "--accumulator-percent", low: 0.0, high: 100.0, unit: "%", default: "100",
        help: "share of the accumulator's spring that is left" },
    BleedQuantity { name: "stand-min", flag: "--stand-min", low: 1.0, high: 600.0, unit: "min", default: "30",
        help: "how long the hot engine stands before it is started" },
    BleedQuantity { name: "hot-degc", flag: "--hot-degc", low: -20.0, high: 130.0, unit: "degC", default: "90",
        help: "temperature of feed and lines under the bonnet while it stands" },
    BleedQuantity { name: "vapour-kpa", flag: "--vapour-kpa", low: 45.0, high: 100.0, unit: "kPa", default: "90",
        help: "vapour pressure of the fuel at 37.8 degC: about 60 in summer, 90 in winter (EN 228)" },
];

const VALVES: &[&str] = &["ok", "leaks", "stuck-open"];

fn args(mut command: clap::Command) -> clap::Command {
    for quantity in &QUANTITIES {
        let range = format!("{} to {} {}", quantity.low, quantity.high, quantity.unit);
        command = command.arg(
            Arg::new(quantity.name)
                .long(quantity.name)
                .value_name("NUMBER")
                .default_value(quantity.default)
                .allow_hyphen_values(true)
                .help(format!("{} [{range}]", quantity.help)),
        );
    }
    let command = command.arg(
        Arg::new("check-valve")
            .long("check-valve")
            .value_name("STATE")
            .default_value("ok")
            .help("state of the pump's check valve: ok, leaks, stuck-open"),
    );
    with_output(with_chart(with_conditions(command, &Conditions::default())))
}

/// What was worked out, for report and chart.
pub struct Bled {
    /// The engine.
    pub engine: Scenario,
    /// What was found.
    pub found: Bleed,
    /// How far the plate is lifted (mm).
    pub lift_mm: f64,
    /// The faults and settings of this command, in words; empty if none.
    pub faults: String,
    /// The command, canonically.
    pub command: String,
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let mut values = [0.0; 5];
    for (value, quantity) in values.iter_mut().zip(&QUANTITIES) {
        let found = matches.get_one::<String>(quantity.name).map_or("", String::as_str);
        *value = number_in(quantity.flag, found)?;
    }
    let word = matches.get_one::<String>("check-valve").map_or("", String::as_str);
    let check_valve = match word {
        "ok" => CheckValve::Ok,
        "leaks" => CheckValve::Leaks,
        "stuck-open" => CheckValve::StuckOpen,
        found => {
            let flag = "--check-valve".into();
            return Err(Error::NotAWord { flag, found: found.into(), words: VALVES });
        }
    };
    let engine = EngineArgs::read(matches)?.load(Conditions::default())?;
    let mut flags = String::new();
    for (&value, quantity) in values.iter().zip(&QUANTITIES) {
        let &BleedQuantity { flag, low, high, unit, default, .. } = quantity;
        if !(low..=high).contains(&value) {
            return Err(Error::NumberOutOfRange { flag, value, low, high, unit });
        }
        if plain(value) != default {
            flags += &format!(" {flag} {}", plain(value));
        }
    }
    if word != "ok" {
        flags += &format!(" --check-valve {word}");
    }
    let [lift_mm, accumulator, stand_min, hot_degc, vapour_kpa] = values;
    let asked = BleedRequest {
        lift_m: 1e-3 * lift_mm,
        check_valve,
        accumulator_share: accumulator / 100.0,
        stand_s: 60.0 * stand_min,
        hot_k: Unit::Celsius.to_si(hot_degc),
        class_pa: 1e3 * vapour_kpa,
    };
    let command = format!("quarterturn bleed{flags}{}", engine.flags);
    let mut report = Report::new("bleed");
    report.put("canonical_command", json!(command));
    report.put("conditions", engine.value());
    for (value, quantity) in values.iter().zip(&QUANTITIES) {
        report.put(&quantity.name.replace('-', "_"), json!(value));
    }
    report.put("check_valve", json!(word));
    report.cautions = BLEEDING.to_vec();
    match bleed(&engine.setup, &asked) {
        Err(hazard) => refused(&mut report, &engine, &hazard),
        Ok(found) => {
            let faults = faults(check_valve, accumulator);
            let bled = Bled { engine, found, lift_mm, faults, command };
            figures(&mut report, &bled.found);
            for (at, name) in ["first_line", "last_line"].into_iter().enumerate() {
                let line = bled.first_and_last().map(|lines| lines[at]);
                let line = line.map(|(line, after)| json!({"line": line, "flows_after_s": after}));
                report.put(name, json!(line));
            }
            render(&mut report, &bled, &asked);
            report.chart = Some(chart::bleed::picture(&bled));
        }
    }
    Ok(report)
}

fn faults(check_valve: CheckValve, accumulator_percent: f64) -> String {
    let valve = match check_valve {
        CheckValve::Ok => None,
        CheckValve::Leaks => Some("check valve leaks".to_string()),
        CheckValve::StuckOpen => Some("check valve stuck open".to_string()),
    };
    let spring = (accumulator_percent < 100.0)
        .then(|| format!("accumulator spring at {} %", plain(accumulator_percent)));
    valve.into_iter().chain(spring).collect::<Vec<_>>().join(", ")
}

/// Nothing is worked out where fuel would run into a standing engine.
fn refused(report: &mut Report, engine: &Scenario, hazard: &FlowsAtRest) {
    let lines = engine.setup.rig.parts().slits.width_m.len();
    let nothing: Vec<Value> =
        (1..=lines).map(|line| json!({"line": line, "flows_after_s": null})).collect();
    report.put("hazard", json!(true));
    report.put("rest_flow_ml_min", json!(ml_min(hazard.flow_m3_s)));
    report.put("lines", json!(nothing));
    report.put("first_line", Value::Null);
    report.put("last_line", Value::Null);
    report.put("pressure_bar", json!([]));
    report.put("residual_30min_bar", Value::Null);
    report.put("hot_restart_cranking_s", Value::Null);
    report.rows = Table { columns: trace_columns(), rows: Vec::new() };
    let screw = turns(engine.setup.conditions.screw_turns);
    report.blocks.push(Block::Heading(format!(
        "Refused: at screw {screw} turn fuel runs with the plate at rest"
    )));
    report.blocks.push(Block::Hazard(format!(
        "the plate rests {:.2} mm above where the slits open. With the pump on, {:.1} ml/min of petrol run into a standing engine, and with the lines closed into its cylinders: a fire, or a bent rod when it is cranked. Do not jumper the pump. Turn the screw out (anticlockwise) until the plate at rest shuts the slits (`quarterturn flowstart`), or put the rest height right. If fuel has run: ignition off, do not crank, plugs out, let it dry, look for petrol in the oil.",
        1e3 * hazard.above_m,
        ml_min(hazard.flow_m3_s)
    )));
    report.say(engine.words());
}

fn ml_min(m3_s: f64) -> f64 {
    Unit::MillilitrePerMinute.from_si(m3_s)
}

fn bar(pa: f64) -> f64 {
    Unit::Bar.from_si(pa)
}

fn ml(m3: f64) -> f64 {
    Unit::Millilitre.from_si(m3)
}

fn figures(report: &mut Report, found: &Bleed) {
    let (balance, hot) = (&found.balance, &found.hot);
    report.put("hazard", json!(false));
    let lines: Vec<Value> = found
        .flows_after_s
        .iter()
        .zip(&found.line_m3_s)
        .enumerate()
        .map(|(i, (after, flow))| {
            json!({
                "line": i + 1,
                "flows_after_s": number(*after),
                "flow_ml_min": ml_min(*flow),
            })
        })
        .collect();
    report.put("lines", json!(lines));
    report.put("system_pressure_after_s", number(found.at_set_s));
    report.put("pump_stops_s", json!(found.pump_stops_s));
    let trace: Vec<Value> = found
        .trace
        .iter()
        .map(|row| json!({"time_s": row.time_s, "pressure_bar": bar(row.pressure_pa)}))
        .collect();
    report.put("pressure_bar", json!(trace));
    report.put("running_pressure_bar", json!(bar(found.running_pa)));
    report.put("return_l_per_40_s", json!(40e3 * found.return_m3_s));
    report.put("residual_30min_bar", json!(bar(found.residual_pa)));
    report.put("hot_restart_cranking_s", number(hot.cranking_s));
    report.put(
        "hot",
        json!({
            "boils_at_bar": bar(hot.boils_at_pa),
            "residual_bar": bar(hot.residual_pa),
            "boils_after_s": number(hot.boils_after_s),
            "vapour_ml": ml(hot.vapour_m3),
            "cranking_plunger_lift_mm": 1e3 * hot.cranking_lift_m,
        }),
    );
    report.put(
        "volumes_ml",
        json!({
            "pumped": ml(balance.pumped_m3),
            "returned": ml(balance.returned_m3),
            "through_lines": ml(balance.through_lines_m3()),
            "leaked_check_valve": ml(balance.check_m3),
            "leaked_plunger": ml(balance.plunger_m3),
            "leaked_regulator": ml(balance.seat_m3),
            "missing": ml(found.missing_m3),
        }),
    );
    report.rows = Table {
        columns: trace_columns(),
        rows: found
            .trace
            .iter()
            .map(|row| [row.time_s, bar(row.pressure_pa)].map(|v| Cell::Number(Some(v))).to_vec())
            .collect(),
    };
}

fn trace_columns() -> Vec<Column> {
    vec![Column::new("time_s", "time", "s", 2), Column::new("pressure_bar", "pressure", "bar", 3)]
}

impl Bled {
    /// First and last line to flow (line from 1, s); `None` unless every line flows.
    pub fn first_and_last(&self) -> Option<[(usize, f64); 2]> {
        let times: Option<Vec<(usize, f64)>> = self
            .found
            .flows_after_s
            .iter()
            .enumerate()
            .map(|(i, t)| Some((i + 1, (*t)?)))
            .collect();
        let times = times?;
        let by_time = |a: &&(usize, f64), b: &&(usize, f64)| a.1.total_cmp(&b.1);
        Some([*times.iter().min_by(by_time)?, *times.iter().max_by(by_time)?])
    }

    /// What was found, in a sentence.
    pub fn finding(&self) -> String {
        let residual = bar(self.found.residual_pa);
        let lines = match self.first_and_last() {
            Some([(_, first), (_, last)]) => {
                format!("Lines flow after {first:.1} to {last:.1} s")
            }
            None if self.found.line_m3_s.iter().all(|flow| *flow == 0.0) => {
                "No line flows at this lift".into()
            }
            None => "Not every line flows within 10 min".into(),
        };
        let enough = match residual {
            r if r >= LEAST_RESIDUAL_BAR => "enough",
            _ => "too little",
        };
        format!("{lines}; {residual:.1} bar stand after 30 min: {enough}")
    }
}

fn render(report: &mut Report, bled: &Bled, asked: &BleedRequest) {
    let (found, hot) = (&bled.found, &bled.found.hot);
    report.blocks.push(Block::Heading(bled.finding()));
    report.say(bled.engine.words().replace("; warm point, trim off, idle air held", ""));
    if !bled.faults.is_empty() {
        report.say(format!("Fault set: {}.", bled.faults));
    }
    report.say(match found.at_set_s {
        Some(at) => format!(
            "Pump on the jumper, plate {} mm up: the regulator opens after {at:.2} s; plate at rest: {:.2} bar, {:.2} l come back in 40 s.",
            plain(bled.lift_mm),
            bar(found.running_pa),
            40e3 * found.return_m3_s
        ),
        None => format!(
            "Pump on the jumper, plate {} mm up: the system pressure is never reached; plate at rest: {:.2} bar.",
            plain(bled.lift_mm),
            bar(found.running_pa)
        ),
    });
    if let Some([(first, _), (last, _)]) = bled.first_and_last() {
        report.say(format!("Line {first} flows first, line {last} last."));
    } else if found.line_m3_s.iter().all(|flow| *flow == 0.0) {
        report.say("The plate is not lifted past where the slits open: nothing flows, as it should be at rest.");
    } else {
        report.say("Lift the plate further: a line that takes more than 10 min is not bled.");
    }
    report.blocks.push(Block::Table(line_table(found)));
    let stand_min = asked.stand_s / 60.0;
    let hot_degc = Unit::Celsius.from_si(asked.hot_k);
    report.blocks.push(Block::Heading(format!(
        "Hot restart after {} min at {} degC: {}",
        plain(stand_min),
        plain(hot_degc),
        match hot.cranking_s {
            Some(cranking) => format!("{cranking:.1} s of cranking"),
            None => format!("not within {LONGEST_S:.0} s of cranking"),
        }
    )));
    let boils = bar(hot.boils_at_pa);
    report.say(match hot.boils_after_s {
        Some(after) => format!(
            "The fuel boils below {boils:.2} bar: from {:.1} min on. {:.1} ml of vapour have to go back into it before the pressure rises and the lines are full.",
            after / 60.0,
            ml(hot.vapour_m3)
        ),
        None => format!(
            "It stands at {:.2} bar; the fuel would boil below {boils:.2} bar{}. No vapour: the pump only has to bring the pressure back.",
            bar(hot.residual_pa),
            if boils < 0.0 { ", below the atmosphere's" } else { "" }
        ),
    });
    report.notes.push("Lines are opened at the injectors into glasses: the fuel pushes the air out before it, nothing is compressed. The feed up to the slits is taken as full; a filter renewed dry takes its own volume more. No current: the ignition is off.".into());
    report.notes.push("A check valve at fault shows at once, a weak accumulator only when the pressure has fallen to where it should have taken over. The same loss comes from a leaking regulator or an injector that drips: part by part, with a gauge and a tap.".into());
    report.notes.push("2.5 bar after 30 min and 1.0 to 2.0 l in 40 s at the return are common practice, no source: the vehicle maker's data come first. Vapour going back at its own pressure, and spread over feed and lines by their volumes, is our own choice.".into());
}

fn line_table(found: &Bleed) -> Table {
    let rows = found
        .flows_after_s
        .iter()
        .zip(&found.line_m3_s)
        .enumerate()
        .map(|(i, (after, flow))| {
            vec![
                Cell::Word(format!("{}", i + 1)),
                Cell::Number(*after),
                Cell::Number(Some(ml_min(*flow))),
            ]
        })
        .collect();
    let columns = vec![
        Column::new("line", "line", "", 0),
        Column::new("flows_after_s", "flows after", "s", 2),
        Column::new("flow_ml_min", "then", "ml/min", 1),
    ];
    Table { columns, rows }
}
