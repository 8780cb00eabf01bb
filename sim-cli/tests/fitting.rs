//! `fit` and `advise`: what they hold, what a fitted car's file brings, and what they refuse.

use crate::common::{json, program, refuses, run, text};
use std::path::PathBuf;
use tempfile::TempDir;

/// An invented car: too far out, its voltage too high, no leak.
const SHEET: &str = "plugged,screw_turns,speed_rpm,ear,potentiometer_v,duty_percent,vacuum_bar,system_bar,drop_1_rpm,co_percent
yes,0,710,smooth,0.735,74,0.67,5.4,62,
no,0,,smooth,0.738,,,,,0.11
";

fn sheet() -> (TempDir, PathBuf) {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("car.csv");
    std::fs::write(&path, SHEET).unwrap();
    (folder, path)
}

#[test]
fn a_fit_tells_parameters_and_writes_a_car_that_every_command_takes() {
    let (folder, path) = sheet();
    let car = folder.path().join("my-car.toml");
    let (path, car) = (path.to_str().unwrap(), car.to_str().unwrap());
    let found = json(&["fit", path, "-o", car]);
    let parameters = found["parameters"].as_array().unwrap();
    let screw = parameters.iter().find(|p| p["name"] == "screw_turns").unwrap();
    assert!(screw["value"].as_f64().unwrap() < 0.0, "the duty adds fuel: {screw}");
    assert!(screw["identified"].as_bool().unwrap());
    for key in ["value", "standard_error", "low", "high"] {
        assert!(parameters.iter().all(|p| p[key].is_number()), "{key}");
    }
    assert!(found["outliers"].as_array().unwrap().is_empty(), "{}", found["outliers"]);
    assert!(found["condition_number"].as_f64().unwrap() > 1.0);
    let laws: f64 =
        found["flame_laws"].as_object().unwrap().values().map(|p| p.as_f64().unwrap()).sum();
    assert!((laws - 1.0).abs() < 1e-9);
    assert_eq!(found["not_used"][0], "drop_1_rpm");
    let written = std::fs::read_to_string(car).unwrap();
    assert!(written.contains("\n[found]\n") && written.contains("\n[covariance]\n"));
    assert!(json(&["rig", "check", car]).is_object());
    // The car shows what was read, within what its meters may be off.
    let point = &json(&["predict", "--rig", car, "--trim", "on", "--turn", "1/32"]);
    let before = &point["before"];
    assert!((before["duty_percent"].as_f64().unwrap() - 74.0).abs() < 5.0, "{before}");
    let volts = before["potentiometer_v"].as_f64().unwrap();
    assert!((volts - 0.735).abs() < 0.01);
    let [low, high] =
        ["before_low", "before_high"].map(|end| point[end]["potentiometer_v"].as_f64().unwrap());
    assert!(low < volts && volts < high && high - low < 0.04, "{low} {high}");
    let csv = text(&run(&["predict", "--rig", car, "--turn", "1/32", "--format", "csv"]).stdout);
    assert!(csv.contains("after_low") && csv.contains("difference_high"), "{csv}");
    let sweep = json(&["sweep", "--rig", car, "--step", "1/16"]);
    let aim = sweep["edges"]["aim_turns"].as_f64().unwrap();
    let ends = &sweep["edges_90_percent"]["aim_turns"];
    assert!(ends[0].as_f64().unwrap() < aim && aim < ends[1].as_f64().unwrap());
    let csv = text(&run(&["sweep", "--rig", car, "--step", "1/16", "--format", "csv"]).stdout);
    assert!(csv.contains("potentiometer_v_low") && csv.contains("lambda_high"));
    let chart = folder.path().join("sweep.svg");
    let drawn = run(&["sweep", "--rig", car, "--chart", chart.to_str().unwrap()]);
    assert!(drawn.status.success(), "{}", text(&drawn.stderr));
    assert!(std::fs::read_to_string(chart).unwrap().contains("90 of 100"));
    let run = json(&["run", "--rig", car, "--procedure", "throttle-release", "--every-ms", "1000"]);
    let ends = &run["intervals_90_percent"];
    assert!(ends["final_low"]["potentiometer_v"].is_number(), "{ends}");
    // A rig without what was found says nothing of the kind.
    assert!(json(&["predict", "--turn", "1/32"])["before_low"].is_null());
}

#[test]
fn a_reading_out_of_place_is_told_with_its_line() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("car.csv");
    let rows = SHEET.replace("0.67", "0.30") + "yes,0,2500,,,52,,,,\n";
    std::fs::write(&path, rows).unwrap();
    let found = json(&["fit", path.to_str().unwrap()]);
    let outlier = &found["outliers"][0];
    assert_eq!((&outlier["line"], &outlier["reading"]), (&2.into(), &"vacuum_bar".into()));
    assert!(text(&run(&["fit", path.to_str().unwrap()]).stdout).contains("line 2"));
}

#[test]
fn advice_checks_first_then_moves_and_tells_what_should_show() {
    let (_folder, path) = sheet();
    let found = json(&["advise", path.to_str().unwrap()]);
    let turns = found["move"]["screw_turns"].as_f64().unwrap();
    assert!(turns > 0.0 && (64.0 * turns).fract() == 0.0, "{turns}");
    let expects = found["expects"].as_array().unwrap();
    assert!(expects.iter().any(|e| e["reading"] == "duty_percent"));
    assert!(expects.iter().all(|e| e["low"].as_f64() < e["high"].as_f64()));
    assert_eq!(found["stop"], false);
    let few = ["advise", "--reading", "duty_percent=85", "--reading", "potentiometer_v=0.7"];
    assert_eq!(json(&few)["move"]["check"], "sparks");
    let said = text(&run(&few).stdout);
    assert!(said.contains("Move nothing yet") && said.contains("Invented parts"), "{said}");
}

#[test]
fn trials_are_the_same_on_one_thread_and_on_two() {
    let keys: [(&str, &[&str]); 2] = [
        ("fit", &["cars", "coverage_percent"]),
        (
            "advise",
            &[
                "engines",
                "coverage_percent",
                "median_moves",
                "p95_moves",
                "reached_percent",
                "ear_median_moves",
                "ear_p95_moves",
                "ear_reached_percent",
            ],
        ),
    ];
    for (command, keys) in keys {
        let on = |threads: &str| {
            let args = [command, "--trial", "8", "--seed", "3", "--format", "json", "--quiet"];
            program().env("RAYON_NUM_THREADS", threads).args(args).output().unwrap().stdout
        };
        let one = on("1");
        assert_eq!(one, on("2"), "{command}");
        let found: serde_json::Value = serde_json::from_slice(&one).unwrap();
        keys.iter().for_each(|key| assert!(found[key].is_number(), "{command}: {key}"));
    }
}

#[test]
fn what_cannot_be_fitted_is_refused_as_a_diagnosis_is() {
    let folder = TempDir::new().unwrap();
    let here = folder.path();
    for command in ["fit", "advise"] {
        refuses(here, &[command], 2, &["readings", "--trial"]);
        refuses(here, &[command, "no.csv"], 3, &["no.csv"]);
        refuses(here, &[command, "--trial", "0"], 4, &["--trial"]);
        let one = [command, "--reading", "duty_percent=85"];
        refuses(here, &one, 2, &["too few", "2"]);
        let trial = [command, "--trial", "3", "--reading", "duty_percent=3"];
        refuses(here, &trial, 2, &["--reading"]);
        let unit = [command, "--reading", "potentiometer_v=671", "--reading", "duty_percent=50"];
        refuses(here, &unit, 4, &["mV", "0.671 V"]);
    }
    let ending =
        ["fit", "--reading", "duty_percent=50", "--reading", "co_percent=1", "-o", "x.csv"];
    refuses(here, &ending, 2, &["x.csv", ".toml"]);
    let six = text(&run(&["rig", "show", "six", "--format", "toml"]).stdout);
    let bad = |tail: &str, words: &[&str]| {
        std::fs::write(here.join("car.toml"), format!("{six}\n{tail}")).unwrap();
        refuses(here, &["rig", "check", "car.toml"], 3, words);
    };
    bad("[found]\nscrw = 1\n", &["car.toml", "scrw"]);
    bad("[found]\nrest_height_mm = 9\n", &["rest_height_mm", "-1.5 to 1.5"]);
    bad("[found]\nflame = \"blue\"\n", &["blue", "gasoline"]);
    bad("[covariance]\nkeys = [\"housing_mm\"]\n", &["matrix"]);
    bad("[covariance]\nkeys = [\"housing_mm\"]\nmatrix = [[1, 2]]\n", &["matrix", "1 rows"]);
    bad("[covariance]\nkeys = [\"housing_mm\"]\nmatrix = [[-1]]\n", &["matrix"]);
    bad("[fund]\nscrew = 1\n", &["fund", "found"]);
}
