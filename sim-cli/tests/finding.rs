//! `readings` and `diagnose`: what they hold, and what they refuse.

use crate::common::{json, program, refuses, run, text};
use tempfile::TempDir;

const LEAK: [&str; 9] = [
    "diagnose",
    "--reading",
    "duty_percent=85",
    "--reading",
    "potentiometer_v=0.671",
    "--reading",
    "co_percent=0.57",
    "--reading",
    "system_bar=5.4",
];

#[test]
fn a_leak_is_found_from_four_readings() {
    let found = json(&LEAK);
    let causes = found["causes"].as_array().unwrap();
    let sum: f64 = causes.iter().map(|cause| cause["probability"].as_f64().unwrap()).sum();
    assert!((sum - 1.0).abs() < 1e-9);
    assert!(causes.iter().any(|cause| cause["name"] == "none"));
    assert!(causes[0]["name"].as_str().unwrap().starts_with("leak-"));
    assert!(!causes[0]["for"].as_array().unwrap().is_empty());
    let next = &found["next_check"];
    assert!(next["minutes"].as_f64().unwrap() > 0.0 && next["name"].is_string());
    assert!(!next["expects"].as_array().unwrap().is_empty());
    assert!(found["checks"].is_null());
    let cautions = found["cautions"].to_string();
    assert!(cautions.contains("vehicle maker's data"), "{cautions}");
    let all: Vec<&str> = LEAK.into_iter().chain(["--checks"]).collect();
    assert!(json(&all)["checks"].as_array().unwrap().len() > 10);
}

#[test]
fn a_file_says_the_same_as_the_flags_and_the_template_can_be_filled_in() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("readings.csv");
    let csv = "# this car\n\nnote,co_percent,duty_percent,potentiometer_mv,system_kpa\n\"found, idle\",0.57,85,671,540\n";
    std::fs::write(&path, csv).unwrap();
    let path = path.to_str().unwrap();
    let of_file = json(&["diagnose", path])["causes"].clone();
    assert_eq!(of_file[0]["name"], json(&LEAK)["causes"][0]["name"]);
    let checked = json(&["readings", "check", path]);
    assert_eq!(checked["readings"].as_array().unwrap().len(), 4);
    let template = text(&run(&["readings", "template"]).stdout);
    let filled = template.replace("yes,0,,,,,", "yes,0,,,0.7,52,");
    let template_path = folder.path().join("filled.csv");
    std::fs::write(&template_path, filled).unwrap();
    let checked = json(&["readings", "check", template_path.to_str().unwrap()]);
    assert!(checked["readings"].as_array().unwrap().len() >= 2, "{checked}");
}

#[test]
fn the_causes_are_listed_with_none() {
    let found = json(&["diagnose", "causes"]);
    let names: Vec<&str> =
        found["names"].as_array().unwrap().iter().map(|name| name.as_str().unwrap()).collect();
    for name in ["rest-height", "screw", "spark-6", "slit-1", "injector-2", "other-fuel", "none"] {
        assert!(names.contains(&name), "{name}");
    }
    assert!(!names.contains(&"altitude") && !names.contains(&"spark-7"));
    let eight = json(&["diagnose", "causes", "--rig", "eight"])["names"].to_string();
    assert!(eight.contains("\"altitude\"") && eight.contains("spark-8"));
}

#[test]
fn a_trial_is_the_same_on_one_thread_and_on_two() {
    let on = |threads: &str| {
        let args = ["diagnose", "--trial", "12", "--seed", "2", "--format", "json", "--quiet"];
        program().env("RAYON_NUM_THREADS", threads).args(args).output().unwrap().stdout
    };
    let one = on("1");
    assert!(!one.is_empty());
    assert_eq!(one, on("2"));
    let found: serde_json::Value = serde_json::from_slice(&one).unwrap();
    for key in [
        "cars",
        "first_percent",
        "first_three_percent",
        "false_alarm_percent",
        "median_checks",
        "fixed_order_median_checks",
    ] {
        assert!(found[key].is_number(), "{key}");
    }
    assert!(found["calibration"][0]["said"].is_number());
    assert!(found["calibration"][0]["true_percent"].is_number());
    assert!(found["calibration"][0]["cars"].is_number());
}

#[test]
fn readings_that_cannot_be_used_are_refused_with_reasons() {
    let folder = TempDir::new().unwrap();
    let refuse = |readings: &[&str], code: i32, words: &[&str]| {
        let mut args = vec!["diagnose"];
        readings.iter().for_each(|reading| args.extend(["--reading", reading]));
        refuses(folder.path(), &args, code, words);
    };
    refuse(&[], 2, &["readings", "--trial"]);
    refuse(&["duty_percent=85"], 2, &["too few", "2"]);
    refuse(&["ear=rough"], 2, &["too few"]);
    refuse(&["potentiometer_v=671", "duty_percent=50"], 4, &["mV", "0.671 V"]);
    refuse(&["system_bar=540", "duty_percent=50"], 4, &["kPa", "5.4 bar"]);
    refuse(&["system_bar=78", "duty_percent=50"], 4, &["psi", "5.378 bar"]);
    refuse(&["vacuum_bar=500", "duty_percent=50"], 4, &["mbar", "0.5 bar"]);
    refuse(&["vacuum_bar=-0.65", "duty_percent=50"], 4, &["minus", "0.65 bar"]);
    refuse(&["vacuum_bar=20", "duty_percent=50"], 4, &["inHg", "0.677 bar"]);
    refuse(&["system_bar=0.54", "duty_percent=50"], 4, &["MPa", "5.4 bar"]);
    refuse(&["actuator_ma=0.010", "duty_percent=50"], 4, &["A (10 mA)", "0 if"]);
    refuse(&["duty_percent=0.5", "co_percent=1"], 4, &["share of 1 (50 %)", "0 if"]);
    refuse(&["co2_percent=0.14", "duty_percent=50"], 4, &["share of 1 (14 %)"]);
    refuse(&["co_percent=5700", "duty_percent=50"], 4, &["ppm (0.57 %)"]);
    refuse(&["hc_ppm=0.02", "duty_percent=50"], 4, &["percent (200 ppm)"]);
    refuse(&["lambda=14.7", "duty_percent=50"], 4, &["air-fuel ratio (1 lambda)"]);
    refuse(&["speed_rpm=11.8", "duty_percent=50"], 4, &["revolutions a second (708 rpm)"]);
    refuse(&["return_ml_min=2.3", "duty_percent=50"], 4, &["litres a minute (2300"]);
    refuse(&["meter_ohm=10", "potentiometer_v=0.7", "duty_percent=50"], 4, &["Mohm"]);
    refuse(&["coolant_degc=194", "duty_percent=50"], 4, &["degF", "90 degC"]);
    refuse(&["coolant_degc=353", "duty_percent=50"], 4, &["K (80 degC)"]);
    refuse(&["duty_percent=150", "co_percent=1"], 4, &["0 to 100"]);
    refuse(&["duty_percent=50", "duty_percent=50"], 2, &["duty_percent", "twice"]);
    refuse(&["duty_percent=nan", "co_percent=1"], 2, &["finite"]);
    refuse(&["duty_percent=inf", "co_percent=1"], 2, &["finite"]);
    refuse(&["duty_percent=a lot", "co_percent=1"], 2, &["a lot"]);
    refuse(&["duty_percnt=50", "co_percent=1"], 2, &["duty_percnt", "duty_percent"]);
    refuse(&["line_7_ml=13", "line_1_ml=13"], 2, &["line_7_ml", "6 lines"]);
    refuse(&["vacuum_bar=0.6", "manifold_bar=0.7"], 2, &["contradict", "add up"]);
    refuse(&["system_bar=5", "lower_chamber_bar=6"], 2, &["contradict", "lower chamber"]);
    refuse(&["co_percent=10", "co2_percent=15", "o2_percent=10"], 2, &["no gas"]);
    refuse(&["ear=dies", "duty_percent=50", "co_percent=1"], 2, &["dies"]);
    refuse(&["ear=loud", "duty_percent=50"], 2, &["loud", "smooth, rough, hunting, dies"]);
    refuse(&["speed_rpm=1800", "duty_percent=50"], 4, &["fast idle"]);
    refuse(&["duty_percent", "co_percent=1"], 2, &["KEY=VALUE"]);
    let file = |csv: &str, words: &[&str]| {
        let path = folder.path().join("bad.csv");
        std::fs::write(&path, csv).unwrap();
        for command in [&["diagnose"][..], &["readings", "check"]] {
            let args: Vec<&str> = command.iter().copied().chain(["bad.csv"]).collect();
            refuses(folder.path(), &args, 3, words);
        }
    };
    file("", &["bad.csv", "no header"]);
    file("duty_percent,system_bar\n85,540\n", &["line 2", "kPa"]);
    file("duty_percent,duty_percent\n85,85\n", &["line 1", "twice"]);
    file("duty_percent,co_percent\n85,0.5\n86,0.5\n", &["line 3", "twice"]);
    file("duty_percent,altitude_m\n85,0\n,500\n", &["line 3", "contradict"]);
    file("duty_percent,co_percent\n85,\n", &["too few"]);
    file("duty_percent,co_percent\n85,NaN\n", &["line 2", "finite"]);
    file("duty_percent,co_percent\n85,0,5\n", &["line 2", "3 cells"]);
    refuses(folder.path(), &["diagnose", "no.csv"], 3, &["no.csv"]);
    refuses(folder.path(), &["readings", "check", "."], 3, &["directory"]);
    refuses(folder.path(), &["diagnose", "--trial", "0"], 4, &["--trial"]);
    refuses(folder.path(), &["diagnose", "--trial", "1.5"], 4, &["--trial"]);
    refuses(folder.path(), &["diagnose", "causes", "--trial", "3"], 2, &["--trial"]);
    refuses(
        folder.path(),
        &["diagnose", "--trial", "3", "--reading", "duty_percent=3"],
        2,
        &["--reading"],
    );
}

#[test]
fn a_diagnosis_ends_with_the_cautions() {
    let said = text(&run(&LEAK).stdout);
    assert!(said.contains("Invented parts") && said.contains("Next check"), "{said}");
    assert!(said.contains("not moved before ignition, leaks and pressure"), "{said}");
}
