//! `relearn` and `parts`: what they hold and what they refuse.

mod common;

use common::{json, refuses};
use tempfile::TempDir;

#[test]
fn relearn_holds_what_the_contract_names() {
    let found = json(&["relearn", "--averaged", "--screw", "-1/32"]);
    assert_eq!(found["memory_kept"], false);
    let starts = found["starts"].as_array().unwrap();
    assert_eq!(starts.len(), 40);
    assert_eq!(starts[6]["start"], 7);
    assert_eq!(starts[39]["cells_ma"].as_array().unwrap().len(), 4);
    let settled = found["settled_at_start"].as_u64().unwrap();
    assert!((10..=40).contains(&settled) && found["reason"].is_null());
    let kept = json(&["relearn", "--averaged", "--battery-off-s", "10", "--starts", "3"]);
    assert_eq!(kept["memory_kept"], true);
    let full = json(&["relearn", "--starts", "1", "--minutes", "4"]);
    let start = &full["starts"][0];
    assert!(start["cov_percent"].as_f64().unwrap() > 3.0);
    assert!(start["fuel_kg"].as_f64().unwrap() > 0.05 && start["stalls"] == 0);
    let dead = json(&["relearn", "--averaged", "--starts", "3", "--fail", "lambda=dead"]);
    assert!(dead["settled_at_start"].is_null());
    assert!(dead["reason"].as_str().unwrap().contains("lambda sensor dead"));
}

#[test]
fn a_file_of_speeds_is_refused_by_its_line() {
    let folder = TempDir::new().unwrap();
    let file = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    file("back.csv", "time_s,speed_kmh\n0,0\n9,20\n8,20\n");
    file("gap.csv", "time_s,speed_kmh\n0,0\n99,20\n");
    file("fast.csv", "time_s,speed_kmh\n0,0\n1,90\n");
    file("miles.csv", "time_s,speed_mph\n0,0\n");
    file("held.csv", "time_s,speed_kmh\n0,0\n10,25\n20,25\n30,35\n40,35\n55,55\n65,55\n90,0\n");
    let refuse = |drive: &str, words: &[&str]| {
        refuses(folder.path(), &["relearn", "--drive", drive, "--averaged"], 3, words);
    };
    refuse("back.csv", &["back.csv", "line 4", "time goes forward"]);
    refuse("gap.csv", &["line 3", "gap of 99 s"]);
    refuse("fast.csv", &["line 3", "m/s2"]);
    refuse("miles.csv", &["miles", "1.609"]);
    refuse("held.csv", &["25, 35, 55", "miles"]);
    refuse("none.csv", &["none.csv"]);
    let refuse = |args: &[&str], code, words: &[&str]| refuses(folder.path(), args, code, words);
    refuse(&["relearn", "--starts", "0"], 4, &["--starts", "1 to 500"]);
    refuse(&["relearn", "--battery-off-s", "-1"], 4, &["--battery-off-s"]);
    refuse(&["relearn", "--starts", "many"], 2, &["--starts", "many"]);
}

#[test]
fn parts_hold_what_the_contract_names_worst_first() {
    let found = json(&["parts"]);
    let rows = found["rows"].as_array().unwrap();
    let names: Vec<&str> = rows.iter().map(|row| row["part"].as_str().unwrap()).collect();
    for name in [
        "potentiometer",
        "plate-height",
        "plunger",
        "fuel-lines",
        "air-leak",
        "actuator",
        "pressure-regulator",
        "coolant",
        "lambda",
        "exhaust-temperature",
        "altitude",
        "throttle-switch",
        "idle-air-valve",
    ] {
        assert!(names.contains(&name), "{name}");
    }
    for row in rows {
        for key in ["lambda", "duty_percent", "potentiometer_v", "cov_percent"] {
            assert!(row[key].is_f64(), "{row}");
        }
        assert!(row["new_setting_needed"].is_boolean() && row["why"].is_string());
        assert!(row["change"].is_string());
    }
    assert_eq!(found["conditions"]["trim"], "on");
}
