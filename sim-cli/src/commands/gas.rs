//! `gas`: exhaust gas of a mixture, or the mixture of a gas.

use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::{Choice, Number};
use crate::report::Report;
use crate::results::gas::{Exhaust, Told, report};
use crate::text::plain;
use clap::ArgMatches;
use sim_core::engine::exhaust::{FORMULA_FUEL, Gas, gas_of, lambda_of, mixed_gas};
use sim_core::engine::gas_balance::{GasRead, lambda_of_co, most_co};
use sim_core::fuel::kind::{Fuel, NAMED};
use sim_core::units::Unit;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "gas",
    group: "look-up",
    about: "Exhaust gas of a mixture, or what a gas as read means",
    example: "quarterturn gas --co 1.2 --co2 12.4 --o2 2.9 --hc-ppm 250",
    options: &[&LAMBDA, &CO, &CO2, &O2, &HC, &TIP, &H, &O, &FUEL],
    run,
    ..PLAIN
};

const fn number(
    flag: &'static str,
    range: (f64, f64),
    unit: &'static str,
    meaning: &'static str,
) -> Number {
    Number::new(flag, ("NUMBER", unit), range, meaning)
}

static LAMBDA: Number = number("lambda", (0.5, 5.0), "", "mixture that burns; or give a gas");
static CO: Number = number("co", (0.0, 20.0), "%", "carbon monoxide read, dry");
static CO2: Number = number("co2", (0.0, 20.0), "%", "carbon dioxide read, dry");
static O2: Number = number("o2", (0.0, 21.0), "%", "oxygen read, dry");
static HC: Number = number("hc-ppm", (0.0, 50_000.0), "ppm", "hydrocarbons read, as hexane");
static TIP: Number =
    number("tip-degc", (550.0, 1000.0), "degC", "temperature of the sensor's tip").or("700");
static H: Number = number("h-per-c", (0.0, 4.5), "", "hydrogen atoms of the fuel for each carbon");
static O: Number = number("o-per-c", (0.0, 1.5), "", "oxygen atoms of the fuel for each carbon");
static FUEL: Choice = Choice {
    flag: "fuel",
    value: "FUEL",
    words: &FUELS,
    default: None,
    meaning: "fuel by name; if left out e0, from readings the formula's own",
};

/// Petrols by their share of ethanol.
const PETROLS: [(&str, f64); 3] = [("e0", 0.0), ("e5", 0.05), ("e10", 0.10)];

/// Names of the fuels.
const FUELS: [&str; PETROLS.len() + NAMED.len()] = {
    let mut names = [""; PETROLS.len() + NAMED.len()];
    let mut i = 0;
    while i < names.len() {
        names[i] = match i < PETROLS.len() {
            true => PETROLS[i].0,
            false => NAMED[i - PETROLS.len()].0,
        };
        i += 1;
    }
    names
};

/// The fuel that is named or given by its formula, with its words.
fn fuel(name: Option<&'static str>, h: Option<f64>, o: Option<f64>) -> Option<(String, Fuel)> {
    if let Some(name) = name {
        let petrol = PETROLS.iter().find(|(known, _)| *known == name);
        let petrol = petrol.map(|(_, share)| Fuel::petrol_with_ethanol(*share));
        let named = || NAMED.iter().find(|(known, _)| *known == name).map(|(_, fuel)| *fuel);
        return Some((name.into(), petrol.or_else(named)?));
    }
    if h.is_none() && o.is_none() {
        return None;
    }
    let (h, o) = (h.unwrap_or(1.85), o.unwrap_or(0.0));
    Some((format!("H/C {}, O/C {}", plain(h), plain(o)), Fuel::of_formula(h, o)))
}

/// A mixture and a gas exclude each other; so do a fuel's name and its formula.
fn check_together(matches: &ArgMatches) -> Result<(), Error> {
    let excluded = [
        (LAMBDA.flag, ["--co", "--co2", "--o2", "--hc-ppm"].as_slice()),
        (FUEL.flag, &["--h-per-c", "--o-per-c"]),
    ];
    for (flag, others) in excluded {
        let given = |other: &&&str| matches.contains_id(other.trim_start_matches('-'));
        if let (true, Some(other)) = (matches.contains_id(flag), others.iter().find(given)) {
            return Err(Error::takes_no(&format!("--{flag}"), other));
        }
    }
    match [&LAMBDA, &CO, &CO2].iter().any(|option| matches.contains_id(option.flag)) {
        true => Ok(()),
        false => Err(Error::needs("gas", "--lambda, --co or --co2")),
    }
}

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    check_together(matches)?;
    let mut given = Vec::new();
    for option in [&LAMBDA, &CO, &CO2, &O2, &HC, &TIP, &H, &O] {
        given.push(option.read(matches)?);
    }
    let name = FUEL.read(matches)?;
    let mut values = [None; 8];
    for (value, given) in values.iter_mut().zip(given) {
        *value = given.map(|given| given.checked()).transpose()?;
    }
    let [lambda, co, co2, o2, hc, tip, h, o] = values;
    let named = fuel(name, h, o);
    let petrol = || ("e0".to_string(), Fuel::petrol_with_ethanol(0.0));
    let share = |percent: Option<f64>| percent.map(|percent| Unit::Percent.to_si(percent));
    let read =
        GasRead { co: share(co), co2: share(co2), o2: share(o2), hc: hc.map(|ppm| 1e-6 * ppm) };
    let tip_degc = tip.unwrap_or(f64::NAN);
    let of = |(fuel_name, fuel): (String, Fuel), lambda, gas, told| {
        Ok(report(&Rc::new(Exhaust { fuel_name, fuel, lambda, gas, tip_degc, told })))
    };
    if let Some(lambda) = lambda {
        let (name, fuel) = named.unwrap_or_else(petrol);
        return of((name, fuel), Some(lambda), gas_of(&fuel, lambda), Told::OfAMixture);
    }
    if let (Some(co), None, None) = (read.co, read.co2, read.o2) {
        let (name, fuel) = named.unwrap_or_else(petrol);
        let found = lambda_of_co(&fuel, co).ok_or_else(|| {
            let most = Unit::Percent.from_si(most_co(&fuel));
            let most = (10.0 * most).floor() / 10.0;
            Error::out_of_range(
                "--co",
                Unit::Percent.from_si(co),
                (0.0, most),
                "%: no mixture that burns leaves more",
            )
        })?;
        let gas = mixed_gas(&fuel, &[found.lambda.unwrap_or(1.0)], 0.0, 0.0);
        return of((name, fuel), found.lambda, Gas { co, ..gas }, Told::ByCoAlone(found));
    }
    let (h, o) = FORMULA_FUEL;
    let own = || (format!("the formula's own, H/C {h}, O/C {o}"), Fuel::of_formula(h, o));
    let (name, fuel) = named.unwrap_or_else(own);
    let balance = read.balanced(&fuel).ok_or_else(|| {
        let range = (0.1, CO2.range.1);
        Error::out_of_range("--co2", 0.0, range, "%: without it nothing burnt")
    })?;
    // As it was read; what was not read counts as nothing where CO2 was.
    let gas = match read.co2 {
        Some(_) => Gas { o2: read.o2.unwrap_or(0.0), ..balance.gas },
        None => balance.gas,
    };
    let lambda = lambda_of(&gas, (fuel.h_per_c, fuel.o_per_c));
    of((name, fuel), lambda, gas, Told::ByBalance(read, balance))
}
