//! `valves`, `coldstart` and `--fail`: what they hold and what they refuse.

use crate::common::{json, refuses, run, text};
use serde_json::Value;
use tempfile::TempDir;

#[test]
fn valves_hold_what_the_contract_names() {
    let found = json(&["valves", "--gap-mm", "4", "2", "1", "0.5"]);
    let rows = found["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 4);
    for row in rows {
        assert!(row["gap_mm"].is_f64() && row["caught"].is_boolean(), "{row}");
        assert!(row["stalled_at_s"].is_null() == row["caught"].as_bool().unwrap(), "{row}");
    }
    assert!(rows[0]["caught"].as_bool().unwrap() && !rows[3]["caught"].as_bool().unwrap());
    assert!(rows[0]["lowest_rpm"].as_f64().unwrap() > 450.0);
    assert!(rows[0]["highest_rpm"].as_f64() > rows[0]["lowest_rpm"].as_f64());
    assert_eq!(found["shipped_gap_mm"], 4.0);
    let smallest = found["smallest_catching_gap_mm"].as_f64().unwrap();
    let band: Vec<f64> =
        found["band_mm"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    assert!((0.5..2.0).contains(&smallest) && band[0] <= smallest && smallest <= band[1]);
    // Repeats and the default list are gaps too.
    let repeated = json(&["valves", "--gap-mm", "4", "2", "--gap-mm", "1", "--gap-mm", "0.5"]);
    assert_eq!(repeated["rows"], found["rows"]);
    assert_eq!(json(&["valves"])["rows"].as_array().unwrap().len(), 8);
}

#[test]
fn coldstart_holds_what_the_contract_names() {
    let found = json(&["coldstart"]);
    assert_eq!(found["coolant_degc"], 20.0, "coolant at the ambient");
    assert_eq!(found["conditions"]["fuel_degc"], 20.0);
    assert_eq!(found["starts"], true);
    assert!(found["cranking_s"].as_f64().unwrap() < 4.0);
    assert!(found["running_after_s"].as_f64() > found["cranking_s"].as_f64());
    assert!(found["reason"].is_null() && found["screw_turns"] == 0.0);
    let cold = json(&["coldstart", "--ambient-degc", "-15", "--screw", "-1/4"]);
    assert_eq!((&cold["starts"], &cold["ambient_degc"]), (&false.into(), &(-15.0).into()));
    assert!(cold["running_after_s"].is_null());
    assert!(cold["reason"].as_str().unwrap().contains("lambda"), "{}", cold["reason"]);
    let warm = json(&["coldstart", "--coolant-degc", "80"]);
    assert_eq!(warm["coolant_degc"], 80.0);
    assert_eq!(warm["conditions"]["fuel_degc"], 30.0);
    let hazard = json(&["coldstart", "--screw", "0.3"]);
    assert_eq!((&hazard["starts"], &hazard["hazard"]), (&false.into(), &true.into()));
    assert!(hazard["cranking_s"].is_null());
    assert!(hazard["reason"].as_str().unwrap().contains("hazard"));
    let map = json(&["coldstart", "--map"]);
    let stretches = map["stretches"].as_array().unwrap();
    assert_eq!((stretches.len(), &stretches[0]["ambient_degc"]), (8, &(-25.0).into()));
    let soon = |turns: &str| {
        let at = |cell: &&Value| cell["ambient_degc"] == -25.0 && cell["within_4_s"] == true;
        let mut cells = map["map"].as_array().unwrap().iter().filter(at);
        cells.any(|cell| cell["screw_turns"] == stretches[0][turns])
    };
    assert!(soon("leanest_turns") && soon("richest_turns"), "{}", stretches[0]);
}

/// Ten times the air that the fuel can burn is no mixture.
#[test]
fn a_start_tells_no_lambda_of_next_to_no_fuel() {
    let dry = json(&["coldstart", "--ambient-degc", "46.86", "--screw", "-1.8785"]);
    let trace = dry["trace"].as_array().unwrap();
    assert!(!trace.is_empty() && trace.iter().all(|row| row["lambda"].is_null()));
    assert!(dry["notes"].to_string().contains("next to no fuel evaporates or is metered"));
    assert!(dry["reason"].as_str().unwrap().contains("next to no fuel is metered"), "{dry}");
    let lit = json(&["coldstart"]);
    let told = lit["trace"].as_array().unwrap().iter().filter_map(|row| row["lambda"].as_f64());
    assert!(told.clone().count() > 50 && told.clone().all(|lambda| lambda < 10.0));
}

#[test]
fn a_sensor_fails_in_its_words_only() {
    let folder = TempDir::new().unwrap();
    let refuse = |args: &[&str], code, words: &[&str]| refuses(folder.path(), args, code, words);
    refuse(&["coldstart", "--fail", "lamda=dead"], 2, &["lamda", "lambda", "throttle-switch"]);
    refuse(&["coldstart", "--fail", "lambda=blue"], 2, &["blue", "cold, dead, stuck, lazy"]);
    refuse(&["coldstart", "--fail", "lambda"], 2, &["--fail"]);
    refuse(&["coldstart", "--fail", "coolant=OHM"], 2, &["OHM"]);
    refuse(&["coldstart", "--fail", "coolant=-5"], 4, &["--fail coolant", "ohm"]);
    refuse(&["coldstart", "--fail", "potentiometer=90"], 4, &["-5 to 5 mm"]);
    refuse(&["valves", "--gap-mm", "0"], 4, &["--gap-mm", "0.1 to 20 mm"]);
    refuse(&["valves", "--gap-mm", "nan"], 4, &["--gap-mm"]);
    refuse(&["valves", "--gap-mm", "2,1"], 2, &["--gap-mm", "2,1", "decimal point"]);
    refuse(&["valves", "--gap-mm", "wide"], 2, &["--gap-mm", "wide"]);
    refuse(&["valves", "--from-rpm", "100"], 4, &["--from-rpm", "1600 to 5000 rpm"]);
    let found = json(&["run", "--procedure", "screw-wait", "--fail", "lambda=dead"]);
    assert_eq!(found["conditions"]["failed"][0], "lambda=dead");
    assert!(found["canonical_command"].as_str().unwrap().ends_with("--fail lambda=dead"));
    assert!((found["summary"]["final"]["actuator_ma"].as_f64().unwrap() - 10.0).abs() < 1e-9);
}

#[test]
fn the_same_valves_and_map_whatever_the_cores() {
    let of = |cores: &str| {
        let program = env!("CARGO_BIN_EXE_quarterturn");
        let output = std::process::Command::new("taskset")
            .args(["-c", cores, program, "valves", "--gap-mm", "3", "1.2", "1", "--format", "json"])
            .output();
        output.map(|output| output.stdout)
    };
    // Where there is no taskset the plain program is compared with itself.
    let plain = run(&["valves", "--gap-mm", "3", "1.2", "1", "--format", "json"]).stdout;
    if let Ok(one) = of("0") {
        assert!(one.is_empty() || text(&one) == text(&plain));
    }
    assert_eq!(plain, run(&["valves", "--gap-mm", "3", "1.2", "1", "--format", "json"]).stdout);
}
