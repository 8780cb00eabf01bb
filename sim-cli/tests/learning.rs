//! `relearn` and `parts`: what they hold and what they refuse.

use crate::common::{json, refuses};
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

/// `--felt` says where a drive is felt: at the idle, at a steady speed, under load. What the trade
/// says of a cleared memory is common practice, no source: the first drives are the bad ones.
#[test]
fn felt_says_where_in_the_drive_the_cells_are_felt() {
    let args = ["relearn", "--averaged", "--felt", "--starts", "15", "--minutes", "7"];
    let found = json(&args);
    let number = |start: usize, part: &str, what: &str| {
        found["starts"][start][part][what].as_f64().unwrap_or_else(|| panic!("{part} {what}"))
    };
    for part in ["idle", "cruise", "load"] {
        for start in 0..15 {
            assert!(number(start, part, "cov_percent") <= number(start, part, "worst_cov_percent"));
            let lean = number(start, part, "leanest_lambda");
            assert!(lean >= number(start, part, "richest_lambda"));
        }
        // Start 2 begins with cells a step too lean, start 3 with cells too rich.
        let (early, late) = (number(1, part, "leanest_lambda"), number(14, part, "leanest_lambda"));
        assert!(early > late + 0.02, "{part}: leanest {early} early, {late} late");
        let (early, late) = (number(2, part, "richest_lambda"), number(14, part, "richest_lambda"));
        assert!(early < late - 0.02, "{part}: richest {early} early, {late} late");
    }
    assert!((0..15).all(|start| found["starts"][start]["stalls"] == 0));
}

/// What a repair calls for, as data. Common practice, no source: a potentiometer is set anew; a
/// sensor or a switch is changed and nothing else is touched; a sealed leak brings the old setting
/// back, and what had been set with the leak in is left too rich.
#[test]
fn parts_say_what_must_be_set_anew_and_what_must_not_be_touched() {
    let found = json(&["parts", "--trim", "on"]);
    let all = found["rows"].as_array().unwrap();
    let of = |name: &str| {
        all.iter().find(|part| part["part"] == name).unwrap_or_else(|| panic!("no part {name}"))
    };
    for keep in ["throttle-switch", "exhaust-temperature", "altitude"] {
        assert_eq!(of(keep)["repair"], "keep", "{keep}");
    }
    for anew in ["potentiometer", "plunger"] {
        assert_eq!(of(anew)["repair"], "set anew", "{anew}");
    }
    for with_it in ["air-leak", "pressure-regulator"] {
        assert_eq!(of(with_it)["repair"], "set anew if it was set with the fault", "{with_it}");
    }
    let left = |name: &str, what: &str| of(name)["set_with_it"][what].as_f64();
    // Set with the leak in, the screw stands too far in, and the loop takes fuel away.
    assert!(left("air-leak", "screw_turns").unwrap() > 0.0);
    assert!(left("air-leak", "duty_points").unwrap() < -5.0);
    // A switch and a missing altitude sensor leave nothing behind.
    for clean in ["throttle-switch", "altitude"] {
        assert!(left(clean, "duty_points").unwrap().abs() < 5.0, "{clean}");
        assert!(left(clean, "screw_turns").unwrap().abs() < 1.0 / 64.0, "{clean}");
    }
}

/// Each failed part has its two or three classic signs: common practice, no source.
#[test]
fn every_failed_sensor_has_its_classic_signs() {
    let signs: [(&str, &str, &[&str]); 8] = [
        ("six", "coolant=open", &["richer", "of fuel", "does not start"]),
        ("six", "throttle-switch=no-idle", &["in the overrun the fuel is not cut", "after a blip"]),
        ("six", "throttle-switch=no-full", &["wide open it is lean", "torque -"]),
        ("six", "lambda=stuck", &["richer", "of fuel"]),
        ("six", "lambda=lazy", &["surges", "swing"]),
        ("eight", "altitude=missing", &["at 1500 m: wide open it is rich"]),
        ("eight", "altitude=stuck", &["wide open it is lean", "torque -"]),
        ("eight", "exhaust-temperature=missing", &["richer"]),
    ];
    for (rig, fault, words) in signs {
        let found = json(&["consequences", "--rig", rig, "--of", fault]);
        let felt = found["failed"][0]["felt"].to_string();
        for word in words {
            assert!(felt.contains(word), "{rig}, {fault}: no \"{word}\" in {felt}");
        }
    }
    // What the meters show: a dead sensor nothing, a cold one the controller's own voltage, one
    // that reads lean a lean gas; the duty stands at half, or at its end.
    for (fault, sensor_v, duty) in
        [("lambda=dead", 0.0, 50.0), ("lambda=cold", 0.45, 50.0), ("lambda=stuck", 0.1, 100.0)]
    {
        let found = json(&["consequences", "--of", fault]);
        let shown = found["failed"][0]["shown"].as_array().unwrap().clone();
        let value = |name: &str| {
            let of = |one: &&serde_json::Value| one["reading"] == name;
            shown.iter().find(of).unwrap()["failed"].as_f64().unwrap()
        };
        assert!((value("sensor_v") - sensor_v).abs() < 1e-9, "{fault}: {}", value("sensor_v"));
        assert!((value("duty_percent") - duty).abs() < 0.5, "{fault}: {}", value("duty_percent"));
    }
}
