//! `bleed` from outside: what the report holds, what it refuses, and that a setting where
//! fuel runs at rest is called a hazard.

use crate::common::{json, program, refuses, run, text};
use serde_json::Value;
use tempfile::TempDir;

#[test]
fn a_bleeding_holds_what_the_contract_names() {
    for (rig, lines) in [("four", 4), ("six", 6), ("eight", 8)] {
        let found = json(&["bleed", "--rig", rig]);
        let rows = found["lines"].as_array().unwrap();
        assert_eq!(rows.len(), lines, "{rig}");
        for (i, row) in rows.iter().enumerate() {
            assert_eq!(row["line"], i + 1);
            assert!(row["flows_after_s"].as_f64().unwrap() > 0.0, "{rig}: {row}");
        }
        let after = |row: &Value| row["flows_after_s"].as_f64().unwrap();
        let (first, last) = (after(&found["first_line"]), after(&found["last_line"]));
        assert!(rows.iter().all(|row| (first..=last).contains(&after(row))), "{rig}");
        let trace = found["pressure_bar"].as_array().unwrap();
        let time = |i: usize| trace[i]["time_s"].as_f64().unwrap();
        let bar = |i: usize| trace[i]["pressure_bar"].as_f64().unwrap();
        assert_eq!((time(0), bar(0)), (0.0, 0.0));
        assert!((1..trace.len()).all(|i| time(i) > time(i - 1)), "{rig}: time runs forwards");
        let (last, stops) = (trace.len() - 1, found["pump_stops_s"].as_f64().unwrap());
        assert!((time(last) - stops - 1800.0).abs() < 1e-6, "{rig}: to 30 min after the stop");
        assert_eq!(found["residual_30min_bar"].as_f64().unwrap(), bar(last));
        let band = |i: usize| found["residual_band_bar"][i].as_f64().unwrap();
        assert!(
            (2.2..3.6).contains(&band(1)) && band(0) == 2.2,
            "{rig}: {} to {}",
            band(0),
            band(1)
        );
        assert!((band(0)..band(1)).contains(&bar(last)), "{rig}: {}", bar(last));
        assert!((1.0..=2.0).contains(&found["return_l_per_40_s"].as_f64().unwrap()), "{rig}");
        assert!(found["hot_restart_cranking_s"].as_f64().unwrap() < 4.0, "{rig}");
        assert_eq!(found["hazard"], false);
        assert!(found["volumes_ml"]["missing"].as_f64().unwrap().abs() < 1e-7);
    }
}

#[test]
fn a_setting_where_fuel_runs_at_rest_is_bled_into_glasses_and_called_a_hazard() {
    for flags in [["--screw", "1/2"], ["--rest-height-mm", "1.5"]] {
        let mut args = vec!["bleed"];
        args.extend(flags);
        if flags[0] == "--rest-height-mm" {
            args.extend(["--screw", "1/4"]);
        }
        let output = run(&args);
        let said = text(&output.stdout).replace("\n        ", " ");
        assert_eq!(output.status.code(), Some(0), "{said}");
        for words in
            ["Into glasses only", "HAZARD", "plate rests", "Do not jumper the pump", "do not crank"]
        {
            assert!(said.contains(words), "no \"{words}\" in {said}");
        }
        let found = program().args(&args).args(["--format", "json"]).output().unwrap();
        let found: serde_json::Value = serde_json::from_slice(&found.stdout).unwrap();
        assert_eq!(found["hazard"], true);
        assert!(found["residual_30min_bar"].is_null() && found["hot_restart_cranking_s"].is_null());
        for line in found["lines"].as_array().unwrap() {
            assert!(line["flows_after_s"].as_f64().unwrap() > 0.0, "{line}");
        }
        assert!(found["pressure_bar"].as_array().unwrap().len() > 10);
        assert!(found["rest_flow_ml_min"].as_f64().unwrap() > 0.0);
    }
}

#[test]
fn every_report_says_how_not_to_get_hurt() {
    for args in [vec!["bleed", "--all"], vec!["bleed", "--screw", "1", "--all"]] {
        let said = text(&run(&args).stdout);
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        for words in [
            "relieve the pressure first",
            "eye protection",
            "no flame",
            "fire extinguisher at hand",
            "fused and switched",
            "removed before the car is driven",
            "rag",
            "doors open",
            "30 and 87",
            "vehicle maker's data",
        ] {
            assert!(said.contains(words), "{args:?} does not say \"{words}\": {said}");
        }
    }
}

#[test]
fn what_is_no_bleeding_is_refused_with_its_code() {
    let folder = TempDir::new().unwrap();
    let place = folder.path();
    refuses(place, &["bleed", "--lift-mm", "far"], 2, &["--lift-mm", "far"]);
    refuses(place, &["bleed", "--check-valve", "leak"], 2, &["--check-valve", "leaks, stuck-open"]);
    refuses(place, &["bleed", "--check-valve", "leak", "--rig", "no.toml"], 2, &["--check-valve"]);
    refuses(place, &["bleed", "--rig", "no.toml", "--lift-mm", "99"], 3, &["no.toml"]);
    for (flag, value, range) in [
        ("--lift-mm", "-1", "0 to 60 mm"),
        ("--lift-mm", "nan", "0 to 60 mm"),
        ("--accumulator-percent", "101", "0 to 100 %"),
        ("--stand-min", "0", "1 to 600 min"),
        ("--hot-degc", "inf", "-20 to 130 degC"),
        ("--vapour-kpa", "20", "45 to 100 kPa"),
    ] {
        refuses(place, &["bleed", flag, value], 4, &[flag, range]);
    }
    refuses(place, &["bleed", "--set", "accumulator_ml=0"], 4, &["accumulator_ml", "1 to 200 ml"]);
    refuses(place, &["bleed", "--chart", "no/such/folder/a.svg"], 5, &["no/such/folder"]);
}

#[test]
fn the_canonical_command_makes_the_same_again() {
    let first = json(&[
        "bleed",
        "--stand-min",
        "45.0",
        "--lift-mm",
        "20",
        "--check-valve",
        "leaks",
        "--accumulator-percent",
        "60",
        "--rig",
        "four",
    ]);
    let command = first["canonical_command"].as_str().unwrap();
    assert_eq!(
        command,
        "quarterturn bleed --stand-min 45 --rig four --check-valve leaks --accumulator-percent 60"
    );
    let args: Vec<&str> = command.split(' ').skip(1).collect();
    assert_eq!(json(&args), first);
}
