//! How many values from outside the code is held against, by source, and which of them the code
//! could not have been written from.

use crate::table::{root, rows};
use crate::tidy::{code, files};
use std::collections::BTreeSet;
use std::fmt::Write;

/// What the code holds of a table.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Holds {
    /// The formula, balance or law that its values follow from: they show that it is typed in
    /// rightly.
    ItsLaw,
    /// Nothing: the values are measured, agreed, common practice, or computed another way.
    Nothing,
}

/// Every table of `tests/data`: its name, the column that is compared, what the code holds of it.
const TABLES: [(&str, &str, Holds); 18] = [
    ("atmosphere", "pressure_pa", Holds::ItsLaw),
    ("throttle", "flow_kg_h", Holds::ItsLaw),
    ("slit", "flow_ml_min", Holds::ItsLaw),
    ("stoichiometry", "air_fuel_ratio", Holds::ItsLaw),
    ("fuel_density", "density_kg_m3", Holds::ItsLaw),
    ("friction", "mep_bar", Holds::ItsLaw),
    ("flame_speed", "speed_cm_s", Holds::ItsLaw),
    ("flame_speed_at_spark", "speed_relative_to_lambda_1", Holds::ItsLaw),
    ("fuel_air_cycle", "work_relative_to_lambda_1", Holds::ItsLaw),
    ("exhaust_rich", "co_percent_dry", Holds::ItsLaw),
    ("exhaust_lean", "o2_percent_dry", Holds::ItsLaw),
    ("lambda_from_gas", "lambda", Holds::ItsLaw),
    ("meter_loading", "error_percent", Holds::ItsLaw),
    ("sensor_emf", "emf_mv", Holds::Nothing),
    ("thermistor", "ohm", Holds::Nothing),
    ("limit_cycle", "period_s", Holds::Nothing),
    ("vapour_classes", "low_kpa", Holds::Nothing),
    ("trade_values", "low", Holds::Nothing),
];

/// Tables without a source in each row: what an integration elsewhere gave, and what drove it.
const TRACES: [&str; 2] = ["free_run", "free_run_drive"];

/// Words that a test names a source by.
const SOURCES: [&str; 16] = [
    "from memory",
    "Heywood",
    "SAE ",
    "ISO ",
    "IEC ",
    "EN 228",
    "NIST",
    "NACA",
    "ICAO",
    "UN ECE",
    "CRC ",
    "Abramowitz",
    "handbook",
    "textbook",
    "common practice",
    "Cantera",
];

#[test]
fn every_table_of_outside_values_is_counted() {
    let files = std::fs::read_dir(root().join("tests/data")).unwrap();
    let found: BTreeSet<String> = files
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "csv"))
        .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    let named = TABLES.iter().map(|(name, ..)| *name).chain(TRACES);
    assert_eq!(found, named.map(String::from).collect());
}

/// Digits that mean something in a number, without its point and its zeros at the ends.
fn digits(number: &str) -> String {
    let bare: String = number.chars().filter(char::is_ascii_digit).collect();
    bare.trim_matches('0').to_string()
}

/// A value that stands in the code with all its digits checks nothing. The standard's pressure at
/// sea level and petrol's air-fuel ratio are constants of the code: their tables hold more.
#[test]
fn no_value_of_a_table_stands_in_the_code_with_its_digits() {
    let mut held = BTreeSet::new();
    for path in files("sim-core/src", "rs") {
        let text = code(&path).replace('_', "");
        let one = |c: char| !c.is_ascii_digit() && c != '.';
        held.extend(text.split(one).map(digits).filter(|digits| digits.len() >= 4));
    }
    let constant = ["atmosphere", "stoichiometry"];
    for (name, column, _) in TABLES.iter().filter(|(name, ..)| !constant.contains(name)) {
        for row in rows(name) {
            let value = digits(row.word(column));
            assert!(value.len() < 4 || !held.contains(&value), "{row}: {value} stands in the code");
        }
    }
}

/// How many tests name a source in the words before them.
fn tests_that_name_a_source() -> usize {
    let mut count = 0;
    for path in files("tests/suite", "rs") {
        let text = std::fs::read_to_string(path).unwrap();
        let mut words = String::new();
        for line in text.lines().map(str::trim) {
            match line.strip_prefix("///") {
                Some(more) => words += more,
                None if line == "#[test]" => {
                    count += usize::from(SOURCES.iter().any(|source| words.contains(source)));
                }
                None => words.clear(),
            }
        }
    }
    count
}

/// The table of the page.
pub fn table() -> String {
    let mut out = String::from("| values | how many | source | the code holds |\n");
    out += "| --- | --- | --- | --- |\n";
    let (mut all, mut others) = (0, 0);
    for (name, _, holds) in TABLES {
        let rows = rows(name);
        let mut sources: Vec<&str> = rows.iter().map(|row| row.word("source")).collect();
        sources.sort_unstable();
        sources.dedup();
        let source = match sources.len() {
            1 => sources[0].to_string(),
            several => format!("{several} sources, each in its row"),
        };
        let held = match holds {
            Holds::ItsLaw => "their law",
            Holds::Nothing => "nothing of them",
        };
        all += rows.len();
        others += if holds == Holds::Nothing { rows.len() } else { 0 };
        writeln!(out, "| `{name}` | {} | {source} | {held} |", rows.len()).unwrap();
    }
    // To tens: a test more or less is no news.
    let tests = tests_that_name_a_source() / 10 * 10;
    writeln!(
        out,
        "| all | {all} | | {others} that the code could not have been written from |\n| tests that name a source of their own | {tests} and more | in the words before each | |"
    )
    .unwrap();
    out
}
