//! The program from outside: exit codes, places of errors, files written whole or not at
//! all, the same bytes twice.

use crate::common::{json, listing, program, run, text};
use std::path::Path;
use tempfile::TempDir;

#[test]
fn a_sweep_holds_what_the_contract_names() {
    let sweep = json(&["sweep", "--from", "-1/4", "--to", "1/2", "--step", "1/64"]);
    assert_eq!(sweep["points"].as_array().unwrap().len(), 49);
    for key in [
        "rough_lean_turns",
        "rough_rich_turns",
        "middle_turns",
        "lambda_one_turns",
        "aim_turns",
        "ear_aim_turns",
    ] {
        assert!(sweep["edges"][key].is_f64(), "{key}: {}", sweep["edges"]);
    }
    assert!(sweep["edges"]["edge_kinds"].is_object());
    for key in ["middle_turns", "width_turns"] {
        let [low, high] = &sweep["spread"][key].as_array().unwrap()[..] else { panic!("{key}") };
        assert!(low.as_f64() < high.as_f64());
    }
    assert_eq!(sweep["edges"]["aim_turns"], sweep["edges"]["lambda_one_turns"]);
    let keys = [
        "screw_turns",
        "zone",
        "valve_at_limit",
        "lambda",
        "cov_percent",
        "misfire_percent",
        "speed_rpm",
        "manifold_bar",
        "residual_fraction",
        "air_kg_h",
        "fuel_kg_h",
        "plate_lift_mm",
        "potentiometer_v",
        "actuator_ma",
        "duty_percent",
        "wanted_ma",
        "wanted_duty_percent",
        "slit_drop_bar",
        "co_percent",
        "sensor_v",
        "residual",
    ];
    for point in sweep["points"].as_array().unwrap() {
        let point = point.as_object().unwrap();
        for key in keys {
            assert!(point.contains_key(key), "no {key} in {point:?}");
        }
        if point["zone"] == "stalled" {
            assert!(point["lambda"].is_null() && point["reason"].is_string());
        } else {
            assert!(point["residual"].as_f64().unwrap() < 1e-9);
            assert!(point["valve_at_limit"].is_boolean());
        }
    }
    assert_eq!(sweep["schema_version"], 1);
    // Lambda 1 in the duty's own words: the middle of the smooth points reads 50 %.
    let aim = sweep["edges"]["aim_turns"].to_string();
    let at_aim = json(&["sweep", "--from", &aim, "--to", &aim]);
    let point = &at_aim["points"][0];
    assert!((point["lambda"].as_f64().unwrap() - 1.0).abs() < 1e-9);
    assert!((point["wanted_duty_percent"].as_f64().unwrap() - 50.0).abs() < 1e-6);
}

#[test]
fn flow_start_holds_what_the_contract_names() {
    let found = json(&["flowstart"]);
    for key in [
        "flow_start_turns",
        "setting_turns",
        "play_mm",
        "felt_play_mm",
        "threshold_turns",
        "lambda_after",
    ] {
        assert!(found[key].is_f64(), "{key}: {found}");
    }
    assert_eq!(found["zone_after"], "smooth");
    assert_eq!(found["hazard"], false);
    let offsets: Vec<f64> = found["rest_height"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["offset_mm"].as_f64().unwrap())
        .collect();
    assert_eq!(offsets, [-0.5, -0.25, 0.25, 0.5]);
    assert_eq!(found["lines"][0]["flow_ml_min"].as_array().unwrap().len(), 6);
    let back = json(&["flowstart", "--back-off", "0"]);
    assert_eq!(back["hazard"], true);
    let table = run(&["flowstart", "--back-off", "0"]);
    assert!(text(&table.stdout).contains("HAZARD") && table.status.code() == Some(0));
}

#[test]
fn turns_are_read_as_they_are_written() {
    for (from, to) in [("-1/4", "-0.25"), ("+1/8", "0.125"), ("1/64", "0.015625"), ("-0.0", "0")] {
        let one = json(&["sweep", "--from", from, "--to", "1/2", "--step", "1/4"]);
        let other = json(&["sweep", "--from", to, "--to", "0.5", "--step", "0.25"]);
        assert_eq!(one["points"], other["points"], "{from} and {to}");
    }
    let typed = json(&["sweep", "--screw", "-1/16", "--from", "0", "--to", "0"]);
    assert_eq!(typed["conditions"]["screw"], -0.0625);
}

#[test]
fn the_same_command_makes_the_same_bytes_anywhere() {
    let (here, there) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let make = |folder: &Path, locale: &str, name: &str| {
        let output = program()
            .current_dir(folder)
            .env("LC_ALL", locale)
            .env("LANG", locale)
            .args(["sweep", "--altitude-m", "500", "--chart", name, "--quiet"])
            .output()
            .unwrap();
        assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
        (output.stdout, std::fs::read(folder.join(name)).unwrap())
    };
    let first = make(here.path(), "C", "a.svg");
    assert_eq!(first, make(there.path(), "de_DE.UTF-8", "b.svg"));
    let svg = text(&first.1);
    assert!(svg.contains("quarterturn sweep --altitude-m 500"), "the footer tells the command");
    assert!(!svg.contains("a.svg") && svg.contains("<title") && svg.contains("<desc"));
    assert_eq!(make(here.path(), "C", "a.png").1, make(there.path(), "C", "c.png").1);
    let data = text(&make(here.path(), "C", "a.csv").1);
    assert!(data.lines().any(|line| line.starts_with("screw_turns,zone,")), "{data}");
}

#[test]
fn every_command_has_help_with_an_example_that_runs() {
    let help = text(&run(&["--help"]).stdout);
    for name in ["flowstart", "sweep", "predict", "run", "claims", "rig", "gas", "completions"] {
        assert!(help.contains(name), "{help}");
        let own = run(&[name, "--help"]);
        assert_eq!(own.status.code(), Some(0));
        let own = text(&own.stdout);
        let example = own.split("Example:").nth(1).unwrap().trim().lines().next().unwrap();
        let words: Vec<&str> = example.split_whitespace().collect();
        assert_eq!(words[..2], ["quarterturn", name], "{example}");
        let output = run(&words[1..]);
        assert_eq!(output.status.code(), Some(0), "{example}: {}", text(&output.stderr));
        assert!(!output.stdout.is_empty());
    }
}

#[test]
fn csv_has_notes_one_header_and_a_row_a_point() {
    let csv = text(&run(&["sweep", "--format", "csv"]).stdout);
    let rows: Vec<&str> = csv.lines().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(rows.len(), 50);
    assert!(rows[0].starts_with("screw_turns,zone,valve_at_limit,lambda,"));
    assert!(csv.lines().any(|line| line.starts_with("# ")));
    let mut reader = csv::Reader::from_reader(rows[0..].join("\n").into_bytes().leak() as &[u8]);
    assert!(reader.records().all(|record| record.is_ok()));
}

#[test]
fn colour_comes_only_when_asked_for() {
    assert!(!text(&run(&["flowstart", "--back-off", "0"]).stdout).contains('\u{1b}'));
    assert!(
        text(&run(&["flowstart", "--back-off", "0", "--color", "always"]).stdout)
            .contains('\u{1b}')
    );
}

#[test]
fn a_rig_shown_is_a_rig_that_checks() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("own.toml");
    let shown = run(&["rig", "show", "six", "--format", "toml", "-o", path.to_str().unwrap()]);
    assert_eq!(shown.status.code(), Some(0));
    let check = run(&["rig", "check", path.to_str().unwrap()]);
    assert_eq!(check.status.code(), Some(0), "{}", text(&check.stderr));
    assert!(text(&check.stdout).contains("six"));
    let keys = json(&["rig", "keys"]);
    let names: Vec<&str> =
        keys["keys"].as_array().unwrap().iter().map(|k| k["key"].as_str().unwrap()).collect();
    for name in [
        "screw",
        "altitude_m",
        "ambient_degc",
        "coolant_degc",
        "fuel_degc",
        "speed_rpm",
        "throttle_percent",
        "leak_kg_h",
        "trim",
        "idle_air",
        "fuel",
        "flame",
        "spark_deg",
        "system_pressure_bar",
        "actuator_ma",
        "housing_mm",
        "rest_height_mm",
        "accessories_bar",
        "misfire_percent",
        "exhaust_leak_percent",
        "rest_below_throat_mm",
        "flow_threshold_ml_min",
        "base_ma",
        "authority_ma",
    ] {
        assert!(names.contains(&name), "no key {name}");
    }
    assert!(text(&run(&["rig", "list"]).stdout).contains("invented"));
}

/// A full disk behind stdout: told, and no other output stands there alone.
#[cfg(target_os = "linux")]
#[test]
fn what_stdout_cannot_take_is_told_and_nothing_is_left_of_the_rest() {
    let folder = TempDir::new().unwrap();
    let full = || std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    for words in [
        "help",
        "--version",
        "sweep --help",
        "sweep -h",
        "sweep --step 1/4",
        "sweep --step 1/4 --format json --chart a.svg",
        "draw -o b.svg",
        "class --lesson 1 -o sheets",
        "completions bash",
    ] {
        let args = words.split(' ');
        let output =
            program().current_dir(folder.path()).args(args).stdout(full()).output().unwrap();
        assert_eq!(output.status.code(), Some(5), "{words}: {}", text(&output.stderr));
        assert!(text(&output.stderr).contains("stdout: cannot be written"), "{words}");
        assert_eq!(listing(folder.path()), [""; 0], "{words}");
    }
}

#[test]
fn a_closed_pipe_is_no_trouble() {
    let mut child = program()
        .args(["sweep", "--step", "1/4096", "--format", "csv"])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
}
